package raster

import (
	"math"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// dasher cuts flattened subpaths into dashes (8.4.3.6). Lengths are measured in the style's user space.
type dasher struct {
	on       bool // there are dashes
	lengths  []float64
	index    int     // element of lengths the subpath starts in; even ones of the endless sequence are dashes
	left     float64 // how much of it is left there
	toUser   geom.Matrix
	switched int // dashes and gaps begun in this stroke
}

// reset prepares for one stroke. lin maps user space to device space; when it is singular lengths
// along the path cannot be known and the line is drawn solid.
func (d *dasher) reset(style geom.StrokeStyle, lin geom.Matrix) {
	lin.E, lin.F = 0, 0
	*d = dasher{lengths: style.Dash}
	sum := 0.0
	for _, l := range style.Dash {
		if !(l >= 0) {
			return
		}
		sum += l
	}
	var ok bool
	if d.toUser, ok = lin.Invert(); !ok || !(sum > 0) || math.IsInf(2*sum, 0) {
		return
	}
	// Twice the sum is a period whether the number of elements is even or odd; a negative phase is
	// moved up by such periods.
	phase := math.Mod(style.DashPhase, 2*sum)
	if phase < 0 {
		phase += 2 * sum
	}
	if !(phase >= 0) {
		phase = 0
	}
	// At phase 0 a first dash of no length is not passed over.
	for d.index = 0; d.index < 2*len(d.lengths)-1 && phase > 0 && phase >= d.length(d.index); d.index++ {
		phase -= d.length(d.index)
	}
	d.left = max(d.length(d.index)-phase, 0)
	d.on = true
}

func (d *dasher) length(i int) float64 { return d.lengths[i%len(d.lengths)] }

// dashSubpath draws s.path in dashes. It reports false when limits.MaxDashes or limits.MaxEdges cut
// it short.
func (b *Builder) dashSubpath(closed bool) bool {
	s := &b.pen
	v := s.path
	if closed {
		v = append(v, v[0])
		s.path = v
	}
	index, left := s.dash.index, s.dash.left
	startedOn := index%2 == 0
	s.piece, s.first = s.piece[:0], s.first[:0]
	if startedOn {
		s.piece = append(s.piece, v[0])
	}
	runs := 0 // dashes ended
	moved := false
	for i := 1; i < len(v); i++ {
		p, q := v[i-1].p, v[i].p
		u := s.dash.toUser.ApplyVector(geom.Point{X: q.X - p.X, Y: q.Y - p.Y})
		length := math.Sqrt(float64(u.X*u.X) + float64(u.Y*u.Y))
		if !(length > 0) {
			continue
		}
		moved = true
		pos := 0.0
		for left <= length-pos {
			pos += left
			t := pos / length
			at := vertex{geom.Point{X: p.X + float64(t*(q.X-p.X)), Y: p.Y + float64(t*(q.Y-p.Y))}, true}
			if index%2 == 0 {
				s.piece = append(s.piece, at)
				if runs == 0 && startedOn && closed {
					s.first = append(s.first[:0], s.piece...)
				} else {
					b.strokeDash(s.piece, p, q)
				}
				runs++
				s.piece = s.piece[:0]
			} else {
				s.piece = append(s.piece[:0], at)
			}
			index++
			left = s.dash.length(index)
			if s.dash.switched++; s.dash.switched > 2*limits.MaxDashes || s.spent > limits.MaxEdges {
				return false
			}
		}
		left -= length - pos
		if index%2 == 0 {
			s.piece = append(s.piece, v[i])
		}
	}
	on := index%2 == 0
	switch {
	case !moved:
		b.strokeLine(v[:1], closed)
	case closed && startedOn && runs == 0:
		b.strokeLine(v[:len(v)-1], true)
	case closed && startedOn && on:
		// The last dash runs on into the first one: the corner at the start is joined.
		s.piece = append(s.piece, s.first...)
		b.strokeDash(s.piece, v[0].p, v[1].p)
	default:
		if on {
			b.strokeDash(s.piece, v[len(v)-2].p, v[len(v)-1].p)
		}
		if len(s.first) > 0 {
			b.strokeDash(s.first, v[0].p, v[1].p)
		}
	}
	return true
}

// strokeDash draws one dash. One of no length is a dot of two caps along the line from p to q (8.4.3.6).
func (b *Builder) strokeDash(piece []vertex, p, q geom.Point) {
	s := &b.pen
	piece = s.distinct(piece, false)
	if len(piece) > 1 {
		b.strokeLine(piece, false)
		return
	}
	if d, l := s.direction(p, q); s.style.Cap != geom.ButtCap && l > 0 {
		b.strokeDot(piece[0].p, d)
	}
}

package slowpaint

import (
	"math"

	"laydown/internal/geom"
)

// StrokeLines returns the outline of a stroke as many overlapping convex pieces that all wind the same
// way: a rectangle for each segment, a piece for each join and cap. To be filled non-zero. pen maps the
// style's user space to pixels (linear part, not singular), dev maps the path to pixels. The width
// is taken as it is: the rule for hairlines is not applied.
func StrokeLines(path *geom.Path, style geom.StrokeStyle, pen, dev geom.Matrix, steps int) []Line {
	pen.E, pen.F = 0, 0
	inv, ok := pen.Invert()
	if !ok {
		panic("singular pen")
	}
	s := stroker{style: style, r: style.Width / 2, pen: pen}
	for _, sub := range subpaths(path, dev.Mul(inv), steps) { // in the style's user space
		if sub.drawn {
			s.subpath(dedupe(sub))
		}
	}
	return s.out
}

type stroker struct {
	style geom.StrokeStyle
	r     float64
	pen   geom.Matrix
	out   []Line
}

func dedupe(sub subpath) subpath {
	out := subpath{closed: sub.closed, drawn: sub.drawn}
	for i, p := range sub.points {
		n := len(out.points)
		if n > 0 && out.points[n-1] == p {
			out.corner[n-1] = out.corner[n-1] || sub.corner[i]
			continue
		}
		out.points, out.corner = append(out.points, p), append(out.corner, sub.corner[i])
	}
	if n := len(out.points); sub.closed && n > 1 && out.points[n-1] == out.points[0] {
		out.points, out.corner = out.points[:n-1], out.corner[:n-1]
	}
	return out
}

// convex adds a convex polygon, turned so that its area is positive.
func (s *stroker) convex(p ...geom.Point) {
	var lines []Line
	for i := range p {
		lines = append(lines, Line{s.pen.Apply(p[i]), s.pen.Apply(p[(i+1)%len(p)])})
	}
	if Area(lines) < 0 {
		for i := range lines {
			lines[i].P, lines[i].Q = lines[i].Q, lines[i].P
		}
	}
	s.out = append(s.out, lines...)
}

func (s *stroker) disc(p geom.Point) {
	const n = 180
	var q []geom.Point
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		q = append(q, geom.Point{X: p.X + s.r*cos, Y: p.Y + s.r*sin})
	}
	s.convex(q...)
}

// unit is the direction from p to q.
func unit(p, q geom.Point) geom.Point {
	l := math.Hypot(q.X-p.X, q.Y-p.Y)
	return geom.Point{X: (q.X - p.X) / l, Y: (q.Y - p.Y) / l}
}

// off is p + a*d + b*normal(d).
func off(p, d geom.Point, a, b float64) geom.Point {
	return geom.Point{X: p.X + a*d.X - b*d.Y, Y: p.Y + a*d.Y + b*d.X}
}

func (s *stroker) subpath(sub subpath) {
	if len(sub.points) == 1 {
		if s.style.Cap == geom.RoundCap {
			s.disc(sub.points[0])
		}
		return
	}
	runs := []subpath{sub}
	if len(s.style.Dash) > 0 {
		runs = s.dashes(sub)
	}
	for _, run := range runs {
		s.run(run)
	}
}

func (s *stroker) run(sub subpath) {
	p := sub.points
	n := len(p)
	segments := n - 1
	if sub.closed {
		segments = n
	}
	for i := range segments {
		a, b := p[i], p[(i+1)%n]
		d := unit(a, b)
		s.convex(off(a, d, 0, s.r), off(b, d, 0, s.r), off(b, d, 0, -s.r), off(a, d, 0, -s.r))
		if i+1 < segments || sub.closed {
			s.join(b, d, unit(b, p[(i+2)%n]), sub.corner[(i+1)%n])
		}
	}
	if !sub.closed {
		s.cap(p[0], unit(p[1], p[0]))
		s.cap(p[n-1], unit(p[n-2], p[n-1]))
	}
}

// cap adds the cap at p of a line that arrives in direction d.
func (s *stroker) cap(p, d geom.Point) {
	switch s.style.Cap {
	case geom.RoundCap:
		var half []geom.Point
		for i := range 91 {
			sin, cos := math.Sincos(math.Pi * float64(i) / 90)
			half = append(half, off(p, d, s.r*sin, s.r*cos))
		}
		s.convex(half...)
	case geom.SquareCap:
		s.convex(off(p, d, 0, s.r), off(p, d, s.r, s.r), off(p, d, s.r, -s.r), off(p, d, 0, -s.r))
	}
}

func (s *stroker) join(p, d0, d1 geom.Point, corner bool) {
	side := -s.r // of the outer corner
	turn := math.Atan2(d0.X*d1.Y-d0.Y*d1.X, d0.X*d1.X+d0.Y*d1.Y)
	if turn < 0 {
		side = s.r
	}
	a, b := off(p, d0, 0, side), off(p, d1, 0, side)
	if !corner || s.style.Join == geom.RoundJoin {
		// The sector of the circle between the two.
		sector := []geom.Point{p}
		n := 1 + int(math.Abs(turn)*30)
		for i := range n + 1 {
			sin, cos := math.Sincos(turn * float64(i) / float64(n))
			d := geom.Point{X: d0.X*cos - d0.Y*sin, Y: d0.X*sin + d0.Y*cos}
			sector = append(sector, off(p, d, 0, side))
		}
		s.convex(sector...)
		return
	}
	ratio := 1 / math.Cos(turn/2) // of miter length to line width
	if s.style.Join == geom.MiterJoin && ratio <= s.style.MiterLimit {
		reach := s.r * math.Abs(math.Tan(turn/2))
		s.convex(p, a, off(a, d0, reach, 0), b)
		return
	}
	s.convex(p, a, b)
}

// dashes cuts a subpath into its dashes, walking in steps from one switch or vertex to the next.
func (s *stroker) dashes(sub subpath) []subpath {
	p, corner := sub.points, sub.corner
	if sub.closed {
		p, corner = append(append([]geom.Point{}, p...), p[0]), append(append([]bool{}, corner...), corner[0])
	}
	sum := 0.0
	for _, l := range s.style.Dash {
		sum += l
	}
	phase := s.style.DashPhase
	for phase < 0 {
		phase += 2 * sum
	}
	index := 0
	length := func() float64 { return s.style.Dash[index%len(s.style.Dash)] }
	for phase > 0 && phase >= length() {
		phase -= length()
		index++
	}
	left := length() - phase
	var runs []subpath
	var cur subpath
	begin := func(q geom.Point, c bool) { cur = subpath{points: []geom.Point{q}, corner: []bool{c}} }
	startsOn := index%2 == 0
	if startsOn {
		begin(p[0], true)
	}
	for i := 1; i < len(p); i++ {
		at, d := p[i-1], unit(p[i-1], p[i])
		rest := math.Hypot(p[i].X-at.X, p[i].Y-at.Y)
		for left <= rest {
			at, rest = off(at, d, left, 0), rest-left
			if index%2 == 0 {
				if left == 0 && len(cur.points) == 1 {
					at := off(at, d, 1e-9, 0) // a dash of no length still has a direction
					cur.points, cur.corner = append(cur.points, at), append(cur.corner, true)
				} else {
					cur.points, cur.corner = append(cur.points, at), append(cur.corner, true)
				}
				runs = append(runs, cur)
			} else {
				begin(at, true)
			}
			index++
			left = length()
		}
		left -= rest
		if index%2 == 0 {
			cur.points, cur.corner = append(cur.points, p[i]), append(cur.corner, corner[i])
		}
	}
	endsOn := index%2 == 0
	if sub.closed && startsOn && endsOn {
		if len(runs) == 0 {
			return []subpath{sub}
		}
		cur.points, cur.corner = append(cur.points, runs[0].points...), append(cur.corner, runs[0].corner...)
		runs[0] = cur
	} else if endsOn {
		runs = append(runs, cur)
	}
	for i := range runs {
		runs[i] = dedupe(runs[i])
	}
	return runs
}

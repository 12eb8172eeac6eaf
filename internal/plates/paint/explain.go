package paint

import (
	"context"

	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// Explanation is what happened to one pixel.
type Explanation struct {
	X, Y  int
	Rows  []Touch
	Final []byte // per plate
}

// Touch is one item that covered the pixel. Tints are 0..65535 and, in a group, premultiplied by the
// group's alpha (package comment).
type Touch struct {
	Item          int
	Depth         int                 // group nesting
	Space         separate.BlendSpace // of the components
	Cover         float64             // shape coverage 0..1, clips included
	Effects       []separate.Effect   // per component as in separate.Ink; for groups: Paint where changed
	Reasons       []separate.Reason
	Values        []uint16 // source tints of the pixel
	Before, After []uint16 // the buffer's values in the group the item was painted in
	Alpha         float64  // shape times opacity, 0..1
}

// probe watches one pixel while a worker paints.
type probe struct {
	x, y  int
	rows  []Touch
	touch *Touch
}

// Explain paints one pixel of the job with the same code as Render and records each touch.
func Explain(ctx context.Context, job Job, x, y int) (*Explanation, error) {
	j, err := prepare(job)
	if err != nil {
		return nil, err
	}
	e := &Explanation{X: x, Y: y, Final: make([]byte, j.plates)}
	if x < 0 || y < 0 || x >= j.w || y >= j.h {
		return e, nil
	}
	w := newWorker(j)
	w.probe = &probe{x: x, y: y}
	band, err := w.band(ctx, raster.IntRect{X0: x, Y0: y, X1: x + 1, Y1: y + 1}, &planePool{})
	if err != nil {
		return nil, err
	}
	for c, p := range band.Planes {
		if p != nil {
			e.Final[c] = p[0]
		}
	}
	e.Rows = w.probe.rows
	return e, nil
}

// unmarked reports whether the probed pixel lies in row y where a source has no marks, such as between tiles.
func (p *probe) unmarked(y int, s *source) bool {
	if p == nil || y != p.y || s.alpha == nil || p.x < s.x0 || p.x >= s.x0+len(s.alpha) {
		return false
	}
	i := p.x - s.x0
	return s.alpha[i] == 0 && (s.shape == nil || s.shape[i] == 0)
}

// before notes the pixel before an item is composited.
func (p *probe) before(w *worker, l *layer, b *brush, y int, spans []raster.Span, s *source) {
	p.touch = nil
	if y != p.y || b.item < 0 {
		return
	}
	for _, sp := range spans {
		if int(sp.X0) <= p.x && p.x < int(sp.X1) {
			t := Touch{Item: b.item, Depth: l.depth, Space: l.space, Cover: float64(sp.Cover) / 255}
			alpha := []uint16{mul16(uint16(sp.Cover)*257, b.alpha)}
			if b.mask != nil {
				b.mask.narrow(alpha, y, p.x)
			}
			t.Values = make([]uint16, l.n)
			if s != nil && s.px8 == nil {
				s = s.from(p.x, 1)
				if s.alpha != nil {
					alpha[0] = mul16(alpha[0], s.alpha[0])
				}
			}
			for c := range t.Values {
				if s != nil && s.px8 != nil {
					if s.px8[c] != nil {
						t.Values[c] = uint16(s.px8[c][p.x-s.x0]) * 257
					}
				} else if s != nil && s.px != nil {
					if s.px[c] != nil {
						t.Values[c] = s.px[c][0]
						if s.alpha != nil && s.alpha[0] != 0 {
							t.Values[c] = unmul16(s.px[c][0], s.alpha[0])
						}
					}
				} else {
					t.Values[c] = b.values[c]
				}
			}
			t.Alpha = float64(alpha[0]) / full
			t.Before = p.values(l)
			if b.effects != nil {
				t.Effects = append(t.Effects, b.effects[:l.n]...)
				t.Reasons = append(t.Reasons, b.reasons[:l.n]...)
			}
			p.rows = append(p.rows, t)
			p.touch = &p.rows[len(p.rows)-1]
		}
	}
}

// after notes what came of it.
func (p *probe) after(w *worker, l *layer, y int) {
	t := p.touch
	if t == nil || y != p.y {
		return
	}
	p.touch = nil
	t.After = p.values(l)
	if t.Effects != nil {
		return
	}
	t.Effects, t.Reasons = make([]separate.Effect, l.n), make([]separate.Reason, l.n)
	for c := range t.Effects {
		if t.Before[c] != t.After[c] {
			t.Effects[c] = separate.Paint
		}
	}
}

// values are the components of the probed pixel.
func (p *probe) values(l *layer) []uint16 {
	v := make([]uint16, l.n)
	i := l.at(p.x, p.y)
	for c := range v {
		if l.root && l.p8[c] != nil {
			v[c] = uint16(l.p8[c][i]) * 257
		} else if !l.root && l.p[c] != nil {
			v[c] = l.p[c][i]
		}
	}
	return v
}

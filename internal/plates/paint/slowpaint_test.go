package paint

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/slowpaint"
)

// slow paints a list by the book.
func slow(l *displist.List, t *separate.Target, w, h int) [][]float64 {
	src := slowSource(t, separate.Context{}, w, h)
	return src.Canvas.Paint(slowpaint.Group{Elements: overprinted(src.Elements(l.Items))})
}

func slowSource(t *separate.Target, ctx separate.Context, w, h int) *slowpaint.Source {
	src := &slowpaint.Source{Canvas: slowpaint.Canvas{W: w, H: h, Process: 4, Components: t.Components(ctx)}, Device: geom.Identity}
	src.Ink = func(it *displist.Item, _, _ int) separate.Ink {
		return t.Colour(it.Paint, it.Overprint, it.OverprintMode, false, it.Intent, ctx)
	}
	src.Mask = func(m *displist.SoftMask) func(x, y int) float64 {
		inner := slowSource(maskTarget(t), ctx, w, h)
		elements := overprinted(inner.Elements(m.Items))
		bc := []float64{0, 0, 0, 1}
		if m.Backdrop != nil {
			bc = m.Backdrop
		}
		cover := func(c []float64) slowpaint.Element {
			return slowpaint.Element{Alpha: 1, Ink: slowpaint.Flat([]separate.Effect{2, 2, 2, 2}, c)}
		}
		page := slowpaint.Group{Elements: []slowpaint.Element{cover(bc), {Alpha: 1, Group: &slowpaint.Group{Isolated: m.Isolated, Knockout: m.Knockout, Elements: elements}}}}
		value := func(c [][]float64, i int) float64 {
			return t.Converter.Luminosity(colour.CMYK, []float64{c[0][i], c[1][i], c[2][i], c[3][i]})
		}
		if !m.Luminosity { // white on black: what is left of black is 1 - alpha
			for i := range elements {
				blacken(&elements[i])
			}
			page.Elements[0] = cover([]float64{0, 0, 0, 0})
			value = func(c [][]float64, i int) float64 { return c[3][i] }
		}
		tints := inner.Canvas.Paint(page)
		return func(x, y int) float64 {
			v := value(tints, y*w+x)
			if m.Transfer != nil {
				out := make([]float64, 1)
				m.Transfer.Eval(out, []float64{v})
				v = out[0]
			}
			return v
		}
	}
	return src
}

// blacken makes an element paint solid black with Normal, so that black shows its alpha.
func blacken(e *slowpaint.Element) {
	e.Blend = displist.Normal
	if e.Group == nil {
		e.Ink = slowpaint.Flat([]separate.Effect{2, 2, 2, 2}, []float64{0, 0, 0, 1})
		return
	}
	for i := range e.Group.Elements {
		blacken(&e.Group.Elements[i])
	}
}

// overprinted wraps what 11.7.4.3 wraps.
func overprinted(elements []slowpaint.Element) []slowpaint.Element {
	for i := range elements {
		if e := &elements[i]; e.Group != nil {
			overprinted(e.Group.Elements)
		} else if effects, _ := e.Ink(0, 0); hasLeave(effects) {
			*e = slowpaint.Overprinted(*e)
		}
	}
	return elements
}

func hasLeave(effects []separate.Effect) bool {
	for _, e := range effects {
		if e == separate.Leave {
			return true
		}
	}
	return false
}

// worst is the largest difference between plates and tints.
func worst(s *plate.Stack, want [][]float64) (diff float64, c, x, y int) {
	for i := range want {
		for at, v := range want[i] {
			d := math.Abs(float64(s.At(i, at%s.Width, at/s.Width)) - 255*v)
			if d > diff {
				diff, c, x, y = d, i, at%s.Width, at/s.Width
			}
		}
	}
	return diff, c, x, y
}

// Are the plates those of the formulas of clause 11?
func TestPlatesAreThoseOfTheFormulas(t *testing.T) {
	const w, h = 7, 6
	cases := []struct {
		name string
		r    randomList
		n    int
		// most is the largest difference allowed, in levels of 255; half a level is rounding the last tint.
		most float64
		wrap bool
	}{
		{"opaque on whole pixels", randomList{aligned: true, opaque: true, clips: true, overline: true}, 12, 0.5001, false},
		// Groups compute with 16 bits, so that what is left is the last rounding and a little of the ones before.
		{"groups on whole pixels", randomList{aligned: true, groups: 3, overline: true}, 6, 0.75, true},
		{"blend modes in groups", randomList{aligned: true, groups: 3, blends: steady, overline: true}, 6, 0.75, true},
		// Coverage has 8 bits: half a level for each edge through the pixel.
		{"fractions of pixels in groups", randomList{groups: 2, blends: steady, clips: true, overline: true}, 5, 3, true},
		{"soft masks in groups", randomList{aligned: true, groups: 2, blends: steady[:2], masks: true, overline: true}, 5, 0.75, true},
		// At the root each translucent item rounds to 8 bits.
		{"alpha at the root", randomList{aligned: true, overline: true}, 8, 4, false},
		{"blend modes at the root", randomList{aligned: true, groups: 1, blends: steady[:5], overline: true}, 6, 6, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(150) {
				r := c.r
				r.Rand, r.w, r.h = rand.New(rand.NewPCG(seed, 3)), w, h
				l := r.list(c.n)
				if c.wrap {
					l = wrapped(l)
				}
				got := render(t, jobOf(l))
				if d, p, x, y := worst(got, slow(l, target(), w, h)); d > c.most {
					t.Fatalf("seed %d: plate %d pixel %d,%d is %d, off by %.2f", seed, p, x, y, got.At(p, x, y), d)
				}
			}
		})
	}
}

// wrapped puts a list into an isolated group that needs a buffer.
func wrapped(l *displist.List) *displist.List {
	items := group(displist.Group{Isolated: true}, l.Items, alpha(.8))
	for i := range items[1:] {
		if g := items[i+1].Group; g != nil {
			h := *g
			h.End++
			items[i+1].Group = &h
		}
	}
	return list(l.Page.Media.X1, l.Page.Media.Y1, closed(items, 0))
}

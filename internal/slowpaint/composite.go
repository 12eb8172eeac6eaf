package slowpaint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/plates/separate"
)

// Element is one member of a group: an elementary object, or a group of its own.
type Element struct {
	// Shape is the covered share of pixel (x, y), 0..1; nil = everywhere 1. For a group it multiplies the
	// group's own shape, as a clip does.
	Shape func(x, y int) float64
	// Ink is the colour of an elementary object at a pixel: effect and tint (0..1) of every component.
	Ink func(x, y int) (effects []separate.Effect, tints []float64)
	// Group is set for a group; its members paint the colour.
	Group *Group

	Alpha        float64                // CA or ca
	Mask         func(x, y int) float64 // soft mask, 0..1; nil = none
	AlphaIsShape bool                   // Alpha and Mask are shape and not opacity
	Blend        displist.Blend
}

// Group is a transparency group.
type Group struct {
	Isolated, Knockout bool
	Elements           []Element
}

// Canvas says what is painted on: pixels and components, process ones first.
type Canvas struct {
	W, H                int
	Process, Components int
}

// Flat is an Ink that paints one colour everywhere.
func Flat(effects []separate.Effect, tints []float64) func(int, int) ([]separate.Effect, []float64) {
	return func(int, int) ([]separate.Effect, []float64) { return effects, tints }
}

// Paint composites a page whose members are given as the page group (11.4.7): it is isolated and lies
// on paper without toner. It returns the tint 0..1 of every component at every pixel, component by
// component.
func (c Canvas) Paint(page Group) [][]float64 {
	out := make([][]float64, c.Components)
	for i := range out {
		out[i] = make([]float64, c.W*c.H)
	}
	page.Isolated = true
	for y := range c.H {
		for x := range c.W {
			colour, _, alpha := c.group(&page, x, y, c.white(), 0)
			for i, v := range colour {
				out[i][y*c.W+x] = 1 - ((1 - alpha) + alpha*v)
			}
		}
	}
	return out
}

// white is no toner at all, additive.
func (c Canvas) white() []float64 {
	w := make([]float64, c.Components)
	for i := range w {
		w[i] = 1
	}
	return w
}

func union(x, y float64) float64 { return x + y - x*y }

// group is the group compositing of 11.4.8 at one pixel over backdrop colour c0 of alpha a0: the group's colour
// (without the backdrop), shape and alpha.
func (c Canvas) group(g *Group, x, y int, c0 []float64, a0 float64) (colour []float64, f, a float64) {
	if g.Isolated {
		a0 = 0
	}
	// Ci, ai, fg and ag after element i.
	ci, ai, fg, ag := c0, a0, 0.0, 0.0
	for k := range g.Elements {
		e := &g.Elements[k]
		// The backdrop of the element: the initial one in a knockout group.
		cb, ab, agb := ci, ai, ag
		if g.Knockout {
			cb, ab, agb = c0, a0, 0
		}
		// The source's colour, shape and alpha, and the result of its blend function.
		var cs, blended []float64
		fj, aj := 1.0, 1.0
		if e.Group != nil {
			cs, fj, aj = c.group(e.Group, x, y, cb, ab)
			blended = BlendAll(e.Blend, c.Process, cb, cs)
		} else {
			cs, blended = c.elementary(e, x, y, cb)
		}
		if e.Shape != nil {
			s := e.Shape(x, y)
			fj, aj = fj*s, aj*s
		}
		// Mask and constant, as shape or as opacity.
		m := 1.0
		if e.Mask != nil {
			m = e.Mask(x, y)
		}
		fs, as := fj, aj*m*e.Alpha
		if e.AlphaIsShape {
			fs = fj * m * e.Alpha
		}

		fg = union(fg, fs)
		ag = (1-fs)*ag + (fs-as)*agb + as
		next := union(a0, ag)
		if next > 0 {
			mixed := make([]float64, c.Components)
			for i := range mixed {
				ct := (fs-as)*ab*cb[i] + as*((1-ab)*cs[i]+ab*blended[i])
				mixed[i] = ((1-fs)*ai*ci[i] + ct) / next
			}
			ci = mixed
		}
		ai = next
	}
	// Remove the backdrop.
	colour = make([]float64, c.Components)
	for i := range colour {
		colour[i] = ci[i]
		if ag > 0 {
			colour[i] += (ci[i] - c0[i]) * (a0/ag - a0)
		}
	}
	return colour, fg, ag
}

// elementary is the colour of an elementary object, additive, and its blend with cb. A component that is not
// specified is 1.0 (11.7.4.2); one that overprinting leaves alone blends to the backdrop
// (CompatibleOverprint, 11.7.4.3).
func (c Canvas) elementary(e *Element, x, y int, cb []float64) (cs, blended []float64) {
	effects, tints := e.Ink(x, y)
	cs = c.white()
	for i, f := range effects {
		if f == separate.Paint {
			cs[i] = 1 - tints[i]
		}
	}
	blended = BlendAll(e.Blend, c.Process, cb, cs)
	for i, f := range effects {
		if f == separate.Leave {
			blended[i] = cb[i]
		}
	}
	return cs, blended
}

// Overprinted wraps an overprinting object whose mode is not Normal as 11.7.4.3 says: the object goes
// with CompatibleOverprint into a non-isolated, non-knockout group, and the group takes the mode.
func Overprinted(e Element) Element {
	if e.Blend == displist.Normal {
		return e
	}
	outer := Element{Alpha: e.Alpha, Mask: e.Mask, AlphaIsShape: e.AlphaIsShape, Blend: e.Blend}
	e.Alpha, e.Mask, e.AlphaIsShape, e.Blend = 1, nil, false, displist.Normal
	outer.Group = &Group{Elements: []Element{e}}
	return outer
}

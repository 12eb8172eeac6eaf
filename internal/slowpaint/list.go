package slowpaint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// Source answers what a display list leaves to others while it is turned into elements.
type Source struct {
	Canvas Canvas
	Device geom.Matrix // list space to pixels
	// Ink separates an item's colour at a pixel. Required when there are Fill, Stroke, Image or Shade items.
	Ink func(item *displist.Item, x, y int) separate.Ink
	// Shape is the coverage of an Image or Shade item, clip left out; nil = everywhere 1.
	Shape func(item *displist.Item) func(x, y int) float64
	// Mask is the value of a soft mask at a pixel. Required when there are soft masks.
	Mask func(mask *displist.SoftMask) func(x, y int) float64
}

// Elements turns display list items into the members of a group. Hidden items are left out. The
// shape of an item is its own coverage times that of every link of its clip; links that all members of a group have in common are the group's alone.
func (s *Source) Elements(items []displist.Item) []Element {
	return s.elements(items, 0, len(items), nil)
}

func (s *Source) elements(items []displist.Item, from, to int, outer *displist.Clip) []Element {
	var out []Element
	for i := from; i < to; i++ {
		item := &items[i]
		if item.Kind != displist.BeginGroup {
			if !item.Hidden {
				out = append(out, s.element(item, item.Clip, outer))
			}
			continue
		}
		end := item.Group.End
		if !item.Hidden {
			clip, shared := sharedClip(items[i+1:end], item.Clip)
			e := s.element(item, clip, outer)
			within := outer
			if shared {
				within = clip
			}
			e.Group = &Group{Isolated: item.Group.Isolated, Knockout: item.Group.Knockout, Elements: s.elements(items, i+1, end, within)}
			e.Ink = nil
			out = append(out, e)
		}
		i = end - 1
	}
	return out
}

// element is an item clipped by a chain without outer and what is outside of that.
func (s *Source) element(item *displist.Item, clip, outer *displist.Clip) Element {
	e := Element{Alpha: item.Alpha, AlphaIsShape: item.AlphaIsShape, Blend: item.Blend}
	if item.SoftMask != nil {
		e.Mask = s.Mask(item.SoftMask)
	}
	var factors []func(x, y int) float64
	switch item.Kind {
	case displist.Fill:
		factors = append(factors, s.filled(item.Shape))
	case displist.Stroke:
		m := item.Pen.M.Mul(s.Device)
		factors = append(factors, s.cover(StrokeLines(item.Shape.Path, item.Pen.Style, m, s.Device, curveSteps), geom.NonZero))
	case displist.Image, displist.Shade:
		if s.Shape != nil {
			factors = append(factors, s.Shape(item))
		}
	}
	for c := clip; c != nil && c != outer; c = c.Parent {
		factors = append(factors, s.filled(c.Shape))
	}
	e.Shape = func(x, y int) float64 {
		share := 1.0
		for _, f := range factors {
			share *= f(x, y)
		}
		return share
	}
	e.Ink = func(x, y int) ([]separate.Effect, []float64) {
		ink := s.Ink(item, x, y)
		effects := make([]separate.Effect, s.Canvas.Components) // all Leave
		tints := make([]float64, s.Canvas.Components)
		if ink.Nothing {
			return effects, tints
		}
		copy(effects, ink.Effects)
		for i, v := range ink.Values {
			tints[i] = float64(v) / 65535
		}
		return effects, tints
	}
	return e
}

// curveSteps cut each curve so finely that the chords differ from it by nothing that shows.
const curveSteps = 64

// filled is the coverage of a shape.
func (s *Source) filled(shape displist.Shape) func(x, y int) float64 {
	if shape.Path != nil {
		return s.cover(Lines(shape.Path, s.Device, curveSteps), shape.Rule)
	}
	var lines []Line
	for _, g := range shape.Glyphs {
		if g.Outline != nil {
			lines = append(lines, Lines(g.Outline, g.M.Mul(s.Device), curveSteps)...)
		}
	}
	return s.cover(lines, geom.NonZero)
}

func (s *Source) cover(lines []Line, rule geom.FillRule) func(x, y int) float64 {
	c := Coverage(lines, rule, s.Canvas.W, s.Canvas.H)
	return func(x, y int) float64 { return c[y*s.Canvas.W+x] }
}

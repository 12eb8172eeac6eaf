package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
)

// ruleOf is the rule a shape is filled by. Glyphs are filled non-zero, all of a run in one path, so
// that where they overlap the item paints once; addShape turns them all the same way, so that mirrored ones
// do not take away from the others.
func ruleOf(s *displist.Shape) geom.FillRule {
	if s.Path == nil {
		return geom.NonZero
	}
	return s.Rule
}

// addShape adds a shape to be filled; specks also paints what encloses nothing (raster.Builder.Fill).
func (w *worker) addShape(b *raster.Builder, pl *plan, s *displist.Shape, specks bool) {
	if s.Path != nil {
		if specks {
			b.Fill(s.Path, pl.dev)
		} else {
			b.FillArea(s.Path, pl.dev)
		}
		return
	}
	turn := 0.0
	for _, g := range s.Glyphs {
		if g.Outline == nil {
			continue
		}
		outline := g.Outline
		if len(s.Glyphs) > 1 {
			if way := w.turning(g); turn == 0 {
				turn = way
			} else if way*turn < 0 {
				outline = reversed(outline)
			}
		}
		b.FillArea(outline, g.M.Mul(pl.dev))
	}
}

// verbPoints is how many points each verb takes.
var verbPoints = [...]int{geom.MoveTo: 1, geom.LineTo: 1, geom.CubicTo: 3, geom.Close: 0}

// turning is 1 or -1 by the sense a glyph's outline turns in, as most of its area has it; 0 when it has none.
func (w *worker) turning(g displist.Glyph) float64 {
	sum, known := w.turns[g.Outline]
	if !known {
		sum = turnedRound(g.Outline)
		w.turns[g.Outline] = sum
	}
	sum *= float64(g.M.A*g.M.D) - float64(g.M.B*g.M.C)
	switch {
	case sum > 0:
		return 1
	case sum < 0:
		return -1
	}
	return 0
}

// turnedRound is twice the area inside the control points of an outline, with a sign by the sense they turn in.
func turnedRound(outline *geom.Path) float64 {
	sum := 0.0
	var start, at geom.Point
	to := func(p geom.Point) {
		sum += float64(at.X*p.Y) - float64(at.Y*p.X)
		at = p
	}
	points := outline.Points
	for _, v := range outline.Verbs {
		n := verbPoints[v]
		for _, p := range points[:n] {
			if v == geom.MoveTo {
				to(start)
				start, at = p, p
				continue
			}
			to(p)
		}
		points = points[n:]
	}
	to(start)
	return sum
}

// reversed draws the same outline the other way round.
func reversed(p *geom.Path) *geom.Path {
	q := &geom.Path{}
	var back func(verbs []geom.Verb, points []geom.Point)
	back = func(verbs []geom.Verb, points []geom.Point) {
		if len(points) == 0 {
			return
		}
		q.Move(points[len(points)-1])
		points = points[:len(points)-1]
		for i := len(verbs) - 1; i > 0; i-- {
			n := len(points)
			switch verbs[i] {
			case geom.LineTo:
				q.Line(points[n-1])
				points = points[:n-1]
			case geom.CubicTo:
				q.Cubic(points[n-1], points[n-2], points[n-3])
				points = points[:n-3]
			}
		}
		q.ClosePath()
	}
	from, first, at := 0, 0, 0
	for i, v := range p.Verbs {
		if v == geom.MoveTo && i > from {
			back(p.Verbs[from:i], p.Points[first:at])
			from, first = i, at
		}
		at += verbPoints[v]
	}
	back(p.Verbs[from:], p.Points[first:at])
	return q
}

// stroke adds the outline of a stroke: of a path, or of every glyph (text rendering mode 1).
func (w *worker) stroke(b *raster.Builder, pl *plan, it *displist.Item) {
	if it.Pen == nil {
		return
	}
	whole := true
	style, pen := w.pen(pl, it)
	if it.Shape.Path != nil {
		whole = b.Stroke(it.Shape.Path, style, pen, pl.dev)
	}
	for _, g := range it.Shape.Glyphs {
		if g.Outline != nil {
			whole = b.Stroke(g.Outline.Transform(g.M), style, pen, pl.dev) && whole
		}
	}
	if !whole {
		w.job.strokeCut(it)
	}
}

// fixedRect is a device rectangle in 1/256 pixel, as raster rounds coordinates.
type fixedRect struct{ x0, y0, x1, y1 int }

const one = 256

// pixels is the pixels r touches.
func (r fixedRect) pixels() raster.IntRect {
	if r.x0 >= r.x1 || r.y0 >= r.y1 {
		return raster.IntRect{}
	}
	return raster.IntRect{X0: r.x0 >> 8, Y0: r.y0 >> 8, X1: (r.x1 + one - 1) >> 8, Y1: (r.y1 + one - 1) >> 8}
}

// inner is the pixels wholly inside r.
func (r fixedRect) inner() raster.IntRect {
	return raster.IntRect{X0: (r.x0 + one - 1) >> 8, Y0: (r.y0 + one - 1) >> 8, X1: r.x1 >> 8, Y1: r.y1 >> 8}
}

// part is how much of pixel i lies in lo <= v < hi, 0..256.
func part(i, lo, hi int) int {
	return max(0, min(hi, (i+1)*one)-max(lo, i*one))
}

package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
)

// ruleOf is the rule a shape is filled by. Glyphs are filled non-zero, all of a run in one path, so
// that where they overlap the item paints once.
func ruleOf(s *displist.Shape) geom.FillRule {
	if s.Path == nil {
		return geom.NonZero
	}
	return s.Rule
}

// addShape adds a shape to be filled; specks also paints what encloses nothing (raster.Builder.Fill).
func addShape(b *raster.Builder, pl *plan, s *displist.Shape, specks bool) {
	if s.Path != nil {
		if specks {
			b.Fill(s.Path, pl.dev)
		} else {
			b.FillArea(s.Path, pl.dev)
		}
		return
	}
	for _, g := range s.Glyphs {
		if g.Outline != nil {
			b.FillArea(g.Outline, g.M.Mul(pl.dev))
		}
	}
}

// stroke adds the outline of a stroke: of a path, or of every glyph (text rendering mode 1).
func (w *worker) stroke(b *raster.Builder, pl *plan, it *displist.Item) {
	if it.Pen == nil {
		return
	}
	whole := true
	if it.Shape.Path != nil {
		whole = b.Stroke(it.Shape.Path, it.Pen.Style, it.Pen.M, pl.dev)
	}
	for _, g := range it.Shape.Glyphs {
		if g.Outline != nil {
			whole = b.Stroke(g.Outline.Transform(g.M), it.Pen.Style, it.Pen.M, pl.dev) && whole
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

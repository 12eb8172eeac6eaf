// Package raster turns paths into anti-aliased coverage. It knows no colour.
//
// The coverage of a pixel is the exact area of the path inside it, computed on coordinates rounded to
// 1/256 pixel and rounded to 0..255. It does not depend on the clip rectangle the rasteriser works in: a crop of
// the page gives the same bytes as the page (tested), which is what lets bands run in parallel and one
// pixel be explained.
package raster

import "laydown/internal/geom"

// Span is a run of pixels X0 <= x < X1 of one row with one coverage, 1..255.
type Span struct {
	X0, X1 int32
	Cover  uint8
}

// Edges is a flattened path in device space, ready to be rasterised in any number of bands by any
// number of goroutines.
type Edges struct {
	Bounds IntRect // pixels that may be touched
}

// IntRect is a half-open pixel rectangle.
type IntRect struct{ X0, Y0, X1, Y1 int }

// Empty reports whether the rectangle has no pixel.
func (r IntRect) Empty() bool { return r.X0 >= r.X1 || r.Y0 >= r.Y1 }

// Intersect returns the common part.
func (r IntRect) Intersect(s IntRect) IntRect {
	return IntRect{max(r.X0, s.X0), max(r.Y0, s.Y0), min(r.X1, s.X1), min(r.Y1, s.Y1)}
}

// Builder flattens paths into Edges. The zero value is ready; Reset before reuse.
type Builder struct{}

// Reset empties the builder.
func (b *Builder) Reset() { panic("unwritten") }

// Fill adds path mapped by m to device space. Open subpaths are closed.
func (b *Builder) Fill(path *geom.Path, m geom.Matrix) { panic("unwritten") }

// Stroke adds the outline of a stroke: path is in list space, pen maps the style's user space to
// list space (linear part), dev maps list space to device space. Widths below one device pixel are
// drawn as hairlines by the rule written at hairline(). ok is false when a limit cut the stroke short.
func (b *Builder) Stroke(path *geom.Path, style geom.StrokeStyle, pen, dev geom.Matrix) (ok bool) {
	panic("unwritten")
}

// Edges returns what was added. The builder must be Reset before it is used again.
func (b *Builder) Edges(rule geom.FillRule) *Edges { panic("unwritten") }

// Scan calls row for every row of clip that has coverage, top to bottom, with spans sorted and
// disjoint. Spans are valid during the call. A Scanner is scratch memory for one goroutine.
type Scanner struct{}

// Scan rasterises e inside clip.
func (s *Scanner) Scan(e *Edges, clip IntRect, row func(y int, spans []Span)) { panic("unwritten") }

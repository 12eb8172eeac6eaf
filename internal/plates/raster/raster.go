// Package raster turns paths into anti-aliased coverage. It knows no colour.
//
// The coverage of a pixel is the exact area of the path inside it, computed on coordinates rounded to
// 1/256 pixel and rounded to 0..255. It does not depend on the clip rectangle the rasteriser works in: a crop of
// the page gives the same bytes as the page (tested), which is what lets bands run in parallel and one
// pixel be explained.
package raster

// How the pieces fit:
//
//	path --flatten--> lines in device space --round--> edges (1/256 px) --Edges--> blocks of edges
//	                                                                                   |
//	spans of one row <--sweep-- cells of a few rows <--accumulate-- edges of the blocks that cross them
//
// Every number after rounding is an integer, so the order of edges, the machine and the clip cannot
// change a result.

// Span is a run of pixels X0 <= x < X1 of one row with one coverage, 1..255.
type Span struct {
	X0, X1 int32
	Cover  uint8
}

// IntRect is a half-open pixel rectangle.
type IntRect struct{ X0, Y0, X1, Y1 int }

// Empty reports whether the rectangle has no pixel.
func (r IntRect) Empty() bool { return r.X0 >= r.X1 || r.Y0 >= r.Y1 }

// Intersect returns the common part.
func (r IntRect) Intersect(s IntRect) IntRect {
	return IntRect{max(r.X0, s.X0), max(r.Y0, s.Y0), min(r.X1, s.X1), min(r.Y1, s.Y1)}
}

// union returns the smallest rectangle holding both; an empty one counts for nothing.
func (r IntRect) union(s IntRect) IntRect {
	if r.Empty() {
		return s
	}
	if s.Empty() {
		return r
	}
	return IntRect{min(r.X0, s.X0), min(r.Y0, s.Y0), max(r.X1, s.X1), max(r.Y1, s.Y1)}
}

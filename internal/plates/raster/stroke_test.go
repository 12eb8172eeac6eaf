package raster

import (
	"testing"

	"laydown/internal/geom"
)

// stroke returns the edges of path stroked without scaling.
func stroke(path *geom.Path, style geom.StrokeStyle) *Edges {
	if style.MiterLimit == 0 {
		style.MiterLimit = 10
	}
	var b Builder
	b.Stroke(path, style, geom.Identity, geom.Identity)
	return b.Edges(geom.NonZero)
}

func TestStrokeGrids(t *testing.T) {
	box := &geom.Path{}
	box.Rect(geom.Rect{X0: 3, Y0: 3, X1: 17, Y1: 15})
	corner := &geom.Path{}
	corner.Move(geom.Point{X: 2, Y: 2})
	corner.Line(geom.Point{X: 8, Y: 2})
	corner.Line(geom.Point{X: 8, Y: 8})
	for _, c := range []struct {
		name  string
		path  *geom.Path
		style geom.StrokeStyle
		want  string
	}{
		{"dashes of a closed subpath join at its start", box, geom.StrokeStyle{Width: 2, Dash: []float64{5, 3}}, `
			....................
			....................
			..999999...99999....
			..999999...99999....
			..99................
			..99............99..
			..99............99..
			................99..
			................99..
			................99..
			..99................
			..99................
			..99................
			..99............99..
			..99..99999...9999..
			......99999...9999..
			....................
			....................`},
		{"butt caps and a miter", corner, geom.StrokeStyle{Width: 2}, `
			............
			..9999999...
			..9999999...
			.......99...
			.......99...
			.......99...
			.......99...
			.......99...
			............`},
		{"square caps and a bevel", corner, geom.StrokeStyle{Width: 2, Cap: geom.SquareCap, Join: geom.BevelJoin}, `
			............
			.99999995...
			.99999999...
			.......99...
			.......99...
			.......99...
			.......99...
			.......99...
			.......99...
			............`},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, h := 0, 0
			for _, r := range c.want {
				switch r {
				case '.', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9':
					if h == 1 {
						w++
					}
				case '\n':
					h++
				}
			}
			checkGrid(t, stroke(c.path, c.style), IntRect{0, 0, w, h}, c.want)
		})
	}
}

package paint

import (
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// tiling is a coloured tiling whose box is one step, in list space.
func tiling(xstep, ystep float64, items ...any) *displist.Tiling {
	t := &displist.Tiling{Items: join(items...), BBox: geom.Rect{X1: xstep, Y1: ystep}, XStep: xstep, YStep: ystep, M: geom.Identity, Coloured: true}
	for i := range t.Items {
		t.Bounds = t.Bounds.Union(t.Items[i].Bounds)
	}
	return t
}

func tiled(x0, y0, x1, y1 float64, t *displist.Tiling, change ...func(*displist.Item)) displist.Item {
	return rect(x0, y0, x1, y1, displist.Paint{Tiling: t}, change...)
}

// What does a plain pattern paint, and what does it knock out?
func TestTilesStandOnTheirLattice(t *testing.T) {
	over := func(it *displist.Item) { it.Overprint = true }
	for _, c := range []struct {
		name string
		m    geom.Matrix
		want string
		each string // tile by tile, where that differs: on whole pixels
	}{
		{"upright", geom.Identity, "90090090\n00000000\n90090090\n00000000", ""},
		{"shifted", geom.Translate(1, 1), "00000000\n09009009\n00000000\n09009009", ""},
		{"mirrored", geom.Matrix{A: -1, D: 1}, "00900900\n00000000\n00900900\n00000000", ""},
		{"turned by 90 degrees", geom.Matrix{B: 1, C: -1}, "09090909\n00000000\n00000000\n09090909", ""},
		{"shifted by half a pixel", geom.Translate(0.5, 0), "55055055\n00000000\n55055055\n00000000", "09009009\n00000000\n09009009\n00000000"},
		{"half the size", geom.Scale(0.5, 0.5), "22022022\n22022022\n22022022\n22022022", "30130130\n30130130\n30130130\n30130130"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for k, o := range []func(*displist.Item){func(*displist.Item) {}, over} { // as a raster, and tile by tile
				x := tiling(3, 2, rect(0, 0, 1, 1, paintOf(white, 1), o))
				x.M = c.m
				got := plate.TextGrid(render(t, jobOf(list(8, 4, rect(0, 0, 8, 4, paintOf(gold, 1)), tiled(0, 0, 8, 4, x)))))
				i, j := strings.Index(got, "White\n"), strings.Index(got, "Gold")
				want := c.want
				if k == 1 && c.each != "" {
					want = c.each
				}
				if got := got[i+6 : j-1]; got != want {
					t.Errorf("white is\n%s\nwant\n%s", got, want)
				}
			}
		})
	}
}

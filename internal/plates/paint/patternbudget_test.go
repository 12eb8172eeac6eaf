package paint

import (
	"math"
	"testing"
	"time"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// hostile are pages that ask for more work than pages do, each with one small item after and one before.
func hostile() map[string]*displist.List {
	const side = 400
	page := func(items ...displist.Item) *displist.List {
		parts := []any{rect(0, 0, 40, 40, paintOf(gold, 1))}
		for _, it := range items {
			it.Overprint = true
			parts = append(parts, it)
		}
		return list(side, side, parts...)
	}
	many := func(n int, item func(i int) displist.Item) []displist.Item {
		out := make([]displist.Item, n)
		for i := range out {
			out[i] = item(i)
		}
		return out
	}
	multiply := mode(displist.Multiply)

	// Cells of two patterns each, 24 deep, some of which are painted tile by tile.
	deep := tiling(3, 3, rect(0, 0, 1, 1, cmyk(0, 1, 0, 0), multiply))
	for range 24 {
		deep = tiling(30, 30, tiled(0, 0, 20, 20, deep, multiply), tiled(10, 10, 30, 30, deep, multiply))
		deep.Blending = true
	}
	small := tiling(0.05, 0.05, rect(0, 0, 0.05, 0.02, cmyk(0, 1, 0, 0), multiply))
	small.Blending = true
	lap := tiling(0.01, 0.01, rect(0, 0, 300, 300, cmyk(0, 1, 0, 0)))
	lap.BBox = geom.Rect{X1: 300, Y1: 300}
	lap.Bounds = lap.BBox

	// A mode that reads what cells keep, and patches cut for each tile.
	kept := tiling(0.1, 0.1, rect(0, 0, 0.05, 0.1, cmyk(0, 1, 0, 0), overprint(0)))
	bent := flatPatch(0, 0, 2, 2, [4]float64{0, 1, 0, 1}, func(p *[16]geom.Point) { p[5].X, p[10].Y = 9e5, -9e5 })
	cut := tiling(2, 2, rect(0, 0, 2, 2, displist.Paint{Shading: patchesOf(white, bent)}, multiply))
	cut.M, cut.Blending = geom.Matrix{A: 0.8, B: 0.6, C: -0.6, D: 0.8}, true

	fn := func(int) displist.Item {
		return paintedWith(side, side, &displist.Shading{Type: 1, Space: colour.CMYK, M: geom.Identity, Coords: []float64{side, 0, 0, side, 0, 0},
			Domain: []float64{0, 1, 0, 1}, Function: &formula{2, 4, func(out, in []float64) { copy(out, []float64{0, in[0], in[1], 0}) }}})
	}
	corners := []geom.Point{{X: 0, Y: 0}, {X: side, Y: 0}, {X: 0, Y: side}}
	var index []int32
	for range 200_000 {
		index = append(index, 0, 1, 2)
	}
	pile := paintedWith(side, side, meshOf(white, corners, [][]float64{{0}, {1}, {0.5}}, index...))
	var wild []displist.Patch
	for i := range 30_000 {
		wild = append(wild, flatPatch(0, 0, side, side, [4]float64{0, 1, 0, 1}, func(p *[16]geom.Point) {
			for k := range p {
				p[k].X += float64((i*k)%997) * 10
			}
		}))
	}
	return map[string]*displist.List{
		"nested":    page(tiled(0, 0, side, side, deep)),
		"tiny":      page(tiled(0, 0, side, side, small)),
		"overlap":   page(tiled(0, 0, side, side, lap)),
		"kept":      page(tiled(0, 0, side, side, kept, multiply)),
		"cut":       page(tiled(0, 0, side, side, cut)),
		"functions": page(many(3000, fn)...),
		"pile":      page(pile),
		"patches":   page(paintedWith(side, side, patchesOf(white, wild...))),
		"ramps": page(many(20_000, func(i int) displist.Item {
			return paintedWith(side, side, axialOf(colour.CMYK, cyanRamp, 0, 0, float64(100+i), side))
		})...),
	}
}

// Are pages of far too many tiles, triangles and functions cut with one finding, within seconds, and what stands before them painted?
func TestPatternWorkIsBounded(t *testing.T) {
	for name, l := range hostile() {
		t.Run(name, func(t *testing.T) {
			var c finding.Collector
			j := jobOf(l)
			j.Sink, j.DPI, j.Workers = &c, 10, 2
			start := time.Now()
			s := render(t, j)
			d := time.Since(start)
			t.Logf("%d of %d items in %v", affordable(l), len(l.Items), d)
			if d > 120*time.Second {
				t.Errorf("took %v", d)
			}
			if s.At(5, 1, 1) == 0 {
				t.Error("what stands before is missing")
			}
			if f := c.Sorted(); len(f) != 1 || f[0].ID != "page-too-heavy" || f[0].Class != finding.OverLimit {
				t.Errorf("findings: %v", f)
			}
		})
	}
}

// Are patterns in patterns, two in each, painted in full and soon where each cell is a raster?
func TestNestedPatternsAreSoonPainted(t *testing.T) {
	for _, side := range []float64{15, 30} {
		deep := tiling(3, 3, rect(0, 0, 1, 1, cmyk(0, 1, 0, 0)))
		for range 24 {
			deep = tiling(side, side, tiled(0, 0, side*2/3, side*2/3, deep), tiled(side/3, side/3, side, side, deep))
		}
		l := list(200, 200, tiled(0, 0, 200, 200, deep))
		start := time.Now()
		s := render(t, jobOf(l))
		d := time.Since(start)
		t.Logf("cells of %g points: %d of %d items in %v", side, affordable(l), len(l.Items), d)
		if d > 120*time.Second {
			t.Errorf("took %v", d)
		}
		if side == 15 && s.Plane(1) == nil {
			t.Error("nothing is painted")
		}
	}
}

// Is a pattern so askew that few of its tiles lie on the page counted as these?
func TestWorkOfAskewTilesIsTheirs(t *testing.T) {
	askew := tiling(6, 6, rect(0, 0, 3, 6, cmyk(0, 1, 0, 0), mode(displist.Multiply)))
	askew.M, askew.Blending = geom.Matrix{A: 1, B: 2, C: -1, D: -2.0002}, true
	l := list(20, 20, tiled(5, 5, 15, 15, askew))
	// 100 square points are 500,000 square units of pattern space (the determinant is 0.0002), and their edges 150,000 units along either axis,
	// so that (500,000 + 2 x 6 x 150,000) / 36 places of tiles touch them; the box round them has 600 million.
	cost, _ := workOf(l, math.MaxFloat64)
	if n := cost / (costTile + costTileItem); n < 63_000 || n > 250_000 {
		t.Errorf("counted as about %.0f tiles", n)
	}
}

// Are ordinary pages full of patterns painted in full?
func TestPatternPagesAreAffordable(t *testing.T) {
	for name, l := range patternPages() {
		if n := affordable(l); n != len(l.Items) {
			t.Errorf("%s: %d of %d items", name, n, len(l.Items))
		}
	}
}

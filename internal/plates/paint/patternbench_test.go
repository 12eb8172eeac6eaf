package paint

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// patternPages are pages of A4 full of shadings and patterns.
func patternPages() map[string]*displist.List {
	const w, h = 595, 842
	f := ramp([]float64{0.1, 0.9, 0, 0.2}, []float64{0.8, 0.1, 1, 0})
	pages := map[string]*displist.List{
		"axial":      list(w, h, paintedWith(w, h, axialOf(colour.CMYK, f, 50, 60, 500, 700))),
		"horizontal": list(w, h, paintedWith(w, h, axialOf(colour.CMYK, f, 50, 0, 500, 0))),
		"radial":     list(w, h, paintedWith(w, h, radialOf(colour.CMYK, f, []float64{250, 300, 20, 300, 400, 500}))),
		"glow":       list(w, h, paintedWith(w, h, axialOf(colour.CMYK, f, 50, 60, 500, 700), alpha(0.5))),
	}
	fn := &displist.Shading{Type: 1, Space: colour.CMYK, M: geom.Identity, Coords: []float64{w, 0, 0, h, 0, 0}, Domain: []float64{0, 1, 0, 1},
		Function: &formula{2, 4, func(out, in []float64) { out[0], out[1], out[2], out[3] = in[0], in[1], in[0]*in[1], 0 }}}
	pages["function"] = list(w, h, paintedWith(w, h, fn))

	r := rand.New(rand.NewPCG(2, 2))
	const nx, ny = 71, 71
	var points []geom.Point
	var values [][]float64
	var triangles []int32
	for j := range ny {
		for i := range nx {
			points = append(points, geom.Point{X: w * float64(i) / (nx - 1), Y: h * float64(j) / (ny - 1)})
			values = append(values, []float64{r.Float64(), r.Float64(), r.Float64(), r.Float64()})
			if a := int32(j*nx + i); i < nx-1 && j < ny-1 {
				triangles = append(triangles, a, a+1, a+nx, a+nx, a+1, a+nx+1)
			}
		}
	}
	pages["mesh"] = list(w, h, paintedWith(w, h, meshOf(colour.CMYK, points, values, triangles...)))
	pages["mesh-rgb"] = list(w, h, paintedWith(w, h, meshOf(colour.RGB, points, func() (out [][]float64) {
		for _, v := range values {
			out = append(out, v[:3])
		}
		return
	}(), triangles...)))
	var patches []displist.Patch
	for j := range 20 {
		for i := range 20 {
			p := flatPatch(float64(i)*30, float64(j)*42, float64(i+1)*30, float64(j+1)*42, [4]float64{.2, .8, .4, 1}, func(p *[16]geom.Point) {
				for k := range p {
					p[k].X += 8 * math.Sin(p[k].Y/20)
				}
			})
			patches = append(patches, p)
		}
	}
	pages["patches"] = list(w, h, paintedWith(w, h, patchesOf(white, patches...)))

	over := func(it *displist.Item) { it.Overprint = true }
	for name, m := range map[string]geom.Matrix{"": geom.Identity, "-turned": {A: .8, B: .6, C: -.6, D: .8}} {
		for kind, o := range map[string]func(*displist.Item){"tiles": func(*displist.Item) {}, "tiles-overprint": over} {
			t := tiling(9.7, 11.3, rect(0, 0, 9.7, 11.3, cmyk(.3, 0, .2, 0), o), rect(2, 2, 5, 8, cmyk(0, 1, 0, .5), o))
			t.M = m
			pages[kind+name] = list(w, h, tiled(0, 0, w, h, t))
		}
	}
	return pages
}

// BenchmarkPatterns paints them at 300 dpi on one core.
func BenchmarkPatterns(b *testing.B) {
	for name, l := range patternPages() {
		b.Run(name, func(b *testing.B) {
			j := jobOf(l)
			j.DPI = 300
			for b.Loop() {
				if err := Render(context.Background(), j, nowhere{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

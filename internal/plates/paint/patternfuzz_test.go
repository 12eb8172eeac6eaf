package paint

import (
	"bytes"
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// anyNumber is mostly inside the page, now and then far off, tiny, or 0.
func (r *randomList) anyNumber() float64 {
	switch r.IntN(12) {
	case 0:
		return 0
	case 1:
		return (r.Float64() - 0.5) * 1e5
	case 2:
		return r.Float64() * 1e-5
	case 3:
		return float64(r.IntN(r.w))
	}
	return r.Float64()*float64(r.w)*1.5 - 2
}

func (r *randomList) anyMatrix() geom.Matrix {
	var m geom.Matrix
	switch r.IntN(5) {
	case 0:
		m = geom.Identity
	case 1:
		m = geom.Matrix{A: 0.2 + r.Float64()*2, D: -0.2 - r.Float64()*2}
	case 2:
		m = geom.Matrix{B: 0.2 + r.Float64()*2, C: 0.2 + r.Float64()*2}
	case 3:
		m = geom.Matrix{A: r.Float64() - 0.5, B: r.Float64() - 0.5, C: r.Float64() - 0.5, D: r.Float64() - 0.5}
	default:
		sin, cos := math.Sincos(r.Float64() * 7)
		m = geom.Matrix{A: cos, B: sin, C: -sin, D: cos}
	}
	m.E, m.F = r.Float64()*9, r.Float64()*9
	if _, ok := m.Invert(); !ok {
		return geom.Identity
	}
	return m
}

func (r *randomList) anyColour(n int) []float64 {
	c := make([]float64, n)
	for i := range c {
		c[i] = float64(r.IntN(11)) / 10
	}
	return c
}

func (r *randomList) anyShading() *displist.Shading {
	space := []colour.Space{colour.CMYK, white, gold, colour.Gray, colour.RGB}[r.IntN(5)]
	n := space.Components()
	s := &displist.Shading{Type: 1 + r.IntN(7), Space: space, M: r.anyMatrix(), Extend: [2]bool{r.IntN(2) == 0, r.IntN(2) == 0}}
	a, b, bent := r.anyColour(n), r.anyColour(n), r.IntN(2) == 0
	along := func(inputs int) colour.Function {
		return &formula{inputs, n, func(out, in []float64) {
			v := in[inputs-1]
			if bent {
				v = math.Floor(v*5) / 5
			}
			for i := range out {
				out[i] = a[i] + float64(v*(b[i]-a[i]))
			}
		}}
	}
	vertexColour := func() []float64 { return r.anyColour(n) }
	switch s.Type {
	case 1:
		s.Coords = []float64{5 + r.Float64()*9, r.Float64(), r.Float64(), 5 + r.Float64()*9, r.anyNumber(), r.anyNumber()}
		s.Domain, s.Function = []float64{0, 1, 0, 1}, along(2)
	case 2:
		s.Coords = []float64{r.anyNumber(), r.anyNumber(), r.anyNumber(), r.anyNumber()}
		s.Domain, s.Function = []float64{0, 1}, along(1)
	case 3:
		s.Coords = []float64{r.anyNumber(), r.anyNumber(), math.Abs(r.anyNumber()), r.anyNumber(), r.anyNumber(), math.Abs(r.anyNumber())}
		s.Domain, s.Function = []float64{1, 0}, along(1)
	default:
		if r.IntN(2) == 0 {
			s.Domain, s.Function = []float64{0, 1}, along(1)
			vertexColour = func() []float64 { return r.anyColour(1) }
		}
		s.Mesh = &displist.Mesh{}
		point := func() geom.Point { return geom.Point{X: r.anyNumber(), Y: r.anyNumber()} }
		if s.Type < 6 {
			for range 3 + r.IntN(8) {
				s.Mesh.Vertices = append(s.Mesh.Vertices, point())
				s.Mesh.Comps = append(s.Mesh.Comps, vertexColour())
			}
			for range 3 * (1 + r.IntN(8)) {
				s.Mesh.Triangles = append(s.Mesh.Triangles, int32(r.IntN(len(s.Mesh.Vertices))))
			}
			break
		}
		for range 1 + r.IntN(3) {
			var p displist.Patch
			for i := range p.P {
				p.P[i] = point()
			}
			for i := range p.C {
				p.C[i] = vertexColour()
			}
			s.Mesh.Patches = append(s.Mesh.Patches, p)
		}
	}
	if r.IntN(4) == 0 {
		b := r.box()
		s.BBox = &b
	}
	if r.IntN(3) == 0 {
		s.Background = r.anyColour(n)
	}
	return s
}

func (r *randomList) anyTiling(depth int) *displist.Tiling {
	inner := *r
	inner.w, inner.h, inner.groups, inner.masks = 6, 6, 1, r.IntN(3) == 0
	inner.opaque, inner.overline = r.IntN(2) == 0, r.IntN(3) == 0
	if r.IntN(2) == 0 {
		inner.blends = nil
	}
	t := &displist.Tiling{BBox: geom.Rect{X1: 6, Y1: 6}, M: r.anyMatrix(), Coloured: true, Blending: true,
		XStep: []float64{6, 6, 7.3, 4.1, 0.9, 0.3}[r.IntN(6)], YStep: []float64{6, 6, 8.5, 3.2, 1.2, 0.25}[r.IntN(6)]}
	t.Items = inner.items(1+r.IntN(3), 1)
	if depth > 0 && r.IntN(2) == 0 {
		t.Items = append(t.Items, inner.anyPattern(depth-1))
	}
	r.end(t.Items, 0, len(t.Items))
	t.Bounds = t.BBox
	return t
}

// anyPattern is an item painted with a pattern, or a shading.
func (r *randomList) anyPattern(depth int) displist.Item {
	b := r.box()
	var it displist.Item
	switch r.IntN(4) {
	case 0:
		s := r.anyShading()
		s.Background = nil
		it = displist.Item{Kind: displist.Shade, Shading: s, Alpha: 1, Bounds: b}
	case 1:
		it = rect(b.X0, b.Y0, b.X1, b.Y1, displist.Paint{Shading: r.anyShading()})
	case 2:
		t := r.anyTiling(depth)
		it = rect(b.X0, b.Y0, b.X1, b.Y1, displist.Paint{Tiling: t})
		if r.IntN(3) == 0 {
			p := r.paint()
			t.Coloured = false
			for i := range t.Items {
				if t.Items[i].Kind == displist.Fill {
					t.Items[i].Paint = p
				}
			}
			it.Paint.Space, it.Paint.Comps = p.Space, p.Comps
		}
	default:
		w, h := 1+r.IntN(9), 1+r.IntN(9)
		it = picture(stencil(w, h, noise(r.Rand, (w+7)/8*h)), upright(b.X0, b.Y0, b.X1, b.Y1))
		if r.IntN(2) == 0 {
			it.Paint = displist.Paint{Shading: r.anyShading()}
		} else {
			it.Paint = displist.Paint{Tiling: r.anyTiling(0)}
		}
	}
	r.state(&it)
	return it
}

// fuzzing is whether seeds are sought, and not only run.
func fuzzing() bool {
	f := flag.Lookup("test.fuzz")
	return f != nil && f.Value.String() != ""
}

// Do pages of patterns and shadings of any shape end soon, with the same bytes for any number of workers and any bands, a crop
// like the page, and each pixel explained as it is rendered?
func FuzzPatterns(f *testing.F) {
	for seed := range uint64(40) {
		f.Add(seed, uint8(seed*7), uint16(seed*37))
	}
	f.Fuzz(func(t *testing.T, seed uint64, dpi uint8, pixel uint16) {
		start := time.Now()
		r := &randomList{Rand: rand.New(rand.NewPCG(seed, 11)), w: 14, h: 14, groups: 2, blends: allModes, masks: true, clips: true,
			spaces: true, overline: true}
		l := r.list(2)
		for range 1 + r.IntN(4) {
			l.Items = append(l.Items, r.anyPattern(2))
		}
		for i := range l.Items {
			if m := l.Items[i].SoftMask; m != nil && m.Ref.Num == 0 {
				m.Ref.Num = 1
				r.end(m.Items, 0, len(m.Items))
			}
		}
		// The fuzzer takes 10 s for a hang, its build is slow, and machines are shared. Pages beyond are left to
		// TestPatternWorkIsBounded and to the seeds.
		const most = 3_000_000
		if work, _ := workOf(l, math.MaxFloat64); work > most && fuzzing() {
			t.Skipf("work of %.3g", work)
		}
		j := jobOf(l)
		j.DPI, j.Workers = float64(36*(1+dpi%4)), 1
		page := render(t, j)
		j.Workers = 3
		if !samePlates(renderRows(t, j, 3), page) {
			t.Fatal("bands of 3 rows and 3 workers differ")
		}
		x, y := int(pixel)%page.Width, int(pixel>>4)%page.Height
		e, err := Explain(context.Background(), j, x, y)
		if err != nil {
			t.Fatal(err)
		}
		if want := tintsAt(page, x, y); !bytes.Equal(e.Final, want) {
			t.Fatalf("pixel %d,%d: explained %v, rendered %v", x, y, e.Final, want)
		}
		j.Region = geom.Rect{X0: 4, Y0: 2, X1: 12, Y1: 12}
		k := int(j.DPI) / 36
		if crop := render(t, j); !samePlates(crop, page.Crop(2*k, k, 6*k, 6*k)) {
			t.Fatal("the crop differs")
		}
		if d := time.Since(start); d > 60*time.Second {
			t.Fatalf("took %v", d)
		}
	})
}

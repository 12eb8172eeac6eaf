package raster

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
)

// A4 at 300 dpi.
var a4 = IntRect{0, 0, 2480, 3508}

// scanBands rasterises e in bands of 128 rows and returns the covered pixels.
func scanBands(s *Scanner, e *Edges, page IntRect) int {
	sum := 0
	for y := page.Y0; y < page.Y1; y += 128 {
		s.Scan(e, IntRect{page.X0, y, page.X1, min(y+128, page.Y1)}, func(_ int, spans []Span) {
			for _, p := range spans {
				sum += int(p.X1 - p.X0)
			}
		})
	}
	return sum
}

func circle(cx, cy, r float64) *geom.Path {
	const k = 0.5522847498
	p := &geom.Path{}
	p.Move(geom.Point{X: cx + r, Y: cy})
	p.Cubic(geom.Point{X: cx + r, Y: cy + k*r}, geom.Point{X: cx + k*r, Y: cy + r}, geom.Point{X: cx, Y: cy + r})
	p.Cubic(geom.Point{X: cx - k*r, Y: cy + r}, geom.Point{X: cx - r, Y: cy + k*r}, geom.Point{X: cx - r, Y: cy})
	p.Cubic(geom.Point{X: cx - r, Y: cy - k*r}, geom.Point{X: cx - k*r, Y: cy - r}, geom.Point{X: cx, Y: cy - r})
	p.Cubic(geom.Point{X: cx + k*r, Y: cy - r}, geom.Point{X: cx + r, Y: cy - k*r}, geom.Point{X: cx + r, Y: cy})
	p.ClosePath()
	return p
}

// A ring of 10,000 teeth that fills the page.
func gear(n int) *geom.Path {
	p := &geom.Path{}
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		r := 1200 - 8*float64(i&1)
		q := geom.Point{X: 1240 + r*math.Cos(a), Y: 1754 + 1.4*r*math.Sin(a)}
		if i == 0 {
			p.Move(q)
		} else {
			p.Line(q)
		}
	}
	return p
}

func BenchmarkScan(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 4))
	tangle := &geom.Path{}
	tangle.Move(geom.Point{})
	for range 1000 {
		tangle.Line(geom.Point{X: r.Float64() * 2480, Y: r.Float64() * 3508})
	}
	rect := &geom.Path{}
	rect.Rect(geom.Rect{X0: 100.3, Y0: 100.3, X1: 2300.7, Y1: 3300.9})
	for _, c := range []struct {
		name string
		path *geom.Path
	}{{"gear10000", gear(10000)}, {"tangle1000", tangle}, {"curve", circle(1240, 1754, 1200)}, {"rect", rect}} {
		b.Run(c.name, func(b *testing.B) {
			e := fill(c.path, geom.NonZero)
			var s Scanner
			scanBands(&s, e, a4)
			b.ReportAllocs()
			for b.Loop() {
				scanBands(&s, e, a4)
			}
		})
	}
}

func BenchmarkBuild(b *testing.B) {
	for _, c := range []struct {
		name string
		path *geom.Path
	}{{"gear10000", gear(10000)}, {"curve", circle(1240, 1754, 1200)}} {
		b.Run(c.name, func(b *testing.B) {
			var bu Builder
			b.ReportAllocs()
			for b.Loop() {
				bu.Reset()
				bu.Fill(c.path, geom.Identity)
				bu.Edges(geom.NonZero)
			}
		})
	}
}

// Two thousand shapes of the size and make of letters, built and scanned.
func BenchmarkGlyphs(b *testing.B) {
	var outlines []*geom.Path
	r := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		p := circle(0, 0, 12+r.Float64()*4)
		p.Append(circle(0, 0, 7), geom.Matrix{A: 1, D: -1})
		p.Rect(geom.Rect{X0: 10, Y0: -14, X1: 14, Y1: 20})
		outlines = append(outlines, p)
	}
	b.ReportAllocs()
	var bu Builder
	var s Scanner
	for b.Loop() {
		for i := range 2000 {
			bu.Reset()
			bu.FillArea(outlines[i%len(outlines)], geom.Translate(float64(40+i%60*40)+0.3, float64(50+i/60*90)+0.1))
			e := bu.Edges(geom.NonZero)
			s.Scan(e, a4, func(int, []Span) {})
		}
	}
}

func BenchmarkStroke(b *testing.B) {
	long := circle(1240, 1754, 1200)
	many := &geom.Path{}
	r := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		x, y := r.Float64()*2400, r.Float64()*3400
		many.Move(geom.Point{X: x, Y: y})
		many.Cubic(geom.Point{X: x + 30, Y: y}, geom.Point{X: x, Y: y + 60}, geom.Point{X: x + 40, Y: y + 50})
		many.Line(geom.Point{X: x + 50, Y: y})
	}
	for _, c := range []struct {
		name  string
		path  *geom.Path
		style geom.StrokeStyle
	}{
		{"circle", long, geom.StrokeStyle{Width: 4, MiterLimit: 10}},
		{"dashed", long, geom.StrokeStyle{Width: 4, MiterLimit: 10, Dash: []float64{8, 4}}},
		{"many", many, geom.StrokeStyle{Width: 2, MiterLimit: 10, Cap: geom.RoundCap, Join: geom.RoundJoin}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var bu Builder
			var s Scanner
			b.ReportAllocs()
			for b.Loop() {
				bu.Reset()
				bu.Stroke(c.path, c.style, geom.Identity, geom.Identity)
				scanBands(&s, bu.Edges(geom.NonZero), a4)
			}
		})
	}
}

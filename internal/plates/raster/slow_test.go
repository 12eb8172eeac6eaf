package raster

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
	"laydown/internal/slowpaint"
)

// compare returns the greatest and the mean difference of e from lines, in steps of 1/255.
func compare(e *Edges, lines []slowpaint.Line, rule geom.FillRule, w, h int) (worst, mean float64, at [2]int) {
	fast := render(e, IntRect{0, 0, w, h})
	slow := slowpaint.Coverage(lines, rule, w, h)
	for i := range fast {
		d := math.Abs(float64(fast[i]) - 255*slow[i])
		mean += d / float64(len(fast))
		if d > worst {
			worst, at = d, [2]int{i % w, i / w}
		}
	}
	return worst, mean, at
}

// Shapes that do not overlap themselves inside a pixel have their exact area.
func TestFillEqualsSlowCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	for i := range 60 {
		p := &geom.Path{}
		cx, cy := 10+r.Float64()*12, 10+r.Float64()*12
		n := 3 + r.IntN(9)
		for k := range n {
			a := 2 * math.Pi * (float64(k) + r.Float64()*0.5) / float64(n)
			d := 4 + r.Float64()*14
			q := geom.Point{X: cx + d*math.Cos(a), Y: cy + d*math.Sin(a)}
			switch {
			case k == 0:
				p.Move(q)
			case r.IntN(3) == 0:
				p.Cubic(geom.Point{X: q.X + r.Float64()*2, Y: q.Y}, geom.Point{X: q.X, Y: q.Y + r.Float64()*2}, q)
			default:
				p.Line(q)
			}
		}
		for rule := geom.NonZero; rule <= geom.EvenOdd; rule++ {
			worst, mean, at := compare(fill(p, rule), slowpaint.Lines(p, geom.Identity, 200), rule, 32, 32)
			// Chords may stray by tolerance; rounding to 1/256 pixel costs under 1.
			if worst > 30 || mean > 0.3 {
				t.Errorf("shape %d, rule %d: worst %.1f at %v, mean %.2f", i, rule, worst, at, mean)
			}
		}
	}
}

func TestStrokeEqualsSlowCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 2))
	for i := range 60 {
		p := &geom.Path{}
		pt := func() geom.Point { return geom.Point{X: 4 + r.Float64()*40, Y: 4 + r.Float64()*40} }
		p.Move(pt())
		for range 1 + r.IntN(3) {
			if r.IntN(2) == 0 {
				p.Line(pt())
			} else {
				p.Cubic(pt(), pt(), pt())
			}
		}
		if r.IntN(2) == 0 {
			p.ClosePath()
		}
		style := geom.StrokeStyle{
			Width: 1 + r.Float64()*8, Cap: geom.Cap(r.IntN(3)), Join: geom.Join(r.IntN(3)), MiterLimit: 1 + r.Float64()*9,
		}
		if i%3 == 0 {
			for range 1 + r.IntN(4) {
				style.Dash = append(style.Dash, 1+r.Float64()*12)
			}
			style.DashPhase = r.Float64()*60 - 30
		}
		pen := geom.Identity
		if i%2 == 0 {
			pen = geom.Matrix{A: 0.6 + r.Float64(), B: r.Float64() - 0.5, C: r.Float64() - 0.5, D: -0.6 - r.Float64()}
		}
		var b Builder
		if !b.Stroke(p, style, pen, geom.Identity) {
			t.Fatalf("stroke %d cut short", i)
		}
		lines := slowpaint.StrokeLines(p, style, pen, geom.Identity, 100)
		// Outlines are compared, both measured slowly.
		fast := slowpaint.Coverage(linesOf(b.Edges(geom.NonZero)), geom.NonZero, 48, 48)
		slow := slowpaint.Coverage(lines, geom.NonZero, 48, 48)
		worst, mean, at := 0.0, 0.0, [2]int{}
		for i := range fast {
			d := 255 * math.Abs(fast[i]-slow[i])
			mean += d / float64(len(fast))
			if d > worst {
				worst, at = d, [2]int{i % 48, i / 48}
			}
		}
		if worst > 64 || mean > 0.3 {
			t.Errorf("stroke %d %+v: worst %.1f at %v, mean %.2f", i, style, worst, at, mean)
		}
	}
}

// linesOf returns e's edges in pixels.
func linesOf(e *Edges) []slowpaint.Line {
	var out []slowpaint.Line
	for _, l := range e.list {
		out = append(out, slowpaint.Line{P: geom.Point{X: float64(l.x0) / one, Y: float64(l.y0) / one}, Q: geom.Point{X: float64(l.x1) / one, Y: float64(l.y1) / one}})
	}
	return out
}

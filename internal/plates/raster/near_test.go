package raster

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"laydown/internal/geom"
)

// nearAndFar builds a path both ways.
func nearAndFar(p *geom.Path, m geom.Matrix, specks bool) (near, far Builder, ok bool) {
	ok = near.fillNear(p, m, specks)
	far.fillFar(p, m, specks)
	return near, far, ok
}

func TestNearWayAddsTheEdgesOfTheGeneralWay(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 1))
	number := func(scale float64) float64 {
		if r.IntN(4) == 0 {
			return math.Round(r.NormFloat64() * scale)
		}
		return r.NormFloat64() * scale
	}
	taken := 0
	for i := range 3000 {
		scale := math.Pow(10, float64(r.IntN(6))-2)
		flat := r.IntN(3) // 1: all on a line along x, 2: along y
		point := func() geom.Point {
			p := geom.Point{X: number(scale), Y: number(scale)}
			switch flat {
			case 1:
				p.Y = 3 + r.Float64()/4000
			case 2:
				p.X = 3.5
			}
			return p
		}
		p := &geom.Path{}
		p.Move(point())
		for range r.IntN(12) {
			switch r.IntN(8) {
			case 0:
				p.ClosePath()
				if r.IntN(8) > 0 {
					p.Move(point())
				}
			case 1:
				p.Move(point())
			case 2, 3:
				p.Line(point())
			default:
				p.Cubic(point(), point(), point())
			}
		}
		m := geom.Identity
		if i%2 == 1 && flat == 0 {
			m = geom.Matrix{A: r.NormFloat64(), B: r.NormFloat64(), C: r.NormFloat64(), D: r.NormFloat64(), E: r.NormFloat64() * 100, F: r.NormFloat64()}
		}
		near, far, ok := nearAndFar(p, m, i%3 > 0)
		if !ok {
			if len(near.list)+len(near.specks) > 0 {
				t.Fatalf("path %d: refused, yet %d edges are there", i, len(near.list))
			}
			continue
		}
		taken++
		if !slices.Equal(near.list, far.list) || !slices.Equal(near.specks, far.specks) {
			t.Fatalf("path %d %v:\n%v %v, want\n%v %v", i, p, near.list, near.specks, far.list, far.specks)
		}
	}
	if taken < 2000 {
		t.Errorf("only %d paths were near", taken)
	}
}

func TestFewPiecesIsWhatPiecesSays(t *testing.T) {
	for i, v := range fewPieces {
		for _, square := range []float64{v - 1, v, v + 1} {
			n := 1
			for n <= maxFewPieces && square > fewPieces[n-1] {
				n++
			}
			if want := piecesOfSquare(square); n != want && !(n > maxFewPieces && want > maxFewPieces) {
				t.Errorf("entry %d, %g: %d pieces, want %d", i, square, n, want)
			}
		}
	}
}

func TestScratchScansAsEdges(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 2))
	var shared Builder
	for i := range 60 {
		p := randomPath(r, 40)
		for k := r.IntN(40); k > 0; k-- {
			p.Append(randomPath(r, 40), geom.Translate(r.Float64()*500, r.Float64()*200))
		}
		var own Builder
		shared.Reset()
		shared.Fill(p, geom.Identity)
		own.Fill(p, geom.Identity)
		rule := geom.FillRule(i % 2)
		a, b := shared.Scratch(rule), own.Edges(rule)
		if a.Bounds != b.Bounds || !bytes.Equal(render(a, b.Bounds), render(b, b.Bounds)) {
			t.Fatalf("path %d differs", i)
		}
	}
}

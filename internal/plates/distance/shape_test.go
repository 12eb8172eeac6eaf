package distance

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
)

// The shape of a light tint is that of a solid, whatever the threshold.
func TestShapeOfATint(t *testing.T) {
	path := disc(&geom.Path{}, 60.3, 61.8, 40)
	bar(path, 150, 60, 70, 30, 0.4)
	solid := drawn(path, 210, 120, 600)
	for _, tint := range []float64{30, 100, 255} {
		p := solid
		p.Pix = make([]uint8, len(solid.Pix))
		for i, v := range solid.Pix {
			p.Pix[i] = uint8(math.Round(float64(v) * tint / 255))
		}
		got := must(Shape(p, 5, Options{}))
		worst, squares, k := 0, 0.0, 0
		for i, v := range got.Pix {
			off := abs(int(v) - int(solid.Pix[i]))
			worst = max(worst, off)
			if v > 0 && v < 255 {
				squares += float64(off * off)
				k++
			}
		}
		rms := math.Sqrt(squares/float64(k)) / 255
		plain := sum(must(Choke(p, 0, Options{Threshold: 5})))
		t.Logf("tint %v: edge pixels off by %.3f at worst, %.3f root mean square; area %.1f, plainly thresholded %.1f, want %.1f",
			tint, float64(worst)/255, rms, sum(got), plain, sum(solid))
		// Tints have fewer steps than coverage: half a step of 30 is 0.017, 4 of 255.
		if worst > 8 || math.Abs(sum(got)-sum(solid)) > 0.0005*sum(solid) {
			t.Errorf("tint %v: worst %d of 255, root mean square %.3f pixel, area %.1f, want %.1f", tint, worst, rms, sum(got), sum(solid))
		}
	}
}

// Of a photograph it is what the threshold alone gives.
func TestShapeOfAPhotograph(t *testing.T) {
	p := newTones(5, 6, 1.2).plane(300, 300, 600)
	a, b := must(Shape(p, 110, Options{})), must(Choke(p, 0, Options{Threshold: 110}))
	far, err := Distances(p, 1, Options{Threshold: 110})
	if err != nil {
		t.Fatal(err)
	}
	squares, k := 0.0, 0
	for i, v := range a.Pix {
		d := math.Abs(float64(far[i])) * p.PerMM()
		if d > 0.25 && (v >= 128) != (b.Pix[i] >= 128) {
			t.Fatalf("pixel %d, %.2f from the outline, is %d, want %d", i, d, v, b.Pix[i])
		}
		if d < 1 {
			squares += square(float64(v)-float64(b.Pix[i])) / (255 * 255)
			k++
		}
	}
	rms := math.Sqrt(squares / float64(k))
	t.Logf("edge pixels off by %.3f root mean square", rms)
	if rms > 0.1 {
		t.Errorf("edge pixels differ by %.3f root mean square; at most 0.1", rms)
	}
}

// Choked, the shape of a photograph with grain is the photograph choked at the threshold: its outline is known to a small part of a pixel
// where its coverage tells it only to a pixel.
func TestChokeOfTheShapeOfAPhotograph(t *testing.T) {
	p := newTones(5, 6, 1.2).plane(400, 400, 1200)
	r := rand.New(rand.NewPCG(3, 3))
	for i, v := range p.Pix {
		p.Pix[i] = uint8(min(max(float64(v)+3*r.NormFloat64(), 0), 255))
	}
	a, b := must(Choke(must(Shape(p, 110, Options{})), 0.1, Options{})), must(Choke(p, 0.1, Options{Threshold: 110}))
	differ := 0
	for i := range a.Pix {
		if a.Pix[i] != b.Pix[i] {
			differ++
		}
	}
	// A pixel of grain that looks like a drawn edge may be taken for one.
	if n := int(sum(b)); differ > 20 || n < 20_000 || n > 140_000 {
		t.Errorf("%d of %d pixels differ, %d are inside; at most 20", differ, len(a.Pix), n)
	}
}

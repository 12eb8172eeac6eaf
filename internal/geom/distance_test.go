package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// slowDistance looks at every pixel for every pixel.
func slowDistance(mask []byte, w, h int) []float32 {
	out := make([]float32, w*h)
	for i := range out {
		best := math.Inf(1)
		for j, m := range mask {
			if m != 0 {
				dx, dy := i%w-j%w, i/w-j/w
				best = min(best, math.Sqrt(float64(dx*dx+dy*dy)))
			}
		}
		out[i] = float32(best)
	}
	return out
}

func TestDistanceEqualsBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for i := range 400 {
		w, h := 1+r.IntN(24), 1+r.IntN(24)
		mask := make([]byte, w*h)
		for k := r.IntN(1 + w*h/(1+r.IntN(20))); k > 0; k-- {
			mask[r.IntN(len(mask))] = byte(1 + r.IntN(255))
		}
		got, want := Distance(mask, w, h), slowDistance(mask, w, h)
		for k := range want {
			if got[k] != want[k] {
				t.Fatalf("mask %d, %dx%d, pixel %d,%d: %v, want %v", i, w, h, k%w, k/w, got[k], want[k])
			}
		}
	}
}

func TestDistanceOfNothing(t *testing.T) {
	if d := Distance(nil, 0, 5); len(d) != 0 {
		t.Errorf("no pixels: %v", d)
	}
	for _, d := range Distance(make([]byte, 6), 3, 2) {
		if !math.IsInf(float64(d), 1) {
			t.Errorf("empty mask: %v", d)
		}
	}
}

func BenchmarkDistance(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	const w, h = 1000, 1000
	mask := make([]byte, w*h)
	for range 2000 {
		mask[r.IntN(len(mask))] = 1
	}
	b.SetBytes(w * h)
	for b.Loop() {
		Distance(mask, w, h)
	}
}

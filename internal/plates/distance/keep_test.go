package distance

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
)

// A bar of width w choked by d with a core c comes out max(w-2d, min(w, c)) wide.
func TestKeptCoreOfBars(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2))
	const dpi, d, core = 1200.0, 0.1, 0.08 // 4.72 and 3.78 pixels
	mm := dpi / 25.4
	worst := 0.0
	for i := range 150 {
		w := 1 + 18*r.Float64()
		angle := math.Pi * r.Float64()
		p := drawn(bar(&geom.Path{}, 60+r.Float64(), 60+r.Float64(), 90, w, angle), 120, 120, dpi)
		got := must(ChokeKeeping(p, d, core, Options{}))
		want := max(w-2*d*mm, min(w, core*mm))
		// The mass of the middle half of its length.
		c, s := math.Cos(angle), math.Sin(angle)
		mass := 0.0
		for k, v := range got.Pix {
			along := (float64(k%120)-60)*c + (float64(k/120)-60)*s
			mass += float64(v) / 255 * min(max(23-math.Abs(along), 0), 1) / 45
		}
		off := math.Abs(mass - want)
		worst = max(worst, off)
		// The middle and the edges of the band are known to a few hundredths of a pixel.
		if off > 0.1 {
			t.Errorf("bar %d of %.2f pixels: %.3f wide, want %.3f", i, w, mass, want)
		}
	}
	t.Logf("widths off by %.3f pixel at worst (%.4f mm)", worst, worst/mm)
}

// A thin bar between two squares stays joined to both; their corners are choked as without it.
func TestKeptCoreStaysJoined(t *testing.T) {
	const dpi, d, core = 1200.0, 0.1, 0.06
	for _, angle := range []float64{0, 0.3, math.Pi / 4} {
		path := &geom.Path{}
		bar(path, 100, 100, 80, 4, angle)
		c, s := math.Cos(angle), math.Sin(angle)
		bar(path, 100+60*c, 100+60*s, 50, 50, angle)
		bar(path, 100-60*c, 100-60*s, 50, 50, angle)
		p := drawn(path, 200, 200, dpi)
		plain := must(Choke(p, d, Options{}))
		kept := must(ChokeKeeping(p, d, core, Options{}))
		if n := pieces(plain); n != 2 {
			t.Fatalf("angle %v: %d pieces without a core, want 2", angle, n)
		}
		if n := pieces(kept); n != 1 {
			t.Errorf("angle %v: %d pieces with a core, want 1", angle, n)
		}
		for i, v := range kept.Pix {
			x, y := float64(i%200)+0.5-100, float64(i/200)+0.5-100
			along, across := x*c+y*s, -x*s+y*c
			if away := math.Abs(along) > 42 || math.Abs(across) > 6; away && v != plain.Pix[i] {
				t.Fatalf("angle %v: pixel %d,%d far from the bar is %d, without a core %d", angle, i%200, i/200, v, plain.Pix[i])
			}
			if v > p.Pix[i] && v > plain.Pix[i] {
				t.Fatalf("angle %v: pixel %d,%d is %d of %d", angle, i%200, i/200, v, p.Pix[i])
			}
		}
	}
}

func pieces(p Plane) (n int) {
	c := label(p, func(v uint8) bool { return v >= 128 }, true)
	for i := range c.id {
		if c.id[i] == int32(i) {
			n++
		}
	}
	return n
}

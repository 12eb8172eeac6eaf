package plate

import (
	"math/rand/v2"
	"testing"

	"laydown/internal/colourant"
)

func TestSumAddsEveryByte(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for n := range 3000 {
		b := make([]byte, n)
		want := uint64(0)
		for i := range b {
			b[i] = 255
			if n%3 > 0 {
				b[i] = byte(rnd.Uint32())
			}
			want += uint64(b[i])
		}
		if got := sum(b); got != want {
			t.Fatalf("%d bytes: %d, want %d", n, got, want)
		}
	}
}

func TestMeansAreThoseOfStats(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	h := Header{Width: 37, Height: 50, DPI: 72, Set: colourant.NewSet(colourant.Colourant{Name: "White", Kind: colourant.OpaqueWhite})}
	means, stats := &Means{}, &Stats{}
	both := Tee(means, stats)
	if err := both.Begin(h); err != nil {
		t.Fatal(err)
	}
	for y := 0; y < h.Height; y += 10 {
		band := &Band{Y0: y, Rows: 10, Planes: make([][]byte, h.Set.Len())}
		for i := range band.Planes {
			if i%2 == 0 {
				band.Planes[i] = make([]byte, 10*h.Width)
				for k := range band.Planes[i] {
					band.Planes[i][k] = byte(rnd.Uint32())
				}
			}
		}
		if err := both.Band(band); err != nil {
			t.Fatal(err)
		}
	}
	if err := both.End(); err != nil {
		t.Fatal(err)
	}
	for i, p := range stats.Plates {
		if means.Percent[i] != p.Mean {
			t.Errorf("%s: %v %%, Stats has %v %%", p.Name, means.Percent[i], p.Mean)
		}
	}
}

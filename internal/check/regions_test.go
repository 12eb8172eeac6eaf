package check

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// blankPage has plates of w x h pixels at 254 dpi: 10 pixels a millimetre.
func blankPage(w, h int) *Page {
	p := &Page{List: &displist.List{}, Plates: plate.NewStack(plate.Header{Width: w, Height: h, DPI: 254, Set: colourant.NewSet()})}
	p.Region = p.listRect(0, 0, w, h)
	p.List.Page.Bleed = p.Region
	return p
}

// randomMask is made of boxes and single pixels.
func randomMask(r *rand.Rand, w, h int) mask {
	m := make(mask, w*h)
	for range r.IntN(6) {
		x0, y0 := r.IntN(w), r.IntN(h)
		x1, y1 := min(w, x0+1+r.IntN(12)), min(h, y0+1+r.IntN(12))
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				m[y*w+x] = 1
			}
		}
	}
	for range r.IntN(10) {
		m[r.IntN(len(m))] ^= 1
	}
	return m
}

func TestThickOnlyKeepsWhatASquareCanCover(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 300 {
		w, h := 1+r.IntN(40), 1+r.IntN(40)
		p, m := blankPage(w, h), randomMask(r, w, h)
		const n = 5 // 0.4 mm and a pixel
		want := make(mask, len(m))
		for y := 0; y+n <= h; y++ {
			for x := 0; x+n <= w; x++ {
				full := true
				for i := range n * n {
					full = full && m[(y+i/n)*w+x+i%n] != 0
				}
				for i := 0; full && i < n*n; i++ {
					want[(y+i/n)*w+x+i%n] = 1
				}
			}
		}
		p.thickOnly(m, .45)
		if !slices.Equal(m, want) {
			t.Fatalf("%d x %d: %v, want %v", w, h, m, want)
		}
	}
}

func TestToucherFindsWhatLookingAtEveryPixelFinds(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 2))
	yes := 0
	for range 2000 {
		w, h := 1+r.IntN(90), 1+r.IntN(90)
		p, m := blankPage(w, h), randomMask(r, w, h)
		x0, y0 := r.IntN(w), r.IntN(h)
		x1, y1 := x0+r.IntN(w-x0+1), y0+r.IntN(h-y0+1)
		want := false
		for y := y0; y < y1; y++ {
			want = want || slices.Contains(m[y*w+x0:y*w+x1], 1)
		}
		if got := p.touching(m).box(p.listRect(x0, y0, x1, y1)); got != want {
			t.Fatalf("%d x %d, box %d %d %d %d: %v, want %v", w, h, x0, y0, x1, y1, got, want)
		}
		if want {
			yes++
		}
	}
	if yes < 200 || yes > 1800 {
		t.Errorf("%d of 2000 boxes touch: the test sees one side only", yes)
	}
}

func TestThickPileIsTheMeanOfTheSquare(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 100 {
		w, h, side := 1+r.IntN(30), 1+r.IntN(30), 1+r.IntN(8)
		p := blankPage(w, h)
		planes := [][]byte{make([]byte, w*h), make([]byte, w*h)}
		for i := range w * h {
			planes[0][i], planes[1][i] = byte(r.IntN(256)), byte(r.IntN(256))
		}
		over, worst := p.thickPile(planes, side, 100)
		most := 100.0
		for y := range h {
			for x := range w {
				sum := 0
				for yy := max(0, y-side/2); yy < min(h, y-side/2+side); yy++ {
					for xx := max(0, x-side/2); xx < min(w, x-side/2+side); xx++ {
						sum += int(planes[0][yy*w+xx]) + int(planes[1][yy*w+xx])
					}
				}
				mean := float64(sum) / float64(side*side) / 2.55
				most = max(most, mean)
				if got := over != nil && over[y*w+x] != 0; got != (mean > 100) && math.Abs(mean-100) > .01 {
					t.Fatalf("pixel %d,%d: mean %g, over %v", x, y, mean, got)
				}
			}
		}
		if over != nil && math.Abs(worst-most) > .01 {
			t.Fatalf("highest %g, want %g", worst, most)
		}
	}
}

func TestWithinKeepsTheBoxOnly(t *testing.T) {
	p := blankPage(20, 10)
	m := slices.Repeat(mask{1}, 200)
	p.within(m, p.listRect(3, 2, 9, 7))
	if p.areaMM2(m) != float64(6*5)*p.px()*p.px() || p.bounds(m) != p.listRect(3, 2, 9, 7) {
		t.Errorf("area %g, bounds %v", p.areaMM2(m), p.bounds(m))
	}
	p.within(m, geom.Rect{})
	if !p.bounds(m).Empty() {
		t.Errorf("bounds %v", p.bounds(m))
	}
}

func TestAreaText(t *testing.T) {
	for mm2, want := range map[float64]string{.5: "0.5 mm²", 12.3: "12 mm²", 9999: "9999 mm²", 25_000: "250 cm²", 1_889_691: "1.9 m²"} {
		if got := areaText(mm2); got != want {
			t.Errorf("%g: %q, want %q", mm2, got, want)
		}
	}
}

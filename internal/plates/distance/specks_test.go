package distance

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/geom"
)

// Specks below an area are told with their area, larger ones are not; what touches by a corner is one.
func TestSpecks(t *testing.T) {
	path := &geom.Path{}
	disc(path, 20.3, 20.6, 2)   // 12.6 pixels
	disc(path, 50.1, 22.2, 3.2) // 32.2
	path.Rect(geom.Rect{X0: 70, Y0: 40, X1: 74, Y1: 44})
	path.Rect(geom.Rect{X0: 74, Y0: 44, X1: 77, Y1: 47}) // 25 together
	bar(path, 40, 70, 30, 0.4, 0.5)                      // 12 pixels, none half covered
	p := drawn(path, 100, 100, 254)
	got, err := Specks(p, 0.3, Options{}) // 30 pixels
	if err != nil || len(got) != 2 {
		t.Fatalf("%+v, %v", got, err)
	}
	for i, want := range []struct{ area, x, y float64 }{{12.566, 20.3, 20.6}, {25, 73.26, 43.26}} {
		if g := got[i]; math.Abs(g.Area*100-want.area) > 0.1 || math.Hypot(g.X-want.x, g.Y-want.y) > 0.05 {
			t.Errorf("speck %d: %.3f pixels at %.2f, %.2f, want %+v", i, g.Area*100, g.X, g.Y, want)
		}
	}
	got, err = Specks(p, 0.3, Options{Faint: 13})
	if err != nil || len(got) != 3 || math.Abs(got[2].Area*100-12) > 0.5 {
		t.Errorf("with faint ones: %+v, %v", got, err)
	}
}

// A component is what flood filling finds.
func TestComponentsEqualFloodFill(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		_, p := anyPlane(rt)
		corners := rapid.Bool().Draw(rt, "corners")
		c := label(p, func(v uint8) bool { return v >= 128 }, corners)
		seen := make([]int32, len(p.Pix))
		for i := range seen {
			if seen[i] != 0 || p.Pix[i] < 128 {
				continue
			}
			id := c.id[c.find(int32(i%p.W), int32(i/p.W))] + 1
			for _, s := range seen {
				if s == id {
					rt.Fatal("two components have one number")
				}
			}
			stack := []int{i}
			for len(stack) > 0 {
				k := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				if seen[k] != 0 || p.Pix[k] < 128 {
					continue
				}
				seen[k] = id
				if got := c.id[c.find(int32(k%p.W), int32(k/p.W))] + 1; got != id {
					rt.Fatalf("pixel %d has number %d, want %d", k, got, id)
				}
				for n, a := range around {
					x, y := k%p.W+a[0], k/p.W+a[1]
					if (n < 4 || corners) && x >= 0 && y >= 0 && x < p.W && y < p.H {
						stack = append(stack, y*p.W+x)
					}
				}
			}
		}
	})
}

// Holes below an area are filled with their fringe; larger ones, gaps open to the border and the rest stay as they are.
func TestFillHoles(t *testing.T) {
	path := &geom.Path{}
	path.Rect(geom.Rect{X0: 10, Y0: 10, X1: 90, Y1: 90})
	p := drawn(path, 100, 100, 254)
	holes := &geom.Path{}
	disc(holes, 30.3, 30.6, 3)
	disc(holes, 60.3, 60.6, 8)
	disc(holes, 10, 50, 3) // open
	h := drawn(holes, 100, 100, 254)
	for i, v := range h.Pix {
		p.Pix[i] = min(p.Pix[i], 255-v)
	}
	got, err := FillHoles(p, 0.5, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.Pix {
		x, y := i%100, i/100
		if want := p.Pix[i]; math.Hypot(float64(x)-29.8, float64(y)-30.1) < 6 {
			if v != 255 {
				t.Fatalf("pixel %d,%d of the small hole is %d", x, y, v)
			}
		} else if v != want {
			t.Fatalf("pixel %d,%d became %d from %d", x, y, v, want)
		}
	}
}

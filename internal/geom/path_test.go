package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestAsRectKnowsRectangles(t *testing.T) {
	path := func(verbs string, xy ...float64) *Path {
		p := &Path{}
		for _, v := range verbs {
			p.Verbs = append(p.Verbs, map[rune]Verb{'m': MoveTo, 'l': LineTo, 'c': CubicTo, 'h': Close}[v])
		}
		for i := 0; i < len(xy); i += 2 {
			p.Points = append(p.Points, Point{xy[i], xy[i+1]})
		}
		return p
	}
	want := Rect{1, 2, 4, 8}
	for _, c := range []struct {
		name string
		path *Path
		ok   bool
	}{
		{"closed", path("mlllh", 1, 2, 4, 2, 4, 8, 1, 8), true},
		{"down first", path("mlllh", 1, 2, 1, 8, 4, 8, 4, 2), true},
		{"from another corner", path("mlllh", 4, 8, 1, 8, 1, 2, 4, 2), true},
		{"open", path("mlll", 1, 2, 4, 2, 4, 8, 1, 8), true},
		{"drawn back to the start", path("mllll", 1, 2, 4, 2, 4, 8, 1, 8, 1, 2), true},
		{"drawn back and closed", path("mllllh", 1, 2, 4, 2, 4, 8, 1, 8, 1, 2), true},
		{"five corners", path("mllllh", 1, 2, 4, 2, 4, 8, 1, 8, 0, 4), false},
		{"a second subpath", path("mlllm", 1, 2, 4, 2, 4, 8, 1, 8, 1, 2), false},
		{"a bow tie", path("mlllh", 1, 2, 4, 8, 4, 2, 1, 8), false},
		{"a slope", path("mlllh", 1, 2, 4, 2, 4, 8, 1, 8.1), false},
		{"a curve", path("mlch", 1, 2, 4, 2, 4, 8, 4, 8, 1, 8), false},
		{"closed early", path("mllhl", 1, 2, 4, 2, 4, 8, 1, 8), false},
		{"three points", path("mllh", 1, 2, 4, 2, 4, 8), false},
		{"nothing", path(""), false},
		{"only closed", path("h"), false},
	} {
		r, ok := c.path.AsRect()
		if ok != c.ok || (ok && r != want) {
			t.Errorf("%s: %v %v", c.name, r, ok)
		}
	}
}

// Every point of a curve lies in the tight box, and some point lies on each side of it.
func TestTightBoundsHoldCurvesTightly(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for range 500 {
		var c [4]Point
		for i := range c {
			c[i] = Point{math.Round(r.Float64()*20) / 2, r.NormFloat64() * 5}
		}
		p := &Path{}
		p.Move(c[0])
		p.Cubic(c[1], c[2], c[3])
		b := p.TightBounds()
		seen := Rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for i := range 2001 {
			q := pointOnCubic(c, float64(i)/2000)
			seen = Rect{min(seen.X0, q.X), min(seen.Y0, q.Y), max(seen.X1, q.X), max(seen.Y1, q.Y)}
		}
		for _, d := range []float64{seen.X0 - b.X0, seen.Y0 - b.Y0, b.X1 - seen.X1, b.Y1 - seen.Y1} {
			if d < -1e-9 || d > 1e-4 {
				t.Fatalf("curve %v: box %v, seen %v", c, b, seen)
			}
		}
	}
}

func TestTightBoundsOfLines(t *testing.T) {
	p := &Path{}
	if b := p.TightBounds(); b != (Rect{}) {
		t.Errorf("nothing: %v", b)
	}
	p.Rect(Rect{1, 2, 3, 4})
	p.Move(Point{7, 0})
	if b, want := p.TightBounds(), (Rect{1, 0, 7, 4}); b != want {
		t.Errorf("%v, want %v", b, want)
	}
}

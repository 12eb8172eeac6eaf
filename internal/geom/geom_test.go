package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestMatrixProductAppliesTheFirstFactorFirst(t *testing.T) {
	m := Scale(2, 3).Mul(Translate(10, 20))
	if p := m.Apply(Point{1, 1}); p != (Point{12, 23}) {
		t.Errorf("scaled, then moved: %v", p)
	}
	if v := m.ApplyVector(Point{1, 1}); v != (Point{2, 3}) {
		t.Errorf("a vector is not moved: %v", v)
	}
}

func TestInverseUndoes(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 200 {
		m := Matrix{r.NormFloat64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
		inv, ok := m.Invert()
		p := Point{r.NormFloat64(), r.NormFloat64()}
		q := inv.Apply(m.Apply(p))
		if limit := 1e-9 / math.Abs(m.Det()); !ok || math.Abs(q.X-p.X) > limit || math.Abs(q.Y-p.Y) > limit {
			t.Errorf("%v: %v became %v", m, p, q)
		}
	}
	for _, m := range []Matrix{{}, {A: 1, B: 2, C: 2, D: 4}, {A: math.NaN(), D: 1}, {A: math.Inf(1), D: 1}, {A: 1e-200, D: 1e-200}} {
		if inv, ok := m.Invert(); ok || inv != Identity {
			t.Errorf("%v has no inverse, got %v", m, inv)
		}
	}
}

func TestRectangles(t *testing.T) {
	a, b := Rect{0, 0, 4, 4}, Rect{2, 1, 6, 3}
	if got := a.Intersect(b); got != (Rect{2, 1, 4, 3}) {
		t.Errorf("common part %v", got)
	}
	if got := a.Union(b); got != (Rect{0, 0, 6, 4}) {
		t.Errorf("union %v", got)
	}
	if got := a.Union(Rect{9, 9, 9, 12}); got != a {
		t.Errorf("union with an empty one %v", got)
	}
	if !a.Intersect(Rect{4, 0, 5, 4}).Empty() {
		t.Error("half-open rectangles that touch have nothing in common")
	}
	if !(Rect{0, 0, math.NaN(), 1}).Empty() {
		t.Error("a rectangle without a number is empty")
	}
	if a.Contains(Point{4, 0}) || !a.Contains(Point{0, 0}) {
		t.Error("the left and upper sides belong to a rectangle, the others do not")
	}
	if got := (Matrix{B: 1, C: -1}).Bounds(Rect{0, 0, 2, 1}); got != (Rect{-1, 0, 0, 2}) {
		t.Errorf("turned box %v", got)
	}
}

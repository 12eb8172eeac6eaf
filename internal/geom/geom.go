// Package geom holds the plane geometry every stage shares: points, matrices, rectangles and
// paths, and the two named coordinate spaces of the program.
//
// List space is the space of display lists: points (1/72 inch, UserUnit applied), the origin at
// the top left corner of the page's MediaBox as viewed (Rotate applied), x to the right and y
// DOWN. Device space is pixels, y down, the origin at the top left corner of the rendered region.
// PDF user space (y up) never leaves artwork/interp. Intervals are half-open: x0 <= x < x1.
package geom

import "math"

// PointsPerMM is the number of PDF points in one millimetre.
const PointsPerMM = 72 / 25.4

// Point is a position or a vector; the space it lives in is said where it is stored.
type Point struct{ X, Y float64 }

// Matrix is the affine map x' = A*x + C*y + E, y' = B*x + D*y + F, written [A B C D E F] as in
// ISO 32000-2, 8.3.3.
type Matrix struct{ A, B, C, D, E, F float64 }

// Identity leaves points where they are.
var Identity = Matrix{A: 1, D: 1}

// Translate returns the map that adds (x, y).
func Translate(x, y float64) Matrix { return Matrix{A: 1, D: 1, E: x, F: y} }

// Scale returns the map that multiplies by (x, y) about the origin.
func Scale(x, y float64) Matrix { return Matrix{A: x, D: y} }

// Mul returns the map that applies m first and then n (the row-vector product m x n of 8.3.4).
// Products are rounded explicitly so that fused multiply-add cannot change results by machine.
func (m Matrix) Mul(n Matrix) Matrix {
	return Matrix{
		A: float64(m.A*n.A) + float64(m.B*n.C),
		B: float64(m.A*n.B) + float64(m.B*n.D),
		C: float64(m.C*n.A) + float64(m.D*n.C),
		D: float64(m.C*n.B) + float64(m.D*n.D),
		E: float64(m.E*n.A) + float64(m.F*n.C) + n.E,
		F: float64(m.E*n.B) + float64(m.F*n.D) + n.F,
	}
}

// Apply maps a point.
func (m Matrix) Apply(p Point) Point {
	return Point{
		X: float64(m.A*p.X) + float64(m.C*p.Y) + m.E,
		Y: float64(m.B*p.X) + float64(m.D*p.Y) + m.F,
	}
}

// ApplyVector maps a displacement: the translation is left out.
func (m Matrix) ApplyVector(p Point) Point {
	return Point{X: float64(m.A*p.X) + float64(m.C*p.Y), Y: float64(m.B*p.X) + float64(m.D*p.Y)}
}

// Det is the determinant: the signed area a unit square gets.
func (m Matrix) Det() float64 { return float64(m.A*m.D) - float64(m.B*m.C) }

// Invert returns the inverse map; ok is false when m is singular or not finite.
func (m Matrix) Invert() (inv Matrix, ok bool) {
	det := m.Det()
	if det == 0 || !m.Finite() || math.IsInf(1/det, 0) {
		return Identity, false
	}
	inv = Matrix{A: m.D / det, B: -m.B / det, C: -m.C / det, D: m.A / det}
	inv.E = -(float64(m.E*inv.A) + float64(m.F*inv.C))
	inv.F = -(float64(m.E*inv.B) + float64(m.F*inv.D))
	return inv, inv.Finite()
}

// Finite reports whether no number of m is NaN or infinite.
func (m Matrix) Finite() bool {
	// x-x is 0 for finite x and NaN otherwise.
	return (m.A-m.A)+(m.B-m.B)+(m.C-m.C)+(m.D-m.D)+(m.E-m.E)+(m.F-m.F) == 0
}

// Expansion is the mean scale factor: the square root of the absolute determinant.
func (m Matrix) Expansion() float64 { return math.Sqrt(math.Abs(m.Det())) }

// Rect is the half-open rectangle X0 <= x < X1, Y0 <= y < Y1. It is empty when X1 <= X0 or Y1 <= Y0.
type Rect struct{ X0, Y0, X1, Y1 float64 }

// RectOf orders two opposite corners (ISO 32000-2, 7.9.5 allows any two).
func RectOf(x0, y0, x1, y1 float64) Rect {
	return Rect{min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)}
}

// Empty reports whether r has no area. A NaN coordinate makes it empty.
func (r Rect) Empty() bool { return !(r.X0 < r.X1 && r.Y0 < r.Y1) }

// W and H are the side lengths; an empty rectangle may report a negative one.
func (r Rect) W() float64 { return r.X1 - r.X0 }

// H is the height of r.
func (r Rect) H() float64 { return r.Y1 - r.Y0 }

// Intersect returns the common part, which may be empty.
func (r Rect) Intersect(s Rect) Rect {
	return Rect{max(r.X0, s.X0), max(r.Y0, s.Y0), min(r.X1, s.X1), min(r.Y1, s.Y1)}
}

// Union returns the smallest rectangle that holds both; an empty one counts for nothing.
func (r Rect) Union(s Rect) Rect {
	if r.Empty() {
		return s
	}
	if s.Empty() {
		return r
	}
	return Rect{min(r.X0, s.X0), min(r.Y0, s.Y0), max(r.X1, s.X1), max(r.Y1, s.Y1)}
}

// Grow moves every side outwards by d (inwards when negative).
func (r Rect) Grow(d float64) Rect { return Rect{r.X0 - d, r.Y0 - d, r.X1 + d, r.Y1 + d} }

// Contains reports whether p lies in r.
func (r Rect) Contains(p Point) bool { return p.X >= r.X0 && p.X < r.X1 && p.Y >= r.Y0 && p.Y < r.Y1 }

// Bounds returns the bounding box of r's four corners under m.
func (m Matrix) Bounds(r Rect) Rect {
	p := [4]Point{m.Apply(Point{r.X0, r.Y0}), m.Apply(Point{r.X1, r.Y0}), m.Apply(Point{r.X1, r.Y1}), m.Apply(Point{r.X0, r.Y1})}
	b := Rect{p[0].X, p[0].Y, p[0].X, p[0].Y}
	for _, q := range p[1:] {
		b = Rect{min(b.X0, q.X), min(b.Y0, q.Y), max(b.X1, q.X), max(b.Y1, q.Y)}
	}
	return b
}

package outline

import (
	"math"

	"laydown/internal/geom"
)

// Curves are fitted as in P. Schneider, "An algorithm for automatically fitting digitized curves", Graphics Gems (1990): between corners a
// cubic of given end directions is fitted by least squares; where it is farther than the tolerance from a point, the run is cut there and
// both parts are fitted, with one direction at the cut.

// piece is a line or a cubic from the end of the piece before.
type piece struct {
	a, b, end geom.Point
	curved    bool
}

// contour is a closed outline of pieces; the last one ends at start.
type contour struct {
	start  geom.Point
	pieces []piece
}

// points counts what the contour takes in a path; one that encloses nothing takes more than any.
func (c contour) points() int {
	if len(c.pieces) < 2 {
		return math.MaxInt
	}
	n := 1
	for _, s := range c.pieces {
		n++
		if s.curved {
			n += 2
		}
	}
	return n
}

// A corner turns by more than 40 degrees between the points cornerReach before and after it.
const (
	cornerReach  = 3
	cornerCosine = 0.766
)

// fit returns pieces within tolerance of all points of a closed polygon; they are valid until the next call.
func (f *fitter) fit(pts []geom.Point) contour {
	n := len(pts)
	if n < 4 {
		return contour{}
	}
	cuts := corners(pts)
	smooth := len(cuts) == 0
	if smooth {
		cuts = []int{0}
	}
	// The contour once around from the first corner, so that runs are slices.
	around := append(f.around[:0], pts[cuts[0]:]...)
	around = append(append(around, pts[:cuts[0]]...), pts[cuts[0]])
	f.around, f.pieces = around, f.pieces[:0]
	c := contour{start: around[0]}
	for k := range cuts {
		from, to := cuts[k]-cuts[0], n
		if k+1 < len(cuts) {
			to = cuts[k+1] - cuts[0]
		}
		run := around[from : to+1]
		first, last := direction(run, 1), direction(run, -1)
		if smooth {
			first = unit(sub(pts[2], pts[n-2]))
			last = geom.Point{X: -first.X, Y: -first.Y}
		}
		f.run(run, first, last)
	}
	c.pieces = f.pieces
	if len(c.pieces) == 2 && !c.pieces[0].curved && !c.pieces[1].curved {
		return contour{}
	}
	return c
}

// turn returns the cosine of how much the polygon turns at a point.
func turn(pts []geom.Point, i int) float64 {
	n := len(pts)
	r := min(cornerReach, n/3)
	before, at, after := pts[(i-r+n)%n], pts[i], pts[(i+r)%n]
	a, b := unit(sub(at, before)), unit(sub(after, at))
	return float64(a.X*b.X) + float64(a.Y*b.Y)
}

// isCorner reports whether the polygon turns at a point by more than smooth contours do, and more than at the points nearby.
func isCorner(pts []geom.Point, i int) bool {
	c := turn(pts, i)
	if c >= cornerCosine {
		return false
	}
	n := len(pts)
	for k := 1; k <= min(cornerReach, n/3); k++ {
		if turn(pts, (i-k+n)%n) < c || turn(pts, (i+k)%n) <= c {
			return false
		}
	}
	return true
}

func corners(pts []geom.Point) (out []int) {
	for i := range pts {
		if isCorner(pts, i) {
			out = append(out, i)
		}
	}
	return out
}

func sub(a, b geom.Point) geom.Point { return geom.Point{X: a.X - b.X, Y: a.Y - b.Y} }

func length(a geom.Point) float64 { return math.Sqrt(square(a.X) + square(a.Y)) }

func unit(a geom.Point) geom.Point {
	if l := length(a); l > 0 {
		return geom.Point{X: a.X / l, Y: a.Y / l}
	}
	return geom.Point{X: 1}
}

// direction is where a run leads from its first point, or back from its last one.
func direction(run []geom.Point, step int) geom.Point {
	k := min(cornerReach, len(run)-1)
	if step > 0 {
		return unit(sub(run[k], run[0]))
	}
	return unit(sub(run[len(run)-1-k], run[len(run)-1]))
}

type fitter struct {
	tolerance float64
	pieces    []piece
	u         []float64
	around    []geom.Point
}

// run adds pieces for a run of points, from the first to the last.
func (f *fitter) run(pts []geom.Point, first, last geom.Point) {
	n := len(pts)
	p0, p3 := pts[0], pts[n-1]
	if p0 != p3 && f.straight(pts) {
		f.pieces = append(f.pieces, piece{end: p3})
		return
	}
	// By their length along the run, then moved to where the curve is nearest, a few times.
	f.u = f.u[:0]
	sum := 0.0
	for i, q := range pts {
		if i > 0 {
			sum += length(sub(q, pts[i-1]))
		}
		f.u = append(f.u, sum)
	}
	for i := range f.u {
		f.u[i] /= sum
	}
	worst := n / 2
	if p0 != p3 {
		for round := range 4 {
			a, b := f.least(pts, first, last)
			far, at := 0.0, n/2
			for i := 1; i < n-1; i++ {
				if d := length(sub(cubicAt(p0, a, b, p3, f.u[i]), pts[i])); d > far {
					far, at = d, i
				}
			}
			if far <= f.tolerance {
				f.pieces = append(f.pieces, piece{a, b, p3, true})
				return
			}
			worst = at
			if round == 0 && far > 16*f.tolerance+4 {
				break // far off: moving parameters does not help
			}
			for i := 1; i < n-1; i++ {
				f.u[i] = nearer(p0, a, b, p3, pts[i], f.u[i])
			}
		}
	}
	// Not too near an end, so that the number of cuts grows with the logarithm of the points.
	cut := min(max(worst, 1+n/8), n-2-n/8)
	k := min(2, cut, n-1-cut)
	along := unit(sub(pts[cut+k], pts[cut-k]))
	f.run(pts[:cut+1], first, geom.Point{X: -along.X, Y: -along.Y})
	f.run(pts[cut:], along, last)
}

// straight reports whether all points lie within the tolerance of the segment from first to last.
func (f *fitter) straight(pts []geom.Point) bool {
	a := pts[0]
	d := sub(pts[len(pts)-1], a)
	long := square(d.X) + square(d.Y)
	for _, q := range pts {
		e := sub(q, a)
		u := min(max((float64(e.X*d.X)+float64(e.Y*d.Y))/long, 0), 1)
		if length(geom.Point{X: e.X - float64(u*d.X), Y: e.Y - float64(u*d.Y)}) > f.tolerance {
			return false
		}
	}
	return true
}

// least returns the control points, along the given end directions, of least sum of squares.
func (f *fitter) least(pts []geom.Point, first, last geom.Point) (a, b geom.Point) {
	p0, p3 := pts[0], pts[len(pts)-1]
	var c00, c01, c11, x0, x1 float64
	ends := float64(first.X*last.X) + float64(first.Y*last.Y)
	for i, q := range pts {
		u := f.u[i]
		v := 1 - u
		b1, b2 := float64(3*float64(u*v*v)), float64(3*float64(u*u*v))
		near, far := float64(v*v*v)+b1, b2+float64(u*u*u)
		// What the ends do not explain.
		r := geom.Point{X: q.X - float64(p0.X*near) - float64(p3.X*far), Y: q.Y - float64(p0.Y*near) - float64(p3.Y*far)}
		c00 += float64(b1 * b1)
		c01 += float64(float64(b1*b2) * ends)
		c11 += float64(b2 * b2)
		x0 += float64(b1 * (float64(r.X*first.X) + float64(r.Y*first.Y)))
		x1 += float64(b2 * (float64(r.X*last.X) + float64(r.Y*last.Y)))
	}
	chord := length(sub(p3, p0))
	det := float64(c00*c11) - float64(c01*c01)
	s, t := chord/3, chord/3
	if det > 1e-12 {
		s, t = (float64(x0*c11)-float64(x1*c01))/det, (float64(c00*x1)-float64(c01*x0))/det
	}
	// Handles that point back or cross over make loops.
	if !(s > 1e-3*chord && t > 1e-3*chord && s < 3*chord && t < 3*chord) {
		s, t = chord/3, chord/3
	}
	return geom.Point{X: p0.X + float64(s*first.X), Y: p0.Y + float64(s*first.Y)},
		geom.Point{X: p3.X + float64(t*last.X), Y: p3.Y + float64(t*last.Y)}
}

func cubicAt(p0, a, b, p3 geom.Point, u float64) geom.Point {
	v := 1 - u
	w0, w1, w2, w3 := float64(v*v*v), float64(3*float64(v*v*u)), float64(3*float64(v*u*u)), float64(u*u*u)
	return geom.Point{
		X: float64(w0*p0.X) + float64(w1*a.X) + float64(w2*b.X) + float64(w3*p3.X),
		Y: float64(w0*p0.Y) + float64(w1*a.Y) + float64(w2*b.Y) + float64(w3*p3.Y),
	}
}

// nearer moves a parameter to where the curve is nearer to q, by a step of Newton's method.
func nearer(p0, a, b, p3, q geom.Point, u float64) float64 {
	v := 1 - u
	d0, d1, d2 := sub(a, p0), sub(b, a), sub(p3, b)
	e := sub(cubicAt(p0, a, b, p3, u), q)
	one := func(x, y, z float64) float64 {
		return 3 * (float64(float64(v*v)*x) + 2*float64(float64(v*u)*y) + float64(float64(u*u)*z))
	}
	two := func(x, y, z float64) float64 { return 6 * (float64(v*(y-x)) + float64(u*(z-y))) }
	dx, dy := one(d0.X, d1.X, d2.X), one(d0.Y, d1.Y, d2.Y)
	ddx, ddy := two(d0.X, d1.X, d2.X), two(d0.Y, d1.Y, d2.Y)
	slope := square(dx) + square(dy) + float64(e.X*ddx) + float64(e.Y*ddy)
	if slope == 0 {
		return u
	}
	return min(max(u-(float64(e.X*dx)+float64(e.Y*dy))/slope, 0), 1)
}

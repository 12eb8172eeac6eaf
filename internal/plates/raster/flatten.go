package raster

import (
	"math"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// tolerance is the greatest distance in pixels between a curve and the lines that replace it.
const tolerance = 1.0 / 16

// maxPieces bounds the lines of one curve; a curve right across farPixels needs 10,000.
const maxPieces = 1 << 14

// maxFarSplits bounds the halvings of one curve that leaves farPixels: it crosses the limits at most 12
// times, and 40 halvings bring 10^12 pixels down to one.
const maxFarSplits = 1 << 10

// pieces is the number of equal parameter steps that keep a cubic within tolerance of its chords, where
// second is the greater length of its two second differences, in pixels. The bound is the general
// one for polynomials: the error of a chord over a step h is at most h^2/8 times the second
// derivative, which for a cubic is at most 6 times its second difference.
func pieces(second float64) int {
	n := math.Ceil(math.Sqrt(second * (0.75 / tolerance)))
	return int(min(max(n, 1), maxPieces))
}

// cubicTo adds a Bezier segment to p3, in pixels.
func (b *Builder) cubicTo(p1, p2, p3 geom.Point) {
	near := isNear(p3)
	if b.near && near && isNear(p1) && isNear(p2) {
		b.nearCubic(fixed(p1), fixed(p2), fixed(p3))
		b.cur, b.near = p3, near
		return
	}
	splits := maxFarSplits
	b.farCubic(p1, p2, p3, &splits)
}

// nearCubic flattens a cubic whose control points are rounded first, so that a shift by whole pixels
// shifts every line exactly.
func (b *Builder) nearCubic(q1, q2, q3 fixedPoint) {
	q0 := b.curFixed
	x1, y1 := float64(q1.x-q0.x), float64(q1.y-q0.y)
	x2, y2 := float64(q2.x-q0.x), float64(q2.y-q0.y)
	x3, y3 := float64(q3.x-q0.x), float64(q3.y-q0.y)
	ux, uy := x2-2*x1, y2-2*y1
	vx, vy := x3-2*x2+x1, y3-2*y2+y1
	second := max(float64(ux*ux)+float64(uy*uy), float64(vx*vx)+float64(vy*vy))
	n := pieces(math.Sqrt(second) * (1.0 / one))
	if len(b.list)+n > limits.MaxEdges {
		n = 1
	}
	ax, ay := 3*x1, 3*y1
	bx, by := 3*ux, 3*uy
	cx, cy := x3-3*x2+3*x1, y3-3*y2+3*y1
	step := 1 / float64(n)
	const up = 1<<34 + 0.5 // as in fixedFrom
	for i := 1; i < n; i++ {
		t := float64(i) * step
		x := float64((float64((float64(cx*t)+bx)*t) + ax) * t)
		y := float64((float64((float64(cy*t)+by)*t) + ay) * t)
		b.edgeTo(fixedPoint{q0.x + int32(int64(x+up)-1<<34), q0.y + int32(int64(y+up)-1<<34)})
	}
	b.edgeTo(q3)
}

// farCubic halves a cubic that leaves farPixels until its parts are wholly inside, wholly on one side, or
// too small to matter.
func (b *Builder) farCubic(p1, p2, p3 geom.Point, splits *int) {
	p0 := b.cur
	near := isNear(p3)
	x0, x1 := min(p0.X, p1.X, p2.X, p3.X), max(p0.X, p1.X, p2.X, p3.X)
	y0, y1 := min(p0.Y, p1.Y, p2.Y, p3.Y), max(p0.Y, p1.Y, p2.Y, p3.Y)
	const far = farPixels
	switch {
	case b.near && near && isNear(p1) && isNear(p2):
		b.nearCubic(fixed(p1), fixed(p2), fixed(p3))
		b.cur, b.near = p3, near
	case x1 <= -far || x0 >= far || y1 <= -far || y0 >= far || *splits == 0 || (x1-x0 < 1 && y1-y0 < 1):
		b.lineTo(p3)
	default:
		*splits--
		q0, q1, q2 := midpoint(p0, p1), midpoint(p1, p2), midpoint(p2, p3)
		r0, r1 := midpoint(q0, q1), midpoint(q1, q2)
		b.farCubic(q0, r0, midpoint(r0, r1), splits)
		b.farCubic(r1, q2, p3, splits)
	}
}

func midpoint(p, q geom.Point) geom.Point { return geom.Point{X: (p.X + q.X) / 2, Y: (p.Y + q.Y) / 2} }

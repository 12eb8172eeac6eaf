package raster

import (
	"math"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// Nearly every path lies wholly nearer than farPixels. Its points are rounded first, all at once, and
// whole numbers do the rest. The edges are those of the general way, fillFar; a test holds them equal.

// fillNear adds a path. It reports false, and adds nothing, when a point is far or a subpath does not begin
// with MoveTo.
func (b *Builder) fillNear(path *geom.Path, m geom.Matrix, specks bool) bool {
	if !b.round(path.Points, m) {
		return false
	}
	points, list := b.points, b.list
	before, specksBefore := len(list), len(b.specks)
	var start, cur fixedPoint
	var sub subpath
	for i, v := range path.Verbs {
		if v != geom.MoveTo && !sub.open {
			b.list, b.specks = list[:before], b.specks[:specksBefore]
			return false
		}
		switch v {
		case geom.MoveTo:
			if sub.open {
				list = b.endNear(list, sub, path, i, cur, start, m, specks)
			}
			start, cur = points[sub.at], points[sub.at]
			sub = subpath{open: true, edges: len(list), verb: i, point: sub.at, at: sub.at + 1}
		case geom.LineTo:
			q := points[sub.at]
			if q.y != cur.y {
				list = append(list, edge{cur.x, cur.y, q.x, q.y})
			}
			cur = q
			sub.at++
		case geom.CubicTo:
			p := points[sub.at : sub.at+3 : sub.at+3]
			list = flatten(list, cur, p[0], p[1], p[2])
			cur = p[2]
			sub.at += 3
		case geom.Close:
			list = b.endNear(list, sub, path, i+1, cur, start, m, specks)
			sub.open = false
		}
	}
	if sub.open {
		list = b.endNear(list, sub, path, len(path.Verbs), cur, start, m, specks)
	}
	b.list = list
	return true
}

// subpath is where the subpath being drawn starts: its first edge, verb and point; at is the next point.
type subpath struct {
	open                   bool
	edges, verb, point, at int
}

// endNear closes a subpath that ends before the given verb. One that may enclose nothing goes the general
// way once more when specks matter.
func (b *Builder) endNear(list []edge, s subpath, path *geom.Path, verb int, cur, start fixedPoint, m geom.Matrix, specks bool) []edge {
	if cur.y != start.y {
		list = append(list, edge{cur.x, cur.y, start.x, start.y})
	}
	if !specks || !isThin(list[s.edges:]) {
		return list
	}
	b.list = list[:s.edges]
	b.fillFar(&geom.Path{Verbs: path.Verbs[s.verb:verb], Points: path.Points[s.point:s.at]}, m, true)
	return b.list
}

// isThin reports whether edges lie on one vertical line, or are none.
func isThin(list []edge) bool {
	for _, l := range list {
		if l.x0 != l.x1 || l.x0 != list[0].x0 {
			return false
		}
	}
	return true
}

// round sets b.points to the mapped and rounded points; false when one is far.
func (b *Builder) round(points []geom.Point, m geom.Matrix) bool {
	if cap(b.points) < len(points) {
		b.points = make([]fixedPoint, len(points), 2*len(points))
	}
	b.points = b.points[:len(points)]
	for i, p := range points {
		q := m.Apply(p)
		if !(math.Abs(q.X) < farPixels && math.Abs(q.Y) < farPixels) {
			return false
		}
		b.points[i] = fixedPoint{int32(int64(float64(q.X*one)+(1<<32+0.5)) - 1<<32), int32(int64(float64(q.Y*one)+(1<<32+0.5)) - 1<<32)}
	}
	return true
}

// maxFewPieces is the number of pieces up to which fewPieces knows.
const maxFewPieces = 8

// fewPieces[i] is the greatest square of a second difference, in 1/256 pixel, with which a curve has at most
// i+1 pieces.
var fewPieces = func() (t [maxFewPieces]float64) {
	for i := range t {
		n := float64(i + 1)
		v := math.Floor(n * n * n * n * (one * one * tolerance * tolerance / (0.75 * 0.75)))
		for ; piecesOfSquare(v) > i+1; v-- {
		}
		for ; piecesOfSquare(v+1) <= i+1; v++ {
		}
		t[i] = v
	}
	return t
}()

// piecesOfSquare is pieces for the square of a second difference in 1/256 pixel.
func piecesOfSquare(square float64) int { return pieces(math.Sqrt(square) * (1.0 / one)) }

// flatten adds the chords of a cubic. Its control points are rounded, so that a shift by whole pixels
// shifts every line exactly.
func flatten(list []edge, q0, q1, q2, q3 fixedPoint) []edge {
	x1, y1 := int64(q1.x)-int64(q0.x), int64(q1.y)-int64(q0.y)
	x2, y2 := int64(q2.x)-int64(q0.x), int64(q2.y)-int64(q0.y)
	x3, y3 := int64(q3.x)-int64(q0.x), int64(q3.y)-int64(q0.y)
	ux, uy := float64(x2-2*x1), float64(y2-2*y1)
	vx, vy := float64(x3-2*x2+x1), float64(y3-2*y2+y1)
	square := max(float64(ux*ux)+float64(uy*uy), float64(vx*vx)+float64(vy*vy))
	n := 1
	for n <= maxFewPieces && square > fewPieces[n-1] {
		n++
	}
	if n > maxFewPieces {
		n = piecesOfSquare(square)
	}
	if len(list)+n > limits.MaxEdges {
		n = 1
	}
	last := q0
	switch n {
	case 1:
	case 2: // the middle is an eighth of whole numbers
		q := fixedPoint{q0.x + int32((3*(x1+x2)+x3+4)>>3), q0.y + int32((3*(y1+y2)+y3+4)>>3)}
		if q.y != last.y {
			list = append(list, edge{last.x, last.y, q.x, q.y})
		}
		last = q
	default:
		ax, ay := float64(3*x1), float64(3*y1)
		bx, by := 3*ux, 3*uy
		cx, cy := float64(x3-3*x2+3*x1), float64(y3-3*y2+3*y1)
		step := 1 / float64(n)
		const up = 1<<34 + 0.5 // as in fixedFrom
		for i := 1; i < n; i++ {
			t := float64(i) * step
			x := float64((float64((float64(cx*t)+bx)*t) + ax) * t)
			y := float64((float64((float64(cy*t)+by)*t) + ay) * t)
			q := fixedPoint{q0.x + int32(int64(x+up)-1<<34), q0.y + int32(int64(y+up)-1<<34)}
			if q.y != last.y {
				list = append(list, edge{last.x, last.y, q.x, q.y})
			}
			last = q
		}
	}
	if q3.y != last.y {
		list = append(list, edge{last.x, last.y, q3.x, q3.y})
	}
	return list
}

package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// net is the control points of a patch on the page; net[4*i+j] belongs to B_i(u) B_j(v).
type net [16]geom.Point

// cuts is how often a patch is cut: its inside and its four edges (v=0, v=1, u=0, u=1). All are powers of 2, and
// the edges not cut more often than the inside.
type cuts struct {
	u, v  int
	edges [4]int
}

func (b *meshBuilder) netOf(p *displist.Patch) (n net) {
	for i, q := range p.P {
		n[i] = b.m.Apply(q)
	}
	return n
}

// misses reports whether no point of the patch can lie in the window.
func (b *meshBuilder) misses(n *net) bool {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range n {
		x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
	}
	w := b.window
	return !(x0 <= float64(w.X1) && x1 >= float64(w.X0) && y0 <= float64(w.Y1) && y1 >= float64(w.Y0))
}

// power is the least power of 2 not below v, at most maxCuts.
func power(v float64) int {
	n := 1
	for n < maxCuts && float64(n) < v {
		n *= 2
	}
	return n
}

// bend is how many pieces a curve of these control points takes to be off its chords by less than the
// tolerance: its second derivative is at most 6 times the second differences of the points.
func bend(p, q, r, s geom.Point) float64 {
	if backwards(p, q, r, s) {
		p, q, r, s = s, r, q, p
	}
	d := max(math.Hypot(p.X-2*q.X+r.X, p.Y-2*q.Y+r.Y), math.Hypot(q.X-2*r.X+s.X, q.Y-2*r.Y+s.Y))
	return math.Sqrt(6 * d / 8 / patchTolerance)
}

// span is how many pieces an edge is cut into for its length: where the inside is cut more often than the edge,
// triangles reach along the edge, and colours of four corners are not in a straight line there.
func span(p, q, r, s geom.Point) float64 {
	if backwards(p, q, r, s) {
		p, q, r, s = s, r, q, p
	}
	length := math.Hypot(q.X-p.X, q.Y-p.Y) + math.Hypot(r.X-q.X, r.Y-q.Y) + math.Hypot(s.X-r.X, s.Y-r.Y)
	return min(16, length/2)
}

// cutsOf depends, for edges, on the edge alone.
func (b *meshBuilder) cutsOf(n *net, p *displist.Patch) (c cuts) {
	along := func(i, step int) float64 { return bend(n[i], n[i+step], n[i+2*step], n[i+3*step]) }
	edge := func(i, step int) int {
		return power(b.thin * max(along(i, step), span(n[i], n[i+step], n[i+2*step], n[i+3*step])))
	}
	c.edges = [4]int{edge(0, 4), edge(3, 4), edge(0, 1), edge(12, 1)}
	u, v := float64(max(c.edges[0], c.edges[1])), float64(max(c.edges[2], c.edges[3]))
	u, v = max(u, along(1, 4)*b.thin, along(2, 4)*b.thin), max(v, along(4, 1)*b.thin, along(8, 1)*b.thin)
	// A quadrangle is taken as two triangles: the twist of the surface, and of the colours, has to be small.
	twist := 0.0
	for i := range 3 {
		for j := range 3 {
			k := 4*i + j
			twist = max(twist, math.Hypot(n[k].X-n[k+1].X-n[k+4].X+n[k+5].X, n[k].Y-n[k+1].Y-n[k+4].Y+n[k+5].Y))
		}
	}
	need := 9 * twist / 4 / patchTolerance
	colour := 0.0
	for k := range p.C[0] {
		d := math.Abs(p.C[0][k] - p.C[1][k] + p.C[2][k] - p.C[3][k])
		lo, hi := 0.0, 1.0
		if b.s.Function != nil {
			lo, hi = b.s.Domain[0], b.s.Domain[1]
		} else {
			lo, hi = b.s.Space.Range(k)
		}
		if hi > lo {
			colour = max(colour, d/(hi-lo))
		}
	}
	// A quarter of a step of 8 bits; steep functions see parameters enlarged. No finer than pixels.
	colour *= 256
	if b.s.Function != nil {
		colour *= 4
	}
	need = max(need, min(colour, b.extent(n)))
	if k := need * b.thin * b.thin / (u * v); k > 1 {
		u, v = u*math.Sqrt(k), v*math.Sqrt(k)
	}
	c.u, c.v = power(u), power(v)
	return c
}

// extent is about the number of pixels a patch covers.
func (b *meshBuilder) extent(n *net) float64 {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range n {
		x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
	}
	return (x1 - x0 + 1) * (y1 - y0 + 1)
}

// count is the number of triangles all patches take.
func (b *meshBuilder) count() int {
	sum := len(b.corner) / 3
	for i := range b.s.Mesh.Patches {
		p := &b.s.Mesh.Patches[i]
		n := b.netOf(p)
		if b.misses(&n) {
			continue
		}
		c := b.cutsOf(&n, p)
		sum += 2 * c.u * c.v
	}
	return sum
}

// patch adds the triangles of a patch.
func (b *meshBuilder) patch(p *displist.Patch) {
	n := b.netOf(p)
	if b.misses(&n) {
		return
	}
	c := b.cutsOf(&n, p)
	var corners [4][]float64
	for i := range corners {
		corners[i] = append([]float64(nil), b.valuesOf(p.C[i])...)
	}
	values := make([]float64, b.k)
	var previous, row []int32
	for j := range c.v + 1 {
		v := float64(j) / float64(c.v)
		bv := bernstein(v)
		var line [4]geom.Point // the curve of this v
		for i := range line {
			line[i] = combine(bv, n[4*i], n[4*i+1], n[4*i+2], n[4*i+3])
		}
		row = row[:0]
		for i := range c.u + 1 {
			gi, gj := i, j // where an edge is cut less often, vertices between are those before them
			switch {
			case j == 0:
				gi = snap(i, c.u, c.edges[0])
			case j == c.v:
				gi = snap(i, c.u, c.edges[1])
			}
			switch {
			case i == 0:
				gj = snap(j, c.v, c.edges[2])
			case i == c.u:
				gj = snap(j, c.v, c.edges[3])
			}
			if gi != i {
				row = append(row, row[gi])
				continue
			}
			if gj != j {
				row = append(row, previous[i])
				continue
			}
			u := float64(i) / float64(c.u)
			var at geom.Point
			switch {
			case j == 0:
				at = edgePoint(n[0], n[4], n[8], n[12], i, c.u)
			case j == c.v:
				at = edgePoint(n[3], n[7], n[11], n[15], i, c.u)
			case i == 0:
				at = edgePoint(n[0], n[1], n[2], n[3], j, c.v)
			case i == c.u:
				at = edgePoint(n[12], n[13], n[14], n[15], j, c.v)
			default:
				at = combine(bernstein(u), line[0], line[1], line[2], line[3])
			}
			for k := range values { // corners at (0,0), (0,1), (1,1), (1,0)
				low := corners[0][k] + float64(u*(corners[3][k]-corners[0][k]))
				high := corners[1][k] + float64(u*(corners[2][k]-corners[1][k]))
				values[k] = low + float64(v*(high-low))
			}
			row = append(row, b.vertex(at, values))
		}
		if j > 0 {
			for i := range c.u {
				if i == c.u-1 && j == c.v { // both its edges may be cut less often: they meet in the corner
					b.triangle(previous[i], previous[i+1], row[i+1])
					b.triangle(previous[i], row[i+1], row[i])
					continue
				}
				b.triangle(previous[i], previous[i+1], row[i])
				b.triangle(row[i], previous[i+1], row[i+1])
			}
		}
		previous, row = row, previous
	}
}

// backwards picks one of the two senses of a curve, so that both neighbours compute alike.
func backwards(p, q, r, s geom.Point) bool {
	return s.X < p.X || s.X == p.X && (s.Y < p.Y || s.Y == p.Y && (r.X < q.X || r.X == q.X && r.Y < q.Y))
}

// snap is the place on an edge cut into few pieces that place i of n stands for.
func snap(i, n, few int) int { return i / (n / few) * (n / few) }

// edgePoint is point i of n of a boundary curve, the same for the patch on its other side.
func edgePoint(p, q, r, s geom.Point, i, n int) geom.Point {
	if backwards(p, q, r, s) {
		p, q, r, s, i = s, r, q, p, n-i
	}
	switch i {
	case 0:
		return p
	case n:
		return s
	}
	return combine(bernstein(float64(i)/float64(n)), p, q, r, s)
}

func bernstein(t float64) [4]float64 {
	m := 1 - t
	return [4]float64{float64(m * m * m), float64(3 * t * m * m), float64(3 * t * t * m), float64(t * t * t)}
}

func combine(b [4]float64, p, q, r, s geom.Point) geom.Point {
	return geom.Point{X: float64(b[0]*p.X) + float64(b[1]*q.X) + float64(b[2]*r.X) + float64(b[3]*s.X),
		Y: float64(b[0]*p.Y) + float64(b[1]*q.Y) + float64(b[2]*r.Y) + float64(b[3]*s.Y)}
}

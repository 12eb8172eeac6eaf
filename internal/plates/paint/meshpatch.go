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

func (n *net) bounds() (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range n {
		x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
	}
	return x0, y0, x1, y1
}

// misses reports whether no point of the patch can lie in the window.
func (b *meshBuilder) misses(n *net) bool {
	x0, y0, x1, y1 := n.bounds()
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
	x0, y0, x1, y1 := n.bounds()
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
	g := &patchGrid{b: b, n: &n, c: c, values: make([]float64, b.k), corners: &corners,
		previous: make([]patchVertex, c.u+1), row: make([]patchVertex, c.u+1)}
	across, live := b.liveBlocks(&n, c)
	// Quadrangles at edges cut less often than the inside reach along them.
	bottom, top, left, right := c.edges[0] < c.u, c.edges[1] < c.u, c.edges[2] < c.v, c.edges[3] < c.v
	g.begin(0)
	for j := 1; j <= c.v; j++ {
		g.previous, g.row, g.below = g.row, g.previous, g.line
		g.begin(j)
		blocks := live[(j-1)/patchBlock*across:]
		all := bottom && j == 1 || top && j == c.v
		for i := 0; i < c.u; i++ {
			if !all && !blocks[i/patchBlock] && !(left && i == 0) && !(right && i == c.u-1) {
				if i = i | (patchBlock - 1); right && i >= c.u-1 {
					i = c.u - 2
				}
				continue
			}
			p, q, r, s := g.vertex(i, j-1), g.vertex(i+1, j-1), g.vertex(i, j), g.vertex(i+1, j)
			if i == c.u-1 && j == c.v { // both its edges may be cut less often: they meet in the corner
				b.triangle(p, q, s)
				b.triangle(p, s, r)
				continue
			}
			b.triangle(p, q, r)
			b.triangle(r, q, s)
		}
	}
}

// patchBlock is the sides of the blocks of quadrangles of a patch that are left out together where they do not
// reach the window.
const patchBlock = 8

// liveBlocks tells, row by row of so many across, which blocks of a patch may reach the window.
func (b *meshBuilder) liveBlocks(n *net, c cuts) (across int, live []bool) {
	across, down := (c.u+patchBlock-1)/patchBlock, (c.v+patchBlock-1)/patchBlock
	live = make([]bool, across*down)
	var look func(n *net, i0, i1, j0, j1 int)
	look = func(n *net, i0, i1, j0, j1 int) {
		switch {
		case b.clear(n):
		case i1-i0 > 1 && i1-i0 >= j1-j0:
			lo, hi := n.halves(4, 1)
			look(&lo, i0, (i0+i1)/2, j0, j1)
			look(&hi, (i0+i1)/2, i1, j0, j1)
		case j1-j0 > 1:
			lo, hi := n.halves(1, 4)
			look(&lo, i0, i1, j0, (j0+j1)/2)
			look(&hi, i0, i1, (j0+j1)/2, j1)
		default:
			live[j0*across+i0] = true
		}
	}
	look(n, 0, across, 0, down)
	return across, live
}

// halves cuts a net in the middle of u (along 4, over 1) or of v (along 1, over 4), by de Casteljau.
func (n *net) halves(along, over int) (lo, hi net) {
	middle := func(p, q geom.Point) geom.Point { return geom.Point{X: (p.X + q.X) / 2, Y: (p.Y + q.Y) / 2} }
	for k := range 4 {
		at := k * over
		p, q, r, s := n[at], n[at+along], n[at+2*along], n[at+3*along]
		pq, qr, rs := middle(p, q), middle(q, r), middle(r, s)
		pqr, qrs := middle(pq, qr), middle(qr, rs)
		m := middle(pqr, qrs)
		lo[at], lo[at+along], lo[at+2*along], lo[at+3*along] = p, pq, pqr, m
		hi[at], hi[at+along], hi[at+2*along], hi[at+3*along] = m, qrs, rs, s
	}
	return lo, hi
}

// clear is misses with room for the rounding of the vertices and of the net.
func (b *meshBuilder) clear(n *net) bool {
	x0, y0, x1, y1 := n.bounds()
	room := 1 + 1e-9*max(-x0, x1, -y0, y1)
	w := b.window
	return x0 > float64(w.X1)+room || x1 < float64(w.X0)-room || y0 > float64(w.Y1)+room || y1 < float64(w.Y0)-room
}

// A patchGrid is the vertices of a patch, of which two rows are at hand. They are made when first asked for.
type patchGrid struct {
	b             *meshBuilder
	n             *net
	c             cuts
	corners       *[4][]float64
	values        []float64
	j             int // of row
	previous, row []patchVertex
	below, line   [4]geom.Point
}

// A patchVertex is one of row j-1, 0 = not yet made.
type patchVertex struct{ j, vertex int32 }

// begin starts row j.
func (g *patchGrid) begin(j int) {
	g.j = j
	bv := bernstein(float64(j) / float64(g.c.v))
	for i := range g.line { // the curve of this v
		g.line[i] = combine(bv, g.n[4*i], g.n[4*i+1], g.n[4*i+2], g.n[4*i+3])
	}
}

// vertex returns vertex i of row j, which is the row at hand or the one before. The first and the last of each row
// are asked for where they may be those of the row before.
func (g *patchGrid) vertex(i, j int) int32 {
	row, line, c := g.row, &g.line, &g.c
	if j != g.j {
		row, line = g.previous, &g.below
	}
	if row[i].j == int32(j+1) {
		return row[i].vertex
	}
	row[i].j = int32(j + 1)
	gi, gj := i, j // where an edge is cut less often, vertices between are those before them
	switch j {
	case 0:
		gi = snap(i, c.u, c.edges[0])
	case c.v:
		gi = snap(i, c.u, c.edges[1])
	}
	switch i {
	case 0:
		gj = snap(j, c.v, c.edges[2])
	case c.u:
		gj = snap(j, c.v, c.edges[3])
	}
	switch {
	case gi != i:
		row[i].vertex = g.vertex(gi, j)
		return row[i].vertex
	case gj != j:
		row[i].vertex = g.previous[i].vertex
		return row[i].vertex
	}
	u, v := float64(i)/float64(c.u), float64(j)/float64(c.v)
	n := g.n
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
	for k := range g.values { // corners at (0,0), (0,1), (1,1), (1,0)
		low := g.corners[0][k] + float64(u*(g.corners[3][k]-g.corners[0][k]))
		high := g.corners[1][k] + float64(u*(g.corners[2][k]-g.corners[1][k]))
		g.values[k] = low + float64(v*(high-low))
	}
	row[i].vertex = g.b.vertex(at, g.values)
	return row[i].vertex
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

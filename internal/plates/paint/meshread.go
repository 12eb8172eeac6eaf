package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/plates/separate"
)

// meshShader is a mesh with the ramp of its parameter, if it has one.
type meshShader struct {
	*mesh
	kind    meshKind
	ink     *separate.SpaceInk
	shading *displist.Shading
}

// meshSamples is the number of places at which the function of a mesh is evaluated at least.
const meshSamples = 1024

func (m *meshShader) open(w *worker, ps *patternStep) shadeReader {
	r := &meshReader{meshShader: m}
	switch m.kind {
	case meshParameter:
		r.ramp = w.ramp(ps, meshSamples, rampFine*meshSamples)
	case meshColours:
		r.sample = m.ink.Sampler(nil)
		r.comps, r.a, r.b = make([]float64, m.k), make([]uint16, len(m.ink.Painted)), make([]uint16, len(m.ink.Painted))
	}
	return r
}

// meshReader reads rows of a mesh.
type meshReader struct {
	*meshShader
	ramp    *separate.Ramp
	sample  *separate.Sampler
	comps   []float64
	a, b    []uint16
	row     []float32 // of parameters
	tints   [][]uint16
	entries []int32
}

func (r *meshReader) level() bool { return false }

func (r *meshReader) read(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) bool {
	n := x1 - x0
	clear(painted)
	if r.kind == meshParameter {
		r.parameters(y, x0, x1, wide, narrow, painted)
		return false
	}
	if narrow != nil {
		r.tints = grownRows(r.tints, len(narrow), n)
		wide = r.tints
	}
	r.triangles(y, x0, x1, painted, func(from, to int, t *gradient) {
		if r.kind == meshColours {
			r.colours(wide, from, to, t)
			return
		}
		for k := range wide {
			t.tints(wide[k][from:to], k, from)
		}
	})
	for k, p := range narrow {
		src := wide[k][:n]
		for i := range p {
			p[i] = to8(src[i])
		}
	}
	return false
}

// parameters reads a row of a mesh with a function.
func (r *meshReader) parameters(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) {
	n := x1 - x0
	r.row = grownRow(r.row, n)
	r.triangles(y, x0, x1, painted, func(from, to int, t *gradient) { t.values(r.row[from:to], 0, from) })
	r.entries = grownRow(r.entries, n)
	for i, v := range r.row[:n] {
		r.entries[i] = 0
		if painted[i] {
			r.entries[i] = int32(float64(max(0, min(1, float64(v)))*float64(r.ramp.N)) + 0.5)
		}
	}
	for k := range r.ramp.Tints {
		if narrow != nil {
			pick(narrow[k], r.ramp.Tints8[k], r.entries[:n])
		} else {
			pick(wide[k], r.ramp.Tints[k], r.entries[:n])
		}
	}
}

// stretch is how many pixels of a triangle's row are separated together, where tints go in a straight line.
const stretch = 16

// stretchTolerance is how far the tint in the middle of a stretch may lie off the straight line, of 65535. Where a
// conversion has a kink beside the middle the line is off by up to three times that.
const stretchTolerance = 24

// colours separates the pixels from <= x < to of a row of a triangle. Stretches are counted from where the
// triangle begins in the row, so that they do not depend on what is read.
func (r *meshReader) colours(wide [][]uint16, from, to int, t *gradient) {
	first, last := t.from-t.x0, t.to-t.x0 // of the whole row, may lie outside the planes
	for lo := first + (from-first)/stretch*stretch; lo < to; lo += stretch {
		hi := min(lo+stretch, last) - 1
		if hi-lo < 4 {
			for x := max(lo, from); x <= hi && x < to; x++ {
				for k, v := range r.at(t, x) {
					wide[k][x] = v
				}
			}
			continue
		}
		copy(r.a, r.at(t, lo))
		copy(r.b, r.at(t, hi))
		mid := lo + (hi-lo)/2
		straight := true
		for k, v := range r.at(t, mid) {
			want := (int(r.a[k])*(hi-mid) + int(r.b[k])*(mid-lo)) / (hi - lo)
			straight = straight && int(v)-want <= stretchTolerance && want-int(v) <= stretchTolerance
		}
		for x := max(lo, from); x <= hi && x < to; x++ {
			if !straight {
				for k, v := range r.at(t, x) {
					wide[k][x] = v
				}
				continue
			}
			for k := range wide {
				wide[k][x] = uint16((int(r.a[k])*(hi-x) + int(r.b[k])*(x-lo) + (hi-lo)/2) / (hi - lo))
			}
		}
	}
}

// at is the tints of pixel x of the row; valid until the next call.
func (r *meshReader) at(t *gradient, x int) []uint16 {
	for k := range r.comps {
		r.comps[k] = t.value(k, x)
	}
	return r.sample.Tints(r.comps)
}

func store(tints []uint16, i int, wide [][]uint16, narrow [][]uint8) {
	for k, v := range tints {
		if narrow != nil {
			narrow[k][i] = to8(v)
		} else {
			wide[k][i] = v
		}
	}
}

// grownRows returns n rows of at least size entries.
func grownRows[T any](rows [][]T, n, size int) [][]T {
	if len(rows) == n && (n == 0 || len(rows[0]) >= size) {
		return rows
	}
	rows = make([][]T, n)
	for i := range rows {
		rows[i] = make([]T, size)
	}
	return rows
}

func grownRow[T any](row []T, n int) []T {
	if cap(row) < n {
		return make([]T, n)
	}
	return row[:n]
}

// triangles calls paint for the pixels x0+from <= x < x0+to of each triangle in row y, in paint order.
func (m *mesh) triangles(y, x0, x1 int, painted []bool, paint func(from, to int, t *gradient)) {
	block := (y - m.first) >> m.shift
	if y < m.first || block >= len(m.start)-1 {
		return
	}
	var g gradient
	g.mesh, g.x0 = m, x0
	for _, t := range m.list[m.start[block]:m.start[block+1]] {
		if int32(y) < m.rows[2*t] || int32(y) >= m.rows[2*t+1] {
			continue
		}
		c := m.corner[3*t : 3*t+3 : 3*t+3]
		from, to := m.span(y, c[0], c[1], c[2])
		g.from, g.to = from, to
		from, to = max(from, x0), min(to, x1)
		if from >= to || !g.set(y, c[0], c[1], c[2]) {
			continue
		}
		for i := from - x0; i < to-x0; i++ {
			painted[i] = true
		}
		paint(from-x0, to-x0, &g)
	}
}

// span is the pixels of row y whose centres lie in a triangle.
func (m *mesh) span(y int, i, j, k int32) (from, to int) {
	if m.y[j] < m.y[i] {
		i, j = j, i
	}
	if m.y[k] < m.y[j] {
		j, k = k, j
		if m.y[j] < m.y[i] {
			i, j = j, i
		}
	}
	c := int64(y)<<8 + 128
	if c < int64(m.y[i]) || c >= int64(m.y[k]) {
		return 0, 0
	}
	from = m.crossing(c, i, k)
	if c < int64(m.y[j]) {
		to = m.crossing(c, i, j)
	} else {
		to = m.crossing(c, j, k)
	}
	if from > to {
		return to, from
	}
	return from, to
}

// crossing is the first pixel whose centre is not left of the edge from vertex i down to j, in the row with centres at c.
func (m *mesh) crossing(c int64, i, j int32) int {
	d := int64(m.y[j]) - int64(m.y[i])
	num := (int64(m.x[i])-128)*d + (c-int64(m.y[i]))*(int64(m.x[j])-int64(m.x[i]))
	return ceilDiv(num, 256*d)
}

// A gradient is the values of one triangle along a row.
type gradient struct {
	*mesh
	x0       int // of the row read
	from, to int // pixels of the triangle in this row
	i, j, k  int32
	at       int     // pixel at which s and t are the weights of corners j and k
	s, t     float64 // and how they change from pixel to pixel
	ds, dt   float64
}

// set is false for a triangle without area.
func (g *gradient) set(y int, i, j, k int32) bool {
	g.i, g.j, g.k = i, j, k
	x0, y0 := int64(g.x[i]), int64(g.y[i])
	ax, ay := int64(g.x[j])-x0, int64(g.y[j])-y0
	bx, by := int64(g.x[k])-x0, int64(g.y[k])-y0
	det := ax*by - bx*ay
	if det == 0 {
		return false
	}
	g.at = int(x0 >> 8)
	dx, dy := int64(g.at)<<8+128-x0, int64(y)<<8+128-y0
	d := float64(det)
	g.s, g.t = float64(dx*by-bx*dy)/d, float64(ax*dy-dx*ay)/d
	g.ds, g.dt = float64(by)*256/d, float64(-ay)*256/d
	return true
}

// line is value k along the row: its amount at pixel at, its change, and its bounds.
func (g *gradient) line(k int) (v0, dv, lo, hi float64) {
	a, b, c := float64(g.mesh.values[int(g.i)*g.mesh.k+k]), float64(g.mesh.values[int(g.j)*g.mesh.k+k]), float64(g.mesh.values[int(g.k)*g.mesh.k+k])
	v0 = a + float64(g.s*(b-a)) + float64(g.t*(c-a))
	dv = float64(g.ds*(b-a)) + float64(g.dt*(c-a))
	return v0, dv, min(a, b, c), max(a, b, c)
}

func (g *gradient) tints(dst []uint16, k, from int) {
	v0, dv, lo, hi := g.line(k)
	if lo == hi {
		fill16(dst, uint16(lo+0.5))
		return
	}
	d := g.x0 + from - g.at
	for i := range dst {
		v := v0 + float64(float64(d+i)*dv)
		if v < lo {
			v = lo
		} else if v > hi {
			v = hi
		}
		dst[i] = uint16(v + 0.5)
	}
}

// value is value k at pixel x0+x.
func (g *gradient) value(k, x int) float64 {
	v0, dv, lo, hi := g.line(k)
	return max(lo, min(hi, v0+float64(float64(g.x0+x-g.at)*dv)))
}

func (g *gradient) values(dst []float32, k, from int) {
	v0, dv, lo, hi := g.line(k)
	d := g.x0 + from - g.at
	for i := range dst {
		dst[i] = float32(max(lo, min(hi, v0+float64(float64(d+i)*dv))))
	}
}

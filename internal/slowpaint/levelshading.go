package slowpaint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// Shadings as 8.7.4.5 tells them, without tables: the function is called for each pixel, and patches are cut into many
// triangles. Levels.Read is where in a pixel: the tables of the painter stand up to an eighth of a pixel off, and so do its patches.

// shade is the colours of a shading at each pixel.
func (l *Levels) shade(it *displist.Item, ctx separate.Context, eight bool) func(x, y int) Sample {
	s := shadingOf(it)
	ink := l.Target.Space(s.Space, it.Overprint, it.Intent, ctx)
	inv, ok := s.M.Mul(l.Device).Invert()
	if ink.Nothing || !ok {
		return func(int, int) Sample { return Sample{} }
	}
	tints := func(comps []float64) []uint16 {
		out := make([]uint16, len(ink.Effects))
		for k, v := range ink.Sampler(s.Function).Tints(comps) {
			out[ink.Painted[k]] = v
		}
		return out
	}
	at := func(x, y int) geom.Point {
		return geom.Point{X: float64(x) + 0.5 + l.Read.X, Y: float64(y) + 0.5 + l.Read.Y}
	}
	var find func(x, y int) []float64 // what the function, or the space, is given; nil = not painted
	switch s.Type {
	case 1:
		find = func(x, y int) []float64 { return inDomain(s, inv.Apply(at(x, y))) }
	case 2, 3:
		find = func(x, y int) []float64 {
			v, ok := along(s, inv.Apply(at(x, y)))
			if !ok {
				return nil
			}
			return []float64{s.Domain[0] + float64(v*(s.Domain[1]-s.Domain[0]))}
		}
	default:
		m := s.M.Mul(l.Device)
		grid := make([][]float64, l.W*l.H)
		each(s.Mesh, func(p [3]geom.Point, c [3][]float64) {
			for k := range p {
				p[k] = m.Apply(p[k])
			}
			l.triangle(p, c, at, grid)
		})
		find = func(x, y int) []float64 { return grid[y*l.W+x] }
	}
	var back []uint16
	if s.Background != nil {
		back = make([]uint16, len(ink.Effects))
		for k, v := range ink.Sampler(nil).Tints(s.Background) {
			back[ink.Painted[k]] = v
		}
	}
	var box *displist.Clip
	if s.BBox != nil && back != nil {
		path := &geom.Path{}
		path.Rect(*s.BBox)
		box = &displist.Clip{Shape: displist.Shape{Path: path.Transform(s.M)}, Bounds: s.M.Bounds(*s.BBox)}
	}
	return func(x, y int) Sample {
		out := Sample{Effects: ink.Effects, Alpha: top, Shape: top, Eight: eight}
		in := find(x, y)
		switch {
		case in != nil:
			out.Premult = tints(in)
		case back != nil:
			out.Premult = append([]uint16(nil), back...)
		default:
			return Sample{}
		}
		if box != nil {
			part := uint16(l.clip(box, nil).cover[y*l.W+x]) * 257
			for k, v := range out.Premult {
				out.Premult[k] = mix(back[k], part, part, v)
			}
		}
		return out
	}
}

// along is the parameter 0..1 of an axial or radial shading at a point of its space.
func along(s *displist.Shading, p geom.Point) (v float64, ok bool) {
	c := s.Coords
	has := func(v float64) bool {
		return v == v && (v >= 0 || s.Extend[0]) && (v <= 1 || s.Extend[1])
	}
	held := func(v float64) float64 { return max(0, min(1, v)) }
	if s.Type == 2 {
		dx, dy := c[2]-c[0], c[3]-c[1]
		v = (float64((p.X-c[0])*dx) + float64((p.Y-c[1])*dy)) / (float64(dx*dx) + float64(dy*dy))
		return held(v), has(v)
	}
	// The circle about start + v*d of radius r + v*dr through p: a v*v - 2 b v + c = 0.
	dx, dy, dr := c[3]-c[0], c[4]-c[1], c[5]-c[2]
	px, py := p.X-c[0], p.Y-c[1]
	a := float64(dx*dx) + float64(dy*dy) - float64(dr*dr)
	b := float64(px*dx) + float64(py*dy) + float64(c[2]*dr)
	k := float64(px*px) + float64(py*py) - float64(c[2]*c[2])
	var roots []float64
	if math.Abs(a) < 1e-10*(float64(dx*dx)+float64(dy*dy)+float64(dr*dr)) {
		roots = []float64{k / (2 * b)}
	} else if d := float64(b*b) - float64(a*k); d >= 0 {
		r1, r2 := (b+math.Sqrt(d))/a, (b-math.Sqrt(d))/a
		roots = []float64{max(r1, r2), min(r1, r2)}
	}
	for _, v := range roots {
		if has(v) && c[2]+float64(v*dr) >= 0 {
			return held(v), true
		}
	}
	return 0, false
}

// each calls f for the triangles of a mesh in paint order; those of patches by rising v, and u in these.
func each(m *displist.Mesh, f func(p [3]geom.Point, c [3][]float64)) {
	for i := 0; i+2 < len(m.Triangles); i += 3 {
		a, b, c := m.Triangles[i], m.Triangles[i+1], m.Triangles[i+2]
		f([3]geom.Point{m.Vertices[a], m.Vertices[b], m.Vertices[c]}, [3][]float64{m.Comps[a], m.Comps[b], m.Comps[c]})
	}
	const cuts = 64
	for i := range m.Patches {
		patch := &m.Patches[i]
		point := func(i, j int) (geom.Point, []float64) { return surface(patch, float64(i)/cuts, float64(j)/cuts) }
		for j := range cuts {
			for i := range cuts {
				p, pc := point(i, j)
				q, qc := point(i+1, j)
				r, rc := point(i, j+1)
				s, sc := point(i+1, j+1)
				f([3]geom.Point{p, q, r}, [3][]float64{pc, qc, rc})
				f([3]geom.Point{r, q, s}, [3][]float64{rc, qc, sc})
			}
		}
	}
}

// surface is the point of a patch at (u,v), and its colour, between corners at (0,0), (0,1), (1,1), (1,0).
func surface(p *displist.Patch, u, v float64) (at geom.Point, c []float64) {
	weights := func(t float64) [4]float64 {
		n := 1 - t
		return [4]float64{n * n * n, 3 * t * n * n, 3 * t * t * n, t * t * t}
	}
	bu, bv := weights(u), weights(v)
	for i := range 4 {
		for j := range 4 {
			w := float64(bu[i] * bv[j])
			at.X += float64(w * p.P[4*i+j].X)
			at.Y += float64(w * p.P[4*i+j].Y)
		}
	}
	for k := range p.C[0] {
		low := p.C[0][k] + float64(u*(p.C[3][k]-p.C[0][k]))
		high := p.C[1][k] + float64(u*(p.C[2][k]-p.C[1][k]))
		c = append(c, low+float64(v*(high-low)))
	}
	return at, c
}

// triangle writes the colours of a triangle at the places it reaches.
func (l *Levels) triangle(p [3]geom.Point, c [3][]float64, at func(x, y int) geom.Point, grid [][]float64) {
	ax, ay, bx, by := p[1].X-p[0].X, p[1].Y-p[0].Y, p[2].X-p[0].X, p[2].Y-p[0].Y
	det := float64(ax*by) - float64(bx*ay)
	if det == 0 {
		return
	}
	span := func(a, b, c float64, n int) (from, to int) {
		return int(max(0, min(float64(n), min(a, b, c)-1))), int(max(0, min(float64(n), max(a, b, c)+2)))
	}
	x0, x1 := span(p[0].X, p[1].X, p[2].X, l.W)
	y0, y1 := span(p[0].Y, p[1].Y, p[2].Y, l.H)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			q := at(x, y)
			dx, dy := q.X-p[0].X, q.Y-p[0].Y
			s, t := (float64(dx*by)-float64(bx*dy))/det, (float64(ax*dy)-float64(dx*ay))/det
			const edge = -1e-9
			if s < edge || t < edge || 1-s-t < edge {
				continue
			}
			v := make([]float64, len(c[0]))
			for k := range v {
				v[k] = c[0][k] + float64(s*(c[1][k]-c[0][k])) + float64(t*(c[2][k]-c[0][k]))
			}
			grid[y*l.W+x] = v
		}
	}
}

// inDomain is the values of a function shading at a point of its space; nil outside of its domain.
func inDomain(s *displist.Shading, p geom.Point) []float64 {
	c, d := s.Coords, s.Domain
	inv, ok := geom.Matrix{A: c[0], B: c[1], C: c[2], D: c[3], E: c[4], F: c[5]}.Invert()
	if q := inv.Apply(p); ok && q.X >= d[0] && q.X <= d[1] && q.Y >= d[2] && q.Y <= d[3] {
		return []float64{q.X, q.Y}
	}
	return nil
}

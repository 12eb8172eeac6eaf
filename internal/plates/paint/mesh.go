package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// Meshes (8.7.4.5.5 to 8.7.4.5.8) are triangles on the page, between whose corners colours are interpolated in a straight
// line. A pixel belongs to a triangle when its centre does, by integers, and the centre on a common edge
// to one of both: neighbours leave no gap and never share a pixel. Later triangles lie over earlier ones.
//
// Patches are cut into triangles finely enough for the surface to be less than patchTolerance off, in
// rows of rising v and in these by rising u, since of points of a folded patch the one of greatest v, then u, is on
// top (8.7.4.5.7). How often an edge is cut depends on the edge alone, so that patches side by side meet
// in the same points; and so does the sense in which its points are computed.
//
// Colours are interpolated as tints where these are in a straight line with the colours, else as colours, or
// as parameters of the shading's function, and then separated pixel by pixel.

// patchTolerance is how far triangles may be off a patch, in pixels.
const patchTolerance = 0.125

// maxCuts is the most often a side of a patch is cut: enough for sides of 16,000 pixels.
const maxCuts = 256

// A mesh is triangles on the page.
type mesh struct {
	k      int       // values of a vertex: tints of painted components, colour components, or one parameter
	x, y   []int32   // of vertices, in pixels of the page, 8 fractional bits
	values []float32 // k for each vertex
	corner []int32   // 3 for each triangle, in paint order
	rows   []int32   // first row and the one after the last of each triangle: 2 for each

	// Triangles by blocks of rows: those of block b are at list[start[b]:start[b+1]], in paint order.
	shift uint
	first int // row of block 0
	start []int32
	list  []int32
}

// meshKind is what the values of a mesh's vertices are.
type meshKind uint8

const (
	meshTints     meshKind = iota // of painted components, 0..65535
	meshColours                   // of the shading's space
	meshParameter                 // of the function, 0 to 1 over the domain
)

func meshKindOf(s *displist.Shading, ink *separate.SpaceInk) meshKind {
	switch {
	case s.Function != nil:
		return meshParameter
	case ink.Linear():
		return meshTints
	}
	return meshColours
}

// meshBuilder makes a mesh of what reaches a window of the page.
type meshBuilder struct {
	*mesh
	s      *displist.Shading
	kind   meshKind
	sample *separate.Sampler
	m      geom.Matrix // shading space to the page
	window raster.IntRect
	thin   float64 // part of the cuts of patches that is made, 1 = all
}

// newMesh makes the mesh of a shading; m maps shading space to pixels of the page, of which window is painted.
// whole is false when a limit made patches coarser.
func newMesh(s *displist.Shading, ink *separate.SpaceInk, m geom.Matrix, window raster.IntRect) (out *mesh, whole bool) {
	b := &meshBuilder{mesh: &mesh{}, s: s, kind: meshKindOf(s, ink), m: m, window: window, thin: 1}
	switch b.kind {
	case meshTints:
		b.k = len(ink.Painted)
		b.sample = ink.Sampler(nil)
	case meshColours:
		b.k = s.Space.Components()
	default:
		b.k = 1
	}
	for i, p := range s.Mesh.Vertices {
		b.vertex(m.Apply(p), b.valuesOf(s.Mesh.Comps[i]))
	}
	for i := 0; i+2 < len(s.Mesh.Triangles); i += 3 {
		t := s.Mesh.Triangles[i:]
		b.triangle(t[0], t[1], t[2])
	}
	if n := b.count(); n > limits.MaxMeshTriangles {
		b.thin = math.Sqrt(limits.MaxMeshTriangles / float64(n))
	}
	for i := range s.Mesh.Patches {
		b.patch(&s.Mesh.Patches[i])
	}
	b.index()
	return b.mesh, b.thin == 1
}

// valuesOf is the values of a vertex of a colour or parameter; valid until the next call.
func (b *meshBuilder) valuesOf(comps []float64) []float64 {
	switch b.kind {
	case meshTints:
		out := make([]float64, b.k)
		for i, v := range b.sample.Tints(comps) {
			out[i] = float64(v)
		}
		return out
	case meshParameter:
		d0, d1 := b.s.Domain[0], b.s.Domain[1]
		if d0 == d1 {
			return []float64{0}
		}
		return []float64{(comps[0] - d0) / (d1 - d0)}
	}
	return comps
}

// farMesh bounds coordinates of meshes in pixels, so that products fit integers; vertices beyond are
// moved there.
const farMesh = 1 << 21

func (b *meshBuilder) vertex(p geom.Point, values []float64) int32 {
	at := func(v float64) int32 {
		if v != v {
			return 0
		}
		return int32(math.Floor(float64(max(-farMesh, min(farMesh, v))*256) + 0.5))
	}
	b.x, b.y = append(b.x, at(p.X)), append(b.y, at(p.Y))
	for _, v := range values {
		b.values = append(b.values, float32(v))
	}
	return int32(len(b.x) - 1)
}

// triangle adds a triangle, unless it holds no centre of a pixel of the window.
func (b *meshBuilder) triangle(i, j, k int32) {
	if i == j || j == k || i == k {
		return
	}
	y0, y1 := min(b.y[i], b.y[j], b.y[k]), max(b.y[i], b.y[j], b.y[k])
	x0, x1 := min(b.x[i], b.x[j], b.x[k]), max(b.x[i], b.x[j], b.x[k])
	from, to := (y0+127)>>8, (y1+127)>>8 // rows whose centres c have y0 <= c < y1
	left, right := (x0+127)>>8, (x1+127)>>8
	if from >= to || left >= right || int(to) <= b.window.Y0 || int(from) >= b.window.Y1 || int(right) <= b.window.X0 || int(left) >= b.window.X1 {
		return
	}
	b.corner = append(b.corner, i, j, k)
	b.rows = append(b.rows, max(from, int32(b.window.Y0)), min(to, int32(b.window.Y1)))
}

// index sorts triangles into blocks of rows, high enough for few triangles to lie in many.
func (b *meshBuilder) index() {
	n := len(b.rows) / 2
	first, last := b.window.Y0, b.window.Y1
	b.first, b.shift = first, 3
	entries := func() (sum int) {
		for i := range n {
			sum += (int(b.rows[2*i+1])-1-first)>>b.shift - (int(b.rows[2*i])-first)>>b.shift + 1
		}
		return sum
	}
	for entries() > 4*n+1024 && 1<<b.shift < last-first {
		b.shift++
	}
	blocks := (last-first)>>b.shift + 2
	b.start = make([]int32, blocks+1)
	each := func(f func(block, triangle int)) {
		for i := range n {
			for k := (int(b.rows[2*i]) - first) >> b.shift; k <= (int(b.rows[2*i+1])-1-first)>>b.shift; k++ {
				f(k, i)
			}
		}
	}
	each(func(k, _ int) { b.start[k+1]++ })
	for k := range blocks {
		b.start[k+1] += b.start[k]
	}
	b.list = make([]int32, b.start[blocks])
	next := append([]int32(nil), b.start...)
	each(func(k, i int) {
		b.list[next[k]] = int32(i)
		next[k]++
	})
}

// meshKey is what a mesh depends on.
type meshKey struct {
	rampKey
	m      geom.Matrix
	window raster.IntRect
}

// mesh returns the triangles of a shading.
func (w *worker) mesh(pl *plan, ps *patternStep) shader {
	s := ps.shading
	m := s.M.Mul(pl.abs)
	j := w.job
	size := 64 * (len(s.Mesh.Vertices) + len(s.Mesh.Triangles) + 64*len(s.Mesh.Patches))
	window := raster.IntRect{X0: j.ox + ps.window.X0, Y0: j.oy + ps.window.Y0, X1: j.ox + ps.window.X1, Y1: j.oy + ps.window.Y1}
	made := j.meshes.get(meshKey{ps.key, m, window}, size, func() *mesh {
		out, whole := newMesh(s, ps.ink, m, window)
		if !whole {
			j.Sink.Add(finding.Finding{ID: "shading-coarse", Severity: finding.Warning, Class: finding.OverLimit, Incomplete: true,
				What:   "A gradient mesh has more and larger patches than are drawn finely; its curves may show corners.",
				Why:    "The gradient is printed a little differently than drawn.",
				Remedy: "Turn the gradient mesh into an image in the design program.",
				Place:  finding.Place{Page: j.List.Page.Number, Object: s.Ref.Num}})
		}
		return out
	})
	return &meshShader{mesh: made, kind: meshKindOf(s, ps.ink), ink: ps.ink, shading: s}
}

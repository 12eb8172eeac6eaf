package paint

import (
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// A layer is what items are painted into: the root plates with 8 bits, or the buffer of a group
// with 16. Planes are nil while they hold nothing but 0. Tints are premultiplied by alpha.
type layer struct {
	rect   raster.IntRect
	stride int
	n      int // components
	space  separate.BlendSpace
	depth  int // group nesting, 0 = root

	root       bool
	p8         [][]byte
	a8         []byte // alpha of the page; kept when paperAlpha
	paperAlpha bool

	p     [][]uint16
	a     []uint16 // group alpha, without the backdrop
	shape []uint16 // group shape; nil when it is the same as a or nobody asks

	isolated, knockout bool
	parent             *layer
	keepShape          bool

	// The backdrop of a non-isolated group: premultiplied colour and alpha, fetched from the parent
	// when something first reads it.
	haveBackdrop bool
	b            [][]uint16
	ba           []uint16
}

// newLayer returns an empty group buffer over rect.
func (w *worker) newLayer(parent *layer, rect raster.IntRect, ctx separate.Context, isolated, knockout bool, n int) *layer {
	l := &layer{rect: rect, stride: rect.X1 - rect.X0, n: n, space: ctx.Space, parent: parent,
		isolated: isolated, knockout: knockout, p: make([][]uint16, n)}
	l.a = w.rows.plane(l.size())
	if parent != nil {
		l.depth = parent.depth + 1
		l.keepShape = parent.knockout || parent.keepShape
	}
	if l.keepShape {
		l.shape = w.rows.plane(l.size())
	}
	return l
}

func (l *layer) size() int { return l.stride * (l.rect.Y1 - l.rect.Y0) }

// release gives the buffers of a group back.
func (w *worker) release(l *layer) {
	for _, p := range l.p {
		w.rows.putPlane(p)
	}
	for _, p := range l.b {
		w.rows.putPlane(p)
	}
	w.rows.putPlane(l.a)
	w.rows.putPlane(l.shape)
	w.rows.putPlane(l.ba)
	*l = layer{}
}

// at is the index of a pixel in the planes.
func (l *layer) at(x, y int) int { return (y-l.rect.Y0)*l.stride + x - l.rect.X0 }

// plane8 is root plane c, made when it is missing.
func (w *worker) plane8(l *layer, c int) []byte {
	if l.p8[c] == nil {
		l.p8[c] = w.pool.get(l.size())
	}
	return l.p8[c]
}

// alpha8 is the root's alpha plane, made when it is missing.
func (w *worker) alpha8(l *layer) []byte {
	if l.a8 == nil {
		l.a8 = make([]byte, l.size())
	}
	return l.a8
}

// plane16 is group plane c, made when it is missing.
func (w *worker) plane16(l *layer, c int) []uint16 {
	if l.p[c] == nil {
		l.p[c] = w.rows.plane(l.size())
	}
	return l.p[c]
}

// backdropRow writes the backdrop an object of l meets at pixels x0 <= x < x1 of row y: alpha, and
// premultiplied colours, nil where a component has none. The slices come from w.rows; give them back
// with putBackdrop.
func (w *worker) backdropRow(l *layer, y, x0, x1 int) (alpha []uint16, colours [][]uint16) {
	n := x1 - x0
	alpha = w.rows.get(n)
	colours = make([][]uint16, l.n)
	i := l.at(x0, y)
	if l.root {
		if l.a8 != nil {
			widen(alpha, l.a8[i:i+n])
		}
		for c, p := range l.p8 {
			if p != nil {
				colours[c] = w.rows.get(n)
				widen(colours[c], p[i:i+n])
			}
		}
		return alpha, colours
	}
	w.fetchBackdrop(l)
	if l.knockout {
		if l.ba != nil {
			copy(alpha, l.ba[i:i+n])
		}
		for c, p := range l.b {
			if p != nil {
				colours[c] = w.rows.get(n)
				copy(colours[c], p[i:i+n])
			}
		}
		return alpha, colours
	}
	ag := l.a[i : i+n]
	copy(alpha, ag)
	if l.ba != nil {
		for x, a0 := range l.ba[i : i+n] {
			alpha[x] = union(ag[x], a0)
		}
	}
	for c := range l.n {
		var under []uint16
		if l.b != nil {
			under = l.b[c]
		}
		if l.p[c] == nil && under == nil {
			continue
		}
		colours[c] = w.rows.get(n)
		if l.p[c] != nil {
			copy(colours[c], l.p[c][i:i+n])
		}
		if under != nil {
			for x, b0 := range under[i : i+n] {
				colours[c][x] = add16(colours[c][x], mul16(full-ag[x], b0))
			}
		}
	}
	return alpha, colours
}

func (w *worker) putBackdrop(alpha []uint16, colours [][]uint16) {
	w.rows.put(alpha)
	for _, c := range colours {
		w.rows.put(c)
	}
}

// fetchBackdrop copies what the parent holds when the group starts; the parent does not change while
// the group is painted, so it may be fetched late.
func (w *worker) fetchBackdrop(l *layer) {
	if l.isolated || l.haveBackdrop || l.parent == nil {
		return
	}
	l.haveBackdrop = true
	l.b = make([][]uint16, l.n)
	l.ba = w.rows.plane(l.size())
	for y := l.rect.Y0; y < l.rect.Y1; y++ {
		alpha, colours := w.backdropRow(l.parent, y, l.rect.X0, l.rect.X1)
		i := l.at(l.rect.X0, y)
		copy(l.ba[i:], alpha)
		for c, row := range colours {
			if row == nil {
				continue
			}
			if l.b[c] == nil {
				l.b[c] = w.rows.plane(l.size())
			}
			copy(l.b[c][i:], row)
		}
		w.putBackdrop(alpha, colours)
	}
}

// rowPool hands out rows and planes of 16 bits to one worker.
type rowPool struct {
	width  int
	rows   [][]uint16
	planes [][]uint16
}

// get returns n zeroed entries, n at most the window's width.
func (p *rowPool) get(n int) []uint16 {
	if k := len(p.rows); k > 0 {
		r := p.rows[k-1]
		p.rows = p.rows[:k-1]
		if cap(r) >= n {
			r = r[:n]
			clear(r)
			return r
		}
	}
	return make([]uint16, n, max(n, p.width))
}

func (p *rowPool) put(r []uint16) {
	if r != nil {
		p.rows = append(p.rows, r)
	}
}

// plane returns n zeroed entries.
func (p *rowPool) plane(n int) []uint16 {
	best := -1
	for i, r := range p.planes {
		if cap(r) >= n && (best < 0 || cap(r) < cap(p.planes[best])) {
			best = i
		}
	}
	if best < 0 {
		return make([]uint16, n)
	}
	r := p.planes[best][:n]
	last := len(p.planes) - 1
	p.planes[best] = p.planes[last]
	p.planes = p.planes[:last]
	clear(r)
	return r
}

// maxKeptPlanes bounds the planes a worker keeps for the next group.
const maxKeptPlanes = 48

func (p *rowPool) putPlane(r []uint16) {
	if r != nil && len(p.planes) < maxKeptPlanes {
		p.planes = append(p.planes, r)
	}
}

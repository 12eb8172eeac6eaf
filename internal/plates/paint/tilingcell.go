package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// cellFine is how many entries of a cell's raster lie across a pixel, in each direction.
const cellFine = 4

// cellLeast is the least number of entries along a step.
const cellLeast = 16

// A cell is one step of a tiling in both directions, painted and averaged: entry (i,j) is the mean of what a pixel
// covers whose corner is there. It wraps round.
type cell struct {
	cellSize
	p     [][]uint16 // premultiplied, nil = nothing
	a     []uint16
	shape []uint16   // nil = the same as a
	whole bool       // a is full everywhere
	hold  [][]uint16 // part of a that keeps the component of what lies below, nil = none
	p8    [][]uint8  // p with 8 bits, when whole and nothing is held
}

// cellSize is the number of entries along a step in each direction, and across a pixel.
type cellSize struct{ w, h, fx, fy int }

// entries is how many values a cell of n components has, which holds some when held is set.
func (c *cellSize) entries(n int, held bool) int {
	if held {
		n *= 2
	}
	return c.w * c.h * (n + 2)
}

// cellKey is what a cell depends on. A shift of the pattern changes nothing.
type cellKey struct {
	tiling     *displist.Tiling
	target     *separate.Target
	ctx        separate.Context
	n          int
	a, b, c, d float64
	finer      float64
}

// cell returns the raster of the tiling that item i is painted with; nil when it has to be painted tile by tile.
func (w *worker) cell(pl *plan, i, n int) *cell {
	st := &pl.steps[i]
	reads := st.pattern.reads
	held := n > 0 && reads.backdrop
	if held && (reads.blends || pl.items[i].Blend != displist.Normal) {
		return nil
	}
	t := st.pattern.tiling
	m := t.M.Mul(pl.abs)
	inv, ok := m.Invert()
	if !ok {
		return nil
	}
	// A pixel in pattern space, taken as a box of the same spread along the axes.
	px := math.Sqrt(float64(inv.A*inv.A) + float64(inv.C*inv.C))
	py := math.Sqrt(float64(inv.B*inv.B) + float64(inv.D*inv.D))
	// In the raster of another cell its pixels are fine enough.
	fine := cellFine
	if pl.fineness() >= cellFine {
		fine = 1
	}
	var size cellSize
	for ; ; fine /= 2 {
		size.w, size.fx = cellSide(t.XStep/px, fine)
		size.h, size.fy = cellSide(t.YStep/py, fine)
		if size.w <= limits.MaxTilingEntries && size.h <= limits.MaxTilingEntries && size.entries(n, held) <= limits.MaxTilingEntries {
			break
		}
		if fine <= 2 {
			return nil
		}
	}
	key := cellKey{tiling: t, target: pl.target, ctx: st.ctx, n: n, a: m.A, b: m.B, c: m.C, d: m.D, finer: pl.fineness()}
	return w.job.cells.get(key, 2*size.entries(n, held), func() *cell {
		c := &cell{cellSize: size}
		w.paintCell(pl, st.ctx, t, n, held, c)
		return c
	})
}

// cellSide is the number of entries along a step of so many pixels, and across one pixel.
func cellSide(pixels float64, fine int) (n, across int) {
	if !(pixels > 1e-6) {
		return cellLeast, cellLeast // a pixel is the mean of whole cells
	}
	f := max(float64(fine), math.Ceil(cellLeast/pixels))
	n = int(max(1, min(1<<40, math.Floor(float64(pixels*f)+0.5))))
	across = int(f)
	if across >= 16*n {
		across = n
	}
	return n, across
}

// paintCell paints all tiles that reach the step from the corner of the box on, and averages. Overprint is found by
// painting twice, over nothing and over solid toner everywhere: what differs is what is kept.
func (w *worker) paintCell(pl *plan, ctx separate.Context, t *displist.Tiling, n int, held bool, c *cell) {
	l := w.cellLayer(pl, ctx, t, n, false, c)
	if l == nil {
		c.a = make([]uint16, c.w*c.h)
		return
	}
	c.p, c.a, c.shape = l.p, l.a, l.shape
	if held {
		c.holds(w.cellLayer(pl, ctx, t, n, true, c))
	}
	scratch := make([]uint32, c.w*c.h)
	for _, planes := range [][][]uint16{{c.a, c.shape}, c.p, c.hold} {
		for _, p := range planes {
			if p != nil {
				c.average(p, scratch)
			}
		}
	}
	if c.whole = allFull(c.a); c.whole && c.hold == nil {
		c.p8 = make([][]uint8, n)
		for k, p := range c.p {
			if p != nil {
				c.p8[k] = make([]uint8, len(p))
				for i, v := range p {
					c.p8[k][i] = to8(v)
				}
			}
		}
	}
}

// holds notes what the cell keeps of solid toner below, over being what it then gives.
func (c *cell) holds(over *layer) {
	for k, p := range over.p {
		if p == nil {
			continue
		}
		any := false
		for i := range p {
			v := uint16(0)
			if c.p[k] != nil {
				v = c.p[k][i]
			}
			p[i] -= min(v, p[i])
			any = any || p[i] != 0
		}
		if any {
			if c.hold == nil {
				c.hold = make([][]uint16, len(over.p))
			}
			c.hold[k] = p
		}
	}
}

// cellLayer paints a cell, over solid toner or over nothing; nil when it has no marks.
func (w *worker) cellLayer(pl *plan, ctx separate.Context, t *displist.Tiling, n int, solid bool, c *cell) *layer {
	sx, sy := float64(c.w)/t.XStep, float64(c.h)/t.YStep
	all := raster.IntRect{X1: c.w, Y1: c.h}
	bw, bh := max(1, roundInt(float64((t.BBox.X1-t.BBox.X0)*sx))), max(1, roundInt(float64((t.BBox.Y1-t.BBox.Y0)*sy)))
	i0, _ := tileRange(t.BBox.X0-t.Bounds.X1, 0, t.XStep)
	j0, _ := tileRange(t.BBox.Y0-t.Bounds.Y1, 0, t.YStep)
	_, i1 := tileRange(0, t.BBox.X0+t.XStep-t.Bounds.X0, t.XStep)
	_, j1 := tileRange(0, t.BBox.Y0+t.YStep-t.Bounds.Y0, t.YStep)
	var l *layer
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			box := raster.IntRect{X0: i * c.w, Y0: j * c.h, X1: i*c.w + bw, Y1: j*c.h + bh}.Intersect(all)
			if box.Empty() || w.stop(&t.Items[0]) {
				continue
			}
			to := geom.Matrix{A: sx, D: sy, E: float64(i*c.w) - float64(t.BBox.X0*sx), F: float64(j*c.h) - float64(t.BBox.Y0*sy)}
			cw := w.tileWorker(pl, ctx, t, to, tilePlace{page: box, window: all, w: c.w, h: c.h, finer: pl.fineness() * math.Sqrt(float64(c.fx)*float64(c.fy))}, nil)
			if l == nil {
				l = cw.newLayer(nil, all, ctx, !solid, false, n)
				if solid {
					cw.setBackdrop(l, nil)
				} else if t.Blending {
					l.keepShape, l.shape = true, cw.rows.plane(l.size())
				}
			}
			cw.items(cw.job.root, 0, len(t.Items), l)
			w.stopped = cw.stopped
		}
	}
	return l
}

// average replaces every entry by the mean of the fx x fy entries from it on.
func (c *cell) average(p []uint16, scratch []uint32) {
	if uniform(p) {
		return
	}
	for y := range c.h {
		row, out := p[y*c.w:][:c.w], scratch[y*c.w:][:c.w]
		sum := uint64(0)
		for i := range c.fx {
			sum += uint64(row[i%c.w])
		}
		for i := range out {
			out[i] = uint32((sum<<8 + uint64(c.fx)/2) / uint64(c.fx))
			sum += uint64(row[(i+c.fx)%c.w])
			sum -= uint64(row[i])
		}
	}
	for x := range c.w {
		sum := uint64(0)
		for j := range c.fy {
			sum += uint64(scratch[j%c.h*c.w+x])
		}
		for j := range c.h {
			p[j*c.w+x] = uint16((sum + uint64(c.fy)<<7) / (uint64(c.fy) << 8))
			sum += uint64(scratch[(j+c.fy)%c.h*c.w+x])
			sum -= uint64(scratch[j*c.w+x])
		}
	}
}

func uniform(p []uint16) bool {
	for _, v := range p {
		if v != p[0] {
			return false
		}
	}
	return true
}

// cellTexture reads a cell under the pixels of a window.
type cellTexture struct {
	c    *cell
	box  raster.IntRect
	work []int32
	// Places in the cell as fractions of a step, of 2^64; they wrap by themselves.
	ux, uy, vx, vy, u0, v0 uint64
	ox, oy                 int
	alpha, shape           []uint16
	eight                  bool // 8 bits are read
}

func newCellTexture(w *worker, pl *plan, t *displist.Tiling, c *cell, components int, box raster.IntRect, src *source, l *layer, b *brush, stencil bool) *cellTexture {
	inv, _ := t.M.Mul(pl.abs).Invert()
	x := &cellTexture{c: c, box: box, ox: w.job.ox, oy: w.job.oy, work: make([]int32, box.X1-box.X0)}
	x.ux, x.uy = stepFraction(inv.A/t.XStep), stepFraction(inv.C/t.XStep)
	x.vx, x.vy = stepFraction(inv.B/t.YStep), stepFraction(inv.D/t.YStep)
	p := inv.Apply(geom.Point{X: 0.5, Y: 0.5})
	x.u0 = stepFraction((p.X-t.BBox.X0)/t.XStep - (float64(c.fx)/2-0.5)/float64(c.w))
	x.v0 = stepFraction((p.Y-t.BBox.Y0)/t.YStep - (float64(c.fy)/2-0.5)/float64(c.h))
	n := box.X1 - box.X0
	if x.eight = components > 0 && l.root && b.opaque && c.p8 != nil && !stencil; x.eight {
		src.px8 = make([][]uint8, components)
		for k, p := range c.p8 {
			if p != nil {
				src.px8[k] = make([]uint8, n)
			}
		}
		return x
	}
	if c.hold != nil {
		src.hold = make([][]uint16, components)
		for k, p := range c.hold {
			if p != nil {
				src.hold[k] = make([]uint16, n)
			}
		}
	}
	if components > 0 {
		src.px = make([][]uint16, components)
		for k, p := range c.p {
			if p != nil {
				src.px[k] = make([]uint16, n)
			}
		}
	}
	if !c.whole {
		x.alpha = make([]uint16, n)
	}
	if c.shape != nil {
		x.shape = make([]uint16, n)
	}
	return x
}

// stepFraction is the fraction of v, of 2^64.
func stepFraction(v float64) uint64 {
	f := v - math.Floor(v)
	if !(f < 1) {
		return 0
	}
	return uint64(float64(f*(1<<63))) << 1
}

func (x *cellTexture) texels(y int, spans []raster.Span, src *source) []raster.Span {
	c := x.c
	src.alpha, src.shape = nil, nil
	if !c.whole {
		src.alpha, src.shape = x.alpha, x.alpha
	}
	if c.shape != nil {
		src.shape = x.shape
	}
	for i := 0; i < len(spans); {
		j := i + 1
		for j < len(spans) && spans[j].X0-spans[j-1].X1 <= gap {
			j++
		}
		from, to := int(spans[i].X0)-x.box.X0, int(spans[j-1].X1)-x.box.X0
		x.places(y, from, to)
		at := x.work[from:to]
		i = j
		if x.eight {
			for k, p := range c.p8 {
				if p != nil {
					pick(src.px8[k][from:to], p, at)
				}
			}
			continue
		}
		for k, p := range c.p {
			if p != nil {
				pick(src.px[k][from:to], p, at)
			}
		}
		for k, p := range c.hold {
			if p != nil {
				pick(src.hold[k][from:to], p, at)
			}
		}
		if !c.whole {
			pick(x.alpha[from:to], c.a, at)
		}
		if c.shape != nil {
			pick(x.shape[from:to], c.shape, at)
		}
	}
	return spans
}

// places finds the entries of the pixels box.X0+from <= x < box.X0+to of row y.
func (x *cellTexture) places(y, from, to int) {
	c := x.c
	px, py := uint64(x.box.X0+from+x.ox), uint64(y+x.oy) // negative ones wrap
	u, v := x.ux*px+x.uy*py+x.u0, x.vx*px+x.vy*py+x.v0
	w, h := uint64(c.w), uint64(c.h)
	at := x.work[from:to]
	if x.vx == 0 {
		row := int32(v >> 32 * h >> 32 * w)
		for i := range at {
			at[i] = row + int32(u>>32*w>>32)
			u += x.ux
		}
		return
	}
	for i := range at {
		at[i] = int32(v>>32*h>>32*w + u>>32*w>>32)
		u += x.ux
		v += x.vx
	}
}

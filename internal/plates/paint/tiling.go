package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// Tiling patterns (8.7.3) are painted one of two ways. All tiles are one group (11.6.7), whose colour, shape
// and opacity are the source of the item; the item's shape clips them.
//
//   - A cell without blend modes is painted once, into a raster of its own that lies along the
//     axes of the pattern and wraps round: one step wide and high, finer than the page by cellFine. It is
//     averaged over the size of a pixel, and each pixel of the page takes the entry its centre falls on.
//     So a pattern stands where it was written to an eighth of a pixel whatever its step, matrix and number of
//     tiles; tiles that touch leave no seam, tiles smaller than a pixel give their mean, and what a
//     pixel gets depends on its place alone. With overprint, the raster also has what part of each
//     component is kept of what lies below.
//   - A cell with blend modes depends on what lies below: it is painted tile by tile into a group, and so are cells too large for a raster. Where the pattern is upright its lattice is rounded to
//     whole pixels and each tile stretched to fit, by less than a pixel, so that tiles that touch leave
//     no seam. Turned ones stand exact.
//
// Where cells overlap, the rows of pattern space are painted upwards and each from left to right: any order is right
// (8.7.3.1), and this one is the same everywhere.
//
// An uncoloured cell is a shape in the colour of the item, which is painted by the item's overprint.

// tileReading is what a cell asks of its backdrop, remembered by cell.
func (p *planner) tileReading(t *displist.Tiling) reading {
	if r, ok := p.cells[t]; ok {
		return r
	}
	if p.cells == nil {
		p.cells = map[*displist.Tiling]reading{}
	}
	p.cells[t] = reading{}
	var r reading
	for i := 0; i < len(t.Items); i++ {
		it := &t.Items[i]
		group := it.Kind == displist.BeginGroup && it.Group != nil
		if group && (it.Hidden || it.Group.Isolated) {
			i = max(i, min(it.Group.End, len(t.Items))-1)
		}
		if it.Hidden {
			continue
		}
		r.blends = r.blends || it.Blend != displist.Normal
		r.backdrop = r.backdrop || it.Blend != displist.Normal || it.Overprint && !group
		if in := it.Paint.Tiling; in != nil {
			n := p.tileReading(in)
			r.blends, r.backdrop = r.blends || n.blends, r.backdrop || n.backdrop
		}
	}
	if !t.Coloured { // a shape
		r.backdrop = r.blends
	}
	p.cells[t] = r
	return r
}

// tiled paints an item with a tiling.
func (w *worker) tiled(pl *plan, i int, box raster.IntRect, cl *clipCover, l *layer) {
	st := &pl.steps[i]
	t := st.pattern.tiling
	if len(t.Items) == 0 || w.depth >= limits.MaxFormDepth {
		return
	}
	b := w.brush(pl, i)
	n := l.n
	if !t.Coloured && !st.pattern.reads.blends {
		ink := w.ink(pl, i)
		if ink.Nothing {
			return
		}
		b.flatIn(ink)
		n = 0
	}
	src := &source{x0: box.X0}
	var tex texture
	if c := w.cell(pl, i, n); c != nil {
		tex = newCellTexture(w, pl, t, c, n, box, src, l, b, pl.items[i].Kind == displist.Image)
	} else {
		g := w.newLayer(l, box, st.ctx, false, false, n)
		defer w.release(g)
		if t.Blending && g.shape == nil && (l.knockout || l.keepShape) {
			g.keepShape, g.shape = true, w.rows.plane(g.size())
		}
		w.tiles(pl, st.ctx, t, g)
		tex = &layerTexture{g}
		if n > 0 {
			src.px = make([][]uint16, n)
		}
	}
	w.coverage(pl, i, box, cl, func(y int, spans []raster.Span, part []uint16) {
		if spans = tex.texels(y, spans, src); len(spans) == 0 {
			return
		}
		if part != nil {
			narrowed(src, part)
		}
		if w.probe.unmarked(y, src) {
			return // a window of one pixel
		}
		w.row(l, b, y, spans, src)
	})
}

// layerTexture is a group's buffer.
type layerTexture struct{ g *layer }

func (t *layerTexture) texels(y int, spans []raster.Span, src *source) []raster.Span {
	g := t.g
	at := g.at(g.rect.X0, y)
	for c, p := range g.p {
		if p != nil {
			src.px[c] = p[at : at+g.stride]
		}
	}
	src.alpha, src.shape = g.a[at:at+g.stride], g.a[at:at+g.stride]
	if g.shape != nil {
		src.shape = g.shape[at : at+g.stride]
	}
	if from, to := marked(src.alpha, src.shape); from >= to {
		return nil
	}
	return spans
}

// tiles paints the tiles that reach g into it, one after the other.
func (w *worker) tiles(pl *plan, ctx separate.Context, t *displist.Tiling, g *layer) {
	m := t.M.Mul(pl.abs)
	inv, ok := m.Invert()
	if !ok {
		return
	}
	ox, oy := w.job.ox, w.job.oy
	area := raster.IntRect{X0: g.rect.X0 + ox, Y0: g.rect.Y0 + oy, X1: g.rect.X1 + ox, Y1: g.rect.Y1 + oy}
	seen := inv.Bounds(geom.Rect{X0: float64(area.X0), Y0: float64(area.Y0), X1: float64(area.X1), Y1: float64(area.Y1)}.
		Grow(4))
	i0, i1 := tileRange(seen.X0-t.Bounds.X1, seen.X1-t.Bounds.X0, t.XStep)
	j0, j1 := tileRange(seen.Y0-t.Bounds.Y1, seen.Y1-t.Bounds.Y0, t.YStep)
	switch {
	case m.B == 0 && m.C == 0:
		xs := fits(m.A, m.E, t.BBox.X0, t.BBox.X1, t.XStep, i0, i1, area.X0, area.X1)
		ys := fits(m.D, m.F, t.BBox.Y0, t.BBox.Y1, t.YStep, j0, j1, area.Y0, area.Y1)
		for _, y := range ys {
			for _, x := range xs {
				to := geom.Matrix{A: x.scale, D: y.scale, E: x.at, F: y.at}
				w.tile(pl, ctx, t, to, raster.IntRect{X0: x.lo, X1: x.hi, Y0: y.lo, Y1: y.hi}, g)
			}
		}
	case m.A == 0 && m.D == 0:
		xs := fits(m.B, m.F, t.BBox.X0, t.BBox.X1, t.XStep, i0, i1, area.Y0, area.Y1)
		ys := fits(m.C, m.E, t.BBox.Y0, t.BBox.Y1, t.YStep, j0, j1, area.X0, area.X1)
		for _, y := range ys {
			for _, x := range xs {
				to := geom.Matrix{B: x.scale, C: y.scale, E: y.at, F: x.at}
				w.tile(pl, ctx, t, to, raster.IntRect{X0: y.lo, X1: y.hi, Y0: x.lo, Y1: x.hi}, g)
			}
		}
	default:
		// Of a row of tiles only those that meet the area, a parallelogram in pattern space.
		a := [4]geom.Point{{X: float64(area.X0 - 4), Y: float64(area.Y0 - 4)}, {X: float64(area.X1 + 4), Y: float64(area.Y0 - 4)},
			{X: float64(area.X1 + 4), Y: float64(area.Y1 + 4)}, {X: float64(area.X0 - 4), Y: float64(area.Y1 + 4)}}
		for k := range a {
			a[k] = inv.Apply(a[k])
		}
		for j := j0; j <= j1; j++ {
			y := float64(float64(j) * t.YStep)
			x0, x1 := slab(a, y+t.Bounds.Y0, y+t.Bounds.Y1)
			if !(x0 <= x1) {
				continue
			}
			i0, i1 := tileRange(x0-t.Bounds.X1, x1-t.Bounds.X0, t.XStep)
			for i := i0; i <= i1; i++ {
				to := geom.Translate(float64(float64(i)*t.XStep), float64(float64(j)*t.YStep)).Mul(m)
				w.turnedTile(pl, ctx, t, to, g)
			}
		}
	}
}

// slab is the least and greatest x a polygon has between two values of y; x0 > x1 when it has none.
func slab(p [4]geom.Point, y0, y1 float64) (x0, x1 float64) {
	x0, x1 = math.Inf(1), math.Inf(-1)
	for k, a := range p {
		b := p[(k+1)%4]
		if a.Y > b.Y {
			a, b = b, a
		}
		if b.Y < y0 || a.Y > y1 {
			continue
		}
		for _, y := range [2]float64{max(a.Y, y0), min(b.Y, y1)} {
			x := a.X
			if b.Y > a.Y {
				x += float64((b.X - a.X) * ((y - a.Y) / (b.Y - a.Y)))
			} else {
				x0, x1 = min(x0, b.X), max(x1, b.X)
			}
			x0, x1 = min(x0, x), max(x1, x)
		}
	}
	return x0, x1
}

// tileRange is the whole numbers k with lo <= k*step <= hi, and one more on either side.
func tileRange(lo, hi, step float64) (first, last int) {
	const far = 1 << 40
	at := func(v float64) int { return int(max(-far, min(far, v))) }
	return at(math.Floor(lo/step)) - 1, at(math.Ceil(hi/step)) + 1
}

// A fit is where a tile stands along one axis of the page: v of pattern space at at + scale*v, its box in
// the pixels lo <= x < hi.
type fit struct {
	scale, at float64
	lo, hi    int
}

// fits are the tiles first to last that reach the pixels from <= x < to, their lattice rounded to whole
// pixels. Of tiles with steps below a pixel one stands in each pixel.
func fits(scale, at, b0, b1, step float64, first, last, from, to int) []fit {
	var out []fit
	line := func(k int) float64 { return at + float64(scale*(b0+float64(float64(k)*step))) }
	// add places a tile whose step goes from lo to hi, in the sense of the pattern.
	add := func(lo, hi int) {
		if lo == hi {
			return
		}
		s := float64(hi-lo) / step
		if b1-b0 > 1.5*step { // tiles that overlap keep their size
			s = scale
		}
		f := fit{scale: s, at: float64(lo) - float64(s*b0), lo: lo, hi: lo + roundInt(float64(s*(b1-b0)))}
		if f.lo > f.hi {
			f.lo, f.hi = f.hi, f.lo
		}
		f.hi = max(f.hi, f.lo+1)
		if f.lo < to && f.hi > from {
			out = append(out, f)
		}
	}
	if math.Abs(scale*step) >= 1 {
		for k := first; k <= last; k++ {
			add(roundInt(line(k)), roundInt(line(k+1)))
		}
		return out
	}
	reach := roundInt(math.Abs(scale*(b1-b0))) + 2
	for x := from - reach; x < to+reach; x++ {
		if scale < 0 {
			add(x+1, x)
		} else {
			add(x, x+1)
		}
	}
	return out
}

func roundInt(v float64) int {
	const far = 1 << 40
	return int(math.Floor(max(-far, min(far, v)) + 0.5))
}

// tile paints an upright tile, to mapping pattern space to pixels of the page, within box there.
func (w *worker) tile(pl *plan, ctx separate.Context, t *displist.Tiling, to geom.Matrix, box raster.IntRect, g *layer) {
	if w.stop(&t.Items[0]) {
		return
	}
	ox, oy := w.job.ox, w.job.oy
	box = raster.IntRect{X0: box.X0 - ox, Y0: box.Y0 - oy, X1: box.X1 - ox, Y1: box.Y1 - oy}.Intersect(g.rect)
	if box.Empty() {
		return
	}
	cw := w.tileWorker(pl, ctx, t, to, tilePlace{ox: ox, oy: oy, page: box, window: w.window, finer: pl.finer}, nil)
	cw.items(cw.job.root, 0, len(t.Items), g)
	w.stopped = cw.stopped
}

// turnedTile paints a tile that is clipped to its box by coverage.
func (w *worker) turnedTile(pl *plan, ctx separate.Context, t *displist.Tiling, to geom.Matrix, g *layer) {
	if w.stop(&t.Items[0]) {
		return
	}
	ox, oy := w.job.ox, w.job.oy
	d := to.Bounds(t.Bounds).Grow(2) // thin lines are widened
	if !(d.X0 < float64(g.rect.X1+ox) && d.X1 > float64(g.rect.X0+ox) && d.Y0 < float64(g.rect.Y1+oy) && d.Y1 > float64(g.rect.Y0+oy)) {
		return
	}
	path := &geom.Path{}
	path.Rect(t.BBox)
	box := &displist.Clip{Shape: displist.Shape{Path: path}, Bounds: t.BBox}
	cw := w.tileWorker(pl, ctx, t, to, tilePlace{ox: ox, oy: oy, page: g.rect, window: w.window, finer: pl.finer}, box)
	cl := cw.clip(box)
	rect := cl.rect.Intersect(g.rect)
	if rect.Empty() {
		return
	}
	tile := cw.newLayer(g, rect, ctx, false, false, g.n)
	cw.items(cw.job.root, 0, len(t.Items), tile)
	cw.putGroup(g, tile, &brush{alpha: full, opaque: true, item: -1}, cl, 0)
	cw.release(tile)
	w.stopped = cw.stopped
}

// tilePlace is where a tile is painted.
type tilePlace struct {
	ox, oy int            // pixel of the map's target space that is pixel (0,0)
	page   raster.IntRect // nothing is painted outside
	window raster.IntRect
	w, h   int     // of all there is; 0 = as the page has
	finer  float64 // its pixels across a pixel of the page
}

// tileWorker is a worker for the items of one tile, to mapping pattern space to pixels.
func (w *worker) tileWorker(pl *plan, ctx separate.Context, t *displist.Tiling, to geom.Matrix, at tilePlace, box *displist.Clip) *worker {
	dev := to
	dev.E -= float64(at.ox)
	dev.F -= float64(at.oy)
	p := &planner{job: w.job, sink: w.job.Sink, page: at.page, number: w.job.List.Page.Number, dev: dev, abs: to,
		masks: map[*displist.SoftMask]*maskPlan{}, clips: map[*displist.Clip]*clipShape{}, deep: true, tile: true}
	p.clip(box)
	j := *w.job
	j.ox, j.oy, j.wrap = at.ox, at.oy, nil
	if at.w > 0 {
		j.w, j.h = at.w, at.h
	}
	j.root = p.plan(t.Items, pl.target, ctx, nil, 0, false)
	j.root.finer = at.finer
	cw := w.within(&j)
	cw.begin(w.ctx, at.window, w.pool)
	return cw
}

// fineness is how many pixels of a plan lie across a pixel of the page.
func (pl *plan) fineness() float64 {
	if pl.finer == 0 {
		return 1
	}
	return pl.finer
}

// pen is the pen of a stroke. In a cell, whose pixels and units are not those of the page, lines too
// thin to be drawn true are widened here by the rule of package raster.
func (w *worker) pen(pl *plan, it *displist.Item) (geom.StrokeStyle, geom.Matrix) {
	style, m := it.Pen.Style, it.Pen.M
	if pl.finer == 0 {
		return style, m
	}
	size := m.Mul(pl.dev).Expansion()
	width := float64(style.Width*size) / pl.finer // pixels of the page
	least := 0.25
	if style.Width == 0 {
		least = max(0.25, min(1, w.job.DPI/600))
	}
	if style.Adjust && width < 0.5 {
		least = 1
	}
	lin := pl.dev
	lin.E, lin.F = 0, 0
	inv, ok := lin.Invert()
	if width >= least || !ok {
		return style, m
	}
	style.Width = float64(least * pl.finer)
	dash := make([]float64, len(style.Dash))
	for i, d := range style.Dash {
		dash[i] = float64(d * size)
	}
	if style.Dash != nil {
		style.Dash = dash
	}
	style.DashPhase = float64(style.DashPhase * size)
	return style, inv
}

// held composites component c of a source that keeps some of what is there.
func (r *rowWork) held(c int) {
	src, hold := r.s.px[c], r.s.hold[c]
	var under []uint16
	if r.pb != nil {
		under = r.pb[c]
	}
	row := r.row(c, src != nil || under != nil)
	if row == nil {
		return
	}
	for i, v := range row {
		var s, b uint16
		if src != nil {
			s = src[i]
		}
		switch {
		case under != nil:
			b = under[i]
		case r.pb == nil && !r.l.knockout:
			b = v
		}
		sum := uint64(v)*uint64(full-r.k[i]) + uint64(r.m[i])*uint64(s) + uint64(mul16(r.m[i], hold[i]))*uint64(b)
		row[i] = div16(min(sum, full*full+0x7FFF))
	}
	r.store(c, row)
}

package slowpaint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/separate"
)

// Tilings, by section 8 of docs/imaging.md. A cell without blend modes becomes a raster of means, painted
// entry by entry like a page; one with blend modes is painted tile after tile, each pixel meeting those whose box it lies in.

// asked is what the marks of a cell ask of their backdrop.
type asked struct{ blends, backdrop bool }

func asks(t *displist.Tiling) (a asked) {
	end := 0 // of an isolated or hidden group, whose members ask nothing
	for i := range t.Items {
		it := &t.Items[i]
		if i < end {
			continue
		}
		if it.Kind == displist.BeginGroup && (it.Hidden || it.Group.Isolated) {
			end = it.Group.End
		}
		if it.Hidden {
			continue
		}
		if it.Blend != displist.Normal {
			a.blends = true
		}
		if it.Overprint && it.Kind != displist.BeginGroup {
			a.backdrop = true
		}
		if it.Paint.Tiling != nil {
			in := asks(it.Paint.Tiling)
			a.blends, a.backdrop = a.blends || in.blends, a.backdrop || in.backdrop
		}
	}
	a.backdrop = a.backdrop && t.Coloured || a.blends
	return a
}

// in is a painter of the same target for another grid of pixels.
func (l *Levels) in(p Place) *Levels {
	inner := &Levels{Place: p, Target: l.Target, Cover: l.Cover, Filled: l.Filled, Shading: l.Shading, Read: l.Read}
	inner.begin()
	return inner
}

// tiled paints an item with a tiling onto one pixel.
func (l *Levels) tiled(it *displist.Item, ctx separate.Context, x, y int, g *spot, t touch) {
	tl := it.Paint.Tiling
	a := asks(tl)
	n := len(g.p)
	s := Sample{Alpha: top, Shape: top}
	if !tl.Coloured && !a.blends {
		ink := l.ink(it, ctx)
		if ink.Nothing {
			return
		}
		s.Effects, s.Premult, s.Flat = ink.Effects, ink.Values, true
		n = 0
	}
	held := n > 0 && a.backdrop
	var c *levelCell
	if !held || !a.blends && it.Blend == displist.Normal {
		c = l.cell(it, ctx, n, held)
	}
	if c != nil {
		at := c.at(x, y)
		s.Alpha, s.Shape = c.alpha[at], c.shape[at]
		if n > 0 {
			s.Premult = append([]uint16(nil), c.p[at]...)
			s.Eight = c.whole && !c.keeps && it.Kind != displist.Image
			if c.keeps {
				s.Hold = append([]uint16(nil), c.hold[at]...)
			}
		}
	} else {
		in := &spot{p: make([]uint16, n), space: ctx.Space, hasBackdrop: true}
		in.ba, in.b = l.backdrop(g)
		for _, tile := range l.tiles(it) {
			tile.paint(tl, ctx, x, y, in)
		}
		s.Alpha, s.Shape = in.a, in.shape
		if n > 0 {
			s.Premult = in.p
		}
	}
	if it.Kind == displist.Image {
		s.narrow(l.stencil(it, x, y))
	}
	l.lay(g, t, s)
}

// narrow leaves part of a sample.
func (s *Sample) narrow(part uint16) {
	s.Alpha, s.Shape = times(s.Alpha, part), times(s.Shape, part)
	if s.Flat {
		return
	}
	for c := range s.Premult {
		s.Premult[c] = times(s.Premult[c], part)
	}
	for c := range s.Hold {
		s.Hold[c] = times(s.Hold[c], part)
	}
}

// A levelTile is one tile on the grid.
type levelTile struct {
	*Levels
	x0, y0, x1, y1 int // pixels it is cut off at
	// box is the cell's box as a clip, where it does not stand upright: the tile is a group clipped by it.
	box *displist.Clip
}

func (tile *levelTile) paint(t *displist.Tiling, ctx separate.Context, x, y int, g *spot) {
	if x < tile.x0 || x >= tile.x1 || y < tile.y0 || y >= tile.y1 {
		return
	}
	if tile.box == nil {
		tile.members(t.Items, 0, len(t.Items), ctx, x, y, g)
		return
	}
	cover := tile.clip(tile.box, nil).cover[y*tile.W+x]
	if cover == 0 {
		return
	}
	in := &spot{p: make([]uint16, len(g.p)), space: ctx.Space, hasBackdrop: true}
	in.ba, in.b = tile.backdrop(g)
	tile.members(t.Items, 0, len(t.Items), ctx, x, y, in)
	tile.lay(g, touch{cover: cover, alpha: top}, Sample{Premult: in.p, Alpha: in.a, Shape: in.shape})
}

// tiles are those of an item's tiling that reach the grid, in paint order.
func (l *Levels) tiles(it *displist.Item) []levelTile {
	if known, ok := l.tilesOf[it]; ok {
		return known
	}
	t := it.Paint.Tiling
	m := t.M.Mul(l.Device)
	var out []levelTile
	add := func(to geom.Matrix, tile levelTile) {
		tile.Levels = l.in(Place{W: l.W, H: l.H, Device: to, Finer: l.Finer})
		out = append(out, tile)
	}
	b := t.BBox
	switch {
	case m.B == 0 && m.C == 0:
		for _, v := range stands(m.D, m.F, b.Y0, b.Y1, t.YStep, l.H) {
			for _, u := range stands(m.A, m.E, b.X0, b.X1, t.XStep, l.W) {
				add(geom.Matrix{A: u.scale, D: v.scale, E: u.origin, F: v.origin}, levelTile{x0: u.lo, x1: u.hi, y0: v.lo, y1: v.hi})
			}
		}
	case m.A == 0 && m.D == 0:
		for _, v := range stands(m.C, m.E, b.Y0, b.Y1, t.YStep, l.W) {
			for _, u := range stands(m.B, m.F, b.X0, b.X1, t.XStep, l.H) {
				add(geom.Matrix{B: u.scale, C: v.scale, E: v.origin, F: u.origin}, levelTile{x0: v.lo, x1: v.hi, y0: u.lo, y1: u.hi})
			}
		}
	default:
		path := &geom.Path{}
		path.Rect(b)
		box := &displist.Clip{Shape: displist.Shape{Path: path}, Bounds: b}
		inv, _ := m.Invert()
		seen := inv.Bounds(geom.Rect{X0: -2, Y0: -2, X1: float64(l.W + 2), Y1: float64(l.H + 2)})
		for j := math.Floor((seen.Y0 - b.Y1) / t.YStep); float64(j*t.YStep)+b.Y0 <= seen.Y1; j++ {
			for i := math.Floor((seen.X0 - b.X1) / t.XStep); float64(i*t.XStep)+b.X0 <= seen.X1; i++ {
				to := geom.Translate(float64(i*t.XStep), float64(j*t.YStep)).Mul(m)
				if d := to.Bounds(b); d.X0 < float64(l.W+1) && d.X1 > -1 && d.Y0 < float64(l.H+1) && d.Y1 > -1 {
					add(to, levelTile{x1: l.W, y1: l.H, box: box})
				}
			}
		}
	}
	l.tilesOf[it] = out
	return out
}

// A stand is where an upright tile stands along one axis: v of pattern space at origin + scale*v, its box in the pixels lo to hi.
type stand struct {
	scale, origin float64
	lo, hi        int
}

// stands rounds a lattice to whole pixels: tile k has the pixels from its line to that of tile k+1, and is stretched to
// fit; tiles that overlap keep their size. Where steps are below a pixel, each pixel has a tile.
func stands(scale, at, b0, b1, step float64, pixels int) (out []stand) {
	place := func(lo, hi int) {
		s := float64(hi-lo) / step
		if b1-b0 > 1.5*step {
			s = scale
		}
		st := stand{scale: s, origin: float64(lo) - float64(s*b0)}
		far := lo + nearest(float64(s*(b1-b0)))
		st.lo, st.hi = min(lo, far), max(lo, far)
		st.hi = max(st.hi, st.lo+1)
		if st.hi > 0 && st.lo < pixels {
			out = append(out, st)
		}
	}
	reach := math.Abs(float64(scale*(b1-b0))) + 2
	if math.Abs(float64(scale*step)) < 1 {
		for x := -int(reach) - 1; x <= pixels+int(reach)+1; x++ {
			if scale < 0 {
				place(x+1, x)
			} else {
				place(x, x+1)
			}
		}
		return out
	}
	line := func(k float64) int { return nearest(at + float64(scale*(b0+float64(k*step)))) }
	ka, kb := (-reach-at)/scale, (float64(pixels)+reach-at)/scale // pattern space
	first, last := math.Floor((min(ka, kb)-b0)/step)-1, math.Ceil((max(ka, kb)-b0)/step)+1
	for k := first; k <= last; k++ {
		if lo, hi := line(k), line(k+1); lo != hi {
			place(lo, hi)
		}
	}
	return out
}

func nearest(v float64) int { return int(math.Floor(v + 0.5)) }

// A levelCell is one step of a tiling in both directions; entry (i,j) is the mean of what a pixel covers whose corner is there. It
// wraps round.
type levelCell struct {
	w, h         int // entries along a step
	fx, fy       int // across a pixel
	p, hold      [][]uint16
	alpha, shape []uint16
	whole, keeps bool

	inv    geom.Matrix // pixels to pattern space
	tiling *displist.Tiling
}

// at is the entry the centre of a pixel falls on.
func (c *levelCell) at(x, y int) int {
	p := c.inv.Apply(geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
	along := func(v, step float64, n, f int) int {
		part := v/step - (float64(f)/2-0.5)/float64(n)
		return min(int((part-math.Floor(part))*float64(n)), n-1)
	}
	t := c.tiling
	return along(p.Y-t.BBox.Y0, t.YStep, c.h, c.fy)*c.w + along(p.X-t.BBox.X0, t.XStep, c.w, c.fx)
}

// side is how many entries lie along a step of so many pixels, and across a pixel: fine of them, and never less than 16
// along a step, all of whose mean a pixel is that covers very many.
func side(pixels float64, fine int) (n, across int) {
	const least = 16
	if !(pixels > 1e-6) {
		return least, least
	}
	f := max(float64(fine), math.Ceil(least/pixels))
	n, across = max(1, nearest(float64(pixels*f))), int(f)
	if across >= 16*n {
		across = n
	}
	return n, across
}

// cell is the raster of an item's tiling with n components; nil where it would be too large.
func (l *Levels) cell(it *displist.Item, ctx separate.Context, n int, held bool) *levelCell {
	type size struct{ w, h, fx, fy int }
	key := cellKey{it.Paint.Tiling, ctx, n}
	if c, ok := l.cells[key]; ok {
		return c
	}
	t := it.Paint.Tiling
	inv, _ := t.M.Mul(l.Device).Invert()
	finer := max(1, l.Finer)
	fine := 4
	if finer >= 4 {
		fine = 1
	}
	var s size
	for ; ; fine /= 2 {
		s.w, s.fx = side(t.XStep/math.Sqrt(float64(inv.A*inv.A)+float64(inv.C*inv.C)), fine)
		s.h, s.fy = side(t.YStep/math.Sqrt(float64(inv.B*inv.B)+float64(inv.D*inv.D)), fine)
		planes := n + 2
		if held {
			planes += n
		}
		if s.w <= limits.MaxTilingEntries && s.h <= limits.MaxTilingEntries && s.w*s.h*planes <= limits.MaxTilingEntries {
			break
		}
		if fine <= 2 {
			l.cells[key] = nil
			return nil
		}
	}
	c := &levelCell{w: s.w, h: s.h, fx: s.fx, fy: s.fy, inv: inv, tiling: t}
	l.cells[key] = c
	bare := l.cellPixels(c, ctx, n, false, finer)
	c.alpha = c.means(func(i int) uint16 { return bare[i].a })
	c.shape = c.means(func(i int) uint16 { return bare[i].shape })
	c.p = c.planes(n, func(k, i int) uint16 { return bare[i].p[k] })
	c.whole = true
	for _, v := range c.alpha {
		c.whole = c.whole && v == top
	}
	if held { // over solid toner: what is more there is kept of what lies below
		solid := l.cellPixels(c, ctx, n, true, finer)
		kept := func(k, i int) uint16 { return solid[i].p[k] - min(bare[i].p[k], solid[i].p[k]) }
		for i := range solid {
			for k := range n {
				c.keeps = c.keeps || kept(k, i) != 0
			}
		}
		c.hold = c.planes(n, kept)
	}
	return c
}

// cellPixels paints all tiles that reach one step.
func (l *Levels) cellPixels(c *levelCell, ctx separate.Context, n int, solid bool, finer float64) []spot {
	t := c.tiling
	sx, sy := float64(c.w)/t.XStep, float64(c.h)/t.YStep
	bw, bh := max(1, nearest(float64(t.BBox.W()*sx))), max(1, nearest(float64(t.BBox.H()*sy)))
	out := make([]spot, c.w*c.h)
	for i := range out {
		out[i] = spot{p: make([]uint16, n), space: ctx.Space, isolated: !solid}
		if solid {
			out[i].hasBackdrop, out[i].ba, out[i].b = true, top, make([]uint16, n)
			for k := range n {
				out[i].b[k] = top
			}
		}
	}
	for j := -(bh / c.h) - 1; j <= 0; j++ {
		for i := -(bw / c.w) - 1; i <= 0; i++ {
			x1, y1 := min(c.w, i*c.w+bw), min(c.h, j*c.h+bh)
			if x1 <= 0 || y1 <= 0 {
				continue
			}
			tile := l.in(Place{W: c.w, H: c.h, Finer: finer * math.Sqrt(float64(c.fx)*float64(c.fy)),
				Device: geom.Matrix{A: sx, D: sy, E: float64(i*c.w) - float64(t.BBox.X0*sx), F: float64(j*c.h) - float64(t.BBox.Y0*sy)}})
			for y := max(0, j*c.h); y < y1; y++ {
				for x := max(0, i*c.w); x < x1; x++ {
					tile.members(t.Items, 0, len(t.Items), ctx, x, y, &out[y*c.w+x])
				}
			}
		}
	}
	return out
}

// means is, for every entry, the mean along x, rounded to 24 bits, and of these along y, to 16.
func (c *levelCell) means(value func(i int) uint16) []uint16 {
	out := make([]uint16, c.w*c.h)
	for y := range c.h {
		for x := range c.w {
			total := uint64(0)
			for j := range c.fy {
				row := uint64(0)
				for i := range c.fx {
					row += uint64(value((y+j)%c.h*c.w + (x+i)%c.w))
				}
				total += (row<<8 + uint64(c.fx)/2) / uint64(c.fx)
			}
			out[y*c.w+x] = uint16((total + uint64(c.fy)<<7) / (uint64(c.fy) << 8))
		}
	}
	return out
}

// planes is the means of n components, by entry.
func (c *levelCell) planes(n int, value func(k, i int) uint16) [][]uint16 {
	out := make([][]uint16, c.w*c.h)
	for i := range out {
		out[i] = make([]uint16, n)
	}
	for k := range n {
		for i, v := range c.means(func(i int) uint16 { return value(k, i) }) {
			out[i][k] = v
		}
	}
	return out
}

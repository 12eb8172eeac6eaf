package sheet

import "slices"

// The search. Pieces that lie side by side keep a gutter, so that each takes its size and one gutter, and the area has one
// gutter more: cells of the size w x h in an area, which touch. Straight cuts through the whole area, then through its
// parts, are what a cutter can make; the best such arrangement is found exactly by taking an area apart at every place an
// edge of whole cells can lie (integer combinations of w and h), since any arrangement can be pushed to such places.

// cell sizes and areas are in micrometres.
type cells struct {
	w, h          int // of an upright cell
	upright, turn bool
}

// block is a grid of cells of one way.
type block struct {
	x, y       int
	cols, rows int
	turned     bool
}

func (b block) count() int { return b.cols * b.rows }

func (c cells) size(turned bool) (w, h int) {
	if turned {
		return c.h, c.w
	}
	return c.w, c.h
}

// grid is the best single grid in an area.
func (c cells) grid(w, h int) (best block) {
	for _, turned := range []bool{false, true} {
		if turned && !c.turn || !turned && !c.upright {
			continue
		}
		if b := c.gridOf(w, h, turned); b.count() > best.count() {
			best = b
		}
	}
	return best
}

func (c cells) gridOf(w, h int, turned bool) block {
	cw, ch := c.size(turned)
	if w < cw || h < ch {
		return block{}
	}
	return block{cols: w / cw, rows: h / ch, turned: turned}
}

// edges lists where edges of cells can lie between 0 and most, ascending; nil when they are too many to search.
func (c cells) edges(most int) []int {
	const many = 400 // a search of half a second
	var out []int
	for a := 0; a <= most; a += c.w {
		for b := a; b <= most; b += c.h {
			out = append(out, b)
			if len(out) > 4*many {
				return nil
			}
		}
	}
	slices.Sort(out)
	if out = slices.Compact(out); len(out) > many {
		return nil
	}
	return out
}

// floor is the last edge not beyond v.
func floor(edges []int, v int) int {
	i, found := slices.BinarySearch(edges, v)
	if found {
		return i
	}
	return i - 1
}

// cut is how an area is taken apart: at an edge across or down, or not at all.
type cut struct {
	count, blocks int32
	at            int32 // index of the edge
	down          bool  // a line down the area; else across it
	whole         bool
	known         bool
}

// parts is the search for the best arrangement by straight cuts.
type parts struct {
	c      cells
	xs, ys []int
	memo   []cut
}

// cuts finds the arrangement by straight cuts with most cells in an area, of those the one with fewest blocks the search
// meets. ok is false when there are too many places to cut.
func (c cells) cuts(w, h int) (out []block, ok bool) {
	xs, ys := c.edges(w), c.edges(h)
	if xs == nil || ys == nil {
		return nil, false
	}
	p := &parts{c: c, xs: xs, ys: ys, memo: make([]cut, len(xs)*len(ys))}
	i, j := len(xs)-1, len(ys)-1
	p.solve(i, j)
	return p.collect(nil, i, j, 0, 0), true
}

func (p *parts) solve(i, j int) *cut {
	m := &p.memo[i*len(p.ys)+j]
	if m.known {
		return m
	}
	w, h := p.xs[i], p.ys[j]
	best := cut{known: true, whole: true}
	if g := p.c.grid(w, h); g.count() > 0 {
		best.count, best.blocks = int32(g.count()), 1
	}
	most := int32(int64(w) * int64(h) / (int64(p.c.w) * int64(p.c.h)))
	better := func(a, b *cut, at int, down bool) {
		count, blocks := a.count+b.count, a.blocks+b.blocks
		if count > best.count || count == best.count && blocks < best.blocks {
			best = cut{count: count, blocks: blocks, at: int32(at), down: down, known: true}
		}
	}
	for k := 1; k < i && best.count < most && 2*p.xs[k] <= w; k++ {
		better(p.solve(k, j), p.solve(floor(p.xs, w-p.xs[k]), j), k, true)
	}
	for k := 1; k < j && best.count < most && 2*p.ys[k] <= h; k++ {
		better(p.solve(i, k), p.solve(i, floor(p.ys, h-p.ys[k])), k, false)
	}
	*m = best
	return m
}

func (p *parts) collect(out []block, i, j, x, y int) []block {
	m := p.memo[i*len(p.ys)+j]
	switch {
	case m.count == 0:
		return out
	case m.whole:
		g := p.c.grid(p.xs[i], p.ys[j])
		g.x, g.y = x, y
		return append(out, g)
	case m.down:
		k := int(m.at)
		return p.collect(p.collect(out, k, j, x, y), floor(p.xs, p.xs[i]-p.xs[k]), j, x+p.xs[k], y)
	}
	k := int(m.at)
	return p.collect(p.collect(out, i, k, x, y), i, floor(p.ys, p.ys[j]-p.ys[k]), x, y+p.ys[k])
}

// twoBlocks is the best arrangement of two grids divided by one line; nil when none beats a grid.
func (c cells) twoBlocks(w, h int) (out []block) {
	most := c.grid(w, h).count()
	try := func(a, b block, x, y int) {
		if n := a.count() + b.count(); a.count() > 0 && b.count() > 0 && n > most {
			most = n
			b.x, b.y = x, y
			out = []block{a, b}
		}
	}
	for _, turned := range []bool{false, true} {
		cw, ch := c.size(turned)
		for x := cw; x < w; x += cw {
			try(c.gridOf(x, h, turned), c.gridOf(w-x, h, !turned), x, 0)
		}
		for y := ch; y < h; y += ch {
			try(c.gridOf(w, y, turned), c.gridOf(w, h-y, !turned), 0, y)
		}
	}
	return out
}

func countOf(list []block) (n int) {
	for _, b := range list {
		n += b.count()
	}
	return n
}

// extent is how far the cells of blocks reach.
func (c cells) extent(list []block) (w, h int) {
	for _, b := range list {
		cw, ch := c.size(b.turned)
		w, h = max(w, b.x+b.cols*cw), max(h, b.y+b.rows*ch)
	}
	return w, h
}

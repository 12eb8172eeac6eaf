package distance

import "math"

// The distance transform is that of P. Felzenszwalb and D. Huttenlocher, "Distance Transforms of Sampled Functions",
// Theory of Computing 8 (2012): distances along one axis first, then the lower envelope of parabolas along the other. Points of
// the outline on upright lines between pixel centres have whole x and go through columns first; those on level lines
// have whole y and go through rows first. Each half is exact, time is proportional to the pixels.

// none stands for no point in reach.
const none = math.MaxInt32

// tile is a rectangle of targets with the window of pixels that may matter to them, and scratch memory.
type tile struct {
	p     Plane
	level uint8
	tone  bool
	reach float64 // pixels

	tx0, ty0, tx1, ty1 int // targets, in pixels of the plane
	x0, y0, w, h       int // the window
	empty              bool

	vs, hs []uint8 // the crossing between a pixel and the one below, and the one to the right; 0 none
	gv, gh []int32 // to the nearest crossing in the column, and in the row; 1/256 pixel, signed
	kv, kh []int32 // the column, and the row, through which the nearest crossing is reached; -1 none

	at, from  []int32
	col, kcol []int32
	poly      [2][]point
	found     []foot
}

// set moves the tile.
func (t *tile) set(x0, y0, x1, y1 int) {
	t.tx0, t.ty0, t.tx1, t.ty1 = x0, y0, x1, y1
}

func grow[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// find computes the nearest crossings of all targets and of extra pixels around them.
func (t *tile) find(extra int) {
	reach := min(math.Ceil(t.reach)+2, 1<<22)
	m := int(reach) + extra + 2
	t.x0, t.y0 = max(t.tx0-m, 0), max(t.ty0-m, 0)
	t.w, t.h = min(t.tx1+m, t.p.W)-t.x0, min(t.ty1+m, t.p.H)-t.y0
	n := t.w * t.h
	t.vs, t.hs = grow(t.vs, n), grow(t.hs, n)
	if t.empty = !t.crossings(); t.empty {
		return
	}
	t.gv, t.gh, t.kv, t.kh = grow(t.gv, n), grow(t.gh, n), grow(t.kv, n), grow(t.kh, n)
	long := max(t.w, t.h)
	t.at, t.from = grow(t.at, long), grow(t.from, long)
	limit := int32(min(reach*256, none-1))
	x0, x1 := max(t.tx0-extra-t.x0, 0), min(t.tx1+extra-t.x0, t.w)
	y0, y1 := max(t.ty0-extra-t.y0, 0), min(t.ty1+extra-t.y0, t.h)
	t.columns(limit)
	for y := y0; y < y1; y++ {
		envelope(t.gv[y*t.w:(y+1)*t.w], t.at, t.from, t.kv[y*t.w:(y+1)*t.w], x0, x1)
	}
	t.rows(limit)
	t.acrossRows(x0, x1, y0, y1)
}

// crossings fills vs and hs and reports whether there is any.
func (t *tile) crossings() bool {
	any := false
	level := t.level
	for y := range t.h {
		row := t.p.Pix[(t.y0+y)*t.p.W+t.x0:][:t.w]
		hs, vs := t.hs[y*t.w:(y+1)*t.w], t.vs[y*t.w:(y+1)*t.w]
		clear(hs)
		clear(vs)
		in := row[0] >= level
		for x := 1; x < len(row); x++ {
			if (row[x] >= level) != in {
				in = !in
				any = true
				hs[x-1] = t.crossing(t.x0+x-1, t.y0+y, false)
			}
		}
		if y+1 == t.h {
			break
		}
		below := t.p.Pix[(t.y0+y+1)*t.p.W+t.x0:][:t.w]
		for x, v := range row {
			if (v >= level) != (below[x] >= level) {
				any = true
				vs[x] = t.crossing(t.x0+x, t.y0+y, true)
			}
		}
	}
	return any
}

// columns fills gv: the way to the nearest crossing above or below, the upper one when both are as near.
func (t *tile) columns(limit int32) {
	w := t.w
	for x := range w {
		t.gv[x] = none
	}
	for y := 1; y < t.h; y++ {
		g, above, cross := t.gv[y*w:(y+1)*w], t.gv[(y-1)*w:y*w], t.vs[(y-1)*w:y*w]
		for x, c := range cross {
			switch {
			case c != 0:
				g[x] = int32(c) - 256
			case above[x] == none || above[x]-256 < -limit:
				g[x] = none
			default:
				g[x] = above[x] - 256
			}
		}
	}
	next := grow(t.col, w)
	t.col = next
	for x := range next {
		next[x] = none
	}
	for y := t.h - 1; y >= 0; y-- {
		g, cross := t.gv[y*w:(y+1)*w], t.vs[y*w:(y+1)*w]
		for x, c := range cross {
			n := next[x]
			switch {
			case c != 0:
				n = int32(c)
			case n >= limit:
				n = none
			default:
				n += 256
			}
			next[x] = n
			if n != none && (g[x] == none || n < -g[x]) {
				g[x] = n
			}
		}
	}
}

// rows fills gh alike.
func (t *tile) rows(limit int32) {
	for y := range t.h {
		g, cross := t.gh[y*t.w:(y+1)*t.w], t.hs[y*t.w:(y+1)*t.w]
		last := int32(none)
		for x := range g {
			g[x] = last
			switch {
			case cross[x] != 0:
				last = int32(cross[x]) - 256
			case last == none || last-256 < -limit:
				last = none
			default:
				last -= 256
			}
		}
		n := int32(none)
		for x := len(g) - 1; x >= 0; x-- {
			switch {
			case cross[x] != 0:
				n = int32(cross[x])
			case n >= limit:
				n = none
			default:
				n += 256
			}
			if n != none && (g[x] == none || n < -g[x]) {
				g[x] = n
			}
		}
	}
}

// acrossRows fills kh from gh, a few columns at a time so that memory is read in order.
func (t *tile) acrossRows(x0, x1, y0, y1 int) {
	const block = 16
	t.col, t.kcol = grow(t.col, block*t.h), grow(t.kcol, block*t.h)
	for x := x0; x < x1; x += block {
		n := min(block, x1-x)
		for y := range t.h {
			for i, g := range t.gh[y*t.w+x:][:n] {
				t.col[i*t.h+y] = g
			}
		}
		for i := range n {
			envelope(t.col[i*t.h:(i+1)*t.h], t.at, t.from, t.kcol[i*t.h:(i+1)*t.h], y0, y1)
		}
		for y := y0; y < y1; y++ {
			dst := t.kh[y*t.w+x:][:n]
			for i := range dst {
				dst[i] = t.kcol[i*t.h+y]
			}
		}
	}
}

// envelope sets best[x], for x0 <= x < x1, to the i of least (256(x-i))^2 + g[i]^2, the lowest of equals, or to -1.
func envelope(g, at, from, best []int32, x0, x1 int) {
	n := 0
	for x, v := range g {
		if v == none {
			continue
		}
		start := int32(0)
		for n > 0 {
			i := at[n-1]
			start = meet(int64(i), int64(g[i]), int64(x), int64(v))
			if start > from[n-1] {
				break
			}
			n--
			start = 0
		}
		if int(start) < x1 {
			at[n], from[n] = int32(x), start
			n++
		}
	}
	if n == 0 {
		for x := x0; x < x1; x++ {
			best[x] = -1
		}
		return
	}
	k := 0
	for x := x0; x < x1; x++ {
		for k+1 < n && int(from[k+1]) <= x {
			k++
		}
		best[x] = at[k]
	}
}

// meet returns the least x >= 0 where the parabola at j is below that at i < j.
func meet(i, a, j, b int64) int32 {
	num := 65536*(j-i)*(j+i) + (b-a)*(b+a)
	if num < 0 {
		return 0
	}
	return int32(min(num/(131072*(j-i)), none-1)) + 1
}

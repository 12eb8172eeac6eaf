package paint

import (
	"math"
	"slices"

	"laydown/internal/geom"
	"laydown/internal/plates/raster"
)

// A resampler gives every pixel of a box the mean of the samples under it. Rows are asked for from
// top to bottom. It serves one goroutine.
type resampler struct {
	g     *grid
	box   raster.IntRect
	fetch fetcher
	out   [][]uint16 // of the row asked for last
	out8  [][]uint8

	// Axis-parallel grids, with x and y of the samples swapped first when the grid is turned by 90
	// degrees.
	straight bool
	xs       weights // samples under each column
	sx0, sx1 int
	yAt      func(y int) (lo, hi float64)
	down     bool       // sample rows go up as device rows go down
	raw      [][]uint8  // of the sample row rawAt, from sx0 on
	dst      [][]uint8  // parts of raw, to be fetched
	single   bool       // every column lies on one sample
	pairs    []pair     // of the columns; none when some lie on more than two samples
	wide     [][]uint32 // the sample row wideAt reduced to columns, 24 bits
	rawAt    made
	wideAt   made
	out8At   made // of out8, by sample row; none when it was made of several
	share    []uint32
	sum      []uint64

	turned *turned
	skew   *skew
}

// made is the part of a row that has been made: its number and the entries from <= i < to.
type made struct{ row, from, to int }

var unmade = made{row: -1}

// has reports whether a part needs not be made; otherwise it is widened to what must be.
func (m *made) has(row int, from, to *int) bool {
	if m.row == row {
		if m.from <= *from && *to <= m.to {
			return true
		}
		*from, *to = min(*from, m.from), max(*to, m.to)
	}
	*m = made{row, *from, *to}
	return false
}

// weights are, for each pixel, the samples under it and their shares of 65536.
type weights struct {
	first []int32 // first sample of pixel i
	start []int32 // its shares are share[start[i]:start[i+1]]
	share []uint32
}

// newResampler prepares the grid for the pixels of box.
func newResampler(g *grid, box raster.IntRect, smooth bool) *resampler {
	r := &resampler{g: g, box: box, wideAt: unmade, rawAt: unmade, out8At: unmade, out: make([][]uint16, g.planes)}
	for i := range r.out {
		r.out[i] = make([]uint16, box.X1-box.X0)
	}
	r.fetch = g.open()
	inv, ok := g.m.Invert()
	if !ok {
		inv = geom.Matrix{} // no area: the pixels it touches get its first sample
	}
	magnified := math.Hypot(inv.A, inv.B) < 1 && math.Hypot(inv.C, inv.D) < 1
	switch {
	case smooth && magnified && ok:
		r.skew = &skew{inv: inv, smooth: true}
	case inv.B == 0 && inv.C == 0:
		r.straighten(g.w, g.h, inv.A, inv.E, inv.D, inv.F)
	case inv.A == 0 && inv.D == 0:
		r.turned = newTurned(r)
		r.straighten(g.h, g.w, inv.B, inv.F, inv.C, inv.E)
		r.turned.rows(r)
	default:
		r.skew = newSkew(inv)
	}
	return r
}

// straighten sets up an axis-parallel grid of w x h samples where sample x = ax*X + bx and y = ay*Y + by.
func (r *resampler) straighten(w, h int, ax, bx, ay, by float64) {
	r.straight = true
	r.xs = weightsOf(r.box.X0, r.box.X1, ax, bx, w)
	r.sx0, r.sx1 = w, 0
	for i := range r.xs.first {
		n := int(r.xs.start[i+1] - r.xs.start[i])
		r.sx0 = min(r.sx0, int(r.xs.first[i]))
		r.sx1 = max(r.sx1, int(r.xs.first[i])+n)
	}
	r.single = len(r.xs.share) == len(r.xs.first)
	r.down = ay < 0
	r.yAt = func(y int) (lo, hi float64) { return interval(y, ay, by, h) }
	n := r.g.planes
	r.raw, r.dst, r.wide = make([][]uint8, n), make([][]uint8, n), make([][]uint32, n)
	for p := range n {
		r.raw[p] = make([]uint8, r.sx1-r.sx0)
		r.wide[p] = make([]uint32, r.box.X1-r.box.X0)
	}
	r.sum = make([]uint64, n*(r.box.X1-r.box.X0))
	r.pairUp()
}

// A pair is two samples side by side in raw and their shares.
type pair struct {
	at   int32
	a, b uint32
}

// pairUp sets pairs.
func (r *resampler) pairUp() {
	width := r.sx1 - r.sx0
	if r.single || width < 2 || len(r.xs.share) > 2*len(r.xs.first) {
		return
	}
	pairs := make([]pair, 0, len(r.xs.first))
	for i, first := range r.xs.first {
		share := r.xs.share[r.xs.start[i]:r.xs.start[i+1]]
		q := pair{at: first - int32(r.sx0), a: share[0]}
		switch {
		case len(share) > 2:
			return
		case len(share) == 2:
			q.b = share[1]
		case int(q.at) == width-1:
			q = pair{at: q.at - 1, b: share[0]}
		}
		pairs = append(pairs, q)
	}
	r.pairs = pairs
}

// interval is the samples under pixel i, clipped to 0..n, never empty.
func interval(i int, a, b float64, n int) (lo, hi float64) {
	lo = float64(float64(i)*a) + b
	hi = float64(float64(i+1)*a) + b
	if lo > hi {
		lo, hi = hi, lo
	}
	// Corners that ought to lie between two samples do so in spite of roundings.
	lo, hi = tidy(lo), tidy(hi)
	lo, hi = max(0, min(lo, float64(n))), max(0, min(hi, float64(n)))
	if hi-lo < 1e-9 {
		s := math.Floor(min((lo+hi)/2, float64(n)-0.5))
		return s, s + 1
	}
	return lo, hi
}

func tidy(v float64) float64 {
	if r := math.Round(v); math.Abs(v-r) < 1e-5 {
		return r
	}
	return v
}

// shares appends the shares of samples in an interval; they add up to 65536.
func shares(dst []uint32, lo, hi float64) (first int, out []uint32) {
	first = int(math.Floor(lo))
	last := int(math.Ceil(hi)) // half-open
	done := uint32(0)
	for s := first; s < last; s++ {
		end := min(float64(s+1), hi)
		upTo := uint32(float64((end-lo)/(hi-lo)*65536) + 0.5)
		if s == last-1 {
			upTo = 65536
		}
		dst = append(dst, upTo-done)
		done = upTo
	}
	return first, dst
}

func weightsOf(x0, x1 int, a, b float64, n int) (w weights) {
	w.start = append(w.start, 0)
	for x := x0; x < x1; x++ {
		lo, hi := interval(x, a, b, n)
		first, share := shares(w.share, lo, hi)
		w.share = share
		w.first = append(w.first, int32(first))
		w.start = append(w.start, int32(len(share)))
	}
	return w
}

// row returns the planes of the pixels of the box in row y. The slices may be changed and are valid until the
// next call.
func (r *resampler) row(y int) [][]uint16 { return r.part(y, r.box.X0, r.box.X1) }

// part is row for pixels x0 <= x < x1 alone; what the slices hold elsewhere means nothing.
func (r *resampler) part(y, x0, x1 int) [][]uint16 {
	if r.skew != nil {
		r.skew.row(r, y, x0, x1)
		return r.out
	}
	from, to := x0-r.box.X0, x1-r.box.X0
	lo, hi := r.yAt(y)
	if oneRow(lo, hi) {
		r.reduce(int(lo), from, to)
		for p, wide := range r.wide {
			out := r.out[p][from:to]
			for i, v := range wide[from:to] {
				out[i] = uint16((v + 128) >> 8)
			}
		}
		return r.out
	}
	first, share := shares(r.share[:0], lo, hi)
	r.share = share
	if r.down {
		slices.Reverse(share)
		first += len(share) - 1
	}
	for n := len(share); n > 1 && share[n-1] == 0; n-- {
		share = share[:n-1]
	}
	n := r.box.X1 - r.box.X0
	for k, weight := range share {
		if weight == 0 && k > 0 {
			continue
		}
		if r.down {
			r.reduce(first-k, from, to)
		} else {
			r.reduce(first+k, from, to)
		}
		for p, wide := range r.wide {
			sum := r.sum[p*n+from : p*n+to]
			wide, out := wide[from:to][:len(sum)], r.out[p][from:to][:len(sum)]
			switch weight := uint64(weight); {
			case k == 0 && len(share) == 1:
				for i, v := range wide {
					out[i] = uint16((uint64(v)*weight + 1<<23) >> 24)
				}
			case k == 0:
				for i, v := range wide {
					sum[i] = uint64(v) * weight
				}
			case k < len(share)-1:
				for i, v := range wide {
					sum[i] += uint64(v) * weight
				}
			default:
				for i, v := range wide {
					out[i] = uint16((sum[i] + uint64(v)*weight + 1<<23) >> 24)
				}
			}
		}
	}
	return r.out
}

// part8 is part with 8 bits. The slices must not be changed.
func (r *resampler) part8(y, x0, x1 int) [][]uint8 {
	if r.out8 == nil {
		r.out8 = make([][]uint8, r.g.planes)
		for p := range r.out8 {
			r.out8[p] = make([]uint8, r.box.X1-r.box.X0)
		}
	}
	from, to := x0-r.box.X0, x1-r.box.X0
	if r.single && !r.g.alpha {
		if lo, hi := r.yAt(y); oneRow(lo, hi) {
			s := int(lo)
			if r.out8At.has(s, &from, &to) {
				return r.out8
			}
			r.read(s, from, to)
			for p, out := range r.out8 {
				raw, out := r.raw[p], out[from:to]
				for i, at := range r.xs.first[from:to] {
					out[i] = raw[int(at)-r.sx0]
				}
			}
			return r.out8
		}
	}
	r.out8At = unmade
	for p, row := range r.part(y, x0, x1) {
		out := r.out8[p][from:to]
		for i, v := range row[from:to] {
			out[i] = to8(v)
		}
	}
	return r.out8
}

// read fetches the samples of row s that lie under columns from <= i < to.
func (r *resampler) read(s, from, to int) {
	if from >= to {
		return
	}
	end := func(i int) int { return int(r.xs.first[i]) + int(r.xs.start[i+1]-r.xs.start[i]) }
	s0, s1 := int(min(r.xs.first[from], r.xs.first[to-1])), max(end(from), end(to-1))
	if r.rawAt.has(s, &s0, &s1) {
		return
	}
	for p, raw := range r.raw {
		r.dst[p] = raw[s0-r.sx0 : s1-r.sx0]
	}
	r.fetch(s, s0, s1, r.dst)
}

// oneRow reports whether an interval lies on one sample.
func oneRow(lo, hi float64) bool { return hi-lo <= 1 && math.Floor(lo) == math.Ceil(hi)-1 }

// reduce fetches sample row s and reduces it to columns from <= i < to.
func (r *resampler) reduce(s, from, to int) {
	if r.wideAt.has(s, &from, &to) {
		return
	}
	r.read(s, from, to)
	last := len(r.wide) - 1
	first, start := r.xs.first, r.xs.start
	for p, wide := range r.wide {
		raw := r.raw[p]
		if r.g.alpha && p != last {
			r.reduceTimesAlpha(wide, raw, r.raw[last], from, to)
			continue
		}
		if len(r.pairs) > 0 {
			wide := wide[from:to]
			for i, q := range r.pairs[from:to] {
				two := raw[q.at : q.at+2 : q.at+2]
				sum := q.a*uint32(two[0]) + q.b*uint32(two[1]) // at most 65536*255
				wide[i] = (sum*257 + 128) >> 8
			}
			continue
		}
		for i := from; i < to; i++ {
			at, share := int(first[i])-r.sx0, r.xs.share[start[i]:start[i+1]]
			if len(share) == 1 {
				wide[i] = uint32(raw[at]) * (257 << 8)
				continue
			}
			sum := uint32(0)
			samples := raw[at : at+len(share)]
			for k, sh := range share {
				sum += sh * uint32(samples[k])
			}
			wide[i] = uint32((uint64(sum)*257 + 128) >> 8)
		}
	}
}

func (r *resampler) reduceTimesAlpha(wide []uint32, raw, alpha []uint8, from, to int) {
	for i := from; i < to; i++ {
		at := int(r.xs.first[i]) - r.sx0
		sum := uint64(0)
		for k, sh := range r.xs.share[r.xs.start[i]:r.xs.start[i+1]] {
			sum += uint64(sh) * uint64(raw[at+k]) * uint64(alpha[at+k])
		}
		wide[i] = uint32((sum*257 + 255*128) / (255 * 256))
	}
}

// turned is a grid whose sample rows run down the page: blocks of it are fetched and transposed.
type turned struct {
	fetch  fetcher // of the real grid
	block  [][]uint8
	c0, c1 int // columns of the real grid in block
	height int
}

// maxTurnedSamples bounds a block.
const maxTurnedSamples = 4 << 20

func newTurned(r *resampler) *turned { return &turned{fetch: r.fetch} }

// rows makes the resampler read rows of the transposed grid: columns of the real one.
func (t *turned) rows(r *resampler) {
	t.height = r.sx1 - r.sx0 // real rows sx0..sx1 are transposed columns
	columns := max(1, min(64, maxTurnedSamples/max(1, t.height*r.g.planes)))
	r.fetch = func(c, j0, j1 int, dst [][]uint8) {
		if c < t.c0 || c >= t.c1 {
			t.c0 = c
			if r.down {
				t.c0 = max(0, c-columns+1)
			}
			t.c1 = min(t.c0+columns, r.g.w)
			t.load(r)
		}
		for p := range dst {
			copy(dst[p], t.block[p][(c-t.c0)*t.height+j0-r.sx0:][:j1-j0])
		}
	}
}

func (t *turned) load(r *resampler) {
	n := t.c1 - t.c0
	if t.block == nil {
		t.block = make([][]uint8, r.g.planes)
	}
	row := make([][]uint8, r.g.planes)
	for p := range row {
		row[p] = make([]uint8, n)
		if cap(t.block[p]) < n*t.height {
			t.block[p] = make([]uint8, n*t.height)
		}
		t.block[p] = t.block[p][:n*t.height]
	}
	for j := range t.height {
		t.fetch(r.sx0+j, t.c0, t.c1, row)
		for p := range row {
			for i, v := range row[p] {
				t.block[p][i*t.height+j] = v
			}
		}
	}
}

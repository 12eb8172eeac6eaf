package jpx

import (
	"cmp"
	"slices"
)

// Samples are made in strips. All resolutions but the last, a quarter of the coefficients, are made
// whole; the last wavelet step, whose bands are the other three quarters, runs over a window of rows
// at a time, which needs a few rows above and below:
//
//	low  ─┐ rows 2n      window: margin ─ strip ─ margin
//	HL   ─┘              each row along x, then all down y;
//	LH   ─┐ rows 2n+1    the strip is right, the margins
//	HH   ─┘              are made again with the next strip

// stripRows is the height of a strip on the reference grid; margin is how far the 9-7 filter reaches.
var stripRows = 256

const margin = 4

// job is a code-block to decode, and where its coefficients go: ints or floats, rows of stride,
// moved up by rows.
type job struct {
	block  *block
	band   *band
	style  byte
	roi    int
	ints   []int32
	floats []float32
	stride int
	up     int
}

// source makes the samples of one component.
type source interface {
	lower() []job               // what the lower resolutions need
	lift(workers int)           // makes them
	window(from, to int) []job  // what rows from <= y < to need
	rows(from, to, workers int) // makes them: tc.ints or tc.floats from row tc.row on
}

// maker is the source of a component with coefficients of a type.
type maker[T int32 | float32] struct {
	tc      *tileComponent
	roi     int
	low     []T // the resolution below the last, or the last if there is one only
	stride  int
	bands   [3]bandRows[T] // of the last resolution
	out     []T
	tmp     [][]T
	row     func(dst, src []T, odd int)
	columns func(a []T, n, odd int)
	target  func(*job, []T) // sets the job's destination
	publish func([]T)       // sets tc's samples
}

// bandRows are rows from <= y < to of a band of the last resolution, and its blocks in order of y.
type bandRows[T int32 | float32] struct {
	band     *band
	w        int
	from, to int // in rows of the band from its first
	data     []T
	blocks   []*block
}

func newMaker(tc *tileComponent, roi int) source {
	if tc.coding.reversible {
		m := &maker[int32]{tc: tc, roi: roi, row: row53, columns: columns53}
		m.target = func(j *job, d []int32) { j.ints = d }
		m.publish = func(d []int32) { tc.ints = d }
		return m
	}
	m := &maker[float32]{tc: tc, roi: roi, row: row97, columns: columns97}
	m.target = func(j *job, d []float32) { j.floats = d }
	m.publish = func(d []float32) { tc.floats = d }
	return m
}

// blocksOf are the code-blocks of band o of resolution r that hold something.
func (tc *tileComponent) blocksOf(r, o int) (list []*block) {
	res := &tc.res[r]
	for k := range res.precincts {
		if res.precincts[k].bands == nil {
			continue
		}
		blocks := res.precincts[k].bands[o].blocks
		for i := range blocks {
			if blocks[i].passes > 0 {
				list = append(list, &blocks[i])
			}
		}
	}
	return list
}

func (m *maker[T]) lower() (jobs []job) {
	last := len(m.tc.res) - 1
	below := max(last-1, 0)
	res := &m.tc.res[below]
	m.stride = res.x1 - res.x0
	m.low = make([]T, m.stride*(res.y1-res.y0))
	for r := range below + 1 {
		for o := range m.tc.res[r].bands {
			for _, b := range m.tc.blocksOf(r, o) {
				j := job{block: b, band: &m.tc.res[r].bands[o], style: m.tc.coding.style, roi: m.roi, stride: m.stride}
				m.target(&j, m.low)
				jobs = append(jobs, j)
			}
		}
	}
	if last == 0 {
		return jobs
	}
	for i := range m.bands {
		b := &m.tc.res[last].bands[i]
		blocks := m.tc.blocksOf(last, i)
		slices.SortFunc(blocks, func(a, b *block) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x)) })
		m.bands[i] = bandRows[T]{band: b, w: b.x1 - b.x0, blocks: blocks}
	}
	return jobs
}

func (m *maker[T]) lift(workers int) {
	for r := 1; r < len(m.tc.res)-1; r++ {
		res := &m.tc.res[r]
		w, h := res.x1-res.x0, res.y1-res.y0
		if w <= 0 || h <= 0 {
			continue
		}
		m.along(workers, m.low, m.stride, w, h, res.x0&1)
		m.down(workers, m.low, m.stride, w, h, res.y0&1, true)
	}
}

// bandWindow is which rows of the low (odd = 0) or high (1) bands the rows from <= y < to of the last
// resolution need, counted from the first of the band.
func (m *maker[T]) bandWindow(from, to, odd int) (a, b int) {
	res := &m.tc.res[len(m.tc.res)-1]
	from, to = max(res.y0, from-margin), min(res.y1, to+margin)
	if odd == 1 {
		first := res.y0 >> 1
		return from>>1 - first, to>>1 - first
	}
	first := (res.y0 + 1) >> 1
	return (from+1)>>1 - first, (to+1)>>1 - first
}

func (m *maker[T]) window(from, to int) (jobs []job) {
	if len(m.tc.res) == 1 {
		return nil
	}
	for i := range m.bands {
		br := &m.bands[i]
		a, b := m.bandWindow(from, to, br.band.orient>>1)
		n := 0
		end := max(b, br.to)
		for n < len(br.blocks) && int(br.blocks[n].y) < b {
			end = max(end, int(br.blocks[n].y)+int(br.blocks[n].h))
			n++
		}
		// Rows above the window go, the others move up.
		keep := min(max(a-br.from, 0), br.to-br.from)
		have := copy(br.data, br.data[keep*br.w:(br.to-br.from)*br.w])
		br.from += keep
		if br.from == br.to {
			br.from = a
		}
		need := (end - br.from) * br.w
		if need > len(br.data) {
			grown := make([]T, need)
			copy(grown, br.data[:have])
			br.data = grown
		}
		clear(br.data[have:])
		br.to = end
		for _, block := range br.blocks[:n] {
			j := job{block: block, band: br.band, style: m.tc.coding.style, roi: m.roi, stride: br.w, up: br.from}
			m.target(&j, br.data)
			jobs = append(jobs, j)
		}
		br.blocks = br.blocks[n:]
	}
	return jobs
}

func (m *maker[T]) rows(from, to, workers int) {
	tc := m.tc
	last := len(tc.res) - 1
	res := &tc.res[last]
	w := res.x1 - res.x0
	tc.row = from
	if last == 0 {
		m.publish(m.low[(from-res.y0)*w : (to-res.y0)*w])
		return
	}
	a, b := max(res.y0, from-margin), min(res.y1, to+margin)
	if len(m.out) < (b-a)*w {
		m.out = make([]T, (b-a)*w)
	}
	// Rows are laid interleaved, each as its low half and its high half.
	parallel(b-a, workers, func(_, i int) {
		y := a + i
		line := m.out[i*w : (i+1)*w]
		if y&1 == 0 {
			n := y>>1 - (res.y0+1)>>1
			copy(line, m.low[n*m.stride:(n+1)*m.stride])
			m.bands[0].copyRow(line[m.stride:], n)
			return
		}
		n := y>>1 - res.y0>>1
		m.bands[1].copyRow(line[:m.bands[1].w], n)
		m.bands[2].copyRow(line[m.bands[1].w:], n)
	})
	m.along(workers, m.out, w, w, b-a, res.x0&1)
	m.down(workers, m.out, w, w, b-a, a&1, false)
	m.publish(m.out[(from-a)*w : (to-a)*w])
}

func (br *bandRows[T]) copyRow(dst []T, y int) {
	at := (y - br.from) * br.w
	copy(dst, br.data[at:at+br.w])
}

// along turns rows of low and high halves back (F.3.3).
func (m *maker[T]) along(workers int, buf []T, stride, w, h, odd int) {
	const rows = 16
	m.scratch(workers, w)
	parallel(ceilDiv(h, rows), workers, func(worker, i int) {
		tmp := m.tmp[worker][:w]
		for y := i * rows; y < min(h, (i+1)*rows); y++ {
			line := buf[y*stride : y*stride+w]
			m.row(tmp, line, odd)
			copy(line, tmp)
		}
	})
}

// down turns columns back (F.3.4); the rows of the low half come first unless they are interleaved
// already. odd is that of the first row.
func (m *maker[T]) down(workers int, buf []T, stride, w, h, odd int, apart bool) {
	m.scratch(workers, strip*h)
	low := (h + 1 - odd) / 2
	parallel(ceilDiv(w, strip), workers, func(worker, i int) {
		tmp := m.tmp[worker][:strip*h]
		x0 := i * strip
		n := min(strip, w-x0)
		for y := range h {
			to := y
			if apart {
				to = 2*y + odd
				if y >= low {
					to = 2*(y-low) + 1 - odd
				}
			}
			copy(tmp[to*strip:to*strip+n], buf[y*stride+x0:y*stride+x0+n])
		}
		m.columns(tmp, h, odd)
		for y := range h {
			copy(buf[y*stride+x0:y*stride+x0+n], tmp[y*strip:y*strip+n])
		}
	})
}

func (m *maker[T]) scratch(workers, n int) {
	if len(m.tmp) < workers {
		m.tmp = make([][]T, workers)
	}
	for i := range m.tmp {
		if len(m.tmp[i]) < n {
			m.tmp[i] = make([]T, n)
		}
	}
}

// samples decodes a tile strip by strip and hands each strip to write.
func (t *tile) samples(cs *codestream, need []bool, coders []coder, write func(y0, y1 int)) {
	mct := t.par.transform != 0 && t.alike()
	if t.par.transform != 0 && !mct {
		t.fault(damaged("its colour transform does not fit its components"))
	}
	makers := make([]source, len(t.comps))
	var jobs []job
	height := stripRows
	alone := false // one strip
	for i := range t.comps {
		tc := &t.comps[i]
		together := mct && i < 3
		if need[i] && height%cs.components[i].DY != 0 {
			alone = true // samples of a row must not lie in two strips
		}
		if !need[i] && !together || !tc.coded && !(together && (t.comps[0].coded || t.comps[1].coded || t.comps[2].coded)) {
			continue // not wanted, or all 0
		}
		if tc.x1 <= tc.x0 || tc.y1 <= tc.y0 {
			continue
		}
		makers[i] = newMaker(tc, t.par.shift[i])
		jobs = append(jobs, makers[i].lower()...)
	}
	t.decodeBlocks(jobs, coders)
	for _, m := range makers {
		if m != nil {
			m.lift(len(coders))
		}
	}
	for y0 := t.Y0; y0 < t.Y1; {
		y1 := t.Y1
		if !alone {
			y1 = min(y1, (y0/height+1)*height)
		}
		area := func(i int) (from, to int) {
			dy := cs.components[i].DY
			return ceilDiv(y0, dy), ceilDiv(y1, dy)
		}
		jobs = jobs[:0]
		for i, m := range makers {
			if m != nil {
				from, to := area(i)
				jobs = append(jobs, m.window(from, to)...)
			}
		}
		t.decodeBlocks(jobs, coders)
		for i, m := range makers {
			if m != nil {
				from, to := area(i)
				m.rows(from, to, len(coders))
			}
		}
		if mct && makers[0] != nil {
			from, to := area(0)
			t.untransform((to-from)*(t.comps[0].x1-t.comps[0].x0), len(coders))
		}
		write(y0, y1)
		y0 = y1
	}
}

func (t *tile) fault(err error) {
	if t.damage == nil {
		t.damage = err
	}
}

func (t *tile) decodeBlocks(jobs []job, coders []coder) {
	bad := make([]bool, len(coders))
	parallel(len(jobs), len(coders), func(worker, i int) {
		j := &jobs[i]
		if !coders[worker].decode(j.block, j.band, j.style) {
			bad[worker] = true
		}
		coders[worker].store(j)
	})
	if slices.Contains(bad, true) {
		t.fault(damaged("code-blocks make no sense"))
	}
}

// store writes the decoded code-block where it belongs: region of interest undone (H.1), dequantised (E.1).
func (c *coder) store(j *job) {
	if j.roi > 0 && j.roi < 31 {
		for i, v := range c.mags {
			if v >= 2<<j.roi {
				c.mags[i] = v >> j.roi
			}
		}
	}
	half := j.band.step * 0.5
	for y := range c.h {
		mags := c.mags[y*c.w : (y+1)*c.w]
		flags := c.flags[(y+1)*c.stride+1:][:c.w]
		at := (int(j.block.y)+y-j.up)*j.stride + int(j.block.x)
		if j.ints != nil {
			out := j.ints[at : at+c.w]
			for x, m := range mags {
				if v := int32(m >> 1); flags[x]&negative != 0 {
					out[x] = -v
				} else {
					out[x] = v
				}
			}
			continue
		}
		out := j.floats[at : at+c.w]
		for x, m := range mags {
			if v := float32(m) * half; flags[x]&negative != 0 {
				out[x] = -v
			} else {
				out[x] = v
			}
		}
	}
}

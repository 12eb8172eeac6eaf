package jpx

import (
	"fmt"
	"math"

	"laydown/internal/limits"
)

// tile is one tile, taken apart as Annex B tells: components, their resolutions, the bands of each,
// and precincts that hold the code-blocks of all bands of a resolution.
type tile struct {
	Rect      // on the reference grid
	par       *parameters
	comps     []tileComponent
	precincts int
	placed    int // precincts listed for progressions
	damage    error
}

type tileComponent struct {
	x0, y0, x1, y1 int
	coding         *coding
	res            []resolution
	ints           []int32   // samples of a reversible component from row on; nil = all 0
	floats         []float32 // of an irreversible one
	row            int       // on the component's grid
	coded          bool      // some code-block holds data
}

type resolution struct {
	x0, y0, x1, y1 int
	ppx, ppy       int // log2 of a precinct
	px, py         int // precincts across and down
	bands          []band
	precincts      []precinct
}

type band struct {
	x0, y0, x1, y1 int
	orient         int // 0 LL, 1 HL, 2 LH, 3 HH
	offX, offY     int // where it lies in its buffer
	planes         int // Mb, magnitude bits
	step           float32
}

// precinct is made when its first packet that holds anything is read.
type precinct struct {
	next  int // layers read
	bands []precinctBand
}

type precinctBand struct {
	w, h      int // code-blocks
	blocks    []block
	inclusion tagTree
	zero      tagTree
}

// block is a code-block and the bytes of it that were read.
type block struct {
	x, y       int32 // in the buffer
	w, h       uint16
	included   bool
	zeroPlanes uint8
	lblock     uint8
	passes     int
	segs       []segment
}

// segment is a codeword segment: passes that share one run of the entropy coder.
type segment struct {
	data   []byte
	passes int
	full   int // passes it can hold
}

// tileArea is where tile index lies on the reference grid.
func (cs *codestream) tileArea(index int) Rect {
	p, q := index%cs.tilesX, index/cs.tilesX
	return Rect{max(cs.tx0+p*cs.tw, cs.x0), max(cs.ty0+q*cs.th, cs.y0),
		min(cs.tx0+(p+1)*cs.tw, cs.x1), min(cs.ty0+(q+1)*cs.th, cs.y1)}
}

// newTile lays out tile index.
func (cs *codestream) newTile(index int, par *parameters) (*tile, error) {
	t := &tile{Rect: cs.tileArea(index), par: par}
	work := 0
	blocks := 0
	strips := true
	for _, c := range cs.components {
		strips = strips && stripRows%c.DY == 0
	}
	for i, c := range cs.components {
		tc := tileComponent{x0: ceilDiv(t.X0, c.DX), y0: ceilDiv(t.Y0, c.DY), x1: ceilDiv(t.X1, c.DX), y1: ceilDiv(t.Y1, c.DY),
			coding: par.coding[i]}
		held := 4 * (tc.x1 - tc.x0) * (tc.y1 - tc.y0)
		if tc.coding.levels > 0 && strips { // the last wavelet step runs over strips
			held = held/4 + 4*stripRows*(tc.x1-tc.x0)
		}
		if work += held; work > limits.MaxWaveletBytes {
			return nil, fmt.Errorf("%w: tiles of %d x %d pixels in %d components", ErrTooLarge, t.X1-t.X0, t.Y1-t.Y0, len(cs.components))
		}
		n, err := t.resolutions(&tc, par.quant[i], c.Precision, par.shift[i])
		if err != nil {
			return nil, err
		}
		if blocks += n; blocks > limits.MaxCodeBlocks || t.precincts > limits.MaxCodeBlocks {
			return nil, fmt.Errorf("%w: more than %d code-blocks in a tile", ErrTooLarge, limits.MaxCodeBlocks)
		}
		t.comps = append(t.comps, tc)
	}
	return t, nil
}

// resolutions lays out the resolutions of a component (B.5 to B.7) and counts its code-blocks.
func (t *tile) resolutions(tc *tileComponent, q *quantisation, precision, shift int) (blocks int, err error) {
	levels := tc.coding.levels
	tc.res = make([]resolution, levels+1)
	for r := range tc.res {
		n := levels - r
		res := &tc.res[r]
		res.x0, res.y0 = ceilShift(tc.x0, n), ceilShift(tc.y0, n)
		res.x1, res.y1 = ceilShift(tc.x1, n), ceilShift(tc.y1, n)
		res.ppx, res.ppy = int(tc.coding.precincts[r]&15), int(tc.coding.precincts[r]>>4)
		if res.x1 > res.x0 && res.y1 > res.y0 {
			res.px = ceilShift(res.x1, res.ppx) - res.x0>>res.ppx
			res.py = ceilShift(res.y1, res.ppy) - res.y0>>res.ppy
		}
		t.precincts += res.px * res.py
		if t.precincts > limits.MaxCodeBlocks {
			return 0, nil // the caller refuses
		}
		res.precincts = make([]precinct, res.px*res.py)
		first, last := 1, 3
		if r == 0 {
			first, last = 0, 0
		}
		for o := first; o <= last; o++ {
			nb := min(n+1, levels)
			b := band{orient: o}
			if r == 0 {
				b.x0, b.y0, b.x1, b.y1 = res.x0, res.y0, res.x1, res.y1
			} else {
				half := 1 << (nb - 1)
				b.x0, b.x1 = ceilShift(tc.x0-half*(o&1), nb), ceilShift(tc.x1-half*(o&1), nb)
				b.y0, b.y1 = ceilShift(tc.y0-half*(o>>1), nb), ceilShift(tc.y1-half*(o>>1), nb)
				below := &tc.res[r-1]
				if r < levels { // the bands of the last resolution have buffers of their own
					b.offX, b.offY = (o&1)*(below.x1-below.x0), (o>>1)*(below.y1-below.y0)
				}
			}
			at := 0
			if r > 0 {
				at = 3*(r-1) + o
			}
			exponent, mantissa, ok := q.band(at, nb, levels)
			if !ok {
				return 0, damaged("its quantisation lacks a band")
			}
			b.planes = q.guard + exponent - 1 + shift
			gain := [4]int{0, 1, 1, 2}[o]
			b.step = float32(math.Ldexp(1+float64(mantissa)/2048, precision+gain-exponent))
			res.bands = append(res.bands, b)
			xcb, ycb := tc.blockSize(r)
			if b.x1 > b.x0 && b.y1 > b.y0 {
				blocks += (ceilShift(b.x1, xcb) - b.x0>>xcb) * (ceilShift(b.y1, ycb) - b.y0>>ycb)
			}
		}
	}
	return blocks, nil
}

// blockSize is log2 of the code-blocks of resolution r (Equations B-17 and B-18).
func (tc *tileComponent) blockSize(r int) (xcb, ycb int) {
	ppx, ppy := int(tc.coding.precincts[r]&15), int(tc.coding.precincts[r]>>4)
	if r > 0 {
		ppx, ppy = ppx-1, ppy-1
	}
	return min(tc.coding.xcb, ppx), min(tc.coding.ycb, ppy)
}

// open makes the code-blocks of precinct k of resolution r.
func (tc *tileComponent) open(r, k int) *precinct {
	res := &tc.res[r]
	p := &res.precincts[k]
	if p.bands != nil {
		return p
	}
	p.bands = make([]precinctBand, len(res.bands))
	xcb, ycb := tc.blockSize(r)
	ppx, ppy := res.ppx, res.ppy
	if r > 0 {
		ppx, ppy = ppx-1, ppy-1
	}
	col, row := res.x0>>res.ppx+k%res.px, res.y0>>res.ppy+k/res.px
	for i := range res.bands {
		b, pb := &res.bands[i], &p.bands[i]
		x0, x1 := max(b.x0, col<<ppx), min(b.x1, (col+1)<<ppx)
		y0, y1 := max(b.y0, row<<ppy), min(b.y1, (row+1)<<ppy)
		if x1 <= x0 || y1 <= y0 {
			continue
		}
		cx0, cy0 := x0>>xcb, y0>>ycb
		pb.w, pb.h = ceilShift(x1, xcb)-cx0, ceilShift(y1, ycb)-cy0
		pb.blocks = make([]block, pb.w*pb.h)
		pb.inclusion.init(pb.w, pb.h)
		pb.zero.init(pb.w, pb.h)
		for j := range pb.blocks {
			cx, cy := cx0+j%pb.w, cy0+j/pb.w
			bx0, bx1 := max(x0, cx<<xcb), min(x1, (cx+1)<<xcb)
			by0, by1 := max(y0, cy<<ycb), min(y1, (cy+1)<<ycb)
			pb.blocks[j] = block{x: int32(bx0 - b.x0 + b.offX), y: int32(by0 - b.y0 + b.offY),
				w: uint16(bx1 - bx0), h: uint16(by1 - by0), lblock: 3}
		}
	}
	return p
}

// tagTree is a tag tree (B.10.2), the leaves first.
type tagTree struct {
	widths []int
	starts []int
	nodes  []tagNode
}

type tagNode struct {
	value int32 // at least this
	known bool
}

func (t *tagTree) init(w, h int) {
	n := 0
	for {
		t.widths = append(t.widths, w)
		t.starts = append(t.starts, n)
		n += w * h
		if w*h <= 1 {
			break
		}
		w, h = (w+1)/2, (h+1)/2
	}
	t.nodes = make([]tagNode, n)
}

// below reads as much of the tree as tells whether the value of the leaf is below limit; value is
// then exact.
func (t *tagTree) below(r *bits, x, y int, limit int32) (value int32, ok bool) {
	low := int32(0)
	for level := len(t.widths) - 1; level >= 0; level-- {
		n := &t.nodes[t.starts[level]+(y>>level)*t.widths[level]+x>>level]
		n.value = max(n.value, low)
		for !n.known && n.value < limit {
			if r.bit() == 1 {
				n.known = true
			} else {
				n.value++
			}
		}
		low = n.value
		if level == 0 {
			return n.value, n.known && n.value < limit
		}
	}
	return 0, false
}

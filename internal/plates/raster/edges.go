package raster

import "laydown/internal/geom"

// Fixed-point coordinates have 8 fractional bits.
const (
	shift = 8
	one   = 1 << shift
	// full is the accumulated value of one pixel wholly inside once: height 256 times twice the width 256.
	full = one * one * 2
	// farPixels bounds coordinates in pixels; what lies beyond is clipped. Ten times the widest plate, and
	// differences of two coordinates in fixed point fit an int32.
	farPixels = 1 << 21
)

// An edge is a straight line in fixed-point device space, never horizontal. The sign of y1-y0 is its
// winding direction.
type edge struct{ x0, y0, x1, y1 int32 }

// blockSize edges share one row interval by which a scan skips them together.
const blockSize = 32

// A block is the rows its edges cross: y0 <= row < y1.
type block struct{ y0, y1 int32 }

// Edges is a flattened path in device space, ready to be rasterised in any number of bands by any
// number of goroutines.
type Edges struct {
	Bounds IntRect // pixels that may be touched

	rule   geom.FillRule
	list   []edge
	reach  IntRect // of list
	blocks []block // blocks[i] covers list[i*blockSize:(i+1)*blockSize]; none when every scan looks at all
	specks []IntRect
	rect   bool // list is one axis-parallel rectangle: two vertical edges
}

// rows returns the rows e crosses.
func (e edge) rows() (y0, y1 int32) {
	y0, y1 = e.y0, e.y1
	if y0 > y1 {
		y0, y1 = y1, y0
	}
	return y0 >> shift, (y1 + one - 1) >> shift
}

// keep orders src by its upper rows into list, which is as long, and divides it into blocks, so that a band
// touches little more than the edges that cross it.
func (e *Edges) keep(list, src []edge, specks []IntRect, rule geom.FillRule) {
	e.begin(src, specks, rule)
	if len(list) == 0 {
		return
	}
	e.list = list
	if len(list) <= 2*blockSize {
		copy(list, src)
	} else {
		orderByRow(list, src, e.reach)
	}
	for i := 0; i < len(list); i += blockSize {
		b := block{1 << 30, -1 << 30}
		for _, l := range list[i:min(i+blockSize, len(list))] {
			y0, y1 := l.rows()
			b = block{min(b.y0, y0), max(b.y1, y1)}
		}
		e.blocks = append(e.blocks, b)
	}
}

// lend is keep for edges that are scanned once and soon: where they fit into the cells at once they stay in
// src, without blocks.
func (e *Edges) lend(list, src []edge, specks []IntRect, rule geom.FillRule) {
	e.begin(src, specks, rule)
	if r := e.reach; (r.X1-r.X0+1)*(r.Y1-r.Y0) > maxCells {
		e.keep(list, src, specks, rule)
	}
}

// begin sets all but the order.
func (e *Edges) begin(src []edge, specks []IntRect, rule geom.FillRule) {
	*e = Edges{rule: rule, specks: specks, list: src, blocks: e.blocks[:0]}
	if len(src) > 0 {
		e.reach = boundsOf(src)
		e.rect = isRect(src)
	}
	e.Bounds = e.reach
	for _, s := range specks {
		e.Bounds = e.Bounds.union(s)
	}
}

func boundsOf(list []edge) IntRect {
	x0, y0, x1, y1 := list[0].x0, list[0].y0, list[0].x0, list[0].y0
	for _, l := range list {
		x0, x1 = min(x0, l.x0, l.x1), max(x1, l.x0, l.x1)
		y0, y1 = min(y0, l.y0, l.y1), max(y1, l.y0, l.y1)
	}
	r := IntRect{int(x0 >> shift), int(y0 >> shift), int((x1 + one - 1) >> shift), int((y1 + one - 1) >> shift)}
	r.X1 = max(r.X1, r.X0+1)
	return r
}

// orderByRow is a counting sort of src into dst by upper row, at most 1024 rows or groups of rows.
func orderByRow(dst, src []edge, bounds IntRect) {
	group := 0
	for (bounds.Y1-bounds.Y0)>>group >= 1024 {
		group++
	}
	var start [1025]int32
	key := func(l edge) int32 { return (min(l.y0, l.y1)>>shift - int32(bounds.Y0)) >> group }
	for _, l := range src {
		start[key(l)+1]++
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	for _, l := range src {
		k := key(l)
		dst[start[k]] = l
		start[k]++
	}
}

// isRect reports whether list is an axis-parallel rectangle.
func isRect(list []edge) bool {
	return len(list) == 2 && list[0].x0 == list[0].x1 && list[1].x0 == list[1].x1 &&
		list[0].y0 == list[1].y1 && list[0].y1 == list[1].y0
}

package raster

import (
	"math/bits"

	"laydown/internal/geom"
)

// Scanner is scratch memory of one goroutine for Scan. The zero value is ready.
type Scanner struct {
	cells   []int64  // rows x stride changes of accumulated area; all zero between uses
	touched []uint64 // rows x words: one bit for each cell that may not be zero
	spans   []Span
	spare   []Span
}

// maxCells is how many cells are accumulated at a time: few enough to stay in the second-level cache.
const maxCells = 1 << 15

// window is the pixels being accumulated.
type window struct {
	x0, x1, y0, y1 int32
	stride, words  int
}

// Scan rasterises e inside clip. It calls row for every row of clip that has coverage, top to bottom,
// with spans sorted, disjoint and not mergeable. Spans are valid during the call.
func (s *Scanner) Scan(e *Edges, clip IntRect, row func(y int, spans []Span)) {
	clip = clip.Intersect(e.Bounds)
	if clip.Empty() {
		return
	}
	if e.rect && len(e.specks) == 0 {
		s.scanRect(e, clip, row)
		return
	}
	s.scanCells(e, clip, row)
}

func (s *Scanner) scanCells(e *Edges, clip IntRect, row func(y int, spans []Span)) {
	w := window{x0: int32(clip.X0), x1: int32(clip.X1)}
	w.stride = clip.X1 - clip.X0 + 1 // one more: a cell passes the rest of its area to the next one
	w.words = (w.stride + 63) >> 6
	rows := min(max(maxCells/w.stride, 1), clip.Y1-clip.Y0)
	s.cells = grown(s.cells, rows*w.stride)
	s.touched = grown(s.touched, rows*w.words)
	for y := clip.Y0; y < clip.Y1; y += rows {
		w.y0, w.y1 = int32(y), int32(min(y+rows, clip.Y1))
		if len(e.blocks) == 0 {
			for _, l := range e.list {
				s.add(&w, l)
			}
		}
		for i, b := range e.blocks {
			if b.y0 < w.y1 && b.y1 > w.y0 {
				for _, l := range e.list[i*blockSize : min((i+1)*blockSize, len(e.list))] {
					s.add(&w, l)
				}
			}
		}
		for r := 0; r < int(w.y1-w.y0); r++ {
			spans := s.sweep(s.cells[r*w.stride:(r+1)*w.stride], s.touched[r*w.words:(r+1)*w.words], w.x0, e.rule)
			for _, p := range e.specks {
				if y+r >= p.Y0 && y+r < p.Y1 {
					spans = s.overlay(spans, int32(max(p.X0, clip.X0)), int32(min(p.X1, clip.X1)))
				}
			}
			if len(spans) > 0 {
				row(y+r, spans)
			}
		}
	}
}

// grown returns a slice of at least n zero elements; b is all zero.
func grown[T any](b []T, n int) []T {
	if cap(b) < n {
		return make([]T, n)
	}
	return b[:n]
}

// add accumulates one edge in the window. Edges are walked downwards whatever their direction, so
// that a line and its reverse cancel exactly.
func (s *Scanner) add(w *window, l edge) {
	sign := int64(1)
	if l.y0 > l.y1 {
		l, sign = edge{l.x1, l.y1, l.x0, l.y0}, -1
	}
	top, bottom := l.y0>>shift, (l.y1-1)>>shift
	if top == bottom {
		if top >= w.y0 && top < w.y1 {
			r := int(top - w.y0)
			s.addPart(w, r*w.stride, r*w.words, l.x0, l.x1, l.y1-l.y0, sign)
		}
		return
	}
	top, bottom = max(top, w.y0), min(bottom, w.y1-1)
	if top > bottom || (l.x0>>shift >= w.x1 && l.x1>>shift >= w.x1) {
		return
	}
	row := int(top-w.y0) * w.stride
	word := int(top-w.y0) * w.words
	if l.x0 == l.x1 || (l.x0>>shift < w.x0 && l.x1>>shift < w.x0) {
		// One column all the way.
		c, f := int(l.x0>>shift-w.x0), int64(l.x0&(one-1))
		if c < 0 {
			c, f = 0, 0
		}
		for y := top; y <= bottom; y++ {
			h := sign * int64(min(l.y1, (y+1)<<shift)-max(l.y0, y<<shift))
			s.put(row, word, c, h*(2*one-2*f), h*2*f)
			row += w.stride
			word += w.words
		}
		return
	}
	// x where the edge crosses row boundaries, rounded: l.x0 + (y-l.y0)*dx/dy. Going on by quotient and
	// remainder gives exactly what a division for each row would.
	dx, dy := int64(l.x1)-int64(l.x0), int64(l.y1)-int64(l.y0)
	var q, r, stepQ, stepR int64
	xa := l.x0
	ya := max(l.y0, top<<shift)
	if ya > l.y0 {
		q, _ = floorDiv(int64(ya-l.y0)*dx+dy>>1, dy)
		xa += int32(q)
	}
	yb := (top + 1) << shift
	if yb < l.y1 {
		q, r = floorDiv(int64(yb-l.y0)*dx+dy>>1, dy)
	}
	if bottom > top && yb+one < l.y1 {
		stepQ, stepR = floorDiv(dx<<shift, dy)
	}
	for y := top; y <= bottom; y++ {
		xb := l.x1
		if yb < l.y1 {
			xb = l.x0 + int32(q)
			q += stepQ
			r += stepR
			if r >= dy {
				q++
				r -= dy
			}
		} else {
			yb = l.y1
		}
		s.addPart(w, row, word, xa, xb, yb-ya, sign)
		xa, ya = xb, yb
		yb += one
		row += w.stride
		word += w.words
	}
}

// addPart accumulates the part of an edge in one row, from xa to xb, h high.
func (s *Scanner) addPart(w *window, row, word int, xa, xb, h int32, sign int64) {
	c := xa >> shift
	if c == xb>>shift && c >= w.x0 && c < w.x1 {
		f := int64(xa&(one-1)) + int64(xb&(one-1))
		sh := sign * int64(h)
		s.put(row, word, int(c-w.x0), sh*(2*one-f), sh*f)
	} else if xa <= xb {
		s.addAcross(w, row, word, xa, xb, h, sign)
	} else {
		s.addAcross(w, row, word, xb, xa, h, sign)
	}
}

// addAcross accumulates the part of an edge in one row, from xa to xb >= xa, h high. It is split where it
// crosses columns: h*(x-xa)/(xb-xa) of its height, rounded, lies left of x.
func (s *Scanner) addAcross(w *window, row, word int, xa, xb, h int32, sign int64) {
	left, right := w.x0<<shift, w.x1<<shift
	if xa >= right {
		return
	}
	if xb <= left {
		s.put(row, word, 0, sign*int64(h)*2*one, 0)
		return
	}
	d := int64(xb - xa)
	c := xa >> shift
	done := int64(0) // height up to the left side of the current column
	x := xa
	if c < w.x0 {
		c = w.x0
		x = left
		done = (int64(h)*int64(x-xa) + d>>1) / d
		s.put(row, word, 0, sign*done*2*one, 0)
	}
	next := (c + 1) << shift
	if next >= xb {
		hh := sign * (int64(h) - done)
		f := int64(x-c<<shift) + int64(xb-c<<shift)
		s.put(row, word, int(c-w.x0), hh*(2*one-f), hh*f)
		return
	}
	q, r := divide(int64(h)*int64(next-xa)+d>>1, d)
	var stepQ, stepR int64
	if next+one < xb {
		stepQ, stepR = divide(int64(h)<<shift, d)
	}
	for {
		hh := sign * (q - done)
		f := int64(x-c<<shift) + one
		s.put(row, word, int(c-w.x0), hh*(2*one-f), hh*f)
		done = q
		c++
		if c >= w.x1 {
			return
		}
		x = next
		next += one
		if next >= xb {
			break
		}
		q += stepQ
		r += stepR
		if r >= d {
			q++
			r -= d
		}
	}
	hh := sign * (int64(h) - done)
	f := int64(xb - c<<shift)
	s.put(row, word, int(c-w.x0), hh*(2*one-f), hh*f)
}

// put changes the accumulated area by a from column c on and by b more from the next one on.
func (s *Scanner) put(row, word, c int, a, b int64) {
	s.cells[row+c] += a
	s.cells[row+c+1] += b
	s.touched[word+c>>6] |= 1 << (c & 63)
	s.touched[word+(c+1)>>6] |= 1 << ((c + 1) & 63)
}

// floorDiv returns a/d rounded down and the remainder; d > 0.
func floorDiv(a, d int64) (q, r int64) {
	q, r = a/d, a%d
	if r < 0 {
		q--
		r += d
	}
	return q, r
}

// divide returns a/d and the remainder; a >= 0, d > 0. Short numbers divide faster.
func divide(a, d int64) (q, r int64) {
	if (a|d)>>32 == 0 {
		x, y := uint32(a), uint32(d)
		return int64(x / y), int64(x % y)
	}
	return a / d, a % d
}

// sweep turns a row of cells into spans and zeroes it.
func (s *Scanner) sweep(cells []int64, touched []uint64, x0 int32, rule geom.FillRule) []Span {
	spans := s.spans[:0]
	var acc int64
	var cover uint8
	from := 0
	last := len(cells) - 1
	for i, word := range touched {
		if word == 0 {
			continue
		}
		touched[i] = 0
		for ; word != 0; word &= word - 1 {
			x := i<<6 + bits.TrailingZeros64(word)
			acc += cells[x]
			cells[x] = 0
			c := coverFrom(acc, rule)
			if c == cover || x == last {
				continue
			}
			if cover != 0 {
				spans = append(spans, Span{x0 + int32(from), x0 + int32(x), cover})
			}
			cover, from = c, x
		}
	}
	if cover != 0 {
		spans = append(spans, Span{x0 + int32(from), x0 + int32(last), cover})
	}
	s.spans = spans
	return spans
}

// coverFrom maps accumulated signed area to coverage. Where several parts of a path meet inside one
// pixel, their areas add: the sum is exact when they do not overlap in it and have one direction.
func coverFrom(acc int64, rule geom.FillRule) uint8 {
	if acc < 0 {
		acc = -acc
	}
	if rule == geom.EvenOdd {
		acc &= 2*full - 1
		if acc > full {
			acc = 2*full - acc
		}
	} else if acc > full {
		acc = full
	}
	return uint8((acc*255 + full/2) / full)
}

// overlay returns spans with x0 <= x < x1 wholly covered.
func (s *Scanner) overlay(spans []Span, x0, x1 int32) []Span {
	if x0 >= x1 {
		return spans
	}
	out := s.spare[:0]
	add := func(a, b int32, c uint8) {
		if a >= b {
			return
		}
		if n := len(out); n > 0 && out[n-1].X1 == a && out[n-1].Cover == c {
			out[n-1].X1 = b
			return
		}
		out = append(out, Span{a, b, c})
	}
	i := 0
	for ; i < len(spans) && spans[i].X0 < x0; i++ {
		add(spans[i].X0, min(spans[i].X1, x0), spans[i].Cover)
	}
	add(x0, x1, 255)
	if i > 0 {
		i--
	}
	for ; i < len(spans); i++ {
		add(max(spans[i].X0, x1), spans[i].X1, spans[i].Cover)
	}
	s.spans, s.spare = out, s.spans
	return out
}

package check

import (
	"bytes"
	"fmt"
	"image"
	"slices"

	"laydown/internal/geom"
)

// A mask is one byte a pixel of the page's plates, 0 or 1 = inside. All work on masks is
// proportional to the pixels and needs no more than a row of memory beside them.
type mask []byte

func (p *Page) newMask() mask { return make(mask, p.Plates.Width*p.Plates.Height) }

var inside = []byte{1}

// areaMM2 is the area of the mask.
func (p *Page) areaMM2(m mask) float64 {
	return float64(bytes.Count(m, inside)) * p.px() * p.px()
}

// areaText writes an area in the unit a person would use.
func areaText(mm2 float64) string {
	switch {
	case mm2 < 10:
		return fmt.Sprintf("%.1f mm²", mm2)
	case mm2 < 10_000:
		return fmt.Sprintf("%.0f mm²", mm2)
	case mm2 < 1_000_000:
		return fmt.Sprintf("%.0f cm²", mm2/100)
	}
	return fmt.Sprintf("%.1f m²", mm2/1_000_000)
}

// pixels is the box of the mask in pixels; empty when the mask is.
func (p *Page) pixels(m mask) (box image.Rectangle) {
	w := p.Plates.Width
	first := bytes.IndexByte(m, 1)
	if first < 0 {
		return box
	}
	y0, y1 := first/w, bytes.LastIndexByte(m, 1)/w+1
	x0, x1 := w, 0
	for y := y0; y < y1; y++ {
		row := m[y*w : y*w+w]
		if x := bytes.IndexByte(row, 1); x >= 0 {
			x0, x1 = min(x0, x), max(x1, bytes.LastIndexByte(row, 1)+1)
		}
	}
	return image.Rect(x0, y0, x1, y1)
}

// bounds is the box of the mask in list space; empty when the mask is.
func (p *Page) bounds(m mask) geom.Rect {
	b := p.pixels(m)
	if b.Empty() {
		return geom.Rect{}
	}
	return p.listRect(b.Min.X, b.Min.Y, b.Max.X, b.Max.Y)
}

// within empties the mask outside a list space box.
func (p *Page) within(m mask, box geom.Rect) {
	x0, y0, x1, y1 := p.PixelRect(box)
	w := p.Plates.Width
	if x0 >= x1 || y0 >= y1 {
		clear(m)
		return
	}
	clear(m[:y0*w])
	clear(m[y1*w:])
	for y := y0; y < y1; y++ {
		clear(m[y*w : y*w+x0])
		clear(m[y*w+x1 : y*w+w])
	}
}

// thickOnly removes the parts of the mask narrower than mm, so that rims of anti-aliasing, chokes and
// register do not count: it keeps what a square of that side, three pixels at least, can cover
// without leaving the mask.
func (p *Page) thickOnly(m mask, mm float64) {
	box := p.pixels(m)
	if box.Empty() {
		return
	}
	n := max(3, int(mm/p.px())+1)
	w := p.Plates.Width
	runs := make([]int, box.Dx())
	// Shrink to the top left corners of the squares, upwards and row by row from the right.
	for y := box.Max.Y - 1; y >= box.Min.Y; y-- {
		row := m[y*w+box.Min.X : y*w+box.Max.X]
		run := 0
		for x := len(row) - 1; x >= 0; x-- {
			run = longer(run, row[x] != 0)
			runs[x] = longer(runs[x], run >= n)
			row[x] = bit(runs[x] >= n)
		}
	}
	// Grow each corner to its square, downwards and row by row from the left.
	clear(runs)
	for y := box.Min.Y; y < box.Max.Y; y++ {
		row := m[y*w+box.Min.X : y*w+box.Max.X]
		left := 0
		for x, v := range row {
			left = renewed(left, n, v != 0)
			runs[x] = renewed(runs[x], n, left > 0)
			row[x] = bit(runs[x] > 0)
		}
	}
}

// longer counts a run on, or ends it.
func longer(run int, on bool) int {
	if on {
		return run + 1
	}
	return 0
}

// renewed counts down from n since it was last on.
func renewed(left, n int, on bool) int {
	if on {
		return n
	}
	return max(left-1, 0)
}

func bit(on bool) byte {
	if on {
		return 1
	}
	return 0
}

// meeting keeps the plates that have visible toner inside the mask.
func (p *Page) meeting(plates plateBits, m mask) (met plateBits) {
	for k := range p.Plates.Set.Len() {
		plane := p.Plates.Plane(k)
		if !plates.has(k) || plane == nil {
			continue
		}
		for i, v := range plane {
			if v >= visibleTint && m[i] != 0 {
				met |= 1 << k
				break
			}
		}
	}
	return met
}

// toucher answers quickly whether a box holds a pixel of a mask: it has the sums of cells of 16 x 16 pixels.
type toucher struct {
	p          *Page
	m          mask
	cols, rows int
	sums       []int32 // (cols+1) x (rows+1), of the cells above and left that are not empty
}

const cellSide = 16

func (p *Page) touching(m mask) *toucher {
	w, h := p.Plates.Width, p.Plates.Height
	t := &toucher{p: p, m: m, cols: (w + cellSide - 1) / cellSide, rows: (h + cellSide - 1) / cellSide}
	stride := t.cols + 1
	t.sums = make([]int32, stride*(t.rows+1))
	for r := range t.rows {
		line := int32(0)
		for c := range t.cols {
			if t.any(c*cellSide, r*cellSide, min(w, (c+1)*cellSide), min(h, (r+1)*cellSide)) {
				line++
			}
			t.sums[(r+1)*stride+c+1] = t.sums[r*stride+c+1] + line
		}
	}
	return t
}

// any looks at the pixels themselves.
func (t *toucher) any(x0, y0, x1, y1 int) bool {
	w := t.p.Plates.Width
	for y := y0; y < y1 && x0 < x1; y++ {
		if bytes.IndexByte(t.m[y*w+x0:y*w+x1], 1) >= 0 {
			return true
		}
	}
	return false
}

// cells reports whether one of the cells c0 <= c < c1, r0 <= r < r1 is not empty.
func (t *toucher) cells(c0, r0, c1, r1 int) bool {
	if c0 >= c1 || r0 >= r1 {
		return false
	}
	s, n := t.sums, t.cols+1
	return s[r1*n+c1]-s[r0*n+c1]-s[r1*n+c0]+s[r0*n+c0] > 0
}

// box reports whether some pixel of the mask lies in a list space box. Only the rim of the box is
// looked at pixel by pixel.
func (t *toucher) box(r geom.Rect) bool {
	x0, y0, x1, y1 := t.p.PixelRect(r)
	if x0 >= x1 || y0 >= y1 {
		return false
	}
	up := func(v int) int { return (v + cellSide - 1) / cellSide }
	if !t.cells(x0/cellSide, y0/cellSide, up(x1), up(y1)) {
		return false
	}
	c0, r0, c1, r1 := up(x0), up(y0), x1/cellSide, y1/cellSide
	if c0 >= c1 || r0 >= r1 {
		return t.any(x0, y0, x1, y1)
	}
	return t.cells(c0, r0, c1, r1) ||
		t.any(x0, y0, x1, r0*cellSide) || t.any(x0, r1*cellSide, x1, y1) ||
		t.any(x0, y0, c0*cellSide, y1) || t.any(c1*cellSide, y0, x1, y1)
}

// itemsTouching lists the printing items that put toner on one of the plates and whose bounds hold a
// pixel of the mask.
func (p *Page) itemsTouching(m mask, plates plateBits) []int {
	t := p.touching(m)
	var out []int
	for i := range p.List.Items {
		if p.itemToner(i)&plates != 0 && t.box(p.List.Items[i].Bounds) {
			out = append(out, i)
		}
	}
	return out
}

// touchingOf keeps those of the items whose bounds hold a pixel of the mask.
func (p *Page) touchingOf(items []int, m mask) []int {
	t := p.touching(m)
	return slices.DeleteFunc(slices.Clone(items), func(i int) bool { return !t.box(p.List.Items[i].Bounds) })
}

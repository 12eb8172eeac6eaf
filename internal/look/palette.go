package look

import (
	"cmp"
	"image"
	"image/color"
	"slices"
)

// A palette by splitting boxes of colours: the box with the most squared error is cut at its mean, across the primary in
// which it is longest, until there are as many boxes as colours (a variant of Heckbert's median cut, 1982).

// histogram counts colours in cells of 5 bits a primary.
type histogram struct {
	cells []histogramCell
}

type histogramCell struct {
	n   int64
	sum [3]int64
}

const (
	cellBits = 5
	cellSide = 1 << cellBits
)

func cellOf(r, g, b uint8) int {
	const drop = 8 - cellBits
	return int(r>>drop)<<(2*cellBits) | int(g>>drop)<<cellBits | int(b>>drop)
}

func (h *histogram) add(img *image.RGBA) {
	if h.cells == nil {
		h.cells = make([]histogramCell, cellSide*cellSide*cellSide)
	}
	for i := 0; i+4 <= len(img.Pix); i += 4 {
		p := img.Pix[i:][:3]
		c := &h.cells[cellOf(p[0], p[1], p[2])]
		c.n++
		for k, v := range p {
			c.sum[k] += int64(v)
		}
	}
}

// colourBox is a set of cells with the sums that its error and mean follow from.
type colourBox struct {
	cells  []int
	n      float64
	mean   [3]float64
	errors [3]float64 // squared, by primary
}

// Weights of the primaries: eyes see green best.
var paletteWeights = [3]float64{2, 4, 1}

func (h *histogram) box(cells []int) colourBox {
	b := colourBox{cells: cells}
	var sum, square [3]float64
	for _, i := range cells {
		c := &h.cells[i]
		n := float64(c.n)
		b.n += n
		for k, v := range c.sum {
			m := float64(v) / n
			sum[k] += float64(v)
			square[k] += float64(m * m * n)
		}
	}
	for k := range sum {
		b.mean[k] = sum[k] / b.n
		b.errors[k] = max(0, square[k]-float64(b.mean[k]*sum[k])) * paletteWeights[k]
	}
	return b
}

func (b *colourBox) err() float64 { return b.errors[0] + b.errors[1] + b.errors[2] }

// palette has at most n colours.
func (h *histogram) palette(n int) color.Palette {
	var all []int
	for i := range h.cells {
		if h.cells[i].n > 0 {
			all = append(all, i)
		}
	}
	if len(all) == 0 {
		return color.Palette{color.RGBA{0, 0, 0, 255}}
	}
	boxes := []colourBox{h.box(all)}
	for len(boxes) < n {
		worst := -1
		for i := range boxes {
			if len(boxes[i].cells) > 1 && (worst < 0 || boxes[i].err() > boxes[worst].err()) {
				worst = i
			}
		}
		if worst < 0 {
			break
		}
		a, b := h.split(&boxes[worst])
		boxes[worst] = a
		boxes = append(boxes, b)
	}
	p := make(color.Palette, 0, n)
	for _, b := range boxes {
		p = append(p, color.RGBA{uint8(b.mean[0] + 0.5), uint8(b.mean[1] + 0.5), uint8(b.mean[2] + 0.5), 255})
	}
	return p
}

// split cuts a box of two cells or more into two that are not empty.
func (h *histogram) split(b *colourBox) (low, high colourBox) {
	axis := 0
	for k := range b.errors {
		if b.errors[k] > b.errors[axis] {
			axis = k
		}
	}
	value := func(i int) float64 { return float64(h.cells[i].sum[axis]) / float64(h.cells[i].n) }
	slices.SortStableFunc(b.cells, func(i, j int) int { return cmp.Compare(value(i), value(j)) })
	at := 1
	for at < len(b.cells)-1 && value(b.cells[at]) <= b.mean[axis] {
		at++
	}
	return h.box(b.cells[:at:at]), h.box(b.cells[at:])
}

// quantiser finds the nearest colour of a palette, with an ordered dither: its pattern stands still where the picture
// does, which the eye and the file's size thank for.
type quantiser struct {
	palette [][3]int
	nearest []int16 // by cell of 6 bits a primary, -1 = not looked for
}

const (
	nearBits   = 6
	ditherSpan = 12 // 8-bit steps that the dither spans
)

func newQuantiser(p color.Palette) *quantiser {
	q := &quantiser{nearest: make([]int16, 1<<(3*nearBits))}
	for _, c := range p {
		v := color.RGBAModel.Convert(c).(color.RGBA)
		q.palette = append(q.palette, [3]int{int(v.R), int(v.G), int(v.B)})
	}
	for i := range q.nearest {
		q.nearest[i] = -1
	}
	return q
}

// bayer is the 8 x 8 matrix of ordered dither, 0 to 63.
var bayer = func() (m [8][8]int) {
	for y := range 8 {
		for x := range 8 {
			for bit := range 3 {
				d := (x ^ y) >> bit & 1
				m[y][x] |= (d<<1 | y>>bit&1) << (2 * (2 - bit))
			}
		}
	}
	return m
}()

func (q *quantiser) at(x, y int, r, g, b uint8) uint8 {
	d := (bayer[y&7][x&7]*2 - 63) * ditherSpan / 128
	v := [3]int{min(max(int(r)+d, 0), 255), min(max(int(g)+d, 0), 255), min(max(int(b)+d, 0), 255)}
	const drop = 8 - nearBits
	cell := v[0]>>drop<<(2*nearBits) | v[1]>>drop<<nearBits | v[2]>>drop
	if q.nearest[cell] < 0 {
		best := 1 << 30
		for i, p := range q.palette {
			d := 0
			for k := range p {
				e := v[k]&^(1<<drop-1) + 1<<(drop-1) - p[k]
				d += e * e * int(paletteWeights[k])
			}
			if d < best {
				best, q.nearest[cell] = d, int16(i)
			}
		}
	}
	return uint8(q.nearest[cell])
}

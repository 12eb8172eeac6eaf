package plate

import (
	"image"
	"image/color"
)

// Pictures is a PairSink that draws where two pages differ, reduced by whole factors so that a picture has at
// most Longest pixels a side. A pixel of a picture is marked when any pixel under it differs by more than Limit.
// Set the exported fields before Begin; Page and the pictures of Plates are there after End.
type Pictures struct {
	Limit   int
	Longest int
	Plates  []PlatePicture

	Page *image.Paletted // the whole page, all plates together: marks over a pale gray of what is there

	a, b    Header
	width   int
	page    *reducer
	content []byte // of the row at hand: the most tint of any plate
	marks   []int16
	all     []int16
}

// PlatePicture is one colourant of Pictures: the first page's plate, the marks over a pale gray, and the
// second page's plate, side by side.
type PlatePicture struct {
	IndexA, IndexB int             // in the pages' sets; -1 = the page has no such colourant
	Box            image.Rectangle // pixels to show
	Image          *image.Paletted

	reducer *reducer
}

// Colours of marks, told apart by people of every colour vision.
var (
	LessColour = color.RGBA{0xd5, 0x5e, 0x00, 0xff} // the first page has more toner
	MoreColour = color.RGBA{0x00, 0x72, 0xb2, 0xff} // the second page has more toner
)

// Palette of the pictures: grays from paper to full tint, then the marks and the gap between plates.
const (
	grays      = 200
	indexLess  = grays
	indexMore  = grays + 1
	indexGap   = grays + 2
	gapPixels  = 4
	paleFactor = 4
)

func picturePalette() color.Palette {
	p := make(color.Palette, 0, grays+3)
	for i := range grays {
		p = append(p, color.Gray{byte(255 - i*255/(grays-1))})
	}
	return append(p, LessColour, MoreColour, color.RGBA{0xdd, 0xe6, 0xee, 0xff})
}

// Begin implements PairSink.
func (p *Pictures) Begin(a, b Header) error {
	p.a, p.b = a, b
	p.width = min(a.Width, b.Width)
	all := image.Rect(0, 0, p.width, min(a.Height, b.Height))
	p.page = newReducer(all, p.Longest, false)
	for i := range p.Plates {
		pl := &p.Plates[i]
		pl.reducer = newReducer(pl.Box.Intersect(all), p.Longest, true)
	}
	p.content, p.marks, p.all = make([]byte, p.width), make([]int16, p.width), make([]int16, p.width)
	return nil
}

// Rows implements PairSink.
func (p *Pictures) Rows(a, b *Band) error {
	for y := range a.Rows {
		clear(p.content)
		clear(p.all)
		for _, planes := range []struct {
			band  *Band
			width int
		}{{a, p.a.Width}, {b, p.b.Width}} {
			for _, plane := range planes.band.Planes {
				if plane == nil {
					continue
				}
				for x, v := range plane[y*planes.width:][:p.width] {
					p.content[x] = max(p.content[x], v)
				}
			}
		}
		for i := range p.Plates {
			pl := &p.Plates[i]
			ra, rb := p.row(a, pl.IndexA, y, p.a.Width), p.row(b, pl.IndexB, y, p.b.Width)
			mark(p.marks, ra, rb, p.Limit)
			for x, d := range p.marks {
				if abs16(d) > abs16(p.all[x]) {
					p.all[x] = d
				}
			}
			pl.reducer.row(a.Y0+y, ra, rb, p.marks)
		}
		p.page.row(a.Y0+y, p.content, nil, p.all)
	}
	return nil
}

// row is a row of plate i of a band, nil when there is no toner.
func (p *Pictures) row(b *Band, i, y, width int) []byte {
	plane := planeOf(b, i)
	if plane == nil {
		return nil
	}
	return plane[y*width:][:p.width]
}

// End implements PairSink.
func (p *Pictures) End() error {
	p.Page = p.page.out
	for i := range p.Plates {
		p.Plates[i].Image = p.Plates[i].reducer.out
		p.Plates[i].reducer = nil
	}
	p.page, p.content, p.marks, p.all = nil, nil, nil, nil
	return nil
}

// mark writes b - a where the rows differ by more than limit, else 0; a nil row has no toner.
func mark(marks []int16, a, b []byte, limit int) {
	clear(marks)
	if a == nil && b == nil {
		return
	}
	for x := range marks {
		var va, vb int
		if a != nil {
			va = int(a[x])
		}
		if b != nil {
			vb = int(b[x])
		}
		if d := vb - va; d > limit || -d > limit {
			marks[x] = int16(d)
		}
	}
}

func abs16(v int16) int16 { return max(v, -v) }

// reducer draws a box of the page with n x n pixels in one.
type reducer struct {
	box    image.Rectangle
	n      int
	w, h   int
	panels bool // A, marks, B; else the marks alone
	out    *image.Paletted
	a, b   []int // sums of the row of the picture at hand
	marks  []int16
}

func newReducer(box image.Rectangle, longest int, panels bool) *reducer {
	n := max(1, (max(box.Dx(), box.Dy())+longest-1)/longest)
	r := &reducer{box: box, n: n, w: (box.Dx() + n - 1) / n, h: (box.Dy() + n - 1) / n, panels: panels}
	width := r.w
	if panels {
		width = 3*r.w + 2*gapPixels
	}
	r.out = image.NewPaletted(image.Rect(0, 0, width, r.h), picturePalette())
	r.a, r.b, r.marks = make([]int, r.w), make([]int, r.w), make([]int16, r.w)
	return r
}

// row takes a row of the page.
func (r *reducer) row(y int, a, b []byte, marks []int16) {
	if y < r.box.Min.Y || y >= r.box.Max.Y {
		return
	}
	for x := range r.w {
		x0 := r.box.Min.X + x*r.n
		x1 := min(x0+r.n, r.box.Max.X)
		for i := x0; i < x1; i++ {
			if a != nil {
				r.a[x] += int(a[i])
			}
			if b != nil {
				r.b[x] += int(b[i])
			}
			if abs16(marks[i]) > abs16(r.marks[x]) {
				r.marks[x] = marks[i]
			}
		}
	}
	if y -= r.box.Min.Y; (y+1)%r.n == 0 || y == r.box.Dy()-1 {
		r.flush(y / r.n)
	}
}

// flush draws the row of the picture at hand.
func (r *reducer) flush(y int) {
	row := r.out.Pix[y*r.out.Stride:][:r.out.Stride]
	rows := min(r.n, r.box.Dy()-y*r.n)
	middle := row
	if r.panels {
		for i := range gapPixels {
			row[r.w+i], row[2*r.w+gapPixels+i] = indexGap, indexGap
		}
		middle = row[r.w+gapPixels:]
	}
	for x := range r.w {
		pixels := rows * min(r.n, r.box.Dx()-x*r.n)
		ga := byte(r.a[x] * (grays - 1) / (255 * pixels))
		gb := byte(r.b[x] * (grays - 1) / (255 * pixels))
		switch {
		case r.marks[x] < 0:
			middle[x] = indexLess
		case r.marks[x] > 0:
			middle[x] = indexMore
		default:
			middle[x] = max(ga, gb) / paleFactor
		}
		if r.panels {
			row[x], row[2*(r.w+gapPixels)+x] = ga, gb
		}
	}
	clear(r.a)
	clear(r.b)
	clear(r.marks)
}

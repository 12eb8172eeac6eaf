package look

import (
	"fmt"
	"sync"
	"sync/atomic"

	"laydown/internal/limits"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// Thin stock shows what is printed on its other side: the ground the sheet lies on is not white everywhere. A sheet's
// reflectance lies between that on black and that on white; how far up, band by band, is the level of a place. The
// print of the other side gives a plane of levels, mirrored and softened, as light wanders in the sheet; the print of
// this side is computed on the sheet over both grounds and the two are blended.

// Behind is what shows through the sheet from the other side of a page, as seen from this side.
type Behind struct {
	width, height int // of the page, pixels
	cell          int // pixels along the side of a cell
	cols, rows    int // cells
	levels        [][mixBands]uint8
	turn, top     int // column 0 of the levels lies at column turn of this side, row 0 at row top
}

// levelOfWhite stands for white behind the sheet; brighter metals reach beyond it.
const levelOfWhite = 200

// softening is the least side of a cell, mm: light wanders about as far in paper.
const softening = 0.2

// BehindSink is a plate.Sink that takes the plates of the other side of a sheet.
type BehindSink struct {
	model   *Model // its rows hold levels instead of roots
	workers []*evaluator
	header  plate.Header
	stock   *press.Stock
	behind  *Behind
	sums    [][mixBands]uint32 // of the row of cells under way
	taken   int
}

// NewBehindSink takes the plates printed under conditions c, those of the other side. Backing is what the sheet lies on
// while this side is looked at. Stock nothing shows through is an error.
func NewBehindSink(c Conditions, workers int) (*BehindSink, error) {
	m, err := NewModelFor(c)
	if err != nil {
		return nil, err
	}
	seen := c
	seen.Side = press.Back - c.Side
	front := &Model{}
	front.lay(seen)
	sheet := front.sheetOf(c.Stock)
	if sheet == nil {
		return nil, fmt.Errorf("stock %s is opaque: nothing shows through it", c.Stock.Name)
	}
	m.beneath = sheet
	s := &BehindSink{model: m, stock: c.Stock}
	for range max(workers, 1) {
		s.workers = append(s.workers, newEvaluator(m))
	}
	return s, nil
}

// Cell is the side, in pixels, of the squares that what shows through is averaged over. Levels are softened over BehindReach
// of them on each side.
func (s *BehindSink) Cell(dpi float64) int {
	return max(1, roundInt(dpi/25.4*max(float64(s.stock.Thickness), softening)))
}

// BehindReach is how many cells beyond its own a level depends on.
const BehindReach = 2

// Another is a sink for the same conditions, for another goroutine.
func (s *BehindSink) Another() *BehindSink {
	n := &BehindSink{model: s.model, stock: s.stock}
	for range s.workers {
		n.workers = append(n.workers, newEvaluator(s.model))
	}
	return n
}

// Begin starts a page; pages over limits.MaxPagePixels and models with more plates than the page are refused.
func (s *BehindSink) Begin(h plate.Header) error {
	if _, _, err := pictureSize(h, 1, s.model.inputs); err != nil {
		return err
	}
	dpi := h.DPI
	if dpi <= 0 {
		dpi = plainDPI
	}
	cell := s.Cell(dpi)
	b := &Behind{width: h.Width, height: h.Height, turn: h.Width - 1, cell: cell, cols: (h.Width + cell - 1) / cell, rows: (h.Height + cell - 1) / cell}
	b.levels = make([][mixBands]uint8, b.cols*b.rows)
	s.header, s.behind, s.taken = h, b, 0
	s.sums = make([][mixBands]uint32, b.cols)
	return nil
}

// Band adds the rows of b.
func (s *BehindSink) Band(b *plate.Band) error {
	if s.behind == nil || b.Y0 != s.taken || b.Rows < 0 || b.Rows > s.header.Height-s.taken {
		return fmt.Errorf("band at row %d of %d rows does not follow row %d", b.Y0, b.Rows, s.taken)
	}
	active, err := activePlanes(b, s.header.Width, s.model.inputs)
	if err != nil {
		return err
	}
	s.taken += b.Rows
	cols := s.behind.cols
	n := min(len(s.workers), max(1, cols/16))
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { s.strip(s.workers[i], b, active, cols*i/n, cols*(i+1)/n) })
	}
	wg.Wait()
	return nil
}

// strip takes the cells of columns c0 to c1.
func (s *BehindSink) strip(e *evaluator, b *plate.Band, active []plane, c0, c1 int) {
	p := s.behind
	var last key
	level := e.levels(last)
	for row := range b.Rows {
		y := b.Y0 + row
		for c := c0; c < c1; c++ {
			sum := &s.sums[c]
			for x := c * p.cell; x < min((c+1)*p.cell, p.width); x++ {
				var k key
				for _, a := range active {
					k.set(a.input, a.pix[row*p.width+x])
				}
				if k != last {
					last, level = k, e.levels(k)
				}
				for i, v := range level {
					sum[i] += uint32(v)
				}
			}
		}
		if (y+1)%p.cell != 0 && y+1 != p.height {
			continue
		}
		rows := y%p.cell + 1
		for c := c0; c < c1; c++ {
			n := uint32(rows * (min((c+1)*p.cell, p.width) - c*p.cell))
			out := &p.levels[y/p.cell*p.cols+c]
			for i, v := range s.sums[c] {
				out[i] = uint8((v + n/2) / n)
			}
			s.sums[c] = [mixBands]uint32{}
		}
	}
}

// levels of a place; they are averaged by area.
func (e *evaluator) levels(k key) (out [mixBands]uint8) {
	e.mix(k)
	for b, v := range e.sum {
		out[b] = uint8(min(float32(v*levelOfWhite)+0.5, 255))
	}
	return out
}

// End checks that all rows have come, and softens.
func (s *BehindSink) End() error {
	if s.behind == nil || s.taken != s.header.Height {
		return fmt.Errorf("the page ended at row %d of %d", s.taken, s.header.Height)
	}
	s.behind.soften()
	return nil
}

// Behind is what shows through, complete after End.
func (s *BehindSink) Behind() *Behind { return s.behind }

// Within makes of a part of the other side, whose pixel (0,0) is pixel (x0,y0) of a page so many pixels wide, what shows
// through there. A part has to begin at a multiple of Cell, and levels nearer than BehindReach cells to an edge of the
// part that is none of the page are not those of the page.
func (p *Behind) Within(width, x0, y0 int) { p.turn, p.top = width-1-x0, y0 }

// soften averages each cell with its neighbours, twice by 1 2 1 along each axis.
func (p *Behind) soften() {
	line := make([][mixBands]uint8, max(p.cols, p.rows))
	along := func(first, step, n int) {
		for i := range n {
			line[i] = p.levels[first+i*step]
		}
		for i := range n {
			before, here, after := &line[max(i-1, 0)], &line[i], &line[min(i+1, n-1)]
			out := &p.levels[first+i*step]
			for b := range out {
				out[b] = uint8((int(before[b]) + 2*int(here[b]) + int(after[b]) + 2) / 4)
			}
		}
	}
	for range 2 {
		for y := range p.rows {
			along(y*p.cols, 1, p.cols)
		}
		for x := range p.cols {
			along(x, p.cols, p.rows)
		}
	}
}

// at is the level at a pixel of this side: the sheet is turned over its upright edge, so left and right change places.
func (p *Behind) at(x, y int) *[mixBands]uint8 {
	return &p.levels[(y-p.top)/p.cell*p.cols+(p.turn-x)/p.cell]
}

// same is how many of n pixels from x on to the right have the level of the first.
func (p *Behind) same(x, y, n int) int {
	first := p.at(x, y)
	m := (p.turn-x)%p.cell + 1 // to the end of its cell: the other side runs leftwards
	for m < n && *p.at(x+m, y) == *first {
		m += p.cell
	}
	return min(m, n)
}

// levelRow is a combination on the other side as seen through the bare sheet: how far up from black to white it brings
// the reflectance measured.
func (m *Model) levelRow(combination int32) *row {
	var room [limits.MaxLookToners]*film
	films := m.laid(combination, room[:0])
	ri := m.backing
	for i := len(films) - 1; i >= 0; i-- {
		ri = films[i].over(&ri)
	}
	sheet, r := m.beneath, &row{}
	for b, at := range mixBand {
		r0, t := sheet.r0[at], sheet.t[at]
		black := measuredFromInternal(r0, sheet.k0)
		up := measuredFromInternal(over(r0, t, ri[at]), sheet.k0) - black
		r.root[b] = float32(up / (measuredFromInternal(over(r0, t, referenceWhite()[at]), sheet.k0) - black))
	}
	return r
}

// between computes the print of this side on grounds between black and white, for one goroutine.
type between struct {
	bright, dark *evaluator
	last         key
	known        bool
	low, high    [mixBands]float32 // reflectance on black, and what white adds
	part         [256]float32      // of a level
}

// grounds are models of the same laydown on the sheet over white and over black.
func (m *Model) grounds() (bright, dark *Model, err error) {
	sheet := m.sheetOf(m.of)
	if sheet == nil || m.through {
		return nil, nil, fmt.Errorf("stock %s is opaque, or looked at through: nothing shows from its other side", m.of.Name)
	}
	bright, dark = m.on(sheet.over(referenceWhite())), m.on(sheet.r0)
	if m.of.Surface != press.SurfaceFilm {
		// Exactly the stock's colour.
		r, _ := reflectanceOf(m.of, m.side)
		bright.base.ri, _ = ground(r, m.base.gloss.k0)
	}
	return bright, dark, nil
}

// on is the model with another ground below the surface.
func (m *Model) on(ri spectrum) *Model {
	n := &Model{layers: m.layers, films: m.films, inputs: m.inputs, input: m.input, plates: m.plates, stock: m.stock, of: m.of, side: m.side,
		linear: m.linear, groups: m.groups, set: m.set, steps: m.steps, base: m.base, backing: m.backing, usual: m.usual}
	n.base.ri = ri
	n.stacks.rows = make([]atomic.Pointer[row], len(m.stacks.rows))
	n.stacks.thin = map[thickness]*film{}
	return n
}

func newBetween(bright, dark *Model) *between {
	s := &between{bright: newEvaluator(bright), dark: newEvaluator(dark)}
	for v := range s.part {
		s.part[v] = float32(v) / levelOfWhite
	}
	return s
}

// overBehind prepares n goroutines for a page with something behind it, which must have the page's size.
func (m *Model) overBehind(b *Behind, h plate.Header, n int) (over []*between, err error) {
	if b.width != h.Width || b.height != h.Height {
		return nil, fmt.Errorf("the other side has %d x %d pixels, this one %d x %d", b.width, b.height, h.Width, h.Height)
	}
	bright, dark, err := m.grounds()
	if err != nil {
		return nil, err
	}
	for range n {
		over = append(over, newBetween(bright, dark))
	}
	return over, nil
}

// linearAt is the linear sRGB colour at tints k over a level.
func (s *between) linearAt(k key, level *[mixBands]uint8) (out [3]float64) {
	if !s.known || s.last != k {
		s.bright.mix(k)
		s.dark.mix(k)
		for b, v := range s.dark.sum {
			s.low[b] = float32(v * v)
			s.high[b] = float32(s.bright.sum[b]*s.bright.sum[b]) - s.low[b]
		}
		s.last, s.known = k, true
	}
	weights := &s.bright.m.linear
	var v [3]float32
	for b, l := range level {
		r := s.low[b] + float32(s.part[l]*s.high[b])
		for c := range v {
			v[c] += float32(r * weights[c][b])
		}
	}
	for c := range v {
		out[c] = float64(v[c])
	}
	return out
}

// surfaceAt is the surface at tints k over a level.
func (s *between) surfaceAt(k key, level *[mixBands]uint8) Surface {
	out := s.bright.surface(k)
	for c, v := range s.linearAt(k, level) {
		out.R45[c] = float32(v)
	}
	return out
}

// stripOver is the strip of a picture with something behind the sheet.
func (s *PictureSink) stripOver(worker int, b *plate.Band, active []plane, c0, c1 int) {
	e, width := s.over[worker], s.header.Width
	x0, x1 := c0*s.Reduce, min(c1*s.Reduce, width)
	count := GamutCount{Pixels: int64(x1-x0) * int64(b.Rows)}
	defer func() { s.gamut[worker].add(count) }()
	var last key
	lastLevel := *s.Behind.at(x0, b.Y0)
	colour := shown(last, e.linearAt(last, &lastLevel))
	rgb := srgb8(colour.linear)
	for row := range b.Rows {
		y := b.Y0 + row
		for x := x0; x < x1; x++ {
			var k key
			for _, p := range active {
				k.set(p.input, p.pix[row*width+x])
			}
			if level := s.Behind.at(x, y); k != last || *level != lastLevel {
				last, lastLevel = k, *level
				colour = shown(k, e.linearAt(k, level))
				rgb = srgb8(colour.linear)
				count.Worst = max(count.Worst, float64(colour.shift))
			}
			if colour.outside {
				count.Outside++
			}
			if s.Reduce == 1 {
				o := s.img.Pix[s.img.PixOffset(x, y):][:4:4]
				o[0], o[1], o[2], o[3] = rgb[0], rgb[1], rgb[2], 255
				continue
			}
			sum := s.sums[3*(x/s.Reduce):][:3:3]
			for c, v := range colour.linear {
				sum[c] += uint64(v)
			}
		}
		if s.Reduce > 1 && ((y+1)%s.Reduce == 0 || y+1 == s.header.Height) {
			s.flush(y, c0, c1)
		}
	}
}

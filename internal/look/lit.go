package look

import (
	"errors"
	"fmt"
	"image"
	"io"
	"sync"

	"laydown/internal/limits"
	"laydown/internal/plates/plate"
)

// LitSink is a plate.Sink that shows the sheet under a lamp, band by band. The picture is the same for any number of
// workers. A place in the middle of the picture is the middle of the sheet, where the lamp is aimed at.
type LitSink struct {
	// Reduce makes the picture smaller by this whole factor; each of its pixels is the average light of Reduce x
	// Reduce pixels. Set it before Begin; 0 and 1 keep the size.
	Reduce int
	// Behind is what shows through thin stock from the other side; nil: white. Set it before Begin.
	Behind *Behind

	source surfaceSource
	lamp   *lamp
	out    canvas
	work   []*litWorker
	header plate.Header
	inputs []int
	cols   int
	rows   int // taken so far
	begun  bool
}

// canvas takes the pixels of a picture, linear sRGB 0..1, three values each.
type canvas interface {
	begin(width, height int, dpi float64) error
	ready(rows int)                  // rows up to this one are about to come
	span(y, x int, linear []float32) // may be called at the same time for pixels apart
	done(rows int) error             // rows up to this one are complete
	end(gamut GamutCount, notes []Note) error
}

// litWorker belongs to one goroutine.
type litWorker struct {
	surface func(key) Surface
	over    *between // with something behind the sheet
	cache   []litEntry
	span    []float32
	sums    [][4]float64 // linear light and knee, by column of the picture
	gamut   GamutCount
}

// litEntry is what is known of a combination of tints.
type litEntry struct {
	key    key
	level  [mixBands]uint8 // of what lies behind
	used   bool
	even   bool // the same wherever it lies
	shine  shine
	sent   sent
	light  [3]float64 // with flakes
	number poisson
	shown  [3]float32
	fit    fitted
}

const (
	litCacheBits = 12
	litCacheSize = 1 << litCacheBits
)

// NewLitSink makes a picture of plates with model m under a light on so many goroutines; NewLitPNG writes it as it
// comes.
func NewLitSink(m *Model, l Light, workers int) (*LitSink, error) {
	return newLitSink(m, l, &imageCanvas{}, workers)
}

// NewLitPNG is NewLitSink that writes a PNG of 8 or 16 bits to w, with the resolution, the notes given and a note of
// the colours that were outside sRGB. The picture is not held in memory; Image is nil.
func NewLitPNG(m *Model, l Light, w io.Writer, bits int, notes []Note, workers int) (*LitSink, error) {
	if bits != 8 && bits != 16 {
		return nil, fmt.Errorf("a picture has 8 or 16 bits, not %d", bits)
	}
	return newLitSink(m, l, &pngCanvas{w: w, bits: bits, notes: notes, jobs: workers}, workers)
}

func newLitSink(source surfaceSource, l Light, out canvas, workers int) (*LitSink, error) {
	lamp, err := newLamp(l)
	if err != nil {
		return nil, err
	}
	encodedOnce.Do(makeEncoded)
	s := &LitSink{source: source, lamp: lamp, out: out, inputs: source.inputPlates()}
	for range max(workers, 1) {
		s.work = append(s.work, &litWorker{surface: source.surfaces()})
	}
	return s, nil
}

// plainDPI stands where plates do not tell their resolution.
const plainDPI = 300

// Begin starts a page. It refuses pictures over limits.MaxPagePixels and models that use plates which the page does
// not have.
func (s *LitSink) Begin(h plate.Header) error {
	s.Reduce = max(s.Reduce, 1)
	cols, rows, err := pictureSize(h, s.Reduce, s.inputs)
	if err != nil {
		return err
	}
	dpi := h.DPI / float64(s.Reduce)
	if h.DPI <= 0 {
		h.DPI = plainDPI
	}
	s.header, s.rows, s.cols, s.begun = h, 0, cols, true
	if err := s.beginOver(h); err != nil {
		return err
	}
	for _, w := range s.work {
		w.sums, w.gamut = nil, GamutCount{}
		if s.Reduce > 1 {
			w.sums = make([][4]float64, cols)
		}
	}
	return s.out.begin(cols, rows, dpi)
}

// beginOver prepares for what shows through.
func (s *LitSink) beginOver(h plate.Header) error {
	for _, w := range s.work {
		if w.over != nil {
			w.over, w.cache = nil, nil
		}
	}
	if s.Behind == nil {
		return nil
	}
	m, ok := s.source.(*Model)
	if !ok {
		return errors.New("what lies behind can be shown for a model only")
	}
	over, err := m.overBehind(s.Behind, h, len(s.work))
	for i, o := range over {
		s.work[i].over, s.work[i].cache = o, nil
	}
	return err
}

// pictureSize is that of a page reduced by a whole factor.
func pictureSize(h plate.Header, reduce int, inputs []int) (w, ht int, err error) {
	w, ht = (h.Width+reduce-1)/reduce, (h.Height+reduce-1)/reduce
	switch {
	case h.Width <= 0 || h.Height <= 0:
		return 0, 0, errors.New("the page has no pixels")
	case w > limits.MaxPagePixels/ht:
		return 0, 0, fmt.Errorf("a picture of %d x %d pixels is over the limit of %d", w, ht, limits.MaxPagePixels)
	}
	for _, i := range inputs {
		if h.Set != nil && i >= h.Set.Len() {
			return 0, 0, fmt.Errorf("the page has %d plates, the model of its look uses plate %d", h.Set.Len(), i)
		}
	}
	return w, ht, nil
}

// activePlanes are the planes of a band that matter and have toner.
func activePlanes(b *plate.Band, width int, inputs []int) ([]plane, error) {
	active := make([]plane, 0, len(inputs))
	for i, number := range inputs {
		if number >= len(b.Planes) || b.Planes[number] == nil {
			continue
		}
		p := b.Planes[number]
		if len(p) < b.Rows*width {
			return nil, fmt.Errorf("plate %d of the band at row %d is too short", number, b.Y0)
		}
		active = append(active, plane{i, p})
	}
	return active, nil
}

// Band adds the rows of b.
func (s *LitSink) Band(b *plate.Band) error {
	if !s.begun || b.Y0 != s.rows || b.Rows < 0 || b.Rows > s.header.Height-s.rows {
		return fmt.Errorf("band at row %d of %d rows does not follow row %d", b.Y0, b.Rows, s.rows)
	}
	active, err := activePlanes(b, s.header.Width, s.inputs)
	if err != nil {
		return err
	}
	s.rows += b.Rows
	s.out.ready((s.rows + s.Reduce - 1) / s.Reduce)
	// Each worker takes a strip of whole picture columns, so that sums need no lock.
	n := min(len(s.work), max(1, s.cols/16))
	var wg sync.WaitGroup
	for i := range n {
		c0, c1 := s.cols*i/n, s.cols*(i+1)/n
		wg.Go(func() { s.strip(s.work[i], b, active, c0, c1) })
	}
	wg.Wait()
	done := s.rows / s.Reduce
	if s.rows == s.header.Height {
		done = (s.rows + s.Reduce - 1) / s.Reduce
	}
	return s.out.done(done)
}

// strip lights picture columns c0 to c1 of a band.
func (s *LitSink) strip(w *litWorker, b *plate.Band, active []plane, c0, c1 int) {
	width, lamp := s.header.Width, s.lamp
	x0, x1 := c0*s.Reduce, min(c1*s.Reduce, width)
	pixel := 25400 / s.header.DPI // µm
	millimetres := pixel / 1000
	// Flakes lie on the page, whatever part of it is shown.
	perPoint := s.header.DPI / 72
	left, top := roundInt(s.header.OriginX*perPoint), roundInt(s.header.OriginY*perPoint)
	var level [mixBands]uint8
	e := s.entry(w, key{}, &level, pixel)
	if cap(w.span) < 3*(c1-c0) {
		w.span = make([]float32, 3*(c1-c0))
	}
	span := w.span[:3*(c1-c0)]
	for row := range b.Rows {
		y := b.Y0 + row
		up := (float64(s.header.Height)/2 - float64(y) - 0.5) * millimetres
		path := lampPath{lamp: lamp, up: up, left: -float64(width) / 2 * millimetres, step: lampStep * millimetres, block: -1}
		for x := x0; x < x1; x++ {
			var k key
			for _, p := range active {
				k.set(p.input, p.pix[row*width+x])
			}
			if w.over != nil {
				level = *s.Behind.at(x, y)
			}
			if k != e.key || level != e.level {
				e = s.entry(w, k, &level, pixel)
			}
			out := span[3*(x/s.Reduce-c0):][:3]
			if e.even && s.Reduce == 1 {
				out[0], out[1], out[2] = e.shown[0], e.shown[1], e.shown[2]
				w.gamut.count(&e.fit)
				continue
			}
			light, knee := e.light, e.sent.knee
			if !e.even {
				sent, number := e.sent, e.number
				g := lamp.far
				if lamp.Distance > 0 {
					g = path.at(x)
					sent = lamp.shade(&e.shine, &g)
					if lamp.glint.on && e.shine.share > 0 {
						number = lamp.glint.number(&e.shine, &g, lamp.widening, pixel*pixel)
					}
				}
				factor := 1.0
				if lamp.glint.on && e.shine.share > 0 {
					factor = lamp.glint.factor(lamp.glint.place(left+x, top+y), &g, &number)
				}
				for c := range light {
					light[c] = sent.base[c] + float64(factor*sent.flakes[c])
				}
				knee = sent.knee
			}
			if s.Reduce > 1 {
				sum := &w.sums[x/s.Reduce]
				for c, v := range light {
					sum[c] += v
				}
				sum[3] += knee
				continue
			}
			f := fit(tone(light, knee))
			w.gamut.count(&f)
			out[0], out[1], out[2] = float32(f.linear[0]), float32(f.linear[1]), float32(f.linear[2])
		}
		if s.Reduce == 1 {
			s.out.span(y, c0, span)
		} else if (y+1)%s.Reduce == 0 || y+1 == s.header.Height {
			rows := y%s.Reduce + 1
			for c := c0; c < c1; c++ {
				n := float64(rows * (min((c+1)*s.Reduce, width) - c*s.Reduce))
				sum := &w.sums[c]
				f := fit(tone([3]float64{sum[0] / n, sum[1] / n, sum[2] / n}, sum[3]/n))
				w.gamut.count(&f)
				for i, v := range f.linear {
					span[3*(c-c0)+i] = float32(v)
				}
				*sum = [4]float64{}
			}
			s.out.span(y/s.Reduce, c0, span)
		}
	}
}

// lampPath gives the geometry of the pixels of a row. It is reckoned at every lampStep-th pixel edge and straight between:
// over a millimetre or two the lamp hardly moves.
type lampPath struct {
	lamp     *lamp
	up       float64
	left     float64 // mm of pixel 0
	step     float64 // mm of a block
	block    int
	from, to geometry
}

const lampStep = 16

func (p *lampPath) at(x int) geometry {
	if b := x / lampStep; b != p.block {
		if b == p.block+1 && p.block >= 0 {
			p.from = p.to
		} else {
			p.from = p.lamp.at(p.left+float64(float64(b)*p.step), p.up)
		}
		p.to = p.lamp.at(p.left+float64(float64(b+1)*p.step), p.up)
		p.block = b
	}
	t := (float64(x%lampStep) + 0.5) / lampStep
	between := func(a, b float64) float64 { return a + float64(t*(b-a)) }
	f, o := &p.from, &p.to
	return geometry{
		nl: between(f.nl, o.nl), nv: f.nv, nh: between(f.nh, o.nh), vh: between(f.vh, o.vh),
		hx: between(f.hx, o.hx), hy: between(f.hy, o.hy), fall: between(f.fall, o.fall),
	}
}

func (g *GamutCount) count(f *fitted) {
	g.Pixels++
	if f.outside {
		g.Outside++
	}
	g.Worst = max(g.Worst, f.shift)
}

// entry is a memory of combinations; a hit needs the whole key, so that nothing depends on what came before.
func (s *LitSink) entry(w *litWorker, k key, level *[mixBands]uint8, pixel float64) *litEntry {
	if w.cache == nil {
		w.cache = make([]litEntry, litCacheSize)
	}
	h := k[0]*hashA ^ k[1]*hashB
	if w.over != nil {
		for _, v := range level {
			h = (h ^ uint64(v)) * hashC
		}
	}
	e := &w.cache[mixed(h)>>(64-litCacheBits)]
	if e.used && e.key == k && e.level == *level {
		return e
	}
	var surface Surface
	if w.over != nil {
		surface = w.over.surfaceAt(k, level)
	} else {
		surface = w.surface(k)
	}
	*e = litEntry{key: k, level: *level, used: true, shine: newShine(&surface)}
	e.even = s.lamp.Distance == 0 && (!s.lamp.glint.on || e.shine.share == 0)
	if s.lamp.Distance > 0 {
		return e
	}
	e.sent = s.lamp.shade(&e.shine, &s.lamp.far)
	for c := range e.light {
		e.light[c] = e.sent.base[c] + e.sent.flakes[c]
	}
	if e.even {
		e.fit = fit(tone(e.light, e.sent.knee))
		for c, v := range e.fit.linear {
			e.shown[c] = float32(v)
		}
		return e
	}
	e.number = s.lamp.glint.number(&e.shine, &s.lamp.far, s.lamp.widening, pixel*pixel)
	return e
}

func roundInt(v float64) int {
	if v < 0 {
		return -int(0.5 - v)
	}
	return int(v + 0.5)
}

// End checks that all rows have come and finishes the picture.
func (s *LitSink) End() error {
	if s.rows != s.header.Height {
		return fmt.Errorf("the page ended at row %d of %d", s.rows, s.header.Height)
	}
	return s.out.end(s.Gamut(), nil)
}

// Gamut counts the pixels of the picture whose colour a screen cannot show, complete after the last band.
func (s *LitSink) Gamut() (g GamutCount) {
	for _, w := range s.work {
		g.add(w.gamut)
	}
	return g
}

// Image is the picture of NewLitSink, complete after End.
func (s *LitSink) Image() *image.RGBA {
	if c, ok := s.out.(*imageCanvas); ok {
		return c.img
	}
	return nil
}

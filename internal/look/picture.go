package look

import (
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"sync"

	"laydown/internal/limits"
	"laydown/internal/plates/plate"
)

// PictureSink is a plate.Sink that makes a picture of the sheet, band by band. The picture is the
// same for any number of workers.
type PictureSink struct {
	// Reduce makes the picture smaller by this whole factor; each of its pixels is the average
	// light of Reduce x Reduce pixels. Set it before Begin; 0 and 1 keep the size.
	Reduce int
	// Behind is what shows through thin stock from the other side; nil: white. Set it before Begin.
	Behind *Behind

	model   *Model
	workers []*evaluator
	header  plate.Header
	img     *image.RGBA
	rows    int // taken so far
	sums    []uint64
	gamut   []GamutCount // by worker
	over    []*between   // by worker, with something behind the sheet
}

// NewPictureSink makes pictures of plates with model m on so many goroutines.
func NewPictureSink(m *Model, workers int) *PictureSink {
	s := &PictureSink{model: m}
	for range max(workers, 1) {
		s.workers = append(s.workers, newEvaluator(m))
	}
	return s
}

// Begin starts a page. It refuses pictures over limits.MaxPagePixels and models that use plates
// which the page does not have.
func (s *PictureSink) Begin(h plate.Header) error {
	s.Reduce = max(s.Reduce, 1)
	w, ht := (h.Width+s.Reduce-1)/s.Reduce, (h.Height+s.Reduce-1)/s.Reduce
	switch {
	case h.Width <= 0 || h.Height <= 0:
		return errors.New("the page has no pixels")
	case w > limits.MaxPagePixels/ht:
		return fmt.Errorf("a picture of %d x %d pixels is over the limit of %d", w, ht, limits.MaxPagePixels)
	case h.Set != nil && s.model.plates > h.Set.Len():
		return fmt.Errorf("the page has %d plates, the model of its look uses plate %d", h.Set.Len(), s.model.plates-1)
	}
	s.header, s.rows = h, 0
	s.gamut = make([]GamutCount, len(s.workers))
	s.img = image.NewRGBA(image.Rect(0, 0, w, ht))
	s.sums = nil
	if s.Reduce > 1 {
		s.sums = make([]uint64, 3*w)
	}
	return s.beginOver(h)
}

// beginOver prepares for what shows through.
func (s *PictureSink) beginOver(h plate.Header) (err error) {
	s.over = nil
	if s.Behind != nil {
		s.over, err = s.model.overBehind(s.Behind, h, len(s.workers))
	}
	return err
}

// Band adds the rows of b.
func (s *PictureSink) Band(b *plate.Band) error {
	if s.img == nil || b.Y0 != s.rows || b.Rows < 0 || b.Rows > s.header.Height-s.rows {
		return fmt.Errorf("band at row %d of %d rows does not follow row %d", b.Y0, b.Rows, s.rows)
	}
	active := make([]plane, 0, len(s.model.inputs))
	for i, number := range s.model.inputs {
		if number >= len(b.Planes) || b.Planes[number] == nil {
			continue
		}
		p := b.Planes[number]
		if len(p) < b.Rows*s.header.Width {
			return fmt.Errorf("plate %d of the band at row %d is too short", number, b.Y0)
		}
		active = append(active, plane{i, p})
	}
	s.rows += b.Rows
	// Each worker takes a strip of whole picture columns, so that sums need no lock.
	cols := s.img.Rect.Dx()
	n := min(len(s.workers), max(1, cols/16))
	var wg sync.WaitGroup
	for i := range n {
		c0, c1 := cols*i/n, cols*(i+1)/n
		wg.Go(func() {
			if s.over != nil {
				s.stripOver(i, b, active, c0, c1)
				return
			}
			s.strip(i, b, active, c0, c1)
		})
	}
	wg.Wait()
	return nil
}

type plane struct {
	input int
	pix   []byte
}

// strip paints picture columns c0 to c1 of a band.
func (s *PictureSink) strip(worker int, b *plate.Band, active []plane, c0, c1 int) {
	e, width := s.workers[worker], s.header.Width
	x0, x1 := c0*s.Reduce, min(c1*s.Reduce, width)
	last := key{}
	colour := *e.cached(last)
	rgb := srgb8(colour.linear)
	count := GamutCount{Pixels: int64(x1-x0) * int64(b.Rows)}
	defer func() { s.gamut[worker].add(count) }()
	var spread [limits.MaxLookToners]uint64 // last, each tint eight times
	for row := range b.Rows {
		y := b.Y0 + row
		at := row * width
		if s.Reduce == 1 {
			out := s.img.Pix[s.img.PixOffset(x0, y):]
			for x := x0; x < x1; {
				end := x + 1
				if x+8 <= x1 && repeats(active, at+x, &spread) {
					end = x + 8
				} else {
					var k key
					for i, p := range active {
						t := p.pix[at+x]
						k.set(p.input, t)
						spread[i] = uint64(t) * 0x0101010101010101
					}
					if k != last {
						last = k
						colour = *e.cached(k)
						rgb = srgb8(colour.linear)
						count.Worst = max(count.Worst, float64(colour.shift))
					}
				}
				if colour.outside {
					count.Outside += int64(end - x)
				}
				for ; x < end; x++ {
					o := out[4*(x-x0):][:4:4]
					o[0], o[1], o[2], o[3] = rgb[0], rgb[1], rgb[2], 255
				}
			}
			continue
		}
		sums := s.sums[3*c0 : 3*c1]
		for i, x := 0, x0; x < x1; i += 3 {
			for end := min(x+s.Reduce, x1); x < end; x++ {
				var k key
				for _, p := range active {
					k.set(p.input, p.pix[at+x])
				}
				if k != last {
					last = k
					colour = *e.cached(k)
					count.Worst = max(count.Worst, float64(colour.shift))
				}
				if colour.outside {
					count.Outside++
				}
				sums[i] += uint64(colour.linear[0])
				sums[i+1] += uint64(colour.linear[1])
				sums[i+2] += uint64(colour.linear[2])
			}
		}
		if (y+1)%s.Reduce == 0 || y+1 == s.header.Height {
			s.flush(y, c0, c1)
		}
	}
}

// repeats tells whether the next eight pixels have the tints of the last one.
func repeats(active []plane, at int, spread *[limits.MaxLookToners]uint64) bool {
	for i, p := range active {
		if binary.LittleEndian.Uint64(p.pix[at:]) != spread[i] {
			return false
		}
	}
	return true
}

// flush turns the sums of one picture row into pixels and clears them.
func (s *PictureSink) flush(y, c0, c1 int) {
	rows := y%s.Reduce + 1
	out := s.img.Pix[s.img.PixOffset(c0, y/s.Reduce):]
	for c := c0; c < c1; c++ {
		n := uint64(rows * (min((c+1)*s.Reduce, s.header.Width) - c*s.Reduce))
		sum := s.sums[3*c : 3*c+3]
		o := out[4*(c-c0):][:4:4]
		for i := range 3 {
			o[i] = encoded[(sum[i]+n/2)/n]
			sum[i] = 0
		}
		o[3] = 255
	}
}

// End checks that all rows have come.
func (s *PictureSink) End() error {
	if s.rows != s.header.Height {
		return fmt.Errorf("the page ended at row %d of %d", s.rows, s.header.Height)
	}
	return nil
}

// Gamut counts the pixels of the plates whose colour a screen cannot show, complete after End.
func (s *PictureSink) Gamut() (g GamutCount) {
	for _, c := range s.gamut {
		g.add(c)
	}
	return g
}

// Image is the picture, complete after End.
func (s *PictureSink) Image() *image.RGBA { return s.img }

// Picture shows whole plates: planes[i] is plate i, nil or Width x Height bytes.
func (m *Model) Picture(h plate.Header, planes [][]byte, workers int) (*image.RGBA, error) {
	s := NewPictureSink(m, workers)
	if err := s.Begin(h); err != nil {
		return nil, err
	}
	if err := s.Band(&plate.Band{Rows: h.Height, Planes: planes}); err != nil {
		return nil, err
	}
	return s.Image(), s.End()
}

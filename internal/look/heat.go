package look

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"strconv"
	"sync"

	"laydown/internal/plates/plate"
)

// The scale of amounts runs from paper through yellow, orange and purple to near black, evenly in lightness, so that
// more is darker for every reader, in any colour vision and in a grey print.

// HeatColour is the colour of an amount, 0 to 1 of the scale.
func HeatColour(t float64) color.RGBA {
	return heatScale()[int(math.Round(min(max(t, 0), 1)*heatSteps))]
}

const heatSteps = 500

var heatScale = sync.OnceValue(func() (scale [heatSteps + 1]color.RGBA) {
	encodedOnce.Do(makeEncoded)
	// Stations of hue (degrees) and chroma of OkLab.
	stations := [...]struct{ t, hue, chroma float64 }{{0, 100, .010}, {.2, 92, .085}, {.45, 58, .135}, {.7, 8, .145}, {.88, -40, .115}, {1, -70, .06}}
	for i := range scale {
		t := float64(i) / heatSteps
		at := 0
		for at < len(stations)-2 && t > stations[at+1].t {
			at++
		}
		a, b := stations[at], stations[at+1]
		u := (t - a.t) / (b.t - a.t)
		hue, chroma := a.hue+float64(u*(b.hue-a.hue)), a.chroma+float64(u*(b.chroma-a.chroma))
		// The OkLab lightness that gives a CIELAB lightness which falls evenly from 97 to 12.
		want := 97 - float64(85*t)
		lo, hi := 0.0, 1.1
		var v [3]float64
		for range 40 {
			l := (lo + hi) / 2
			v = fit(linearFromOKLab(okLab{l, chroma * cosDeg(hue), chroma * sinDeg(hue)})).linear
			if labFromLinear(v)[0] < want {
				lo = l
			} else {
				hi = l
			}
		}
		scale[i] = color.RGBA{encoded8(float32(v[0])), encoded8(float32(v[1])), encoded8(float32(v[2])), 255}
	}
	return scale
})

// HeatSink is a plate.Sink that shows how much toner lies where, in percent of full tint: of one plate, or of all laid
// over each other (total area coverage). Set the exported fields before Begin. A pixel of a reduced picture shows the
// most of the pixels below it, so that nothing over the limit is averaged away.
type HeatSink struct {
	Plates []int   // numbers of the plates to add up; nil adds all
	Reduce int     // whole factor
	Limit  float64 // percent; drawn as a line around what is above it and on the scale; 0 is none
	Title  string  // above the scale: what is shown

	// Most is the largest amount in percent and Over the share of pixels above the limit, 0 to 1; there after End.
	Most, Over float64
	Image      *image.RGBA

	header     plate.Header
	cols, tall int
	rows       int
	begun      bool
	amounts    []uint16 // sum of tints by pixel of the picture
	row        []uint16
	over       int64
}

// Begin implements plate.Sink.
func (s *HeatSink) Begin(h plate.Header) (err error) {
	s.Reduce = max(s.Reduce, 1)
	if s.Limit < 0 || math.IsNaN(s.Limit) {
		return fmt.Errorf("a limit of %g percent", s.Limit)
	}
	for i := range s.Plates {
		if s.Plates[i] < 0 {
			return fmt.Errorf("there is no plate %d", s.Plates[i])
		}
	}
	if s.cols, s.tall, err = pictureSize(h, s.Reduce, s.Plates); err != nil {
		return err
	}
	s.header, s.rows, s.over, s.begun = h, 0, 0, true
	s.amounts, s.row = make([]uint16, s.cols*s.tall), make([]uint16, h.Width)
	return nil
}

// Band implements plate.Sink.
func (s *HeatSink) Band(b *plate.Band) error {
	if !s.begun || b.Y0 != s.rows || b.Rows < 0 || b.Rows > s.header.Height-s.rows {
		return fmt.Errorf("band at row %d of %d rows does not follow row %d", b.Y0, b.Rows, s.rows)
	}
	numbers := s.Plates
	if numbers == nil {
		for i := range b.Planes {
			numbers = append(numbers, i)
		}
	}
	active, err := activePlanes(b, s.header.Width, numbers)
	if err != nil {
		return err
	}
	s.rows += b.Rows
	width := s.header.Width
	limit := uint16(min(s.Limit*255/100, math.MaxUint16))
	for row := range b.Rows {
		clear(s.row)
		for _, p := range active {
			for x, v := range p.pix[row*width : (row+1)*width] {
				s.row[x] += uint16(v)
			}
		}
		out := s.amounts[(b.Y0+row)/s.Reduce*s.cols:][:s.cols]
		for x, v := range s.row {
			if at := x / s.Reduce; v > out[at] {
				out[at] = v
			}
			if s.Limit > 0 && v > limit {
				s.over++
			}
		}
	}
	return nil
}

// End draws the picture with its scale at the right.
func (s *HeatSink) End() error {
	if s.rows != s.header.Height {
		return fmt.Errorf("the page ended at row %d of %d", s.rows, s.header.Height)
	}
	most := uint16(0)
	for _, v := range s.amounts {
		most = max(most, v)
	}
	s.Most = float64(most) * 100 / 255
	s.Over = float64(s.over) / (float64(s.header.Width) * float64(s.header.Height))
	top := 100.0
	if len(s.Plates) != 1 {
		top = max(100, 50*math.Ceil(max(s.Most, s.Limit*1.1)/50))
	}
	return s.draw(top)
}

func (s *HeatSink) draw(top float64) error {
	letters, err := newLabeller(labelSize(min(s.cols, s.tall, 480)))
	if err != nil {
		return err
	}
	air := letters.height / 3
	bar := letters.height * 3 / 4
	side := bar + 4*air + max(letters.width("000 %"), letters.width("limit 000 %"))
	height := max(s.tall, 8*letters.height)
	s.Image = filled(s.cols+side, height, labelPaper)
	colours := make([]color.RGBA, 0, heatSteps+1)
	for i := range heatSteps + 1 {
		colours = append(colours, HeatColour(float64(i)/heatSteps))
	}
	toStep := 100.0 / 255 / top * heatSteps
	limit := uint16(min(s.Limit*255/100, math.MaxUint16))
	above := func(x, y int) bool {
		return x >= 0 && y >= 0 && x < s.cols && y < s.tall && s.amounts[y*s.cols+x] > limit
	}
	for y := range s.tall {
		for x := range s.cols {
			v := s.amounts[y*s.cols+x]
			c := colours[min(int(float64(v)*toStep+0.5), heatSteps)]
			if s.Limit > 0 {
				// The line: light inside, dark outside, so that one of the two is seen on any colour.
				n := above(x-1, y) || above(x+1, y) || above(x, y-1) || above(x, y+1)
				all := above(x-1, y) && above(x+1, y) && above(x, y-1) && above(x, y+1)
				switch in := above(x, y); {
				case in && !all && x > 0 && y > 0 && x < s.cols-1 && y < s.tall-1:
					c = labelPaper
				case !in && n:
					c = color.RGBA{0, 0, 0, 255}
				}
			}
			s.Image.SetRGBA(x, y, c)
		}
	}
	x := s.cols + air
	if s.Title != "" {
		letters.put(s.Image, x, 0, labelInk, letters.shorten(s.Title, side-air))
	}
	y0, y1 := letters.height*3/2, height-letters.height
	place := func(percent float64) int { return y1 - int(math.Round(percent/top*float64(y1-y0))) }
	for y := y0; y <= y1; y++ {
		c := HeatColour(float64(y1-y) / float64(y1-y0))
		draw.Draw(s.Image, image.Rect(x, y, x+bar, y+1), image.NewUniform(c), image.Point{}, draw.Src)
	}
	frame(s.Image, image.Rect(x-1, y0-1, x+bar+1, y1+2), labelLine)
	limitAt := -1
	if s.Limit > 0 && s.Limit <= top {
		limitAt = place(s.Limit)
		draw.Draw(s.Image, image.Rect(x-air/2, limitAt-1, x+bar+air, limitAt+2), image.NewUniform(color.RGBA{0, 0, 0, 255}), image.Point{}, draw.Src)
		draw.Draw(s.Image, image.Rect(x-air/2, limitAt, x+bar+air, limitAt+1), image.NewUniform(labelPaper), image.Point{}, draw.Src)
		letters.put(s.Image, x+bar+air+air/2, limitAt-letters.height/2, labelInk, "limit "+strconv.FormatFloat(s.Limit, 'f', -1, 64)+" %")
	}
	step := niceStep(top, (y1-y0)/(letters.height*3/2))
	for v := 0.0; v <= top+1e-9; v += step {
		y := place(v)
		if limitAt >= 0 && max(y-limitAt, limitAt-y) < letters.height*3/4 {
			continue
		}
		draw.Draw(s.Image, image.Rect(x+bar, y, x+bar+air/2, y+1), image.NewUniform(labelInk), image.Point{}, draw.Src)
		letters.put(s.Image, x+bar+air+air/2, y-letters.height/2, labelInk, strconv.Itoa(int(v))+" %")
	}
	return nil
}

func frame(img *image.RGBA, r image.Rectangle, c color.RGBA) {
	for x := r.Min.X; x < r.Max.X; x++ {
		img.SetRGBA(x, r.Min.Y, c)
		img.SetRGBA(x, r.Max.Y-1, c)
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		img.SetRGBA(r.Min.X, y, c)
		img.SetRGBA(r.Max.X-1, y, c)
	}
}

// niceStep parts a scale into at most so many round steps.
func niceStep(top float64, most int) float64 {
	for _, s := range []float64{10, 20, 25, 50, 100, 200, 250, 500, 1000} {
		if top/s <= float64(max(most, 1)) {
			return s
		}
	}
	return top
}

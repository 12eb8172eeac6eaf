package look

import (
	"encoding/binary"
	"fmt"
	"image"
	"io"
	"math"
	"sync"
)

// imageCanvas collects an image in memory.
type imageCanvas struct{ img *image.RGBA }

func (c *imageCanvas) begin(w, h int, _ float64) error {
	c.img = image.NewRGBA(image.Rect(0, 0, w, h))
	return nil
}

func (c *imageCanvas) span(y, x int, linear []float32) {
	out := c.img.Pix[c.img.PixOffset(x, y):]
	for i := 0; i+3 <= len(linear); i += 3 {
		o := out[4*(i/3):][:4:4]
		o[0], o[1], o[2], o[3] = encoded8(linear[i]), encoded8(linear[i+1]), encoded8(linear[i+2]), 255
	}
}

func (c *imageCanvas) ready(int)                    {}
func (c *imageCanvas) done(int) error               { return nil }
func (c *imageCanvas) end(GamutCount, []Note) error { return nil }

func encoded8(v float32) uint8 {
	return encoded[uint16(float64(v)*linearScale+0.5)]
}

// encodeSteps of the table of the transfer function between which 16-bit values are interpolated; the error is below
// 0.01 of a 16-bit step above linear 0.0031 and none below it, where the function is straight.
const encodeSteps = 1 << 16

var encodeTable = sync.OnceValue(func() []float32 {
	t := make([]float32, encodeSteps+2)
	for i := range t {
		t[i] = float32(encode(float64(i) / encodeSteps))
	}
	return t
})

// encoded16 is the 16-bit sRGB value of linear 0..1.
func encoded16(t []float32, v float32) uint16 {
	at := float64(v) * encodeSteps
	i := int(at)
	a := float64(t[i])
	return uint16(float64((a+float64((at-float64(i))*(float64(t[i+1])-a)))*65535) + 0.5)
}

// pngCanvas writes a PNG as rows become complete.
type pngCanvas struct {
	w       io.Writer
	bits    int
	notes   []Note
	jobs    int
	rows    *pngRows
	table   []float32
	waiting []byte
	first   int // row that waiting starts with
}

func (c *pngCanvas) begin(w, h int, dpi float64) error {
	if c.rows != nil {
		return fmt.Errorf("one file takes one picture")
	}
	c.table = encodeTable()
	c.rows = newPNGRows(c.w, pngFormat{w, h, c.bits, pngRGB, dpi}, c.jobs)
	c.rows.head()
	return nil
}

func (c *pngCanvas) ready(rows int) {
	if n := (rows - c.first) * c.rows.stride; n > len(c.waiting) {
		c.waiting = append(c.waiting, make([]byte, n-len(c.waiting))...)
	}
}

func (c *pngCanvas) span(y, x int, linear []float32) {
	out := c.waiting[(y-c.first)*c.rows.stride+x*3*c.bits/8:]
	if c.bits == 8 {
		for i, v := range linear {
			out[i] = encoded8(v)
		}
		return
	}
	for i, v := range linear {
		binary.BigEndian.PutUint16(out[2*i:], encoded16(c.table, v))
	}
}

func (c *pngCanvas) done(rows int) error {
	n := (rows - c.first) * c.rows.stride
	if err := c.rows.add(c.waiting[:n]); err != nil {
		return err
	}
	c.first = rows
	c.waiting = c.waiting[:copy(c.waiting, c.waiting[n:])]
	return nil
}

func (c *pngCanvas) end(g GamutCount, notes []Note) error {
	return c.rows.end(append(append(append([]Note(nil), c.notes...), notes...), g.notes()...))
}

// Sentence says what a screen does not show of a picture; empty where it shows all.
func (g GamutCount) Sentence() string {
	if g.Outside == 0 {
		return ""
	}
	share := 100 * float64(g.Outside) / float64(max(g.Pixels, 1))
	of := fmt.Sprintf("%.1f %%", share)
	if share < 0.1 {
		of = "less than 0.1 %"
	}
	return fmt.Sprintf("%s of the picture is more vivid or brighter than a screen (sRGB); it is shown as near as a screen can, at most %.1f CIEDE2000 away",
		of, math.Ceil(g.Worst*10)/10)
}

func (g GamutCount) notes() []Note {
	text := g.Sentence()
	if text == "" {
		text = "every colour of the picture lies within sRGB"
	}
	return []Note{{"Gamut", text}}
}

// EncodePNG writes an opaque picture as a PNG of 8 bits with its resolution (0 = unknown) and notes. The bytes are the
// same for any number of workers.
func EncodePNG(w io.Writer, img *image.RGBA, dpi float64, notes []Note, workers int) error {
	size := img.Rect.Size()
	if size.X < 1 || size.Y < 1 {
		return fmt.Errorf("a picture of %d x %d pixels", size.X, size.Y)
	}
	p := newPNGRows(w, pngFormat{size.X, size.Y, 8, pngRGB, dpi}, workers)
	p.head()
	row := make([]byte, 0, 3*size.X)
	for y := range size.Y {
		row = row[:0]
		for in := img.Pix[y*img.Stride:][:4*size.X]; len(in) > 0; in = in[4:] {
			row = append(row, in[0], in[1], in[2])
		}
		if err := p.add(row); err != nil {
			return err
		}
	}
	return p.end(notes)
}

package look

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/gif"
	"math"

	"laydown/internal/plates/plate"
)

// Animation shows a sheet that is turned under a lamp, round and round.
type Animation struct {
	Light   Light   // where the sheet is in the middle of the movement
	Swing   float64 // degrees by which the sheet is turned towards the lamp and away from it; half as much across
	Frames  int     // of one round, at most
	Seconds float64 // a round takes
	Reduce  int     // whole factor at least; more where the file would be too large
	Most    int     // bytes of the file, at most
}

// MailAnimation is a round of three seconds that fits into a mail: 2 MB.
func MailAnimation(l Light) Animation {
	return Animation{Light: l, Swing: 14, Frames: 24, Seconds: 3, Reduce: 1, Most: 2_000_000}
}

const (
	leastFrames   = 10
	mostFrames    = 120
	leastAnimated = 32 // pixels of the shorter side
)

// Animated is an animation as a file.
type Animated struct {
	Data          []byte
	Width, Height int
	Frames        int
	Reduce        int
	Gamut         GamutCount // of all frames
}

// APNG makes an animated PNG (third edition of the PNG specification): all colours, in front of any background.
func (m *Model) APNG(part *plate.Stack, a Animation, notes []Note, workers int) (*Animated, error) {
	return animate(m, part, a, workers, func(f *frames) ([]byte, error) { return f.apng(notes, workers) })
}

// GIF makes a GIF of 255 colours for programs that do not move a PNG.
func (m *Model) GIF(part *plate.Stack, a Animation, workers int) (*Animated, error) {
	return animate(m, part, a, workers, (*frames).gif)
}

// frames are the pictures of one round and how long each stands.
type frames struct {
	images []*image.RGBA
	dpi    float64
	delay  float64 // seconds
}

// animate tries ever fewer frames and ever smaller pictures until the file fits.
func animate(source surfaceSource, part *plate.Stack, a Animation, workers int, encode func(*frames) ([]byte, error)) (*Animated, error) {
	switch {
	case a.Frames < 2 || a.Frames > mostFrames:
		return nil, fmt.Errorf("an animation has 2 to %d frames, not %d", mostFrames, a.Frames)
	case !(a.Seconds > 0 && a.Seconds <= 60):
		return nil, fmt.Errorf("a round takes up to 60 seconds, not %g", a.Seconds)
	case !(a.Swing >= 0 && a.Swing <= 40):
		return nil, fmt.Errorf("the sheet can be turned by 0 to 40 degrees, not %g", a.Swing)
	case a.Most < 1:
		return nil, fmt.Errorf("a file of at most %d bytes", a.Most)
	}
	reduce, n := max(a.Reduce, 1), a.Frames
	for {
		w, h, err := pictureSize(part.Header, reduce, source.inputPlates())
		if err != nil {
			return nil, err
		}
		out := &Animated{Width: w, Height: h, Frames: n, Reduce: reduce}
		f := frames{dpi: part.DPI / float64(reduce), delay: a.Seconds / float64(n)}
		for i := range n {
			img, gamut, err := litImage(source, part, a.at(float64(i)/float64(n)), reduce, workers)
			if err != nil {
				return nil, err
			}
			out.Gamut.add(gamut)
			f.images = append(f.images, img)
		}
		if out.Data, err = encode(&f); err != nil {
			return nil, err
		}
		over := float64(len(out.Data)) / float64(a.Most)
		if over <= 1 {
			return out, nil
		}
		// Fewer frames first, down to where the movement would stutter.
		if fewer := int(float64(n) / over); fewer >= leastFrames && over < 1.6 {
			n = fewer
			continue
		}
		if min(w, h)/2 < leastAnimated {
			return nil, fmt.Errorf("an animation of %d x %d pixels still has %d bytes; allow more than %d or show a smaller part", w, h, len(out.Data), a.Most)
		}
		n, reduce = a.Frames, max(reduce+1, int(float64(reduce)*math.Sqrt(over)))
	}
}

// at is the light at a share of the round. The sheet's face goes around an ellipse, so that it never stands still; it
// starts brightest, which is what a program shows that does not move pictures.
func (a *Animation) at(share float64) Light {
	sin, cos := math.Sincos(2 * math.Pi * share)
	l := a.Light.Tilted(a.Swing * cos)
	across := l
	across.Azimuth += 90
	across = across.Tilted(a.Swing / 2 * sin)
	across.Azimuth = l.Azimuth
	return across
}

// deltaLimit is by how many 8-bit steps a pixel may be off before it is shown anew.
const deltaLimit = 2

// delta finds what of a frame differs from what is shown: the box around it, empty where nothing does, and marks by
// pixel. What is marked is put into shown.
func delta(shown, next *image.RGBA) (box image.Rectangle, marks []bool) {
	w, h := next.Rect.Dx(), next.Rect.Dy()
	marks = make([]bool, w*h)
	for y := range h {
		a, b := shown.Pix[y*shown.Stride:][:4*w], next.Pix[y*next.Stride:][:4*w]
		for x := range w {
			p, q := a[4*x:][:3], b[4*x:][:3]
			far := 0
			for c := range p {
				far = max(far, int(p[c])-int(q[c]), int(q[c])-int(p[c]))
			}
			if far > deltaLimit {
				marks[y*w+x] = true
				copy(p, q)
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return box, marks
}

func copyOf(img *image.RGBA) *image.RGBA {
	c := *img
	c.Pix = append([]byte(nil), img.Pix...)
	return &c
}

// apng writes the first frame whole and of the others what has changed, in front of a transparent ground.
func (f *frames) apng(notes []Note, jobs int) ([]byte, error) {
	var buf bytes.Buffer
	first := f.images[0]
	w, h := first.Rect.Dx(), first.Rect.Dy()
	p := newPNGRows(&buf, pngFormat{w, h, 8, pngRGBA, f.dpi}, jobs)
	p.head()
	writeChunk(p.w, "acTL", binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(len(f.images))), 0))
	sequence := uint32(0)
	number := func(data []byte) []byte {
		out := append(binary.BigEndian.AppendUint32(nil, sequence), data...)
		sequence++
		return out
	}
	control := func(box image.Rectangle) {
		var c []byte
		for _, v := range []int{box.Dx(), box.Dy(), box.Min.X, box.Min.Y} {
			c = binary.BigEndian.AppendUint32(c, uint32(v))
		}
		c = binary.BigEndian.AppendUint16(c, uint16(math.Round(f.delay*1000)))
		c = binary.BigEndian.AppendUint16(c, 1000)
		writeChunk(p.w, "fcTL", number(append(c, 0, 1))) // nothing disposed of, blended over
	}
	control(first.Rect)
	if err := p.add(first.Pix); err != nil {
		return nil, err
	}
	if err := p.data(); err != nil {
		return nil, err
	}
	shown := copyOf(first)
	for _, next := range f.images[1:] {
		box, marks := delta(shown, next)
		if box.Empty() {
			box = image.Rect(0, 0, 1, 1)
		}
		control(box)
		q := newPNGRows(p.w, pngFormat{box.Dx(), box.Dy(), 8, pngRGBA, 0}, jobs)
		q.w, q.chunk = p.w, func(data []byte) { writeChunk(p.w, "fdAT", number(data)) }
		rows := make([]byte, 0, 4*box.Dx()*box.Dy())
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				if marks[y*w+x] {
					rows = append(rows, next.Pix[y*next.Stride+4*x:][:4]...)
				} else {
					rows = append(rows, 0, 0, 0, 0)
				}
			}
		}
		if err := q.add(rows); err != nil {
			return nil, err
		}
		if err := q.data(); err != nil {
			return nil, err
		}
	}
	writeNotes(p.w, notes)
	writeChunk(p.w, "IEND", nil)
	if err := p.w.Flush(); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}

// gif writes frames with one palette for all, so that colours stand still.
func (f *frames) gif() ([]byte, error) {
	var h histogram
	for _, img := range f.images {
		h.add(img)
	}
	colours := h.palette(255)
	q := newQuantiser(colours)
	clear := uint8(len(colours))
	palette := append(append(color.Palette(nil), colours...), color.RGBA{})
	size := f.images[0].Rect
	out := &gif.GIF{Config: image.Config{ColorModel: palette, Width: size.Dx(), Height: size.Dy()}}
	var shown *image.RGBA
	at := 0.0
	for i, next := range f.images {
		box, marks := size, []bool(nil)
		if i == 0 {
			shown = copyOf(next)
		} else if box, marks = delta(shown, next); box.Empty() {
			box, marks = image.Rect(0, 0, 1, 1), make([]bool, 1)
		}
		img := image.NewPaletted(box, palette)
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				v := clear
				if marks == nil || marks[y*size.Dx()+x] {
					p := next.Pix[next.PixOffset(x, y):][:3]
					v = q.at(x, y, p[0], p[1], p[2])
				}
				img.Pix[img.PixOffset(x, y)] = v
			}
		}
		out.Image = append(out.Image, img)
		// Hundredths of a second, so rounded that the round keeps its length.
		end := at + f.delay*100
		out.Delay = append(out.Delay, max(2, int(math.Round(end))-int(math.Round(at))))
		at = end
		out.Disposal = append(out.Disposal, gif.DisposalNone)
	}
	var buf bytes.Buffer
	if err := gif.EncodeAll(&buf, out); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}

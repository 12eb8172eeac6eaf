package pdfpage

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"image"
	"image/color"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

const pointsPerMM = geom.PointsPerMM

// At writes a position as operands.
func (p *Page) At(x, y float64) string {
	return fmt.Sprintf("%.3f %.3f", x*pointsPerMM, (p.H-y)*pointsPerMM)
}

// Text sets a line with its baseline's left end at x, y.
func (p *Page) Text(x, y float64, st Style, s string) {
	colour := st.Colour
	if colour == "" {
		colour = "0 g"
	}
	p.Op("BT %s %s Td", colour, p.At(x, y))
	now := -1
	var run strings.Builder
	end := func() {
		if run.Len() > 0 {
			p.Op("<%s> Tj", run.String())
			run.Reset()
		}
	}
	for _, r := range p.d.shown(st, s) {
		if f := p.d.faceOf(st, r); f != now {
			end()
			now = f
			p.used[f] = true
			p.Op("/%s %g Tf", faceNames[f], st.Size)
		}
		f := p.d.faces[now]
		g := f.glyph(r)
		f.used[g.id] = firstOf(f.used, g.id, r)
		fmt.Fprintf(&run, "%04X", g.id)
	}
	end()
	p.Op("ET")
}

// firstOf keeps the character a glyph was first used for.
func firstOf(used map[int]rune, id int, r rune) rune {
	if was, ok := used[id]; ok {
		return was
	}
	return r
}

// RGB is a colour of a screen (sRGB).
type RGB [3]uint8

// space is the colour space of the document's sRGB.
func (d *Document) space() pdf.Object {
	if d.srgb == nil {
		profile := d.w.AddStream(pdf.Dict{"N": pdf.Integer(3), "Alternate": pdf.Name("DeviceRGB")}, sRGBProfile(), true)
		d.srgb = d.w.Add(pdf.Array{pdf.Name("ICCBased"), profile})
	}
	return d.srgb
}

// Fill fills a rectangle with a colour of a screen.
func (p *Page) Fill(x, y, w, h float64, c RGB) {
	n := p.Resource("ColorSpace", p.d.space().(pdf.Ref))
	p.Op("/%s cs %.4f %.4f %.4f sc", n, float64(c[0])/255, float64(c[1])/255, float64(c[2])/255)
	p.Box(x, y, w, h)
	p.Op("f")
}

// Gray fills a rectangle with a gray, 0 = black.
func (p *Page) Gray(x, y, w, h, gray float64) {
	p.Op("%g g", gray)
	p.Box(x, y, w, h)
	p.Op("f")
}

// Box adds a rectangle to the path.
func (p *Page) Box(x, y, w, h float64) {
	p.Op("%s %.3f %.3f re", p.At(x, y+h), w*pointsPerMM, h*pointsPerMM)
}

// Frame strokes a rectangle in a gray with a line of so many points.
func (p *Page) Frame(x, y, w, h, gray, line float64) {
	p.Op("%g G %g w", gray, line)
	p.Box(x, y, w, h)
	p.Op("S")
}

// Line strokes a line in a gray.
func (p *Page) Line(x0, y0, x1, y1, gray, line float64) {
	p.Op("%g G %g w %s m %s l S", gray, line, p.At(x0, y0), p.At(x1, y1))
}

// Picture draws an *image.Gray as it is, any other as RGB, so that it fills a rectangle.
func (p *Page) Picture(x, y, w, h float64, img image.Image) {
	n := p.Resource("XObject", p.d.picture(img))
	p.Op("q %.3f 0 0 %.3f %s cm /%s Do Q", w*pointsPerMM, h*pointsPerMM, p.At(x, y+h), n)
}

// JPEG draws a coded picture of three channels (sRGB) and so many pixels, so that it fills a rectangle.
func (p *Page) JPEG(x, y, w, h float64, data []byte, across, down int) {
	ref := p.d.w.AddStream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(across), "Height": pdf.Integer(down),
		"ColorSpace": p.d.space(), "BitsPerComponent": pdf.Integer(8), "Filter": pdf.Name("DCTDecode")}, data, false)
	p.Op("q %.3f 0 0 %.3f %s cm /%s Do Q", w*pointsPerMM, h*pointsPerMM, p.At(x, y+h), p.Resource("XObject", ref))
}

// picture stores an image with 8 bits a channel.
func (d *Document) picture(img image.Image) pdf.Ref {
	b := img.Bounds()
	channels, space := 3, d.spaceFor(img)
	if _, ok := img.(*image.Gray); ok {
		channels = 1
	}
	var z bytes.Buffer
	enc := zlib.NewWriter(&z)
	row, above := make([]byte, b.Dx()*channels), make([]byte, b.Dx()*channels)
	line := make([]byte, 1+len(row))
	for y := b.Min.Y; y < b.Max.Y; y++ {
		rowOf(img, y, row)
		predicted(line, row, above, channels)
		enc.Write(line) // into memory: cannot fail
		row, above = above, row
	}
	enc.Close()
	return d.w.AddStream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(b.Dx()), "Height": pdf.Integer(b.Dy()),
		"ColorSpace": space, "BitsPerComponent": pdf.Integer(8), "Interpolate": pdf.Boolean(false), "Filter": pdf.Name("FlateDecode"),
		"DecodeParms": pdf.Dict{"Predictor": pdf.Integer(15), "Colors": pdf.Integer(channels), "Columns": pdf.Integer(b.Dx())}}, z.Bytes(), false)
}

func (d *Document) spaceFor(img image.Image) pdf.Object {
	if _, ok := img.(*image.Gray); ok {
		return pdf.Name("DeviceGray")
	}
	return d.space()
}

func rowOf(img image.Image, y int, row []byte) {
	b := img.Bounds()
	switch m := img.(type) {
	case *image.Gray:
		copy(row, m.Pix[m.PixOffset(b.Min.X, y):])
	case *image.RGBA:
		src := m.Pix[m.PixOffset(b.Min.X, y):]
		for x := range b.Dx() {
			copy(row[3*x:3*x+3], src[4*x:])
		}
	default:
		for x := range b.Dx() {
			c := color.NRGBAModel.Convert(img.At(b.Min.X+x, y)).(color.NRGBA)
			row[3*x], row[3*x+1], row[3*x+2] = c.R, c.G, c.B
		}
	}
}

// predicted writes a row by the PNG predictor, left or above, that leaves the smaller differences (ISO/IEC 15948, 9.2).
func predicted(line, row, above []byte, channels int) {
	left, up := 0, 0
	size := func(d byte) int { return min(int(d), 256-int(d)) }
	for i, v := range row {
		l := byte(0)
		if i >= channels {
			l = row[i-channels]
		}
		left += size(v - l)
		up += size(v - above[i])
	}
	line[0] = 2
	if left < up {
		line[0] = 1
	}
	for i, v := range row {
		was := above[i]
		if line[0] == 1 {
			was = 0
			if i >= channels {
				was = row[i-channels]
			}
		}
		line[1+i] = v - was
	}
}

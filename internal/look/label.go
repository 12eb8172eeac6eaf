package look

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"sync"

	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

var labelFont = sync.OnceValues(func() (*sfnt.Font, error) { return opentype.Parse(liberationsansregular.TTF) })

// labeller draws words beside and on pictures.
type labeller struct {
	face   font.Face
	height int // of a line with air above and below
	ascent int // from the top of the line to the baseline
}

// newLabeller makes letters of a size in pixels.
func newLabeller(size float64) (*labeller, error) {
	f, err := labelFont()
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, err
	}
	air := int(math.Round(size * 0.35))
	m := face.Metrics()
	return &labeller{face, m.Ascent.Ceil() + m.Descent.Ceil() + 2*air, m.Ascent.Ceil() + air}, nil
}

// labelSize suits a picture whose shorter side is so many pixels.
func labelSize(side int) float64 { return min(max(float64(side)/22, 12), 28) }

func (l *labeller) width(text string) int { return font.MeasureString(l.face, text).Ceil() }

// put writes a line whose box starts at x, y.
func (l *labeller) put(dst draw.Image, x, y int, c color.Color, text string) {
	d := font.Drawer{Dst: dst, Src: image.NewUniform(c), Face: l.face, Dot: fixed.P(x, y+l.ascent)}
	d.DrawString(text)
}

// shorten cuts a text to a width, with a mark that something is missing.
func (l *labeller) shorten(text string, width int) string {
	if l.width(text) <= width {
		return text
	}
	for r := []rune(text); len(r) > 0; {
		r = r[:len(r)-1]
		if short := string(r) + "…"; l.width(short) <= width {
			return short
		}
	}
	return ""
}

// Colours of what is drawn around pictures.
var (
	labelPaper = color.RGBA{0xff, 0xff, 0xff, 0xff}
	labelInk   = color.RGBA{0x22, 0x22, 0x22, 0xff}
	labelLine  = color.RGBA{0x99, 0x99, 0x99, 0xff}
)

func filled(w, h int, c color.RGBA) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Rect, image.NewUniform(c), image.Point{}, draw.Src)
	return img
}

// tag writes a text on a box of paper colour at a corner of the picture: x and y are its left top corner.
func (l *labeller) tag(dst draw.Image, x, y int, text string) {
	air := l.height / 4
	box := image.Rect(x, y, x+l.width(text)+2*air, y+l.height)
	draw.Draw(dst, box, image.NewUniform(labelPaper), image.Point{}, draw.Src)
	l.put(dst, x+air, y, labelInk, text)
}

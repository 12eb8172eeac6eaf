package look

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"

	"laydown/internal/colourant"
	"laydown/internal/limits"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// Swatches is a page of a picture book: what toners look like on one stock, for a person to judge.
type Swatches struct {
	Image *image.RGBA
	Gamut GamutCount
}

// The page in pixels.
const (
	swatch      = 64 // a field, stock around it included
	swatchEdge  = 5  // of stock around each patch
	swatchDPI   = 300
	swatchText  = 14
	swatchNames = 150 // room for the names of toners
)

// swatchTints of each toner, in percent.
var swatchTints = []int{100, 90, 70, 50, 30, 20, 10}

// DrawSwatches shows on a side of a stock every toner in tints and, solid, at the angles of a strip; and every pair, the
// toner of the row laid first and the one of the column over it, both solid and both at 50 %. On the diagonal a toner
// is laid twice. Colours are as a 45/0 instrument sees them, but for those of the angles.
func DrawSwatches(stock *press.Stock, side press.Side, toners []*press.Toner) (*Swatches, error) {
	n := len(toners)
	if n == 0 || n > limits.MaxLookToners {
		return nil, fmt.Errorf("a page shows 1 to %d toners, not %d", limits.MaxLookToners, n)
	}
	letters, err := newLabeller(swatchText)
	if err != nil {
		return nil, err
	}
	bare, err := NewModel(stock, side, nil)
	if err != nil {
		return nil, err
	}
	line := letters.height
	columns := len(swatchTints) + len(StripTilts)
	width := swatchNames + max(columns*swatch+swatch/2, 2*n*swatch+swatch/2) + swatch/2
	height := line + 2*line + n*swatch + 3*line + n*swatch + swatch/2
	d := &swatchPage{out: &Swatches{Image: filled(width, height, labelPaper)}, letters: letters, stock: stock, side: side}
	paper := bare.SRGB(nil)
	d.paper = color.RGBA{paper[0], paper[1], paper[2], 255}

	c := stock.Colour(side)
	letters.put(d.out.Image, 8, 0, labelInk, fmt.Sprintf("%s, %s: L* %.0f a* %.0f b* %.0f", stock.Title, side, c[0], c[1], c[2]))
	y := 3 * line
	angles := swatchNames + len(swatchTints)*swatch + swatch/2
	letters.put(d.out.Image, swatchNames, y-2*line, labelInk, "tints, lamp at 45 degrees, seen from above")
	letters.put(d.out.Image, angles, y-2*line, labelInk, "solid, turned under the lamp")
	for i, t := range swatchTints {
		d.head(swatchNames+i*swatch, y-line, fmt.Sprintf("%d %%", t))
	}
	for i, t := range StripTilts {
		words := fmt.Sprintf("%+g°", t)
		if t == 0 {
			words = "flat"
		}
		d.head(angles+i*swatch, y-line, words)
	}
	d.ground(swatchNames, y, len(swatchTints), n)
	for row, t := range toners {
		at := y + row*swatch
		letters.put(d.out.Image, 8, at+(swatch-line)/2, labelInk, letters.shorten(t.Name, swatchNames-12))
		m, err := NewModel(stock, side, []Layer{{t, 0}})
		if err != nil {
			return nil, err
		}
		for i, tint := range swatchTints {
			d.patch(swatchNames+i*swatch, at, m, percentTint(tint))
		}
		if err := d.angles(angles, at, m); err != nil {
			return nil, err
		}
	}
	y += n*swatch + 3*line
	for i, tint := range []int{100, 50} {
		x := swatchNames + i*(n*swatch+swatch/2)
		words := "pairs of solids: the row is laid first, the column over it"
		if tint != 100 {
			words = fmt.Sprintf("both at %d %%", tint)
		}
		letters.put(d.out.Image, x, y-2*line, labelInk, letters.shorten(words, n*swatch))
		d.ground(x, y, n, n)
		if err := d.pairs(x, y, toners, percentTint(tint)); err != nil {
			return nil, err
		}
		for col, t := range toners {
			d.head(x+col*swatch, y-line, t.Name)
		}
	}
	for row, t := range toners {
		letters.put(d.out.Image, 8, y+row*swatch+(swatch-line)/2, labelInk, letters.shorten(t.Name, swatchNames-12))
	}
	return d.out, nil
}

func percentTint(percent int) uint8 { return uint8((percent*255 + 50) / 100) }

type swatchPage struct {
	out     *Swatches
	letters *labeller
	stock   *press.Stock
	side    press.Side
	paper   color.RGBA
}

// head writes a word above a column.
func (d *swatchPage) head(x, y int, text string) {
	text = d.letters.shorten(text, swatch-4)
	d.letters.put(d.out.Image, x+(swatch-d.letters.width(text))/2, y, labelInk, text)
}

// ground lays bare stock under fields.
func (d *swatchPage) ground(x, y, cols, rows int) {
	draw.Draw(d.out.Image, image.Rect(x, y, x+cols*swatch, y+rows*swatch), image.NewUniform(d.paper), image.Point{}, draw.Src)
}

func (d *swatchPage) patch(x, y int, m *Model, tints ...uint8) {
	c := m.SRGB(tints)
	r := image.Rect(x, y, x+swatch, y+swatch).Inset(swatchEdge)
	draw.Draw(d.out.Image, r, image.NewUniform(color.RGBA{c[0], c[1], c[2], 255}), image.Point{}, draw.Src)
}

// angles shows a solid turned under the lamp of strips.
func (d *swatchPage) angles(x, y int, m *Model) error {
	st := plate.NewStack(plate.Header{Width: swatch, Height: swatch, DPI: swatchDPI, Set: colourant.NewSet()})
	solid := make([]byte, swatch*swatch)
	for py := swatchEdge; py < swatch-swatchEdge; py++ {
		for px := swatchEdge; px < swatch-swatchEdge; px++ {
			solid[py*swatch+px] = 255
		}
	}
	st.SetPlane(0, solid)
	for i, tilt := range StripTilts {
		img, gamut, err := litImage(m, st, StripLight().Tilted(tilt), 1, 1)
		if err != nil {
			return err
		}
		d.out.Gamut.add(gamut)
		draw.Draw(d.out.Image, image.Rect(x, y, x+swatch, y+swatch).Add(image.Pt(i*swatch, 0)), img, image.Point{}, draw.Src)
	}
	return nil
}

// pairs shows each toner under each.
func (d *swatchPage) pairs(x, y int, toners []*press.Toner, tint uint8) error {
	for row, lower := range toners {
		for col, upper := range toners {
			layers := []Layer{{lower, 0}, {upper, 1}}
			if row == col {
				layers[1].Plate = 0
			}
			m, err := NewModel(d.stock, d.side, layers)
			if err != nil {
				return err
			}
			d.patch(x+col*swatch, y+row*swatch, m, tint, tint)
		}
	}
	return nil
}

package paint

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

func grayImage(w, h int, data []byte) *image.Image {
	return &image.Image{Width: w, Height: h, Bits: 8, Space: colour.Gray, Decode: []float64{0, 1}, Data: data}
}

// spotImage has White tints as samples.
func spotImage(w, h int, data []byte) *image.Image {
	return &image.Image{Width: w, Height: h, Bits: 8, Space: white, Decode: []float64{0, 1}, Data: data}
}

func stencil(w, h int, data []byte) *image.Image {
	return &image.Image{Width: w, Height: h, Bits: 1, Stencil: true, Decode: []float64{0, 1}, Data: data}
}

func picture(im *image.Image, m geom.Matrix, change ...func(*displist.Item)) displist.Item {
	it := displist.Item{Kind: displist.Image, Bounds: m.Bounds(geom.Rect{X1: 1, Y1: 1}), Alpha: 1, Image: &displist.Picture{Image: im, M: m}}
	for _, f := range change {
		f(&it)
	}
	return it
}

// upright places an image with its rows from top to bottom.
func upright(x0, y0, x1, y1 float64) geom.Matrix {
	return geom.Matrix{A: x1 - x0, D: y0 - y1, E: x0, F: y1}
}

func noise(r *rand.Rand, n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(r.UintN(256))
	}
	return b
}

// average paints samples as squares on k x k points of every pixel and takes the mean, in the order tint, cover.
func average(im *image.Image, m geom.Matrix, w, h, k int) [][]float64 {
	inv, _ := m.Invert()
	out := [][]float64{make([]float64, w*h), make([]float64, w*h)}
	for y := range h {
		for x := range w {
			for j := range k {
				for i := range k {
					p := inv.Apply(geom.Point{X: float64(x) + (float64(i)+.5)/float64(k), Y: float64(y) + (float64(j)+.5)/float64(k)})
					if p.X < 0 || p.Y < 0 || p.X >= 1 || p.Y >= 1 {
						continue
					}
					s := im.Data[min(im.Height-1, int((1-p.Y)*float64(im.Height)))*im.Width+int(p.X*float64(im.Width))]
					out[0][y*w+x] += float64(s) / float64(k*k)
					out[1][y*w+x] += 1 / float64(k*k)
				}
			}
		}
	}
	return out
}

// Is every pixel the mean of what lies under it, at any scale and turn?
func TestImagePixelsAreMeans(t *testing.T) {
	const w, h = 12, 10
	cases := map[string]struct {
		iw, ih int
		m      geom.Matrix
		most   float64 // levels
	}{
		"one to one":          {8, 6, upright(2, 2, 10, 8), 0.5},
		"reduced by 3.5":      {28, 21, upright(2, 2, 10, 8), 1.5},
		"enlarged off grid":   {3, 2, upright(1.25, 2.5, 10.75, 8.5), 1.5},
		"upside down":         {16, 12, geom.Matrix{A: 8, D: 6, E: 2, F: 2}, 1.5},
		"mirrored":            {16, 12, geom.Matrix{A: -8, D: -6, E: 10, F: 8}, 1.5},
		"turned right":        {18, 25, geom.Matrix{B: 6, C: 8, E: 2, F: 2}, 1.5},
		"turned left":         {18, 25, geom.Matrix{B: -6, C: 8, E: 2, F: 8}, 1.5},
		"turned and mirrored": {18, 25, geom.Matrix{B: -6, C: -8, E: 10, F: 8}, 1.5},
		// 4 x 4 to 16 x 16 points stand for the area.
		"slanted enlarged": {3, 3, geom.Matrix{A: 7, B: 3, C: 3, D: -5, E: 1, F: 6}, 24},
		"slanted reduced":  {40, 40, geom.Matrix{A: 7, B: 3, C: 3, D: -5, E: 1, F: 6}, 24},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(1, 2))
			im := spotImage(c.iw, c.ih, noise(r, c.iw*c.ih))
			s := render(t, jobOf(list(w, h, picture(im, c.m))))
			want := average(im, c.m, w, h, 96)
			for i, v := range want[0] {
				if got := float64(s.At(4, i%w, i/w)); math.Abs(got-v) > c.most {
					t.Errorf("pixel %d,%d is %v, the mean is %.2f", i%w, i/w, got, v)
				}
			}
		})
	}
}

// Do images give the same bytes for any band height, crop, and probe?
func TestImagesAreInvariant(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	im := spotImage(31, 17, noise(r, 31*17))
	im.SoftMask = grayImage(31, 17, noise(r, 31*17))
	big := spotImage(90, 70, noise(r, 90*70))
	big.Mask = stencil(16, 4, noise(r, 8))
	for name, m := range map[string]geom.Matrix{"upright": upright(2.3, 3.1, 33.7, 25.2), "turned": {B: 22, C: 31.3, E: 2.2, F: 3.1},
		"turned back": {B: -22, C: -31.3, E: 33.2, F: 27.1}, "slanted": {A: 22, B: 11, C: 9, D: -16, E: 1.5, F: 18}} {
		t.Run(name, func(t *testing.T) {
			j := jobOf(list(36, 30, rect(0, 0, 36, 30, cmyk(.2, 0, 0, 0)), picture(im, m), picture(big, m.Mul(geom.Translate(1.4, -2)), overprint(0), alpha(.7))))
			page := renderRows(t, j, 30)
			if !samePlates(page, renderRows(t, j, 3)) {
				t.Error("bands of 3 rows differ")
			}
			j.Region = geom.Rect{X0: 9, Y0: 8, X1: 30, Y1: 21}
			if !samePlates(render(t, j), page.Crop(9, 8, 30, 21)) {
				t.Error("the crop differs")
			}
		})
	}
}

// What do masks let through?
func TestImageMasks(t *testing.T) {
	solid := func() *image.Image { return spotImage(2, 2, []byte{255, 255, 255, 255}) }
	soft, hard, key, other := solid(), solid(), spotImage(2, 2, []byte{255, 10, 255, 255}), solid()
	soft.SoftMask = grayImage(2, 2, []byte{0, 255, 128, 255})
	hard.Mask = stencil(2, 2, []byte{0x80, 0x40}) // set bits mask out
	key.ColourKey = []int{5, 20}
	other.SoftMask = grayImage(4, 1, []byte{255, 0, 255, 255})
	cases := map[string]struct {
		im   *image.Image
		want string
	}{
		"soft mask":                     {soft, "Cyan\n909\n409\n999\nWhite\n090\n590\n000"},
		"hard mask":                     {hard, "Cyan\n909\n099\n999\nWhite\n090\n900\n000"},
		"colour key":                    {key, "Cyan\n099\n009\n999\nWhite\n900\n990\n000"},
		"soft mask of other resolution": {other, "Cyan\n409\n409\n999\nWhite\n590\n590\n000"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			l := list(3, 3, rect(0, 0, 3, 3, cmyk(1, 0, 0, 0)), picture(c.im, upright(0, 0, 2, 2)))
			s := render(t, jobOf(l))
			sub := plate.NewStack(s.Header)
			sub.SetPlane(0, s.Plane(0))
			sub.SetPlane(4, s.Plane(4))
			got := plate.TextGrid(sub)
			sameGrid(t, got, strings.Replace(c.want, "White", "Magenta -\nYellow -\nBlack -\nWhite", 1)+"\nGold -")
		})
	}
}

// Does a stencil paint the current colour where its samples are 0, by the share of a pixel they cover?
func TestStencilPaintsByShare(t *testing.T) {
	im := stencil(4, 2, []byte{0b0111_0000, 0b1111_0000})
	l := list(3, 1, rect(0, 0, 3, 1, cmyk(1, 0, 0, 0)), picture(im, upright(0, 0, 2, 1), func(it *displist.Item) { it.Paint = paintOf(white, 1) }))
	s := render(t, jobOf(l))
	if got := tintsAt(s, 0, 0); got[4] != 64 || got[0] != 191 {
		t.Errorf("a quarter covered: %v", got)
	}
	if got := tintsAt(s, 1, 0); got[4] != 0 || got[0] != 255 {
		t.Errorf("not covered: %v", got)
	}
}

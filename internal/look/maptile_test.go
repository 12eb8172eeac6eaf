package look

import (
	"bytes"
	"image"
	"math/rand/v2"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/plates/plate"
)

// Does a tile hold each pixel's surface, with and without the other side showing through?
func TestTileHoldsThePixelsSurfaces(t *testing.T) {
	const w, h = 300, 90
	s := thinStock(85)
	m := model(t, s, toners(t, "Cyan", "Yellow", "Silver")...)
	r := rand.New(rand.NewPCG(4, 5))
	st := plate.NewStack(plate.Header{Width: w, Height: h, DPI: 300, Set: colourant.NewSet()})
	for i := range 3 {
		st.SetPlane(i, patchy(r, w, h))
	}
	behind := behindOf(t, s, "Black", w, h, patchy(r, w, h))
	bright, dark, err := m.grounds()
	if err != nil {
		t.Fatal(err)
	}
	over, plain := newBetween(bright, dark), newEvaluator(m)
	c := NewTileCoder(m)
	for _, part := range []image.Rectangle{image.Rect(0, 0, 256, 90), image.Rect(256, 0, 300, 90), image.Rect(31, 7, 32, 8)} {
		for _, b := range []*Behind{nil, behind} {
			var planes [mapPlanes][]byte
			for y := part.Min.Y; y < part.Max.Y; y++ {
				for x := part.Min.X; x < part.Max.X; x++ {
					k := plain.load([]uint8{st.At(0, x, y), st.At(1, x, y), st.At(2, x, y)})
					surface := plain.surface(k)
					if b != nil {
						surface = over.surfaceAt(k, b.at(x, y))
					}
					for i, v := range codeFromSurface(&surface) {
						planes[i] = append(planes[i], v)
					}
				}
			}
			got, err := c.Tile(st, part, b, image.Point{})
			if err != nil {
				t.Fatal(err)
			}
			if want := tileBody(&planes, part.Dx(), part.Dx(), part.Dy()); !bytes.Equal(got, want) {
				t.Errorf("part %v, behind %t: the tile differs from its pixels", part, b != nil)
			}
		}
	}
	for _, part := range []image.Rectangle{{}, image.Rect(0, 0, 257, 1), image.Rect(200, 0, 301, 1)} {
		if _, err := c.Tile(st, part, nil, image.Point{}); err == nil {
			t.Errorf("part %v is no tile, and was coded", part)
		}
	}
}

// patchy is a plate of flat patches, noise and nothing.
func patchy(r *rand.Rand, w, h int) []byte {
	p := make([]byte, w*h)
	for range 30 {
		x0, y0, noise, v := r.IntN(w), r.IntN(h), r.IntN(3) == 0, byte(r.IntN(256))
		for y := y0; y < min(y0+30, h); y++ {
			for x := x0; x < min(x0+60, w); x++ {
				p[y*w+x] = v
				if noise {
					p[y*w+x] = byte(r.IntN(256))
				}
			}
		}
	}
	return p
}

package paint

import (
	"bytes"
	"context"
	"math"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
)

// anyPicture is an image of some kind, turned and scaled somehow.
func (r *randomList) anyPicture() displist.Item {
	w, h := 1+r.IntN(9), 1+r.IntN(9)
	var im *image.Image
	switch r.IntN(5) {
	case 0:
		im = grayImage(w, h, noise(r.Rand, w*h))
	case 1:
		im = spotImage(w, h, noise(r.Rand, w*h))
	case 2:
		im = stencil(w, h, noise(r.Rand, (w+7)/8*h))
	case 3:
		im = &image.Image{Width: w, Height: h, Bits: 8, Space: colour.CMYK, Decode: colour.DefaultDecode(colour.CMYK, 8), Data: noise(r.Rand, w*h*4)}
	default:
		im = &image.Image{Width: w, Height: h, Bits: 8, Space: colour.RGB, Decode: colour.DefaultDecode(colour.RGB, 8), Data: noise(r.Rand, w*h*3)}
	}
	if !im.Stencil && r.IntN(3) == 0 {
		mw, mh := w, h
		if r.IntN(2) == 0 {
			mw, mh = 1+r.IntN(9), 1+r.IntN(9)
		}
		if r.IntN(2) == 0 {
			im.SoftMask = grayImage(mw, mh, noise(r.Rand, mw*mh))
		} else {
			im.Mask = stencil(mw, mh, noise(r.Rand, (mw+7)/8*mh))
		}
	}
	b := r.box()
	m := upright(b.X0, b.Y0, b.X1, b.Y1)
	if r.IntN(2) == 0 {
		sin, cos := math.Sincos(r.Float64() * 7)
		m = m.Mul(geom.Matrix{A: cos, B: sin, C: -sin, D: cos, E: r.Float64() * 9, F: r.Float64() * 5})
	}
	it := picture(im, m, r.state)
	if im.Stencil {
		it.Paint = r.paint()
	}
	return it
}

// Is every pixel explained as it is rendered, whatever is on the page, images too, and for any number of workers?
func FuzzExplainIsRender(f *testing.F) {
	for seed := range uint64(30) {
		f.Add(seed, uint8(6), uint8(72), uint16(seed*37))
	}
	f.Fuzz(func(t *testing.T, seed uint64, n, dpi uint8, pixel uint16) {
		r := rich(seed, 11, 9)
		l := r.list(1 + int(n%9))
		for range 1 + n%4 {
			l.Items = append(l.Items, r.anyPicture())
		}
		for i := len(l.Items) - 1; i >= 0; i-- {
			if m := l.Items[i].SoftMask; m != nil && m.Ref.Num == 0 {
				m.Ref.Num = 1
				r.end(m.Items, 0, len(m.Items))
			}
		}
		j := jobOf(l)
		j.DPI, j.Workers = float64(20+dpi%200), 1
		page := render(t, j)
		j.Workers = 3
		if !samePlates(renderRows(t, j, 3), page) {
			t.Fatal("bands of 3 rows and 3 workers differ")
		}
		x, y := int(pixel)%page.Width, int(pixel>>4)%page.Height
		e, err := Explain(context.Background(), j, x, y)
		if err != nil {
			t.Fatal(err)
		}
		if want := tintsAt(page, x, y); !bytes.Equal(e.Final, want) {
			t.Fatalf("pixel %d,%d: explained %v, rendered %v", x, y, e.Final, want)
		}
	})
}

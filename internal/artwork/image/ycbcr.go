package image

import (
	stdimage "image"
	"image/color"
)

func rgbFromYCbCr(m *stdimage.YCbCr) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := make([]byte, 3*w*h)
	for y := range h {
		for x := range w {
			yo, co := m.YOffset(m.Rect.Min.X+x, m.Rect.Min.Y+y), m.COffset(m.Rect.Min.X+x, m.Rect.Min.Y+y)
			o := out[3*(y*w+x):]
			o[0], o[1], o[2] = color.YCbCrToRGB(m.Y[yo], m.Cb[co], m.Cr[co])
		}
	}
	return out
}

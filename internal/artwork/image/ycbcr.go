package image

import (
	"bytes"
	stdimage "image"
)

// rgbFromYCbCr converts as JFIF says (ITU-T T.871, 7), to interleaved RGB. Chroma of half width, or
// half width and height, is interpolated between samples by a triangle filter, nearest sample
// three quarters, next one quarter, as decoders in use do; other ratios repeat samples.
func rgbFromYCbCr(m *stdimage.YCbCr) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := make([]byte, 3*w*h)
	up := newUpsampler(m)
	cb, cr := make([]byte, w+1), make([]byte, w+1)
	for y := range h {
		up.row(cb, m.Cb, y)
		up.row(cr, m.Cr, y)
		rgbRow(out[3*w*y:3*w*(y+1)], m.Y[m.YOffset(m.Rect.Min.X, m.Rect.Min.Y+y):], cb, cr)
	}
	return out
}

// rgbRow converts one row.
func rgbRow(dst, luma, cb, cr []byte) {
	for x := range len(dst) / 3 {
		rgbPixel(dst[3*x:3*x+3:3*x+3], luma[x], cb[x], cr[x])
	}
}

// rgbPixel converts one pixel. The factors are 1.402, 0.344136, 0.714136 and 1.772 in 65536ths.
func rgbPixel(dst []byte, luma, cb, cr byte) {
	y := int32(luma)<<16 + 1<<15
	b, r := int32(cb)-128, int32(cr)-128
	_ = dst[2]
	dst[0] = clampByte((y + 91881*r) >> 16)
	dst[1] = clampByte((y - 22554*b - 46802*r) >> 16)
	dst[2] = clampByte((y + 116130*b) >> 16)
}

func clampByte(v int32) byte {
	if uint32(v) <= 255 {
		return byte(v)
	}
	if v < 0 {
		return 0
	}
	return 255
}

// upsampler brings chroma rows to full width.
type upsampler struct {
	m            *stdimage.YCbCr
	w            int // of the picture
	cw, ch       int // chroma samples that belong to the picture
	halfX, halfY bool
	sum          []int32
}

func newUpsampler(m *stdimage.YCbCr) *upsampler {
	u := &upsampler{m: m, w: m.Rect.Dx()}
	switch m.SubsampleRatio {
	case stdimage.YCbCrSubsampleRatio422:
		u.halfX = true
	case stdimage.YCbCrSubsampleRatio420:
		u.halfX, u.halfY = true, true
	}
	u.cw, u.ch = (u.w+1)/2, (m.Rect.Dy()+1)/2
	if u.cw < 2 {
		u.halfX = false
	}
	u.sum = make([]int32, u.cw)
	return u
}

// row writes chroma row y of the picture; dst has room for w+1 samples.
func (u *upsampler) row(dst, plane []byte, y int) {
	m := u.m
	if !u.halfX {
		for x := range u.w {
			dst[x] = plane[m.COffset(m.Rect.Min.X+x, m.Rect.Min.Y+y)]
		}
		return
	}
	at := m.COffset(m.Rect.Min.X, m.Rect.Min.Y+y)
	near := plane[at : at+u.cw]
	if !u.halfY {
		for i, v := range near {
			u.sum[i] = 4 * int32(v)
		}
		u.widen(dst)
		return
	}
	// The next row lies above for the upper of two picture rows, below for the lower.
	far := near
	if cy := y / 2; y%2 == 0 && cy > 0 {
		far = plane[at-m.CStride : at-m.CStride+u.cw]
	} else if y%2 == 1 && cy+1 < u.ch {
		far = plane[at+m.CStride : at+m.CStride+u.cw]
	}
	for i, v := range near {
		u.sum[i] = 3*int32(v) + int32(far[i])
	}
	u.widen(dst)
}

// widen interpolates between the sums, which hold 4 times a sample. Halves are rounded up on even
// and down on odd columns, so that no drift adds up.
func (u *upsampler) widen(dst []byte) {
	s := u.sum
	last := len(s) - 1
	for i, v := range s {
		left, right := s[max(i-1, 0)], s[min(i+1, last)]
		dst[2*i] = byte((3*v + left + 8) >> 4)
		if 2*i+1 < len(dst) {
			dst[2*i+1] = byte((3*v + right + 7) >> 4)
		}
	}
}

// untransformed has the decoder leave YCCK with chroma of half width and height as it is stored, where it
// would repeat chroma samples: cmykFromYCCK interpolates. ok is false, and data the same, for every other JPEG.
func untransformed(data []byte) (out []byte, ok bool) {
	h, err := parseJPEG(data)
	if err != nil || !h.adobe || h.transform != 2 || !bytes.Equal(h.factors, []byte{0x22, 0x11, 0x11, 0x22}) {
		return data, false
	}
	out = bytes.Clone(data)
	out[h.transformAt] = 0
	return out, true
}

// cmykFromYCCK converts samples Y, Cb, Cr, K in place: C, M, Y are the complements of R, G, B. Chroma
// samples stand twice, along and down.
func cmykFromYCCK(px *pixels) {
	if px.n != 4 {
		return
	}
	cw, ch := (px.w+1)/2, (px.h+1)/2
	m := &stdimage.YCbCr{Cb: make([]byte, cw*ch), Cr: make([]byte, cw*ch), CStride: cw,
		SubsampleRatio: stdimage.YCbCrSubsampleRatio420, Rect: stdimage.Rect(0, 0, px.w, px.h)}
	for y := range px.h {
		row := px.data[4*px.w*y:][:4*px.w]
		for x := range px.w {
			if x%2 == 0 && y%2 == 0 {
				at := m.COffset(x, y)
				m.Cb[at], m.Cr[at] = row[4*x+1], row[4*x+2]
			}
		}
	}
	up := newUpsampler(m)
	cb, cr := make([]byte, px.w+1), make([]byte, px.w+1)
	for y := range px.h {
		up.row(cb, m.Cb, y)
		up.row(cr, m.Cr, y)
		row := px.data[4*px.w*y:][:4*px.w]
		for x := range px.w {
			at := row[4*x : 4*x+3 : 4*x+3]
			rgbPixel(at, at[0], cb[x], cr[x])
			at[0], at[1], at[2] = 255-at[0], 255-at[1], 255-at[2]
		}
	}
}

package image

import (
	"bytes"
	"errors"
	"fmt"
	stdimage "image"
	"image/jpeg"
	"io"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// The standard decoder is strict and turns CMYK samples round; this file gives it what it wants and
// takes back the samples as they are stored, which is what DCTDecode yields (7.4.8).

// Marker codes of JPEG (ITU-T T.81, Table B.1).
const (
	markerSOF0 = 0xc0
	markerSOF2 = 0xc2
	markerDHT  = 0xc4
	markerJPG  = 0xc8
	markerDAC  = 0xcc
	markerRST0 = 0xd0
	markerSOI  = 0xd8
	markerEOI  = 0xd9
	markerSOS  = 0xda
	markerDRI  = 0xdd
	markerAPP0 = 0xe0
	markerAPPE = 0xee
)

// jpegHeader is what stands before the first scan.
type jpegHeader struct {
	start         int // of SOI in the data
	scan          int // of the first SOS marker, len(data) when there is none
	process       byte
	precision     int
	width, height int
	ids           []byte
	factors       []byte // sampling factors, horizontal in the high half
	sof           int    // offset of the frame header's marker
	jfif          [][2]int
	adobe         bool
	transform     byte
	transformAt   int // offset of transform
}

var errNoJPEG = errors.New("the JPEG data has no header")

func parseJPEG(data []byte) (*jpegHeader, error) {
	h := &jpegHeader{scan: len(data)}
	h.start = bytes.Index(data, []byte{0xff, markerSOI})
	if h.start < 0 {
		return nil, errNoJPEG
	}
	at := h.start + 2
	for at+4 <= len(data) {
		if data[at] != 0xff { // stray bytes between segments
			at++
			continue
		}
		m := data[at+1]
		if m == 0xff || m == 0 || m == 1 || m >= markerRST0 && m <= markerSOI {
			at++
			continue
		}
		if m == markerEOI {
			break
		}
		size := int(data[at+2])<<8 | int(data[at+3])
		if m == markerSOS {
			h.scan = at
			break
		}
		if size < 2 || at+2+size > len(data) {
			break
		}
		h.segment(m, at, data[at+4:at+2+size])
		at += 2 + size
	}
	if h.process == 0 {
		return nil, errNoJPEG
	}
	return h, nil
}

func (h *jpegHeader) segment(m byte, at int, body []byte) {
	switch {
	case m == markerAPP0 && bytes.HasPrefix(body, []byte("JFIF\x00")):
		h.jfif = append(h.jfif, [2]int{at, at + 4 + len(body)})
	case m == markerAPPE && len(body) >= 12 && bytes.HasPrefix(body, []byte("Adobe")):
		h.adobe, h.transform, h.transformAt = true, body[11], at+4+11
	case m >= markerSOF0 && m <= 0xcf && m != markerDHT && m != markerJPG && m != markerDAC:
		if h.process != 0 || len(body) < 6 || len(body) < 6+3*int(body[5]) {
			return
		}
		h.process, h.sof = m, at
		h.precision = int(body[0])
		h.height = int(body[1])<<8 | int(body[2])
		h.width = int(body[3])<<8 | int(body[4])
		for i := range int(body[5]) {
			h.ids = append(h.ids, body[6+3*i])
			h.factors = append(h.factors, body[7+3*i])
		}
	}
}

// supported tells kinds of JPEG that DCTDecode allows but the decoder cannot do.
func (h *jpegHeader) supported() error {
	switch {
	case h.process > markerSOF2 && h.process < markerDHT || h.process > markerDHT && h.process < markerJPG:
		return fmt.Errorf("%w: lossless or hierarchical JPEG", ErrUnsupported)
	case h.process > markerJPG:
		return fmt.Errorf("%w: JPEG with arithmetic coding", ErrUnsupported)
	case h.precision != 8:
		return fmt.Errorf("%w: JPEG of %d bits", ErrUnsupported, h.precision)
	}
	switch len(h.ids) {
	case 1, 3, 4:
		return nil
	}
	return fmt.Errorf("%w: JPEG of %d components", ErrUnsupported, len(h.ids))
}

// rewritten is the data as the standard decoder takes it: it begins with SOI, says by an Adobe
// marker how 3 and 4 components are stored (7.4.8: the marker in the data decides, then
// ColorTransform, then 1 for 3 and 0 for 4 components), and has a height.
func (h *jpegHeader) rewritten(data []byte, transform, height int) []byte {
	var insert []byte
	var drop [][2]int
	if !h.adobe {
		switch {
		case len(h.ids) == 4:
			insert = adobeMarker(max(transform, 0) * 2)
		case len(h.ids) == 3 && transform == 0:
			// A JFIF marker would have the decoder take the samples for YCbCr.
			insert, drop = adobeMarker(0), h.jfif
		case len(h.ids) == 3 && transform == 1:
			insert = adobeMarker(1)
		}
	}
	if h.start == 0 && insert == nil && h.height != 0 {
		return data
	}
	out := make([]byte, 0, len(data)+len(insert))
	out = append(out, data[h.start:h.start+2]...)
	out = append(out, insert...)
	at := h.start + 2
	for _, d := range drop {
		out = append(out, data[at:d[0]]...)
		at = d[1]
	}
	if h.height == 0 {
		out = append(out, data[at:h.sof+5]...)
		out = append(out, byte(height>>8), byte(height))
		at = h.sof + 7
	}
	return append(out, data[at:]...)
}

func adobeMarker(transform int) []byte {
	return []byte{0xff, markerAPPE, 0, 14, 'A', 'd', 'o', 'b', 'e', 0, 100, 0, 0, 0, 0, byte(transform)}
}

// photo finishes a DCTDecode image (7.4.8).
func (d *decoding) photo(im *Image, as role, data []byte, parms pdf.Dict) (*Image, error) {
	if im.Stencil {
		return nil, fmt.Errorf("%w: a stencil in JPEG", ErrUnsupported)
	}
	h, err := parseJPEG(data)
	if err != nil {
		return nil, err
	}
	if err := h.supported(); err != nil {
		return nil, err
	}
	height := h.height
	if height == 0 {
		height = im.Height
	}
	if err := checkSize(h.width, height); err != nil {
		return nil, err
	}
	if h.width*height*len(h.ids) > limits.MaxStreamBytes {
		return nil, fmt.Errorf("%w: %d x %d pixels", ErrTooLarge, h.width, height)
	}
	transform := -1
	if v, ok := d.r.doc.Int(parms["ColorTransform"]); ok {
		transform = min(max(v, 0), 1)
	}
	data = h.rewritten(data, transform, min(height, 0xffff))
	data, halved := untransformed(data)
	px, whole, err := decodeJPEG(h, data)
	if err != nil {
		return nil, err
	}
	if halved {
		cmykFromYCCK(px)
	}
	if !whole {
		d.damaged("image-data-damaged", fmt.Sprintf("The JPEG data of an image of %d x %d pixels is damaged or cut short.", im.Width, im.Height),
			"Part of the image is missing in print.")
	}
	if px.w != im.Width || px.h != im.Height {
		d.sizeDiffers(im, px.w, px.h)
	}
	im.Bits = 8
	d.fitComponents(im, as, px)
	d.decodeArray(im)
	im.Data = px.data
	whitenMissing(im, px)
	return im, nil
}

// whitenMissing paints the MCUs that the data does not hold white.
func whitenMissing(im *Image, px *pixels) {
	white := make([]byte, px.n)
	for c := range white {
		white[c] = byte(whiteSample(im, c))
	}
	l := &px.layout
	for i, gone := range px.missing {
		if !gone {
			continue
		}
		x0, y0 := i%l.mcusX*l.mcuW, i/l.mcusX*l.mcuH
		for y := y0; y < min(y0+l.mcuH, px.h); y++ {
			for x := x0; x < min(x0+l.mcuW, px.w); x++ {
				copy(px.data[(y*px.w+x)*px.n:], white)
			}
		}
	}
}

// fitComponents makes space and samples agree on the number of components.
func (d *decoding) fitComponents(im *Image, as role, px *pixels) {
	device := deviceSpace(px.n)
	switch {
	case im.Space == nil:
		im.Space = device
		d.noSpace(device)
	case im.Space.Components() == px.n:
	case as == softMask:
		d.damaged("image-components-differ", fmt.Sprintf("A soft mask is a JPEG of %d components instead of one.", px.n), "Its first component is used.")
		px.data = firstComponent(px)
		px.n = 1
	default:
		d.damaged("image-components-differ", fmt.Sprintf("An image in %s is a JPEG of %d components; it is read as %s.", im.Space, px.n, device),
			"It may print in other colours than the design program shows.")
		im.Space = device
	}
}

func firstComponent(px *pixels) []byte {
	out := make([]byte, px.w*px.h)
	for i := range out {
		out[i] = px.data[i*px.n]
	}
	return out
}

// pixels are 8-bit samples as stored, interleaved without padding.
type pixels struct {
	w, h, n int
	data    []byte
	missing []bool // MCUs that were made up, of layout; nil = none known
	layout  scanLayout
}

// decodeJPEG decodes, first strictly, then with damage bridged; whole tells which.
func decodeJPEG(h *jpegHeader, data []byte) (px *pixels, whole bool, err error) {
	img, err := runJPEG(bytes.NewReader(data), bytes.NewReader([]byte{0xff, markerEOI}))
	if err == nil {
		return samplesOf(img), true, nil
	}
	var unsupported jpeg.UnsupportedError
	if errors.As(err, &unsupported) {
		return nil, false, fmt.Errorf("%w: %w", ErrUnsupported, err)
	}
	if l, ok := layoutOf(h, data); ok {
		fixed, missing := l.repaired(data)
		if img, err := runJPEG(bytes.NewReader(fixed)); err == nil {
			px = samplesOf(img)
			px.missing, px.layout = missing, l
			return px, false, nil
		}
	}
	if h.process == markerSOF2 {
		for _, cut := range progressiveCuts(data) {
			if img, err := runJPEG(bytes.NewReader(cut), bytes.NewReader([]byte{0xff, markerEOI})); err == nil {
				return samplesOf(img), false, nil
			}
		}
	}
	// The last resort: what is missing reads as zero bits.
	blocks := (h.width/8 + 4) * (max(h.height, 1)/8 + 4) * len(h.ids)
	img, again := runJPEG(bytes.NewReader(data), io.LimitReader(zeros{}, int64(blocks)*64), bytes.NewReader([]byte{0xff, markerEOI}))
	if again != nil {
		return nil, false, err
	}
	return samplesOf(img), false, nil
}

func runJPEG(parts ...io.Reader) (img stdimage.Image, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the JPEG data is damaged: %v", p)
		}
	}()
	return jpeg.Decode(io.MultiReader(parts...))
}

// zeros is a stream of zero bytes.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// samplesOf takes the stored samples out of the standard decoder's pictures, where it can in their
// own memory. It gives CMYK inverted.
func samplesOf(img stdimage.Image) *pixels {
	b := img.Bounds()
	px := &pixels{w: b.Dx(), h: b.Dy()}
	switch m := img.(type) {
	case *stdimage.Gray:
		px.n = 1
		px.data = closeRows(m.Pix, m.Stride, px.w, px.h)
	case *stdimage.YCbCr:
		px.n = 3
		px.data = rgbFromYCbCr(m)
	case *stdimage.RGBA:
		px.n = 3
		px.data = closeRows(m.Pix, m.Stride, 4*px.w, px.h)
		for i := range px.w * px.h {
			copy(px.data[3*i:3*i+3], px.data[4*i:4*i+3])
		}
		px.data = px.data[:3*px.w*px.h]
	case *stdimage.CMYK:
		px.n = 4
		px.data = closeRows(m.Pix, m.Stride, 4*px.w, px.h)
		invert(px.data)
	}
	return px
}

// closeRows moves rows together that lie stride bytes apart.
func closeRows(pix []byte, stride, row, h int) []byte {
	if stride != row {
		for y := 1; y < h; y++ {
			copy(pix[y*row:(y+1)*row], pix[y*stride:])
		}
	}
	return pix[: row*h : row*h]
}

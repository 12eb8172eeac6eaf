package image

import (
	"bytes"
	"encoding/binary"
	stdimage "image"
	"image/color"
	"image/jpeg"
	"testing"

	"laydown/internal/artwork/image/jpx"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// An image of any filter holds exactly the samples it claims, decodes the same twice, and is told
// as incomplete when the data is not whole.
func FuzzImage(f *testing.F) {
	m := stdimage.NewRGBA(stdimage.Rect(0, 0, 19, 17))
	for i := range m.Pix {
		m.Pix[i] = byte(i * i >> 3)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes(), byte(0), byte(19), byte(17))
	b.Reset()
	g := stdimage.NewGray(stdimage.Rect(0, 0, 9, 9))
	g.Set(3, 3, color.White)
	if err := jpeg.Encode(&b, g, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes(), byte(0), byte(9), byte(9))
	page, region := bilevel()
	f.Add(append(page, region...), byte(1), byte(8), byte(3))
	data, _ := jp2(f, "gray", space(17))
	f.Add([]byte(data), byte(2), byte(21), byte(17))
	data, _ = jp2(f, "four", space(16), opacityLast)
	f.Add([]byte(data), byte(2), byte(21), byte(17))
	f.Add([]byte("\x00\x19\x8e\x30\x01\x78\x01\x98"), byte(3), byte(8), byte(3))

	filters := []pdf.Name{"DCTDecode", "JBIG2Decode", "JPXDecode", "CCITTFaxDecode"}
	f.Fuzz(func(t *testing.T, data []byte, filter, w, h byte) {
		dict := pdf.Dict{"Subtype": pdf.Name("Image"), "Width": pdf.Integer(w), "Height": pdf.Integer(h), "Filter": filters[filter%4],
			"DecodeParms": pdf.Dict{"K": pdf.Integer(int(w%3) - 1), "Columns": pdf.Integer(w)}, "SMaskInData": pdf.Integer(1)}
		if pixelsOf(data, filter%4) > 1<<18 { // sound, but slow
			return
		}
		r := &Reader{doc: &pdf.Document{}}
		s := r.doc.NewInlineStream(dict, data)
		got := r.decode(s, nil, nil)
		again := r.decode(s, nil, nil)
		if (got.err == nil) != (again.err == nil) || len(got.findings) != len(again.findings) {
			t.Fatalf("%v, then %v", got.err, again.err)
		}
		if got.err != nil {
			if got.image != nil {
				t.Fatal("an error with an image")
			}
			return
		}
		for _, im := range []*Image{got.image, got.image.SoftMask} {
			if im == nil {
				continue
			}
			if im.Width < 1 || im.Height < 1 || im.Width*im.Height > limits.MaxImagePixels || len(im.Data) != im.Stride()*im.Height || len(im.Decode) != 2*im.Components() {
				t.Fatalf("%d x %d x %d, %d bits, %d bytes, Decode %v", im.Width, im.Height, im.Components(), im.Bits, len(im.Data), im.Decode)
			}
		}
		if !bytes.Equal(got.image.Data, again.image.Data) {
			t.Fatal("decoded otherwise the second time")
		}
		for _, fd := range got.findings {
			if fd.What == "" || fd.Class == finding.Artwork {
				t.Fatalf("%+v", fd)
			}
		}
	})
}

// pixelsOf is the size the data claims itself.
func pixelsOf(data []byte, filter byte) int {
	switch filter {
	case 0:
		if h, err := parseJPEG(data); err == nil {
			return h.width * h.height
		}
	case 1: // a page or a region, wherever its size stands
		for i := 0; i+8 <= len(data); i++ {
			if w, h := int(binary.BigEndian.Uint32(data[i:])), int(binary.BigEndian.Uint32(data[i+4:])); w < 1<<20 && h < 1<<20 && w*h > 1<<18 {
				return w * h
			}
		}
	case 2:
		if f, err := jpx.Parse(data); err == nil {
			return f.Width * f.Height
		}
	}
	return 0
}

package image

import (
	"fmt"

	"laydown/internal/artwork/image/fax"
	"laydown/internal/artwork/pdf"
)

// fax finishes a CCITTFaxDecode image (7.4.6). End-of-line codes are taken where they are, wherever
// rows end: EndOfLine and EndOfBlock tell nothing more. Rows beyond the image's height are not read, and damaged
// rows are told and shown as far as they go, whatever DamagedRowsBeforeError allows.
func (d *decoding) fax(im *Image, data []byte, parms pdf.Dict) (*Image, error) {
	doc := d.r.doc
	k, _ := doc.Int(parms["K"])
	columns, ok := doc.Int(parms["Columns"])
	if !ok {
		columns = 1728
	}
	if columns <= 0 {
		return nil, fmt.Errorf("a fax image of %d columns", columns)
	}
	if err := checkSize(columns, im.Height); err != nil {
		return nil, err
	}
	black1, _ := doc.Bool(parms["BlackIs1"])
	align, _ := doc.Bool(parms["EncodedByteAlign"])
	if err := d.bilevel(im, "fax"); err != nil {
		return nil, err
	}
	got := fax.Decode(data, fax.Params{K: k, Columns: columns, Rows: im.Height, ByteAlign: align})
	if got.Rows == 0 {
		return nil, fmt.Errorf("the fax data of an image of %d x %d pixels holds nothing", im.Width, im.Height)
	}
	if got.Damaged > 0 {
		d.damaged("image-data-damaged", fmt.Sprintf("%d of %d rows of a fax image are damaged, the first is row %d from above.", got.Damaged, im.Height, got.FirstDamaged+1),
			"Parts of these rows print wrong or are missing.")
	}
	if !black1 {
		invert(got.Pix)
	}
	stride := (columns + 7) / 8
	pix := got.Pix[:got.Rows*stride]
	if stride != im.Stride() {
		pix = restride(pix, stride, im.Stride())
	}
	if err := d.fit(im, pix); err != nil {
		return nil, err
	}
	if columns < im.Width {
		d.damaged("image-data-short", fmt.Sprintf("The rows of a fax image of %d pixels hold %d.", im.Width, columns), "The rest of it prints as nothing.")
		whitenArea(im, columns, 0, im.Width, im.Height)
	}
	return im, nil
}

// bilevel sets depth, colour space and Decode of an image whose data has one bit a pixel, whatever
// the dictionary says; a wrong depth is reported.
func (d *decoding) bilevel(im *Image, kind string) error {
	if bits, ok := d.r.doc.Int(d.s.Dict["BitsPerComponent"]); ok && bits != 1 && !im.Stencil {
		d.damaged("image-depth-wrong", fmt.Sprintf("A %s image claims samples of %d bits; they have one.", kind, bits), "")
	}
	im.Bits = 1
	if im.Space == nil && !im.Stencil {
		im.Space = guessSpace(0, im)
		d.noSpace(im.Space)
	}
	d.decodeArray(im)
	if im.Components() != 1 {
		return fmt.Errorf("%s data in an image of %d components", kind, im.Components())
	}
	return nil
}

func invert(b []byte) {
	for i := range b {
		b[i] ^= 0xff
	}
}

// restride fits rows of have bytes into rows of want bytes.
func restride(data []byte, have, want int) []byte {
	rows := len(data) / have
	out := make([]byte, rows*want)
	for y := range rows {
		copy(out[y*want:(y+1)*want], data[y*have:(y+1)*have])
	}
	return out
}

package image

import (
	"bytes"
	"fmt"
	"io"

	"golang.org/x/image/ccitt"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// fax finishes a CCITTFaxDecode image (7.4.6).
func (d *decoding) fax(im *Image, as role, data []byte, parms pdf.Dict) (*Image, error) {
	doc := d.r.doc
	k, _ := doc.Int(parms["K"])
	columns, ok := doc.Int(parms["Columns"])
	if !ok {
		columns = 1728
	}
	rows, ok := doc.Int(parms["Rows"])
	if !ok || rows <= 0 {
		rows = im.Height
	}
	if columns <= 0 {
		return nil, fmt.Errorf("a fax image of %d columns", columns)
	}
	if err := checkSize(columns, rows); err != nil {
		return nil, err
	}
	if k > 0 {
		return nil, fmt.Errorf("%w: fax data with rows of mixed coding", ErrUnsupported)
	}
	black1, _ := doc.Bool(parms["BlackIs1"])
	align, _ := doc.Bool(parms["EncodedByteAlign"])
	format := ccitt.Group3
	if k < 0 {
		format = ccitt.Group4
	}
	got, err := readFax(data, format, columns, im.Height, &ccitt.Options{Align: align, Invert: black1})
	im.Bits = d.faxBits(im)
	if im.Space == nil && !im.Stencil {
		im.Space = guessSpace(0, im)
		d.noSpace(im.Space)
	}
	d.decodeArray(im)
	if im.Components() != 1 || im.Bits != 1 {
		return nil, fmt.Errorf("fax data in an image of %d components and %d bits", im.Components(), im.Bits)
	}
	if have := (columns + 7) / 8; have != im.Stride() {
		got = restride(got, have, im.Stride())
	}
	if err != nil && len(got) == 0 {
		return nil, err
	}
	return im, d.fit(im, got)
}

// faxBits is 1 whatever the dictionary says; a wrong depth is reported.
func (d *decoding) faxBits(im *Image) int {
	if bits, ok := d.r.doc.Int(d.s.Dict["BitsPerComponent"]); ok && bits != 1 && !im.Stencil {
		d.damaged("image-depth-wrong", fmt.Sprintf("A fax image claims samples of %d bits; they have one.", bits), "")
	}
	return 1
}

func readFax(data []byte, format ccitt.SubFormat, columns, rows int, opt *ccitt.Options) (out []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the fax data is damaged: %v", p)
		}
	}()
	var b bytes.Buffer
	_, err = io.Copy(&b, io.LimitReader(ccitt.NewReader(bytes.NewReader(data), ccitt.MSB, format, columns, rows, opt), limits.MaxStreamBytes))
	return b.Bytes(), err
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

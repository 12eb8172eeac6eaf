package pdf_test

import (
	"bytes"
	"compress/flate"
	"compress/zlib"
	"encoding/ascii85"
	"encoding/hex"
	"errors"
	"fmt"
	"testing"

	"github.com/hhrutter/lzw"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
	"laydown/internal/pdfbuild"
)

var sample = []byte("Sphinx of black quartz, judge my vow. Sphinx of black quartz, judge my vow. 0123456789")

func zlibbed(b []byte) []byte {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write(b)
	w.Close()
	return z.Bytes()
}

func deflated(b []byte) []byte {
	var z bytes.Buffer
	w, _ := flate.NewWriter(&z, 9)
	w.Write(b)
	w.Close()
	return z.Bytes()
}

func lzwed(b []byte, early bool) []byte {
	var z bytes.Buffer
	w := lzw.NewWriter(&z, early)
	w.Write(b)
	w.Close()
	return z.Bytes()
}

func a85(b []byte) []byte {
	var z bytes.Buffer
	w := ascii85.NewEncoder(&z)
	w.Write(b)
	w.Close()
	return append(z.Bytes(), "~>"...)
}

// document holds one stream, number 3.
func document(t testing.TB, dict string, data []byte) (*pdf.Document, *pdf.Stream) {
	t.Helper()
	f := pdfbuild.New()
	n := f.Stream(dict, string(data))
	f.Page(10, 10, "", "")
	d, _ := open(t, f.Bytes())
	s, ok := d.Stream(pdf.Ref{Num: n})
	if !ok {
		t.Fatal("the stream is not there")
	}
	return d, s
}

// Does each filter, under its long and short name and in chains, give the data back, and what
// is given of damaged data?
func TestFilters(t *testing.T) {
	z := zlibbed(sample)
	cut := z[:len(z)-20]
	for _, c := range []struct {
		name, dict string
		data       []byte
		want       []byte // nil = a beginning of sample, not all of it
		err        error
	}{
		{"none", "", sample, sample, nil},
		{"flate", "/Filter /FlateDecode", z, sample, nil},
		{"flate short name in array", "/Filter [/Fl]", z, sample, nil},
		{"flate without checksum", "/Filter /FlateDecode", z[:len(z)-4], sample, nil},
		{"flate with wrong checksum", "/Filter /FlateDecode", append(z[:len(z)-4:len(z)-4], 1, 2, 3, 4), sample, nil},
		{"raw deflate", "/Filter /FlateDecode", deflated(sample), sample, nil},
		{"flate with broken header", "/Filter /FlateDecode", append([]byte{0xff, 0xff}, z[2:]...), sample, nil},
		{"flate after an end of line", "/Filter /FlateDecode", append([]byte("\n"), z...), sample, nil},
		{"flate cut short", "/Filter /FlateDecode", cut, nil, pdf.ErrDamaged},
		{"lzw", "/Filter /LZWDecode", lzwed(sample, true), sample, nil},
		{"lzw late change", "/Filter /LZW /DecodeParms << /EarlyChange 0 >>", lzwed(sample, false), sample, nil},
		{"hex", "/Filter /ASCIIHexDecode", []byte(hex.EncodeToString(sample) + ">"), sample, nil},
		{"hex with odd digit and spaces", "/Filter /AHx", []byte("53 70\n7>"), []byte("Spp"), nil},
		{"ascii85", "/Filter /ASCII85Decode", a85(sample), sample, nil},
		{"ascii85 z and prefix", "/Filter /A85", []byte("<~z!!~>"), []byte{0, 0, 0, 0, 0}, nil},
		{"run length", "/Filter /RunLengthDecode", []byte("\x02abc\xfdx\x80junk"), []byte("abcxxxx"), nil},
		{"run length cut", "/Filter /RL", []byte("\x05abc"), []byte("abc"), pdf.ErrDamaged},
		{"chain", "/Filter [/ASCII85Decode /FlateDecode]", a85(z), sample, nil},
		{"crypt identity", "/Filter [/Crypt /FlateDecode] /DecodeParms [<< /Name /Identity >> null]", z, sample, nil},
		{"unknown", "/Filter /FooDecode", sample, []byte{}, pdf.ErrUnsupportedFilter},
		{"image", "/Filter /DCTDecode", sample, []byte{}, pdf.ErrUnsupportedFilter},
	} {
		d, s := document(t, c.dict, c.data)
		got, err := d.Data(s)
		if !errors.Is(err, c.err) || c.err == nil && err != nil {
			t.Errorf("%s: error %v, want %v", c.name, err, c.err)
		}
		if c.want == nil {
			if len(got) == 0 || len(got) >= len(sample) || !bytes.HasPrefix(sample, got) {
				t.Errorf("%s: %q is no beginning of the data", c.name, got)
			}
		} else if !bytes.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// Is image data decoded up to the image's own filter, with parameters resolved?
func TestImageDataStopsAtImageFilter(t *testing.T) {
	f := pdfbuild.New()
	k := f.Add("-1")
	n := f.Stream(fmt.Sprintf("/Filter [/A85 /CCF] /DecodeParms [null << /K %s >>]", pdfbuild.Ref(k)), string(a85(sample)))
	f.Page(10, 10, "", "")
	d, _ := open(t, f.Bytes())
	s, _ := d.Stream(pdf.Ref{Num: n})
	data, rest, err := d.ImageData(s)
	if err != nil || !bytes.Equal(data, sample) || len(rest) != 1 || rest[0].Name != "CCITTFaxDecode" || rest[0].Parms["K"] != pdf.Integer(-1) {
		t.Errorf("%q, %v, %v", data, rest, err)
	}
}

// pngEncode applies one PNG filter type to all rows, the slow obvious way.
func pngEncode(data []byte, row, bpp int, kind byte) (out []byte) {
	at := func(r, i int) int {
		if r < 0 || i < 0 {
			return 0
		}
		return int(data[r*row+i])
	}
	for r := range len(data) / row {
		out = append(out, kind)
		for i := range row {
			a, b, c := at(r, i-bpp), at(r-1, i), at(r-1, i-bpp)
			p := 0
			switch kind {
			case 1:
				p = a
			case 2:
				p = b
			case 3:
				p = (a + b) / 2
			case 4:
				d := func(x int) int { return max(a+b-c-x, x-a-b+c) }
				p = c
				if d(b) <= d(c) {
					p = b
				}
				if d(a) <= d(b) && d(a) <= d(c) {
					p = a
				}
			}
			out = append(out, byte(at(r, i)-p))
		}
	}
	return out
}

// tiffEncode takes differences of samples of any depth, the slow obvious way.
func tiffEncode(data []byte, columns, colors, bpc int) []byte {
	row := (columns*colors*bpc + 7) / 8
	out := make([]byte, len(data))
	bits := func(b []byte, i int) (v int) {
		for k := i * bpc; k < (i+1)*bpc; k++ {
			v = v<<1 | int(b[k/8]>>(7-k%8)&1)
		}
		return v
	}
	for r := 0; r+row <= len(data); r += row {
		for i := range columns * colors {
			v := bits(data[r:], i)
			if i >= colors {
				v -= bits(data[r:], i-colors)
			}
			for k := range bpc {
				bit := i*bpc + k
				out[r+bit/8] |= byte(v>>(bpc-1-k)&1) << (7 - bit%8)
			}
		}
	}
	return out
}

// Are all predictors undone for every number of colours and bits?
func TestPredictors(t *testing.T) {
	for _, bpc := range []int{1, 2, 4, 8, 16} {
		for _, colors := range []int{1, 2, 3, 4, 5, 9} {
			const columns = 7
			row := (columns*colors*bpc + 7) / 8
			data := make([]byte, row*4)
			for i := range data {
				data[i] = byte(i*i*31 + i*7)
			}
			if pad := row*8 - columns*colors*bpc; pad > 0 { // bits beyond the columns are not the predictor's
				for r := range 4 {
					data[r*row+row-1] &= 0xff << pad
				}
			}
			check := func(pred int, enc []byte) {
				dict := fmt.Sprintf("/Filter /FlateDecode /DecodeParms << /Predictor %d /Colors %d /BitsPerComponent %d /Columns %d >>", pred, colors, bpc, columns)
				d, s := document(t, dict, zlibbed(enc))
				if got, err := d.Data(s); err != nil || !bytes.Equal(got, data) {
					t.Errorf("predictor %d, %d colours of %d bits: %v\n%x\n%x", pred, colors, bpc, err, got, data)
				}
			}
			for kind := byte(0); kind <= 4; kind++ {
				check(10+int(kind), pngEncode(data, row, (colors*bpc+7)/8, kind))
			}
			check(2, tiffEncode(data, columns, colors, bpc))
		}
	}
}

// Are impossible predictor parameters refused without running over?
func TestPredictorLimits(t *testing.T) {
	for _, parms := range []string{"/Predictor 12 /Columns 0", "/Predictor 12 /Columns 2000000000 /Colors 4", "/Predictor 2 /BitsPerComponent 7",
		"/Predictor 12 /Colors -1", "/Predictor 15 /Columns 9223372036854775807", "/Predictor 77"} {
		d, s := document(t, "/Filter /FlateDecode /DecodeParms << "+parms+" >>", zlibbed(sample))
		if _, err := d.Data(s); err == nil {
			t.Errorf("%s was accepted", parms)
		}
	}
}

// Does a small file stop expanding at its budget, and is the budget not spent twice for one stream?
func TestDecodeBudget(t *testing.T) {
	const big = 12 << 20 // a small file may expand to some of these, not to all
	z := string(zlibbed(make([]byte, big)))
	f := pdfbuild.New()
	var refs []pdf.Ref
	for range 20 {
		refs = append(refs, pdf.Ref{Num: f.Stream("/Filter /FlateDecode", z)})
	}
	f.Page(10, 10, "", "")
	data := f.Bytes()
	allowed := min(limits.DecodeFloor+limits.DecodeFactor*len(data), limits.DecodeCeiling)
	d, _ := open(t, data)
	first, _ := d.Stream(refs[0])
	for range 3 {
		if got, err := d.Data(first); err != nil || len(got) != big {
			t.Fatalf("%d bytes, %v", len(got), err)
		}
	}
	total, refused := 0, 0
	for _, r := range refs {
		s, _ := d.Stream(r)
		got, err := d.Data(s)
		total += len(got)
		if errors.Is(err, pdf.ErrBudget) {
			refused++
		}
	}
	if refused == 0 || total > allowed {
		t.Errorf("%d bytes decoded of %d allowed, %d streams refused", total, allowed, refused)
	}
}

// Are the abbreviations of inline images expanded, keys of the same meaning once?
func TestInlineStream(t *testing.T) {
	d, _ := document(t, "", nil)
	s := d.NewInlineStream(pdf.Dict{"W": pdf.Integer(2), "H": pdf.Integer(1), "BPC": pdf.Integer(8), "CS": pdf.Array{pdf.Name("I"), pdf.Name("CMYK"), pdf.Integer(1), pdf.String("12345678")},
		"F": pdf.Array{pdf.Name("AHx"), pdf.Name("Fl")}, "D": pdf.Array{pdf.Integer(1), pdf.Integer(0)}, "IM": pdf.Boolean(false), "I": pdf.Boolean(true)},
		[]byte(hex.EncodeToString(zlibbed([]byte{0, 1}))+">"))
	want := "<< /BitsPerComponent 8 /ColorSpace [/Indexed /DeviceCMYK 1 (12345678)] /Decode [1 0] /Filter [/ASCIIHexDecode /FlateDecode] /Height 1 /ImageMask false /Interpolate true /Width 2 >>"
	if got := string(pdf.AppendObject(nil, s.Dict)); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if got, err := d.Data(s); err != nil || !bytes.Equal(got, []byte{0, 1}) {
		t.Errorf("%x, %v", got, err)
	}
}

package image

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image/jpx"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

func box(kind string, body ...byte) []byte {
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
}

// jp2 wraps a codestream kept for package jpx into a file with boxes.
func jp2(t testing.TB, name string, boxes ...[]byte) (data string, samples []byte) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("jpx", "testdata", name+".j2k"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := jpx.Parse(b)
	if err != nil {
		t.Fatal(err)
	}
	opt := jpx.Options{Alpha: -1}
	for i := range f.Channels {
		opt.Channels = append(opt.Channels, i)
	}
	p, err := f.Decode(opt)
	if err != nil {
		t.Fatal(err)
	}
	ihdr := []byte{0, 0, 0, byte(f.Height), 0, 0, 0, byte(f.Width), 0, byte(len(f.Components)), byte(f.Components[0].Precision - 1), 7, 0, 0}
	boxes = append([][]byte{box("ihdr", ihdr...)}, boxes...)
	return string(slices.Concat(box("jP  ", 13, 10, 0x87, 10), box("ftyp", []byte("jp2 \x00\x00\x00\x00jp2 ")...), box("jp2h", slices.Concat(boxes...)...), box("jp2c", b...))), p.Data
}

func space(n byte) []byte { return box("colr", 1, 0, 0, 0, 0, 0, n) }

var opacityLast = box("cdef", 0, 4, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 2, 0, 2, 0, 0, 0, 3, 0, 3, 0, 1, 0, 0)

func TestJPEG2000TellsItsColourSpace(t *testing.T) {
	tests := []struct {
		sample, dict string
		boxes        [][]byte
		want         string
		finding      string
	}{
		{"gray", "", [][]byte{space(17)}, "DeviceGray", ""},
		{"four", "", [][]byte{space(12)}, "DeviceCMYK", ""},
		{"four", "", [][]byte{space(16), opacityLast}, "DeviceRGB", ""},
		{"wavelet-9-7", "", [][]byte{space(16)}, "DeviceRGB", ""},
		{"wavelet-9-7", "", [][]byte{space(14)}, "Lab", ""},
		{"wavelet-9-7", "", nil, "DeviceRGB", "image-colour-space-missing"},
		{"four", "/ColorSpace /DeviceCMYK", [][]byte{space(16), opacityLast[:0]}, "DeviceCMYK", ""},
		{"four", "/ColorSpace /DeviceGray", [][]byte{space(12)}, "DeviceGray", ""},
		{"gray", "/ColorSpace /DeviceRGB", [][]byte{space(17)}, "DeviceGray", "image-components-differ"},
	}
	for _, tt := range tests {
		data, _ := jp2(t, tt.sample, tt.boxes...)
		im, fs, err := read(t, "/Subtype /Image /Width 1 /Height 1 /Filter /JPXDecode "+tt.dict, data)
		if err != nil {
			t.Errorf("%s %s: %v", tt.sample, tt.dict, err)
			continue
		}
		if got := im.Space.String(); got != tt.want {
			t.Errorf("%s %s: %s, want %s", tt.sample, tt.dict, got, tt.want)
		}
		// The image's size in the dictionary is wrong, which is told too.
		if tt.finding != "" && !has(fs, finding.ID(tt.finding)) || tt.finding == "" && len(fs) > 1 || !has(fs, "image-size-differs") {
			t.Errorf("%s %s: %v", tt.sample, tt.dict, fs)
		}
		if len(im.Data) != im.Stride()*im.Height {
			t.Errorf("%s %s: %d bytes", tt.sample, tt.dict, len(im.Data))
		}
	}
}

func TestDecodeIsLeftOutForJPEG2000(t *testing.T) {
	data, _ := jp2(t, "gray", space(17))
	dict := "/Subtype /Image /Width 21 /Height 17 /Filter /JPXDecode /BitsPerComponent 4 /Decode [1 0]"
	im, fs, err := read(t, dict, data)
	if err != nil || len(fs) > 0 || im.Bits != 8 || im.Decode[0] != 0 {
		t.Errorf("%v %v %v", im.Decode, fs, err)
	}
	im, fs, err = read(t, dict+" /ImageMask true", data)
	if err != nil || len(fs) > 0 || im.Bits != 1 || im.Decode[0] != 1 || len(im.Data) != 3*17 {
		t.Errorf("stencil: %+v %v %v", im, fs, err)
	}
}

func TestJPEG2000CarriesItsOwnOpacity(t *testing.T) {
	data, samples := jp2(t, "four", space(16), opacityLast)
	for _, tt := range []struct {
		dict  string
		alpha bool
		matte []float64
		mask  bool // of the dictionary
	}{
		{"", false, nil, false},
		{"/SMaskInData 0 /SMask 4 0 R", true, nil, true},
		{"/SMaskInData 1", true, nil, false},
		{"/SMaskInData 1 /SMask 4 0 R", true, nil, false},
		{"/SMaskInData 2", true, []float64{0, 0, 0}, false},
	} {
		im, fs, err := read(t, "/Subtype /Image /Width 21 /Height 17 /Filter /JPXDecode "+tt.dict, data, func(f *pdfbuild.File) {
			f.Stream("/Subtype /Image /Width 1 /Height 1 /ColorSpace /DeviceGray /BitsPerComponent 8", "\x80")
		})
		if err != nil || len(fs) > 0 || (im.SoftMask != nil) != tt.alpha || fmt.Sprint(im.Matte) != fmt.Sprint(tt.matte) {
			t.Errorf("%s: %v, matte %v, %v, %v", tt.dict, im.SoftMask != nil, im.Matte, fs, err)
			continue
		}
		for i := range 21 * 17 {
			if !bytes.Equal(im.Data[3*i:3*i+3], samples[4*i:4*i+3]) {
				t.Fatalf("%s: pixel %d is %v", tt.dict, i, im.Data[3*i:3*i+3])
			}
			if tt.alpha && !tt.mask && im.SoftMask.Data[i] != samples[4*i+3] {
				t.Fatalf("%s: opacity %d is %d", tt.dict, i, im.SoftMask.Data[i])
			}
		}
	}
	data, _ = jp2(t, "gray", space(17))
	if _, fs, err := read(t, "/Subtype /Image /Width 21 /Height 17 /Filter /JPXDecode /SMaskInData 1", data); err != nil || !has(fs, "image-alpha-missing") {
		t.Errorf("no opacity inside: %v %v", fs, err)
	}
}

func TestIndicesOfJPEG2000StayAsTheyAre(t *testing.T) {
	data, _ := jp2(t, "one-bit", space(16), box("pclr", 0, 2, 3, 7, 7, 7, 1, 2, 3, 4, 5, 6), box("cmap", 0, 0, 1, 0, 0, 0, 1, 1, 0, 0, 1, 2))
	im, fs, err := read(t, "/Subtype /Image /Width 22 /Height 17 /Filter /JPXDecode /ColorSpace [/Indexed /DeviceCMYK 1 <0000000001020304>]", data)
	if err != nil || len(fs) > 0 || im.Space.Family() != colour.FamilyIndexed || slices.Max(im.Data) != 1 {
		t.Errorf("%v %v", fs, err)
	}
	// Without a colour space the palette of the data counts.
	im, fs, err = read(t, "/Subtype /Image /Width 22 /Height 17 /Filter /JPXDecode", data)
	if err != nil || len(fs) > 0 || im.Space != colour.RGB {
		t.Fatalf("%v %v", fs, err)
	}
	if px := fmt.Sprint(im.Data[:3]); px != "[1 2 3]" && px != "[4 5 6]" {
		t.Errorf("the first pixel is %s", px)
	}
}

func TestColourKeysOfJPEG2000FollowItsDepth(t *testing.T) {
	data, _ := jp2(t, "one-bit", space(17))
	im, _, err := read(t, "/Subtype /Image /Width 22 /Height 17 /Filter /JPXDecode /Mask [1 1]", data)
	if err != nil || fmt.Sprint(im.ColourKey) != "[255 255]" {
		t.Errorf("%v %v", im.ColourKey, err)
	}
}

func TestYCCOfJPEG2000BecomesRGB(t *testing.T) {
	data, samples := jp2(t, "wavelet-9-7", space(18))
	im, _, err := read(t, "/Subtype /Image /Width 33 /Height 29 /Filter /JPXDecode", data)
	if err != nil || im.Space != colour.RGB {
		t.Fatal(err)
	}
	for i := 0; i < len(samples); i += 3 {
		y, b, r := float64(samples[i]), float64(samples[i+1])-128, float64(samples[i+2])-128
		for c, v := range []float64{y + 1.402*r, y - 0.344136*b - 0.714136*r, y + 1.772*b} {
			if d := float64(im.Data[i+c]) - max(0, min(255, v)); d > 1 || d < -1 {
				t.Fatalf("sample %d is %d, want %.1f", i+c, im.Data[i+c], v)
			}
		}
	}
}

// bilevel is a JBIG2 page of 8 x 3 pixels: columns 3 and 4 of the first two rows are black. Its region is fax coded.
func bilevel() (page, region []byte) {
	segment := func(n, kind byte, data ...byte) []byte {
		return slices.Concat([]byte{0, 0, 0, n, kind, 0, 1}, binary.BigEndian.AppendUint32(nil, uint32(len(data))), data)
	}
	size := []byte{0, 0, 0, 8, 0, 0, 0, 3, 0, 0, 0, 0, 0, 0, 0, 0}
	return segment(0, 48, append(slices.Clone(size), 0, 0, 0)...), segment(1, 38, append(slices.Clone(size), 0, 1, 0b00110001, 0b11111000, 0b11000000)...)
}

func TestJBIG2BlackIsZero(t *testing.T) {
	page, region := bilevel()
	dict := "/Subtype /Image /Width 8 /Height 3 /BitsPerComponent 1 /Filter /JBIG2Decode "
	for _, tt := range []struct {
		name, dict, data string
		globals          string
	}{
		{"gray", "/ColorSpace /DeviceGray", string(page) + string(region), ""},
		{"stencil", "/ImageMask true", string(page) + string(region), ""},
		{"with globals", "/ColorSpace /DeviceGray /DecodeParms << /JBIG2Globals 4 0 R >>", string(region), string(page)},
	} {
		im, fs, err := read(t, dict+tt.dict, tt.data, func(f *pdfbuild.File) { f.Stream("", tt.globals) })
		if err != nil || len(fs) > 0 || !bytes.Equal(im.Data, []byte{0xe7, 0xe7, 0xff}) {
			t.Errorf("%s: %v %v %+v", tt.name, fs, err, im)
		}
	}
	im, fs, err := read(t, dict+"/ColorSpace /DeviceGray", string(page)+string(region[:len(region)-2]))
	if err != nil || !has(fs, "image-data-damaged") || len(im.Data) != 3 {
		t.Errorf("cut short: %v %v", fs, err)
	}
}

// Four rows in the codings of T.4: own, relative, own, damaged.
func TestMixedFaxRowsAndDamage(t *testing.T) {
	// EOL and 1, 3 white 2 black 3 white; EOL and 0, as above; EOL and 1, 8 white; EOL and 1, no code.
	text := "000000000001" + "1" + "1000" + "11" + "1000" + "000000000001" + "0" + "111" + "000000000001" + "1" + "10011" + "000000000001" + "1" + "0000000011111111"
	var data []byte
	for len(text)%8 != 0 {
		text += "0"
	}
	for i := 0; i < len(text); i += 8 {
		var v byte
		for _, c := range text[i : i+8] {
			v = v<<1 | byte(c-'0')
		}
		data = append(data, v)
	}
	dict := "/Subtype /Image /Width 8 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms << /K 4 /Columns 8 /EndOfLine true >> /Height "
	im, fs, err := read(t, dict+"3", string(data))
	if err != nil || len(fs) > 0 || !bytes.Equal(im.Data, []byte{0xe7, 0xe7, 0xff}) {
		t.Errorf("%x %v %v", im.Data, fs, err)
	}
	im, fs, err = read(t, dict+"4", string(data))
	if err != nil || !has(fs, "image-data-damaged") && !has(fs, "image-data-short") || !bytes.Equal(im.Data[:3], []byte{0xe7, 0xe7, 0xff}) {
		t.Errorf("damaged: %x %v %v", im.Data, fs, err)
	}
}

func TestAlternateForPrintingIsTaken(t *testing.T) {
	other := func(dict string) func(*pdfbuild.File) {
		return func(f *pdfbuild.File) {
			f.Stream("/Subtype /Image /Width 1 /Height 1 /ColorSpace /DeviceCMYK /BitsPerComponent 8 "+dict, "\x01\x02\x03\x04")
		}
	}
	for _, tt := range []struct {
		name, alternates, other string
		want                    int // components
		finding                 string
	}{
		{"none", "", "", 1, ""},
		{"for printing", "/Alternates [<< /Image 4 0 R /DefaultForPrinting true >>]", "", 4, ""},
		{"not for printing", "/Alternates [<< /Image 4 0 R /DefaultForPrinting false >> << /Image 4 0 R >>]", "", 1, ""},
		{"the second", "/Alternates [<< /Image 3 0 R >> << /Image 4 0 R /DefaultForPrinting true >>]", "", 4, ""},
		{"itself", "/Alternates [<< /Image 3 0 R /DefaultForPrinting true >>]", "", 1, ""},
		{"unreadable", "/Alternates [<< /Image 4 0 R /DefaultForPrinting true >>]", "/Filter /Nonsense", 1, "image-alternate-unreadable"},
		{"no array", "/Alternates 7", "", 1, ""},
	} {
		im, fs, err := read(t, grayPair+tt.alternates, "\x10\x20", other(tt.other))
		if err != nil || im.Components() != tt.want || tt.finding == "" && len(fs) > 0 || tt.finding != "" && !has(fs, finding.ID(tt.finding)) {
			t.Errorf("%s: %v %v", tt.name, fs, err)
		}
	}
}

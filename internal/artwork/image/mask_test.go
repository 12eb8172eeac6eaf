package image

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

const grayPair = "/Subtype /Image /Width 2 /Height 1 /ColorSpace /DeviceGray /BitsPerComponent 8 "

func TestMasksAreReadBesideTheImage(t *testing.T) {
	stream := func(dict, data string) func(*pdfbuild.File) {
		return func(f *pdfbuild.File) { f.Stream(dict, data) }
	}
	soft := stream(grayPair+"/Matte [.5]", "\x00\xff")
	hard := stream("/Subtype /Image /Width 4 /Height 2 /ImageMask true /Decode [1 0]", "\xa0\x50")
	unreadable := stream(grayPair+"/Filter /JPXDecode", "x")
	tests := []struct {
		name, dict string
		more       []func(*pdfbuild.File)
		want       string
		finding    string
	}{
		{"none", "", nil, "soft false, matte [], hard false, key []", ""},
		{"soft, with matte", "/SMask 4 0 R", []func(*pdfbuild.File){soft}, "soft true, matte [0.5], hard false, key []", ""},
		{"stencil", "/Mask 4 0 R", []func(*pdfbuild.File){hard}, "soft false, matte [], hard true, key []", ""},
		{"soft wins over stencil", "/SMask 4 0 R /Mask 5 0 R", []func(*pdfbuild.File){soft, hard}, "soft true, matte [0.5], hard false, key []", ""},
		{"soft wins over colour key", "/SMask 4 0 R /Mask [1 2]", []func(*pdfbuild.File){soft}, "soft true, matte [0.5], hard false, key []", ""},
		{"colour key", "/Mask [1 300]", nil, "soft false, matte [], hard false, key [1 255]", ""},
		{"colour key beyond the samples", "/Mask [300 400]", nil, "soft false, matte [], hard false, key [256 255]", ""},
		{"colour key cut short", "/Mask [1]", nil, "soft false, matte [], hard false, key []", "image-colour-key-damaged"},
		{"soft that cannot be read", "/SMask 4 0 R", []func(*pdfbuild.File){unreadable}, "soft false, matte [], hard false, key []", "image-mask-unreadable"},
		{"soft that cannot be read beside a stencil", "/SMask 4 0 R /Mask 5 0 R", []func(*pdfbuild.File){unreadable, hard}, "soft false, matte [], hard true, key []", "image-mask-unreadable"},
		{"alpha inside data that is no JPEG 2000", "/SMaskInData 1", nil, "soft false, matte [], hard false, key []", ""},
	}
	for _, tt := range tests {
		im, fs, err := read(t, grayPair+tt.dict, "\x10\x20", tt.more...)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		got := fmt.Sprintf("soft %v, matte %v, hard %v, key %v", im.SoftMask != nil, im.Matte, im.Mask != nil, im.ColourKey)
		if got != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, got, tt.want)
		}
		if (len(fs) > 0) != (tt.finding != "") || len(fs) > 0 && string(fs[0].ID) != tt.finding {
			t.Errorf("%s: findings %v", tt.name, fs)
		}
	}
}

func TestMatteNeedsAMaskOfTheSameSize(t *testing.T) {
	im, fs, err := read(t, grayPair+"/SMask 4 0 R", "\x10\x20", func(f *pdfbuild.File) {
		f.Stream("/Subtype /Image /Width 1 /Height 1 /ColorSpace /DeviceGray /BitsPerComponent 8 /Matte [0]", "\xff")
	})
	if err != nil || im.SoftMask == nil || im.Matte != nil || !has(fs, "image-matte-damaged") {
		t.Errorf("%+v %v %v", im, fs, err)
	}
}

func TestCutSamplesArePaddedWithWhite(t *testing.T) {
	tests := []struct {
		name, dict, data string
		x, c, want       int
	}{
		{"gray", "/ColorSpace /DeviceGray /BitsPerComponent 8", "\x10", 3, 0, 255},
		{"gray turned round", "/ColorSpace /DeviceGray /BitsPerComponent 8 /Decode [1 0]", "\x10", 3, 0, 0},
		{"gray of one bit", "/ColorSpace /DeviceGray /BitsPerComponent 1", "", 3, 0, 1},
		{"gray of 16 bits", "/ColorSpace /DeviceGray /BitsPerComponent 16", "\x10\x00\x20", 1, 0, 65535},
		{"RGB in the middle of a pixel", "/ColorSpace /DeviceRGB /BitsPerComponent 8", "\x10", 0, 2, 255},
		{"CMYK", "/ColorSpace /DeviceCMYK /BitsPerComponent 8", "\xff", 2, 1, 0},
		{"spot", "/ColorSpace " + pdfbuild.Spot("White", .2, 0, 0, 0) + " /BitsPerComponent 4", "\xff", 3, 0, 0},
		{"stencil", "/ImageMask true", "", 2, 0, 1},
		{"stencil turned round", "/ImageMask true /Decode [1 0]", "", 2, 0, 0},
		{"L* of Lab", "/ColorSpace [/Lab << /WhitePoint [.95 1 1.09] >>] /BitsPerComponent 8", "", 1, 0, 255},
		{"a* of Lab", "/ColorSpace [/Lab << /WhitePoint [.95 1 1.09] >>] /BitsPerComponent 8", "", 1, 1, 128},
	}
	for _, tt := range tests {
		im, fs, err := read(t, "/Subtype /Image /Width 4 /Height 1 "+tt.dict, tt.data)
		if err != nil || !has(fs, "image-data-short") {
			t.Errorf("%s: %v %v", tt.name, err, fs)
			continue
		}
		if len(tt.data) > 0 && im.Data[0] != tt.data[0] {
			t.Errorf("%s: the first byte became %#x", tt.name, im.Data[0])
		}
		if got := im.Sample(tt.x, 0, tt.c); got != tt.want {
			t.Errorf("%s: sample is %d, want %d", tt.name, got, tt.want)
		}
	}
}

func TestImagesThatCannotBeDrawnAreErrors(t *testing.T) {
	gray := " /ColorSpace /DeviceGray /BitsPerComponent 8"
	tests := []struct {
		name, dict string
		want       error
	}{
		{"no size", gray, nil},
		{"negative size", "/Width -1 /Height 3" + gray, nil},
		{"absurd size", "/Width 100000 /Height 100000" + gray, ErrTooLarge},
		{"JPEG 2000 without a codestream", "/Width 1 /Height 1 /Filter /JPXDecode" + gray, nil},
		{"JBIG2 without a page", "/Width 1 /Height 1 /Filter /JBIG2Decode" + gray, nil},
		{"unknown filter", "/Width 1 /Height 1 /Filter /Nonsense" + gray, ErrUnsupported},
		{"a filter behind an image filter", "/Width 1 /Height 1 /Filter [/DCTDecode /FlateDecode]" + gray, ErrUnsupported},
		{"fax without rows", "/Width 8 /Height 1 /Filter /CCITTFaxDecode /DecodeParms << /K 4 /Columns 0 >> /BitsPerComponent 1 /ColorSpace /DeviceGray", nil},
	}
	for _, tt := range tests {
		im, _, err := read(t, "/Subtype /Image "+tt.dict, "xx")
		if err == nil || im != nil || tt.want != nil && !errors.Is(err, tt.want) {
			t.Errorf("%s: %v, %v", tt.name, im, err)
		}
	}
}

func TestDamagedDictionariesAreReadAsWellAsCanBe(t *testing.T) {
	tests := []struct {
		dict, data, finding string
		comps, bits         int
	}{
		{"/BitsPerComponent 8", "abcdef", "image-colour-space-missing", 3, 8},
		{"/BitsPerComponent 8 /ColorSpace /Missing", "abcdefgh", "image-colour-space-damaged", 4, 8},
		{"/BitsPerComponent 8 /ColorSpace /Pattern", "ab", "image-colour-space-damaged", 1, 8},
		{"/ColorSpace /DeviceGray", "ab", "image-depth-missing", 1, 8},
		{"/BitsPerComponent 5 /ColorSpace /DeviceGray", "ab", "image-depth-wrong", 1, 8},
		{"/BitsPerComponent 8 /ColorSpace /DeviceGray /Decode [0]", "ab", "image-decode-damaged", 1, 8},
	}
	for _, tt := range tests {
		im, fs, err := read(t, "/Subtype /Image /Width 2 /Height 1 "+tt.dict, tt.data)
		if err != nil || !has(fs, finding.ID(tt.finding)) || im.Components() != tt.comps || im.Bits != tt.bits {
			t.Errorf("%s: %+v %v %v", tt.dict, im, fs, err)
		}
	}
}

func TestDecodeDefaults(t *testing.T) {
	im, _, err := read(t, "/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 4 /ColorSpace [/Indexed /DeviceRGB 1 <000000FFFFFF>] /Intent /Perceptual /Interpolate true", "\x01")
	if err != nil || fmt.Sprint(im.Decode) != "[0 15]" || im.Intent != colour.Perceptual || !im.HasIntent || !im.Interpolate {
		t.Errorf("%+v %v", im, err)
	}
}

// Group 4 data of an 8 x 2 picture: both rows white is two vertical-0 codes; end of block follows.
func TestFaxPolarity(t *testing.T) {
	const white = "\xc0\x01\x00\x10" // 1 1, then EOFB
	for parms, want := range map[string]int{"": 1, "/BlackIs1 true": 0, "/BlackIs1 false": 1} {
		im, fs, err := read(t, "/Subtype /Image /Width 8 /Height 2 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms << /K -1 /Columns 8 /Rows 2 "+parms+" >>", white)
		if err != nil || len(fs) > 0 {
			t.Fatalf("%q: %v %v", parms, err, fs)
		}
		if got := im.Sample(7, 1, 0); got != want || im.Filter != "CCITTFaxDecode" {
			t.Errorf("%q: %d, want %d", parms, got, want)
		}
	}
}

func TestSameImageIsDecodedOnce(t *testing.T) {
	a, b := readTwice(t, grayPair, strings.Repeat("x", 2))
	if a == nil || a != b {
		t.Error("the image was decoded twice")
	}
}

package image

import (
	"bytes"
	"errors"
	"fmt"
	stdimage "image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"laydown/internal/artwork/colour"
)

// gradient is a picture whose value at (x, y) is f(x, y).
func gradient(w, h int, f func(x, y int) byte) *stdimage.Gray {
	m := stdimage.NewGray(stdimage.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.Pix[y*m.Stride+x] = f(x, y)
		}
	}
	return m
}

func encode(t testing.TB, m stdimage.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 100}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// planes makes one JPEG out of gray planes, each in a scan of its own, stored untransformed. extra
// is written behind SOI: application markers.
func planes(t testing.TB, extra []byte, parts ...*stdimage.Gray) []byte {
	t.Helper()
	out := append([]byte{0xff, markerSOI}, extra...)
	var scans []byte
	for i, p := range parts {
		data := encode(t, p)
		h, err := parseJPEG(data)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			out = append(out, data[2:h.sof]...) // quantisation tables
			sof := []byte{0xff, markerSOF0, 0, byte(8 + 3*len(parts)), 8, byte(h.height >> 8), byte(h.height), byte(h.width >> 8), byte(h.width), byte(len(parts))}
			for k := range parts {
				sof = append(sof, byte(k+1), 0x11, 0)
			}
			out = append(out, sof...)
			out = append(out, data[h.sof+13:h.scan]...) // Huffman tables
		}
		scan := append([]byte(nil), data[h.scan:len(data)-2]...)
		scan[5] = byte(i + 1)
		scans = append(scans, scan...)
	}
	return append(append(out, scans...), 0xff, markerEOI)
}

func four(w, h int) []*stdimage.Gray {
	return []*stdimage.Gray{
		gradient(w, h, func(x, y int) byte { return byte(8 * x) }),
		gradient(w, h, func(x, y int) byte { return byte(8 * y) }),
		gradient(w, h, func(x, y int) byte { return byte(4 * (x + y)) }),
		gradient(w, h, func(x, y int) byte { return 200 }),
	}
}

func photo(t testing.TB, space string, w, h int, data []byte, parms string) (*Image, []string, error) {
	t.Helper()
	im, fs, err := read(t, fmt.Sprintf("/Subtype /Image /Width %d /Height %d /ColorSpace /%s /BitsPerComponent 8 /Filter /DCTDecode %s", w, h, space, parms), string(data))
	var ids []string
	for _, f := range fs {
		ids = append(ids, string(f.ID))
	}
	return im, ids, err
}

// worst is the largest difference between the image's samples and want.
func worst(im *Image, want func(x, y, c int) int) int {
	d := 0
	for y := range im.Height {
		for x := range im.Width {
			for c := range im.Components() {
				v := im.Sample(x, y, c) - want(x, y, c)
				d = max(d, v, -v)
			}
		}
	}
	return d
}

func TestJPEGSamplesAreAsStored(t *testing.T) {
	parts := four(32, 24)
	stored := func(x, y, c int) int { return int(parts[c].Pix[y*32+x]) }
	jfif := []byte{0xff, markerAPP0, 0, 16, 'J', 'F', 'I', 'F', 0, 1, 1, 0, 0, 1, 0, 1, 0, 0}
	yccToRGB := func(x, y, c int) int {
		r, g, b := color.YCbCrToRGB(parts[0].Pix[y*32+x], parts[1].Pix[y*32+x], parts[2].Pix[y*32+x])
		return int([]byte{r, g, b}[c])
	}
	tests := []struct {
		name  string
		space string
		data  []byte
		parms string
		want  func(x, y, c int) int
	}{
		{"one component", "DeviceGray", encode(t, parts[0]), "", stored},
		{"four without a marker", "DeviceCMYK", planes(t, nil, parts...), "", stored},
		{"four with a marker, untransformed", "DeviceCMYK", planes(t, adobeMarker(0), parts...), "", stored},
		{"four with a marker, transformed", "DeviceCMYK", planes(t, adobeMarker(2), parts...), "", func(x, y, c int) int {
			if c == 3 {
				return 200
			}
			return 255 - yccToRGB(x, y, c)
		}},
		{"four without a marker, transformed by the dictionary", "DeviceCMYK", planes(t, nil, parts...), "/DecodeParms << /ColorTransform 1 >>", func(x, y, c int) int {
			if c == 3 {
				return 200
			}
			return 255 - yccToRGB(x, y, c)
		}},
		{"four with a marker against the dictionary", "DeviceCMYK", planes(t, adobeMarker(0), parts...), "/DecodeParms << /ColorTransform 1 >>", stored},
		{"three without a marker", "DeviceRGB", planes(t, nil, parts[:3]...), "", yccToRGB},
		{"three, untransformed by the dictionary", "DeviceRGB", planes(t, nil, parts[:3]...), "/DecodeParms << /ColorTransform 0 >>", stored},
		{"three with JFIF, untransformed by the dictionary", "DeviceRGB", planes(t, jfif, parts[:3]...), "/DecodeParms << /ColorTransform 0 >>", stored},
		{"three with a marker, untransformed", "DeviceRGB", planes(t, adobeMarker(0), parts[:3]...), "", stored},
		{"three with a marker against the dictionary", "DeviceRGB", planes(t, adobeMarker(1), parts[:3]...), "/DecodeParms << /ColorTransform 0 >>", yccToRGB},
		{"bytes before the start", "DeviceGray", append([]byte("\r\n\x00"), encode(t, parts[0])...), "", stored},
		{"no end marker", "DeviceGray", encode(t, parts[0])[:len(encode(t, parts[0]))-2], "", stored},
		{"no height", "DeviceGray", withoutHeight(t, encode(t, parts[0])), "", stored},
	}
	for _, tt := range tests {
		im, ids, err := photo(t, tt.space, 32, 24, tt.data, tt.parms)
		if err != nil || len(ids) > 0 {
			t.Errorf("%s: %v %v", tt.name, err, ids)
			continue
		}
		// Quality 100 leaves rounding of the transform: 1 level, up to 3 after the YCbCr matrix.
		if d := worst(im, tt.want); d > 3 {
			t.Errorf("%s: off by %d", tt.name, d)
		}
	}
}

func withoutHeight(t testing.TB, data []byte) []byte {
	h, err := parseJPEG(data)
	if err != nil {
		t.Fatal(err)
	}
	data = bytes.Clone(data)
	data[h.sof+5], data[h.sof+6] = 0, 0
	return data
}

func TestJPEGKindsThatAreNotSupported(t *testing.T) {
	good := encode(t, four(16, 16)[0])
	h, _ := parseJPEG(good)
	change := func(at int, v byte) []byte { d := bytes.Clone(good); d[at] = v; return d }
	for name, data := range map[string][]byte{
		"arithmetic": change(h.sof+1, 0xc9), "lossless": change(h.sof+1, 0xc3), "12 bits": change(h.sof+4, 12),
	} {
		if _, _, err := photo(t, "DeviceGray", 16, 16, data, ""); !errors.Is(err, ErrUnsupported) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := photo(t, "DeviceGray", 16, 16, []byte("not a JPEG"), ""); err == nil || errors.Is(err, ErrUnsupported) {
		t.Errorf("no JPEG at all: %v", err)
	}
	huge := change(h.sof+5, 0xff)
	huge[h.sof+7] = 0xff
	if _, _, err := photo(t, "DeviceGray", 16, 16, huge, ""); !errors.Is(err, ErrTooLarge) {
		t.Errorf("huge: %v", err)
	}
}

func TestCutJPEGKeepsWhatIsThereAndTheRestIsWhite(t *testing.T) {
	part := gradient(64, 64, func(x, y int) byte { return byte(3*x + y/4) })
	data := encode(t, part)
	h, _ := parseJPEG(data)
	for _, share := range []float64{.02, .3, .5, .9} {
		cut := data[:h.scan+int(share*float64(len(data)-h.scan))]
		im, ids, err := photo(t, "DeviceGray", 64, 64, cut, "")
		if err != nil || fmt.Sprint(ids) != "[image-data-damaged]" {
			t.Fatalf("%v: %v %v", share, err, ids)
		}
		white := 0
		for y := 0; y < 64; y += 8 {
			for x := 0; x < 64; x += 8 {
				whole := true
				for i := range 64 {
					whole = whole && abs(im.Sample(x+i%8, y+i/8, 0)-int(part.Pix[(y+i/8)*64+x+i%8])) <= 2
				}
				gone := im.Sample(x, y, 0) == 255 && im.Sample(x+7, y+7, 0) == 255
				if whole && white > 0 || !whole && !gone {
					t.Fatalf("%v: block %d %d is neither kept nor white", share, x, y)
				}
				if gone && !whole {
					white++
				}
			}
		}
		if want := int(64 * (1 - share)); abs(white-want) > 12 {
			t.Errorf("%v: %d of 64 blocks are white", share, white)
		}
	}
}

func abs(v int) int { return max(v, -v) }

func goTestdata(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(runtime.GOROOT(), "src/image/testdata", name))
	if err != nil {
		t.Skip("the toolchain's test pictures are not here: ", err)
	}
	return data
}

func TestDamageEndsAtTheNextRestartMarker(t *testing.T) {
	data := goTestdata(t, "video-001.restart2.jpeg")
	whole, ids, err := photo(t, "DeviceRGB", 150, 103, data, "")
	if err != nil || len(ids) > 0 {
		t.Fatal(err, ids)
	}
	h, _ := parseJPEG(data)
	first := bytes.Index(data[h.scan:], []byte{0xff, markerRST0}) + h.scan
	second := bytes.Index(data[h.scan:], []byte{0xff, markerRST0 + 1}) + h.scan
	hurt := append(append([]byte(nil), data[:first+4]...), data[second:]...) // two bytes of an interval are left
	im, ids, err := photo(t, "DeviceRGB", 150, 103, hurt, "")
	if err != nil || fmt.Sprint(ids) != "[image-data-damaged]" {
		t.Fatal(err, ids)
	}
	same := 0
	for i, v := range im.Data {
		if v == whole.Data[i] {
			same++
		}
	}
	if share := float64(same) / float64(len(im.Data)); share < .65 || share > .75 { // one of 3.5 intervals is gone
		t.Errorf("%.1f %% of the samples survived", 100*share)
	}
}

func TestProgressiveJPEGCutShortShowsItsEarlierScans(t *testing.T) {
	data := goTestdata(t, "video-001.progressive.jpeg")
	whole, ids, err := photo(t, "DeviceRGB", 150, 103, data, "")
	if err != nil || len(ids) > 0 {
		t.Fatal(err, ids)
	}
	im, ids, err := photo(t, "DeviceRGB", 150, 103, data[:len(data)*3/4], "")
	if err != nil || fmt.Sprint(ids) != "[image-data-damaged]" {
		t.Fatal(err, ids)
	}
	if d := worst(im, whole.Sample); d > 110 {
		t.Errorf("off by %d", d)
	}
}

func TestJPEGOfAnotherKindThanItsDictionary(t *testing.T) {
	parts := four(16, 16)
	im, ids, err := photo(t, "DeviceRGB", 20, 16, encode(t, parts[0]), "")
	if err != nil || im.Space != colour.Space(colour.Gray) || im.Width != 16 || fmt.Sprint(ids) != "[image-components-differ image-size-differs]" {
		t.Errorf("%v %v %v", im, ids, err)
	}
}

// A flat chroma must come through interpolation unchanged, and a step must rise evenly.
func TestChromaIsInterpolated(t *testing.T) {
	m := stdimage.NewYCbCr(stdimage.Rect(0, 0, 7, 5), stdimage.YCbCrSubsampleRatio420)
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = 128, 128
		if i%m.CStride >= 2 {
			m.Cr[i] = 168
		}
	}
	for i := range m.Y {
		m.Y[i] = 100
	}
	out := rgbFromYCbCr(m)
	want := []int{100, 100, 100, 114, 142, 156, 156} // 100 + 1.402 x (0, 0, 0, 10, 30, 40, 40)
	for y := range 5 {
		for x, w := range want {
			if got := int(out[3*(7*y+x)]); got != w {
				t.Errorf("red at %d %d is %d, want %d", x, y, got, w)
			}
		}
	}
}

// YCCK with chroma of half the size is interpolated like YCbCr.
func TestChromaOfFourComponentsIsInterpolated(t *testing.T) {
	const w, h = 32, 32
	parts := []*stdimage.Gray{
		gradient(w, h, func(x, y int) byte { return 100 }), gradient(w/2, h/2, func(x, y int) byte { return 128 }),
		gradient(w/2, h/2, func(x, y int) byte { return byte(128 + 40*(x/8)) }), gradient(w, h, func(x, y int) byte { return byte(6 * x) }),
	}
	data := planes(t, adobeMarker(2), parts...)
	head, err := parseJPEG(data)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range []byte{0x22, 0x11, 0x11, 0x22} {
		data[head.sof+11+3*i] = f
	}
	data[head.sof+5], data[head.sof+6], data[head.sof+7], data[head.sof+8] = 0, h, 0, w
	im, ids, err := photo(t, "DeviceCMYK", w, h, data, "")
	if err != nil || len(ids) > 0 {
		t.Fatal(err, ids)
	}
	// Cyan is 155 - 1.402 x chroma, which rises from 0 to 40 over four columns.
	for x, rise := range map[int]float64{0: 0, 14: 0, 15: 10, 16: 30, 17: 40, 31: 40} {
		want := 155 - 1.402*rise
		if got := float64(im.Data[4*(w*9+x)]); got < want-3 || got > want+3 {
			t.Errorf("cyan at %d is %g, want %.0f", x, got, want)
		}
		if got := int(im.Data[4*(w*9+x)+3]); abs(got-6*x) > 3 {
			t.Errorf("black at %d is %d, want %d", x, got, 6*x)
		}
	}
}

// Whatever the bytes, the reader ends, and gives either an error or an image of exactly its size.
func FuzzJPEGReader(f *testing.F) {
	parts := four(16, 16)
	f.Add(encode(f, parts[0]))
	f.Add(planes(f, adobeMarker(2), parts...))
	f.Add(planes(f, nil, parts[:3]...))
	whole := encode(f, gradient(40, 40, func(x, y int) byte { return byte(x * y) }))
	f.Add(whole[:len(whole)/2])
	rng := rand.New(rand.NewPCG(1, 2))
	for range 8 {
		hurt := bytes.Clone(whole)
		hurt[rng.IntN(len(hurt))] ^= 0x55
		f.Add(hurt)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := parseJPEG(data)
		if err != nil || h.supported() != nil || h.width*h.height > 1<<18 {
			return
		}
		px, _, err := decodeJPEG(h, h.rewritten(data, -1, 16))
		if err != nil {
			return
		}
		if px.n != len(h.ids) || len(px.data) != px.w*px.h*px.n || px.w == 0 || px.h == 0 {
			t.Fatalf("%d x %d x %d in %d bytes", px.w, px.h, px.n, len(px.data))
		}
	})
}

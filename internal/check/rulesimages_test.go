package check

import (
	"bytes"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"image/jpeg"

	"laydown/internal/finding"
)

// noise is n bytes that are not all alike.
func noise(n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(i*i*31 + i*7)
	}
	return string(b)
}

// shownAt is a page with an image of n x n samples, of bits each, in a square of mm.
func shownAt(n, bits int, space string, mm float64) artwork {
	return artwork{pages: []string{shown("", 5, 5, mm, mm)}, samples: noise((n*bits + 7) / 8 * n),
		picture: "/Width " + num(float64(n)) + " /Height " + num(float64(n)) + " /BitsPerComponent " + num(float64(bits)) + " /ColorSpace " + space}
}

const whiteSpace = "[/Separation /White /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [.25 0 0 .1] >>]"

func TestImageResolution(t *testing.T) {
	const id = "image-resolution-low"
	gray := func(n int) artwork { return shownAt(n, 8, "/DeviceGray", 25.4) } // n samples an inch
	f := holds(t, id, finding.Warning, gray(224), quiet{
		"as wanted":    gray(225),
		"small":        shownAt(20, 8, "/DeviceGray", 4.9),
		"one colour":   {pages: gray(50).pages, picture: gray(50).picture, samples: strings.Repeat("a", 2500)},
		"beyond bleed": {pages: []string{shown("", -9, 5, 5, 5)}, picture: gray(20).picture, samples: gray(20).samples},
		"a stripe":     {pages: []string{shown("", 5, 5, 25, 25)}, picture: row("/DeviceGray", 300), samples: noise(300)},
		"line work":    shownAt(600, 1, "/DeviceGray", 25.4), // the press two-set has 600 dpi
		"a special":    shownAt(300, 8, whiteSpace, 25.4),
	})
	if f.Figures["resolution_dpi"] != 224 {
		t.Errorf("%v", f.Figures)
	}
	wantItems(t, f, 0)
	for n, sev := range map[int]finding.Severity{149: finding.Error, 150: finding.Warning} {
		if f := one(t, gray(n), id); f.Severity != sev {
			t.Errorf("%d dpi: %v", n, f.Severity)
		}
	}
	holds(t, id, finding.Warning, shownAt(299, 8, whiteSpace, 25.4), nil)
	holds(t, id, finding.Error, shownAt(599, 1, "/DeviceGray", 25.4), nil)
	// 599 samples an inch on a press of 1200 dpi are an error, 600 a warning, 800 enough.
	fine := func(n int) artwork { a := shownAt(n, 1, "/DeviceGray", 25.4); a.press = "six-station"; return a }
	holds(t, id, finding.Warning, fine(600), quiet{"800": fine(800)})
	holds(t, id, finding.Error, fine(599), nil)
	// A turned and stretched image: the coarser axis counts.
	turned := gray(300)
	turned.pages = []string{"q 0 50.8 -25.4 0 40 15 cm /I Do Q"}
	if f := one(t, turned, id); f.Figures["resolution_dpi"] != 150 {
		t.Errorf("%v", f.Figures)
	}
}

func TestImageResolutionWasted(t *testing.T) {
	gray := func(n int) artwork { return shownAt(n, 8, "/DeviceGray", 25.4) }
	holds(t, "image-resolution-wasted", finding.Note, gray(451), quiet{
		"450": gray(450), "small": shownAt(400, 8, "/DeviceGray", 15), "line work": shownAt(1200, 1, "/DeviceGray", 25.4)})
}

// jpegOf is a page with a gray JPEG of a quality in a square inch of a colour space.
func jpegOf(t *testing.T, quality int, space string) artwork {
	t.Helper()
	im := image.NewGray(image.Rect(0, 0, 320, 320))
	copy(im.Pix, noise(len(im.Pix)))
	var b bytes.Buffer
	if err := jpeg.Encode(&b, im, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return artwork{pages: []string{shown("", 5, 5, 25.4, 25.4)}, samples: b.String(),
		picture: "/Width 320 /Height 320 /BitsPerComponent 8 /Filter /DCTDecode /ColorSpace " + space}
}

func TestLossyImages(t *testing.T) {
	const id = "image-lossy"
	f := holds(t, id, finding.Warning, jpegOf(t, 88, whiteSpace), quiet{
		"fine in a special plate": jpegOf(t, 92, whiteSpace),
		"ordinary":                jpegOf(t, 42, "/DeviceGray"),
		"no JPEG":                 shownAt(320, 8, whiteSpace, 25.4),
	})
	if math.Abs(f.Figures["quality"]-88) > 1 || f.Place.Colourants[0] != "White" {
		t.Errorf("%v %v", f.Figures, f.Place)
	}
	holds(t, id, finding.Warning, jpegOf(t, 38, "/DeviceGray"), nil)
}

// jpxOf is a page with JPEG 2000 data of 96 x 96 samples in a colour space, from the samples of the decoder.
func jpxOf(t *testing.T, name, space string) artwork {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "artwork", "image", "jpx", "testdata", name+".j2k"))
	if err != nil {
		t.Fatal(err)
	}
	return artwork{pages: []string{shown("", 5, 5, 8, 8)}, samples: string(data), picture: "/Width 96 /Height 96 /Filter /JPXDecode /ColorSpace " + space}
}

func TestLossyJPEG2000(t *testing.T) {
	const id = "image-lossy"
	f := holds(t, id, finding.Warning, jpxOf(t, "lossy-coarse", whiteSpace), quiet{
		"fine in a special plate": jpxOf(t, "lossy-fine", whiteSpace),
		"ordinary":                jpxOf(t, "lossy-coarse", "/DeviceGray"),
		"without loss":            jpxOf(t, "gray", whiteSpace),
	})
	// The error is the decoder's own estimate, which its tests hold to the truth.
	if f.Figures["planes"] != 6 || math.Abs(f.Figures["error_percent"]-3.26) > .1 || f.Place.Colourants[0] != "White" {
		t.Errorf("%v %v", f.Figures, f.Place)
	}
	poor := jpxOf(t, "lossy-coarse", "/DeviceGray")
	poor.settings = setting(t, id, map[string]string{"least": "80"})
	one(t, poor, id)
}

// Steps of a table spread errors of a twelfth of their squares: the quality comes back.
func TestQualityOfAnError(t *testing.T) {
	for _, q := range []float64{5, 20, 50, 75, 90, 99} {
		scale := 5000 / q
		if q >= 50 {
			scale = 200 - 2*q
		}
		sum := 0.0
		for _, v := range luminance {
			step := float64(v) * scale / 100
			sum += step * step / 12
		}
		if got := qualityOfError(math.Sqrt(sum/64) / 255); math.Abs(got-q) > 1e-6 {
			t.Errorf("quality %g is read as %g", q, got)
		}
	}
}

// The writer of the Go library scales table K.1 by the usual rule, so its qualities must come back, but for the rounding
// of tables to whole numbers and up to 1: a point. Entries end at 255, so qualities under 20 are read as up to 15.
func TestJPEGQualityIsRead(t *testing.T) {
	for _, q := range []int{1, 5, 10, 30, 50, 75, 90, 95, 100} {
		table, ok := quantisation([]byte(jpegOf(t, q, "/DeviceGray").samples))
		if got := qualityOf(table); !ok || q >= 20 && math.Abs(got-float64(q)) > 1 || q < 20 && got > 15 {
			t.Errorf("quality %d is read as %.1f", q, got)
		}
	}
	for _, data := range []string{"", "\xff\xd8", "\xff\xd8\xff\xdb\x00\x43", "\xff\xd8\xff\xda\x00\x02", "\xff\xd8\x00\x00\x00\x00", "\xff\xd8\xff\xdb\x00\x03\x20"} {
		if _, ok := quantisation([]byte(data)); ok {
			t.Errorf("%q has a table", data)
		}
	}
}

// onLayer puts content on a layer /L of a name.
func onLayer(name, content string) artwork {
	return artwork{pages: []string{"/OC /L BDC " + content + " EMC"}, layer: name}
}

func TestProcessOnATonersLayer(t *testing.T) {
	const id = "process-on-toner-layer"
	f := holds(t, id, finding.Warning, onLayer("white", fill("1 0 0 rg", 5, 5, 10, 6)+fill(white, 20, 5, 10, 6)), quiet{
		"the toner":       onLayer("White", fill(white, 5, 5, 10, 6)),
		"another layer":   onLayer("Picture", fill("1 0 0 rg", 5, 5, 10, 6)),
		"a mix":           onLayer("Silver", fill("/Pale cs 1 scn", 5, 5, 10, 6)),
		"nothing painted": onLayer("White", fill("1 g", 5, 5, 10, 6)),
	})
	wantItems(t, f, 0)
	a := onLayer("Spot White", shown("", 5, 5, 25, 25))
	a.picture, a.samples = row("/DeviceRGB", 2), "abcdef"
	if f := one(t, a, id); !strings.Contains(f.Remedy, "gray image") {
		t.Error(f.Remedy)
	}
}

func TestRGBOnThePage(t *testing.T) {
	const id = "rgb-on-page"
	f := holds(t, id, finding.Note, artwork{pages: []string{fill("1 0 0 rg", 5, 5, 10, 6) + fill(cmyk, 20, 5, 3, 3) + shown("", 5, 15, 5, 5)}, picture: row("/DeviceRGB", 2), samples: "abcdef"}, quiet{
		"CMYK":     {pages: []string{fill(cmyk, 5, 5, 10, 6)}},
		"gray":     {pages: []string{fill(".5 g", 5, 5, 10, 6)}},
		"no press": {press: "none", pages: []string{fill("1 0 0 rg", 5, 5, 10, 6)}},
	})
	wantItems(t, f, 0, 2)
	lab := artwork{spaces: "/L [/Lab << /WhitePoint [.9642 1 .8249] >>]", pages: []string{fill("/L cs 50 20 20 scn", 5, 5, 10, 6)}}
	one(t, lab, id)
}

package truth

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/colourant"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// The vectors are pages of 8 x 1 pixels at 72 dpi, brought from PDF bytes to plates. Most lay one
// thing on columns 0 to 3 and another on columns 2 to 5, so that a row reads: the lower alone, the
// upper on the lower, the upper alone, bare stock.

// Names of the resources of the vectors. White's stand-in is cyan.
var vectorResources = "/ColorSpace << /White " + pdfbuild.Spot("White", 1, 0, 0, 0) + " /Silver " + pdfbuild.Spot("Silver", 0, 0, 0, .5) + " >>" +
	" /ExtGState << /Off << /OP false /OPM 0 >> /On << /OP true /OPM 0 >> /Mode1 << /OP true /OPM 1 >>" +
	" /Multiply << /BM /Multiply >> /Difference << /BM /Difference >> >>"

const (
	onLower = " 0 0 4 1 re f "
	onUpper = " 2 0 4 1 re f "
)

// vector paints page 1 of a file.
func vector(t *testing.T, f *pdfbuild.File, opt interp.Options, target *separate.Target) *painted {
	t.Helper()
	p, err := paintPage(context.Background(), f.Bytes(), 1, 72, opt, target)
	if err != nil {
		t.Fatal(err)
	}
	for _, fd := range p.Sink.Sorted() {
		if fd.Incomplete {
			t.Errorf("not drawn in full: %s: %s", fd.ID, fd.What)
		}
	}
	return p
}

// sameGrid compares plates with a grid as plate.HexGrid writes it.
func sameGrid(t *testing.T, s *plate.Stack, want string) {
	t.Helper()
	var b strings.Builder
	for line := range strings.Lines(strings.TrimSpace(want)) {
		b.WriteString(strings.TrimSpace(line) + "\n")
	}
	if got := plate.HexGrid(s); got != b.String() {
		t.Errorf("plates are\n%swant\n%s", got, b.String())
	}
}

// page8 is a file with one page of 8 x 1 points.
func page8(resources, content string) *pdfbuild.File {
	f := pdfbuild.New()
	f.Page(8, 1, resources, content)
	return f
}

// lower is C 50 % with White on it, so that both are there.
const lower = ".5 0 0 0 k" + onLower + "/On gs /White cs 1 scn" + onLower

func TestVectors(t *testing.T) {
	for _, c := range []struct{ id, question, content, want string }{
		{"V1", "a space just chosen has its colourant in full (8.6.6.4)",
			"/White cs" + onLower, `
			Cyan -
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		{"V2", "tint 0 of a named colourant takes it off, overprint or not (8.6.7)",
			"/White cs 1 scn" + onLower + "/On gs 0 scn" + onUpper, `
			Cyan -
			Magenta -
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver -`},
		{"V3", "OPM 1 keeps what is under CMYK components of 0, and the spot (Table 146)",
			lower + "/Mode1 gs 0 0 0 1 k" + onUpper, `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		{"V4", "OPM 0 paints all four, keeps the spot (Table 146)",
			lower + "/On gs 0 0 0 1 k" + onUpper, `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		{"V5", "without overprint the spot is knocked out (Table 146)",
			lower + "/Off gs 0 0 0 1 k" + onUpper, `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff 00 00 00 00 00 00
			Silver -`},
		{"V6", "OPM 1 does not act on the samples of an image (8.6.7)",
			lower + "/Mode1 gs q 4 0 0 1 2 0 cm BI /W 1 /H 1 /BPC 8 /CS /CMYK /F /AHx ID 000000ff> EI Q", `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		{"V7", "gray specifies all process toners, even with OPM 1 (Table 146)",
			"0 .6 0 0 k" + onLower + "/On gs /White cs 1 scn" + onLower + "/Mode1 gs .5 g" + onUpper, `
			Cyan -
			Magenta
			99 99 00 00 00 00 00 00
			Yellow -
			Black
			00 00 80 80 80 80 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		// .4 = 66, .7 = b3 and 1 - .6 * .3 = .82 = d1.
		{"V8", "Multiply acts on spots, in additive sense (11.3.5.2, 11.7.4.2)",
			"/White cs .4 scn" + onLower + "/Multiply gs .7 scn" + onUpper, `
			Cyan -
			Magenta -
			Yellow -
			Black -
			White
			66 66 d1 d1 b3 b3 00 00
			Silver -`},
		// The process toners, which both objects have at 0, show it: |1 - 1| = 0, in full.
		{"V9", "Difference is Normal for spots: it would make toner of no toner (11.7.4.2)",
			"/White cs .4 scn" + onLower + "/Difference gs .7 scn" + onUpper, `
			Cyan
			00 00 ff ff 00 00 00 00
			Magenta
			00 00 ff ff 00 00 00 00
			Yellow
			00 00 ff ff 00 00 00 00
			Black
			00 00 ff ff 00 00 00 00
			White
			66 66 b3 b3 b3 b3 00 00
			Silver -`},
	} {
		t.Run(c.id, func(t *testing.T) {
			t.Log(c.question)
			sameGrid(t, vector(t, page8(vectorResources, c.content), interp.Options{}, nil).Stack, c.want)
		})
	}
}

// V10: spots stand beside an isolated RGB group and come out as drawn, its process colours are converted
// to the parent's space; as a whole the group paints over what is under it (11.7.3, Table 146 last row).
func TestVector10_spotInRGBGroup(t *testing.T) {
	f := pdfbuild.New()
	g := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 8 1] /Group << /S /Transparency /CS /DeviceRGB /I true >> /Resources << "+vectorResources+" >>",
		"1 0 0 rg"+onLower+"/On gs /White cs .6 scn"+onUpper)
	f.Page(8, 1, vectorResources+" /XObject << /G "+pdfbuild.Ref(g)+" >>", ".5 0 0 0 k 0 0 8 1 re f /G Do")
	sameGrid(t, vector(t, f, interp.Options{}, nil).Stack, `
		Cyan
		00 00 00 00 00 00 80 80
		Magenta
		ff ff ff ff 00 00 00 00
		Yellow
		ff ff ff ff 00 00 00 00
		Black -
		White
		00 00 99 99 99 99 00 00
		Silver -`)
}

// V11: in a luminosity mask a spot counts by its stand-in, not its tint: white lets through, dark
// does not, and neither reaches its plate (11.7.3).
func TestVector11_spotInLuminosityMask(t *testing.T) {
	f := pdfbuild.New()
	spaces := "/ColorSpace << /White " + pdfbuild.Spot("White", 0, 0, 0, 0) + " /Dark " + pdfbuild.Spot("Dark", 0, 0, 0, 1) + " >>"
	g := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 8 1] /Group << /S /Transparency /CS /DeviceGray >> /Resources << "+spaces+" >>",
		"/White cs 1 scn 0 0 4 1 re f /Dark cs 1 scn 2 0 1 1 re f")
	f.Page(8, 1, spaces+" /ExtGState << /Masked << /SMask << /S /Luminosity /G "+pdfbuild.Ref(g)+" >> >> >>", "/Masked gs 0 0 0 1 k 0 0 8 1 re f")
	sameGrid(t, vector(t, f, interp.Options{}, nil).Stack, `
		Cyan -
		Magenta -
		Yellow -
		Black
		ff ff 00 ff 00 00 00 00
		White -
		Dark -`)
}

// whitePress carries the process toners and White, and no other.
func whitePress(t *testing.T) *separate.Target {
	t.Helper()
	p := &press.Press{Name: "bench", Toners: []press.Toner{{Name: "White", Kind: colourant.OpaqueWhite}},
		Sets: []press.Set{{Name: "all", Stations: []string{"White", "Cyan", "Magenta", "Yellow", "Black"}}}}
	for _, n := range colourant.ProcessNames {
		p.Toners = append(p.Toners, press.Toner{Name: n, Kind: colourant.Process})
	}
	target, err := separate.NewTarget(p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return target
}

// two is a space of White and Lost with an attributes dictionary of a subtype. As a whole its stand-in
// is White in cyan and Lost in yellow; Lost by itself is 50 % magenta.
func two(subtype string) string {
	return "/ColorSpace << /White " + pdfbuild.Spot("White", 1, 0, 0, 0) + " /Two [ /DeviceN [/White /Lost] /DeviceCMYK %s << /Subtype /" + subtype +
		" /Colorants << /White " + pdfbuild.Spot("White", 1, 0, 0, 0) + " /Lost " + pdfbuild.Spot("Lost", 0, .5, 0, 0) + " >> >> ] >>"
}

func missingName(t *testing.T, subtype, want string) {
	t.Helper()
	f := pdfbuild.New()
	tint := f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ 0 exch 0 }")
	f.Page(8, 1, fmt.Sprintf(two(subtype), pdfbuild.Ref(tint)), "/White cs 1 scn"+onLower+"/Two cs .4 .6 scn"+onUpper)
	sameGrid(t, vector(t, f, interp.Options{}, whitePress(t)).Stack, want)
}

// V12: of an NChannel space only the name without a plate goes through its Colorants entry: .6 of 50 %
// magenta is 4d (8.6.6.5).
func TestVector12_missingNameOfNChannel(t *testing.T) {
	missingName(t, "NChannel", `
		Cyan -
		Magenta
		00 00 4d 4d 4d 4d 00 00
		Yellow -
		Black -
		White
		ff ff 66 66 66 66 00 00`)
}

// V13: one missing name sends the whole of a DeviceN space through its tint transform (8.6.6.5).
func TestVector13_missingNameOfDeviceN(t *testing.T) {
	missingName(t, "DeviceN", `
		Cyan
		00 00 66 66 66 66 00 00
		Magenta -
		Yellow
		00 00 99 99 99 99 00 00
		Black -
		White
		ff ff 00 00 00 00 00 00`)
}

// V14: a layer that is off in the default configuration stays off on our plates, whatever usage says;
// a viewer that prints shows it, and the list says that the two differ (8.11.4.5).
func TestVector14_layerOffButPrinting(t *testing.T) {
	f := pdfbuild.New()
	layer := pdfbuild.Ref(f.Add("<< /Type /OCG /Name (white) /Usage << /Print << /PrintState /ON >> >> >>"))
	f.Catalog("/OCProperties << /OCGs [" + layer + "] /D << /OFF [" + layer + "] /AS [<< /Event /Print /Category [/Print] /OCGs [" + layer + "] >>] >> >>")
	f.Page(8, 1, vectorResources+" /Properties << /L "+layer+" >>", "/OC /L BDC /White cs"+onLower+"EMC /Silver cs 6 0 2 1 re f")
	plain := vector(t, f, interp.Options{}, nil)
	sameGrid(t, plain.Stack, `
		Cyan -
		Magenta -
		Yellow -
		Black -
		White -
		Silver
		00 00 00 00 00 00 ff ff`)
	if !plain.List.ViewerDiffers {
		t.Error("the list does not tell that a viewer prints other layers")
	}
	sameGrid(t, vector(t, f, interp.Options{AsViewer: true}, nil).Stack, `
		Cyan -
		Magenta -
		Yellow -
		Black -
		White
		ff ff ff ff 00 00 00 00
		Silver
		00 00 00 00 00 00 ff ff`)
}

// V15: CropBox is inherited, TrimBox is not: a page without one is trimmed at its CropBox (14.11.2).
func TestVector15_trimBoxOfAParent(t *testing.T) {
	f := pdfbuild.New()
	node := f.Page(1, 1, "", "") // becomes a node of the page tree
	content := f.Stream("", "/White cs 0 0 8 1 re f /Silver cs 4 0 4 1 re f")
	leaf := f.Add(fmt.Sprintf("<< /Type /Page /Parent %s /MediaBox [0 0 8 1] /Resources << %s >> /Contents %s >>", pdfbuild.Ref(node), vectorResources, pdfbuild.Ref(content)))
	f.Set(node, fmt.Sprintf("<< /Type /Pages /Parent 2 0 R /Kids [%s] /Count 1 /CropBox [1 0 7 1] /TrimBox [2 0 3 1] >>", pdfbuild.Ref(leaf)))
	p := vector(t, f, interp.Options{}, nil)
	if pg := p.List.Page; pg.HasTrim || pg.Trim != pg.Crop || pg.Trim.W() != 6 {
		t.Errorf("trim %v (given: %v), crop %v, want both 6 wide and no trim given", pg.Trim, pg.HasTrim, pg.Crop)
	}
	sameGrid(t, p.Stack, `
		Cyan -
		Magenta -
		Yellow -
		Black -
		White
		ff ff ff 00 00 00
		Silver
		00 00 00 ff ff ff`)
}

// V16: UserUnit 2 makes 144 points of 72 units, so that 300 samples on them are 150 an inch (Table 31).
func TestVector16_resolutionUnderUserUnit(t *testing.T) {
	f := pdfbuild.New()
	im := f.Stream("/Type /XObject /Subtype /Image /Width 300 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray",
		strings.Repeat("\x00", 150)+strings.Repeat("\xff", 150))
	f.Page(72, 9, "/XObject << /Im "+pdfbuild.Ref(im)+" >>", "72 0 0 9 0 0 cm /Im Do", "/UserUnit 2")
	p, err := paintPage(context.Background(), f.Bytes(), 1, 4, interp.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(p.List.Items); n != 1 || p.List.Items[0].Image == nil {
		t.Fatalf("%d items, want one image", n)
	}
	pic := p.List.Items[0].Image
	if ppi := float64(pic.Width) / (math.Hypot(pic.M.A, pic.M.B) / 72); math.Abs(ppi-150) > 1e-9 {
		t.Errorf("%g samples an inch, want 150", ppi)
	}
	sameGrid(t, p.Stack, `
		Cyan -
		Magenta -
		Yellow -
		Black
		ff ff ff ff 00 00 00 00`)
}

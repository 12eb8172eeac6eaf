package check

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
)

// boxMM writes a box of a page in mm from the trim's corners outwards.
func boxOut(name string, left, bottom, right, top float64) string {
	const k = geom.PointsPerMM
	return fmt.Sprintf("/%s [%g %g %g %g] ", name, (slug-left)*k, (slug-bottom)*k, (slug+trimW+right)*k, (slug+trimH+top)*k)
}

func TestBoxesAgainstEachOther(t *testing.T) {
	const id = "boxes-inconsistent"
	trim, bleed := boxOut("TrimBox", 0, 0, 0, 0), boxOut("BleedBox", 3, 3, 3, 3)
	with := func(boxes string) artwork { return artwork{boxes: boxes, pages: []string{""}} }
	holds(t, id, finding.Warning, with(trim+boxOut("BleedBox", 3, 3, -1, 3)), quiet{
		"usual":                  with(trim + bleed),
		"no bleed box":           with(trim),
		"bleed 0.1 mm too small": with(trim + boxOut("BleedBox", 3, 3, -.09, 3)),
		"crop round it":          with(trim + bleed + boxOut("CropBox", 1, 1, 1, 1)),
		"bleed up to the media":  with(trim + boxOut("BleedBox", 10.09, 10, 10, 10)),
		"art as trim":            with(trim + bleed + boxOut("ArtBox", 0, 0, 0, 0)),
	})
	for boxes, says := range map[string]string{
		trim + bleed + boxOut("CropBox", 1, 1, -.2, 1):  "CropBox",
		trim + bleed + boxOut("ArtBox", -5, -5, -5, -5): "ArtBox",
		trim + bleed + "/UserUnit 2":                    "UserUnit of 2",
		trim + boxOut("BleedBox", 3, 3, -.2, 3):         "BleedBox",
		trim + boxOut("BleedBox", 10.2, 3, 3, 3):        "BleedBox stands out of the MediaBox",
	} {
		if f := one(t, with(boxes), id); !strings.Contains(f.What, says) {
			t.Errorf("%s: %s", boxes, f.What)
		}
	}
}

func TestTypeInTheSafeMargin(t *testing.T) {
	const id = "type-in-safe-margin"
	// The letters l stand upright on their line; their left side bearing is small.
	at := func(x, y float64) artwork {
		return artwork{res: helvetica, dpi: 254, pages: []string{typed("0 g", "ll", 6, x, y)}}
	}
	holds(t, id, finding.Warning, at(10, 39), quiet{
		"in the middle":   at(10, 20),
		"3 mm off":        at(10, 36.9),
		"cut by the trim": at(10, 41),
		"not type":        {pages: []string{fill("0 g", 10, 35, 10, 4)}},
		"paper white":     {res: helvetica, pages: []string{typed("1 g", "ll", 6, 10, 39)}},
		"beyond the trim": at(10, 49),
		"no trim box":     {res: helvetica, boxes: "none", pages: []string{typed("0 g", "ll", 6, 10, 39)}},
	})
	one(t, at(10, 37.2), id)
	one(t, at(1, 20), id)
}

func TestPageSizesDiffer(t *testing.T) {
	const id = "page-sizes-differ"
	two := func(w, h float64) artwork {
		a := artwork{pages: []string{"", ""}}
		a.second = trimBox(w, h)
		return a
	}
	f := holds(t, id, finding.Warning, two(59.6, 40), quiet{"alike": two(60.2, 40), "one page": {pages: []string{""}}})
	if f.Place.Page != 2 {
		t.Errorf("%+v", f.Place)
	}
	one(t, two(40, 60), id)
}

func TestEmptyPage(t *testing.T) {
	holds(t, "page-empty", finding.Note, artwork{pages: []string{fill("1 g", 5, 5, 10, 6) + fill("0 g", -9, 5, 5, 6)}}, quiet{
		"something": {pages: []string{fill(".99 g", 5, 5, 10, 6)}}})
}

func TestHiddenLayers(t *testing.T) {
	f := holds(t, "hidden-layers", finding.Note, artwork{hidden: true, pages: []string{onHidden(fill(cmyk, 5, 5, 10, 6))}}, quiet{
		"nothing on it": {hidden: true, pages: []string{fill(cmyk, 5, 5, 10, 6)}},
		"a step":        {step: structural("Cutting"), pages: []string{onStep(fill(cmyk, 5, 5, 10, 6))}},
	})
	if !strings.Contains(f.What, `"Hidden"`) {
		t.Error(f.What)
	}
}

// annotated is a page with an annotation of a black box of 10 x 6 mm.
func annotated(flags int, kind string, x, y float64) artwork {
	a := artwork{pages: []string{fill(cmyk, 30, 5, 3, 3)}}
	a.annotation = func(f *pdfbuild.File) string {
		const k = geom.PointsPerMM
		look := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 30 18]", "0 g 0 0 30 18 re f")
		n := f.Add(fmt.Sprintf("<< /Type /Annot /Subtype /%s /F %d /Rect [%g %g %g %g] /AP << /N %s >> >>", kind, flags,
			(slug+x)*k, (slug+y)*k, (slug+x+10)*k, (slug+y+6)*k, pdfbuild.Ref(look)))
		return "/Annots [" + pdfbuild.Ref(n) + "]"
	}
	return a
}

func TestPrintingAnnotations(t *testing.T) {
	f := holds(t, "annotation-prints", finding.Warning, annotated(4, "Stamp", 5, 5), quiet{
		"not printing":   annotated(0, "Stamp", 5, 5),
		"hidden":         annotated(6, "Stamp", 5, 5),
		"beyond bleed":   annotated(4, "Stamp", 5, -9.5),
		"printer's mark": annotated(4, "PrinterMark", 5, 5),
	})
	wantItems(t, f, 1)
}

func TestBlendSpace(t *testing.T) {
	const id = "blend-space-not-cmyk"
	group := func(space string) string { return "/Group << /S /Transparency /CS /" + space + " >>" }
	see := []string{fill(cmyk, 5, 5, 10, 6) + fill(multiply+"1 0 0 0 k", 8, 8, 10, 6)}
	holds(t, id, finding.Warning, artwork{extra: group("DeviceRGB"), pages: see}, quiet{
		"CMYK":          {extra: group("DeviceCMYK"), pages: see},
		"none":          {pages: see},
		"all is opaque": {extra: group("DeviceRGB"), pages: []string{fill(cmyk, 5, 5, 10, 6)}},
	})
}

func intent(f *pdfbuild.File) string {
	return "/OutputIntents [<< /Type /OutputIntent /S /GTS_PDFX /OutputConditionIdentifier (Own) /RegistryName () /Info (own) >>]"
}

func TestOutputIntentMissing(t *testing.T) {
	holds(t, "output-intent-missing", finding.Note, artwork{pages: []string{""}}, quiet{
		"in the catalogue": {pages: []string{""}, catalog: intent},
		"on the page":      {pages: []string{""}, extra: intent(nil)},
	})
}

func TestFontsEmbeddedWhole(t *testing.T) {
	const id = "font-embedded-whole"
	font := func(name, file string) artwork {
		return artwork{pages: []string{"", ""}, res: "/Font << /F1 << /Type /Font /Subtype /TrueType /BaseFont /" + name +
			" /FontDescriptor << /Type /FontDescriptor /FontName /" + name + " " + file + " >> >> >>"}
	}
	f := holds(t, id, finding.Note, font("Sample", "/FontFile2 2 0 R"), quiet{
		"a subset":     font("ABCDEF+Sample", "/FontFile2 2 0 R"),
		"not embedded": font("Sample", ""),
	})
	if !strings.Contains(f.What, "Sample") {
		t.Error(f.What)
	}
	one(t, font("abcdef+Sample", "/FontFile2 2 0 R"), id)
}

func TestClaimsOfPDFX(t *testing.T) {
	const id = "pdfx-claim-broken"
	noBoxes := claimed("")
	noBoxes.boxes = "none"
	f := holds(t, id, finding.Warning, noBoxes, quiet{
		"all right": claimed(""),
		"no claim":  {pages: []string{""}, boxes: "none"},
	})
	if !strings.Contains(f.What, "PDF/X-4") || !strings.Contains(f.What, "neither TrimBox nor ArtBox") {
		t.Error(f.What)
	}
	both := claimed("")
	both.boxes = boxOut("TrimBox", 0, 0, 0, 0) + boxOut("ArtBox", 0, 0, 0, 0)
	lzw := claimed("")
	lzw.picture, lzw.samples = "/Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /LZWDecode", "\x80\x0b\x60\x50"
	element := artwork{pages: []string{""}, catalog: func(f *pdfbuild.File) string {
		xmp := f.Stream("/Type /Metadata /Subtype /XML", `<pdfxid:GTS_PDFXVersion>PDF/X-4</pdfxid:GTS_PDFXVersion>`)
		return "/Metadata " + pdfbuild.Ref(xmp)
	}}
	for says, a := range map[string]artwork{
		"both TrimBox and ArtBox": both,
		"LZW":                     lzw,
		"no output intent":        element,
		"actions":                 claimed("/OpenAction << /S /Named /N /Print >>"),
		"scripts":                 claimed("/Names << /JavaScript << /Names [] >> >>"),
	} {
		if f := one(t, a, id); !strings.Contains(f.What, says) {
			t.Errorf("%s: %s", says, f.What)
		}
	}
}

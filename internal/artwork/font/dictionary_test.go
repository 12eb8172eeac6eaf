package font

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"sync"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// fontFrom writes a file whose only font is what dict and its helper objects say, and reads it.
func fontFrom(t testing.TB, build func(f *pdfbuild.File) string) (*Font, *Reader, *finding.Collector) {
	t.Helper()
	file := pdfbuild.New()
	n := file.Add(build(file))
	file.Page(100, 100, "/Font << /F "+pdfbuild.Ref(n)+" >>", "")
	b := file.Bytes()
	d, err := pdf.Open(bytes.NewReader(b), int64(len(b)), pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := &finding.Collector{}
	r := NewReader(d, c)
	return r.Font(pdf.Ref{Num: n}, finding.Place{Page: 1}), r, c
}

func ids(c *finding.Collector) string {
	var s []string
	for _, f := range c.Sorted() {
		s = append(s, string(f.ID))
	}
	return strings.Join(s, " ")
}

var testTrueType = func() string {
	return string(buildTrueType(ttOptions{glyphs: [][]byte{square(0, 0, 9), square(0, 0, 100), square(0, 0, 200), square(0, 0, 300)},
		adv: []int{250, 400, 500, 600}, cmaps: map[[2]int][]byte{{3, 1}: cmap6('A', 1, 2, 3)}}))
}()

func embed(f *pdfbuild.File, key, dict, data, more string) string {
	n := f.Stream(dict, data)
	return pdfbuild.Ref(f.Add(fmt.Sprintf("<< /Type /FontDescriptor /FontName /ABCDEF+Demo /%s %s %s >>", key, pdfbuild.Ref(n), more)))
}

// Where a simple font's advance comes from.
func TestSimpleWidths(t *testing.T) {
	for _, tc := range []struct {
		name, widths string
		want         [4]float64 // space, A, B, C
	}{
		{"Widths", "/FirstChar 65 /LastChar 66 /Widths [111 222]", [4]float64{0.333, 0.111, 0.222, 0.333}},
		{"not given: the program's own", "", [4]float64{0.25, 0.4, 0.5, 0.6}},
		{"a hole in Widths", "/FirstChar 65 /LastChar 67 /Widths [111 (x) 7]", [4]float64{0.333, 0.111, 0.333, 0.007}},
	} {
		f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /TrueType /BaseFont /ABCDEF+Demo /Encoding /WinAnsiEncoding " + tc.widths +
				" /FontDescriptor " + embed(p, "FontFile2", "", testTrueType, "/Flags 32 /MissingWidth 333") + " >>"
		})
		for i, g := range f.Glyphs(nil, " ABC") {
			if g.Advance != tc.want[i] || g.Space != (i == 0) || g.Bytes != 1 {
				t.Errorf("%s: %+v, want advance %v", tc.name, g, tc.want[i])
			}
		}
		if f.Name != "Demo" || !f.Subset || !f.Embedded || f.Kind != TrueTypeProgram || ids(c) != "" {
			t.Errorf("%s: %q subset %v embedded %v %v; findings %s", tc.name, f.Name, f.Subset, f.Embedded, f.Kind, ids(c))
		}
		if g := f.Glyphs(nil, "B")[0]; pathText(f.Outline(g.ID)) != "M 0,0 L 0,200 L 200,200 L 200,0 Z" {
			t.Errorf("%s: B draws %s", tc.name, pathText(f.Outline(g.ID)))
		}
	}
}

// Differences rename codes of a Type 1 program; elsewhere its own encoding holds.
func TestSimpleType1Differences(t *testing.T) {
	prog := string(buildType1("256 array dup 66 /two put readonly def", nil, []t1Glyph{
		{".notdef", "0 9 hsbw endchar"}, {"one", "0 100 hsbw endchar"}, {"two", "0 200 hsbw endchar"}}))
	f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
		return "<< /Type /Font /Subtype /Type1 /BaseFont /Demo /Encoding << /Differences [65 /one 70 /none] >> /FontDescriptor " +
			embed(p, "FontFile", "", prog, "/Flags 4") + " >>"
	})
	got := ""
	for _, g := range f.Glyphs(nil, "ABFZ") {
		got += fmt.Sprintf("%d:%s:%.3g ", g.ID, g.Name, g.Advance)
	}
	if want := "1:one:0.1 2:two:0.2 0:none:0.009 0:.notdef:0.009 "; got != want || ids(c) != "" {
		t.Errorf("got  %s\nwant %s; findings %s", got, want, ids(c))
	}
	if id, ok := f.GlyphNamed("two"); !ok || id != 2 {
		t.Errorf("two is %d %v", id, ok)
	}
}

// A font that is not in the file: the substitute takes the file's widths, and every page that uses it hears.
func TestSubstituteTakesTheWidths(t *testing.T) {
	f, r, c := fontFrom(t, func(*pdfbuild.File) string {
		return "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /FirstChar 65 /LastChar 65 /Widths [1334] >>"
	})
	plain := substituteFor("Helvetica", 0)
	p, _ := outlineOf(plain, plain.unicodeCmap().lookup('A'))
	g := f.Glyphs(nil, "A")[0]
	if got, want := f.Outline(g.ID).Bounds().X1, 2*p.Bounds().X1; math.Abs(got-want) > 0.002 || g.Advance != 1.334 {
		t.Errorf("A reaches %v, want %v; advance %v", got, want, g.Advance)
	}
	for range 2 {
		r.Font(f.Ref, finding.Place{Page: 3})
	}
	var pages []int
	for _, x := range c.Sorted() {
		if x.ID != "font-not-embedded" || x.Class != finding.Artwork || x.Severity != finding.Error || !x.Incomplete || x.Count > 1 {
			t.Errorf("finding %+v", x)
		}
		pages = append(pages, x.Place.Page)
	}
	if fmt.Sprint(pages) != "[1 3]" {
		t.Errorf("pages told: %v, want 1 and 3", pages)
	}
}

// Characters no substitute has are told when they are used, not before.
func TestSubstituteWithoutTheCharacter(t *testing.T) {
	f, _, c := fontFrom(t, func(*pdfbuild.File) string {
		return "<< /Type /Font /Subtype /Type1 /BaseFont /Demo /FirstChar 65 /Widths [700] /Encoding << /Differences [65 /uni4E00] >> >>"
	})
	if ids(c) != "font-not-embedded" {
		t.Fatalf("findings %s", ids(c))
	}
	g := f.Glyphs(nil, "A")[0]
	if p := f.Outline(g.ID); pathText(p) != pathText(standInBox(0.7)) || g.Advance != 0.7 {
		t.Errorf("an ideograph draws %s, advance %v", pathText(p), g.Advance)
	}
	if ids(c) != "font-glyph-missing font-not-embedded" {
		t.Errorf("findings %s", ids(c))
	}
}

// The two standard fonts of signs are drawn whole, in their own widths, whatever base encoding is named.
func TestSymbolFontsAreDrawnWhole(t *testing.T) {
	for _, tc := range []struct {
		name, more string
		encoding   *encoding
		widths     *[256]float64
	}{
		{"Symbol", "", symbolEncoding(), symbolWidths()},
		{"SymbolMT", "/Encoding /WinAnsiEncoding", symbolEncoding(), symbolWidths()},
		{"Symbol,Bold", "", symbolEncoding(), symbolWidths()},
		{"ZapfDingbats", "/Encoding << /Differences [1 /a20] >>", zapfDingbatsEncoding(), zapfDingbatsWidths()},
	} {
		f, _, c := fontFrom(t, func(*pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type1 /BaseFont /" + tc.name + " " + tc.more + " >>"
		})
		for code, name := range tc.encoding {
			g := f.Glyphs(nil, pdf.String([]byte{byte(code)}))[0]
			if name != "" && (g.Advance != tc.widths[code]/1000 || g.Name != name) {
				t.Errorf("%s: code %d is %q, %v wide; want %q, %v", tc.name, code, g.Name, g.Advance, name, tc.widths[code])
			}
			if marks := name != "" && name != "space"; (name != "" || code >= 32) && f.Outline(g.ID).Empty() == marks {
				t.Errorf("%s: code %d (%s) draws %v", tc.name, code, name, f.Outline(g.ID))
			}
		}
		if ids(c) != "font-not-embedded" {
			t.Errorf("%s: findings %s", tc.name, ids(c))
		}
		if tc.name == "ZapfDingbats" {
			tick := f.Glyphs(nil, "\x014")
			if tick[0].Name != "a20" || pathText(f.Outline(tick[0].ID)) == "" || f.Outline(tick[1].ID) == nil {
				t.Errorf("Differences are not followed: %+v", tick)
			}
		}
	}
}

// Letters do not stand in for pictures: what is known of them is drawn, the rest are boxes.
func TestPictureFonts(t *testing.T) {
	f, _, c := fontFrom(t, func(*pdfbuild.File) string {
		return "<< /Type /Font /Subtype /TrueType /BaseFont /Wingdings-Regular /FirstChar 32 /Widths [1000 " + strings.Repeat("800 ", 223) + "] /Encoding /WinAnsiEncoding >>"
	})
	g := f.Glyphs(nil, "\xfcA ")
	tick, _ := outlineOf(signs(), signs().unicodeCmap().lookup(0x2713))
	if got := f.Outline(g[0].ID); len(got.Points) != len(tick.Points) || g[0].Advance != 0.8 || ids(c) != "font-not-embedded" {
		t.Errorf("a tick draws %s; findings %s", pathText(got), ids(c))
	}
	if got := f.Outline(g[1].ID); pathText(got) != pathText(standInBox(0.8)) || g[2].ID != -1 || ids(c) != "font-glyph-missing font-not-embedded" {
		t.Errorf("a picture draws %s, a space is %+v; findings %s", pathText(got), g[2], ids(c))
	}
}

// Name, flags, weight, slant and widths choose the substitute.
func TestSubstituteStyle(t *testing.T) {
	list := func(v string, n int) string { return "/FirstChar 40 /Widths [" + strings.Repeat(v+" ", n) + "]" }
	for _, tc := range []struct{ base, descriptor, more, want string }{
		{"Demo", "", "", "Helvetica"},
		{"Demo-BoldItalic", "", "", "Helvetica-BoldOblique"},
		{"Arial,Bold", "", "", "Helvetica-Bold"},
		{"ArialMT", "", "", "Helvetica"},
		{"TimesNewRomanPS-BoldItalicMT", "", "", "Times-BoldItalic"},
		{"CourierNew,Italic", "", "", "Courier-Oblique"},
		{"Demo", "/Flags 34", "", "Times-Roman"},
		{"Demo", "/Flags 33", "", "Courier"},
		{"Demo", "/Flags 98 /StemV 80", "", "Times-Italic"},
		{"Demo", "/Flags 32 /StemV 140", "", "Helvetica-Bold"},
		{"Demo", "/Flags 32 /StemV 140 /FontWeight 400", "", "Helvetica"},
		{"Demo", "/Flags 32 /FontWeight 700 /ItalicAngle -12", "", "Helvetica-BoldOblique"},
		{"Demo", "/Flags 262178", "", "Times-Bold"},
		{"Demo", "", list("600", 40), "Courier"},
		{"Demo", "", list("600", 10), "Helvetica"},
	} {
		f, _, _ := fontFrom(t, func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /TrueType /BaseFont /" + tc.base + " /Encoding /WinAnsiEncoding " + tc.more +
				" /FontDescriptor << /Type /FontDescriptor " + tc.descriptor + " >> >>"
		})
		if want := substituteFor(tc.want, 0); f.prog != want {
			t.Errorf("%s %s %.30s: not the stand-in of %s", tc.base, tc.descriptor, tc.more, tc.want)
		}
	}
}

// Without Widths the advances of the standard fonts hold, to the thousandth: those that the metrics-compatible
// fonts of Ghostscript have, where these are installed.
func TestStandardAdvancesEqualOtherMetrics(t *testing.T) {
	for name, file := range map[string]string{"Helvetica": "NimbusSans-Regular", "Helvetica-Bold": "NimbusSans-Bold", "Helvetica-Oblique": "NimbusSans-Italic",
		"Helvetica-BoldOblique": "NimbusSans-BoldItalic", "Times-Roman": "NimbusRoman-Regular", "Times-Bold": "NimbusRoman-Bold", "Times-Italic": "NimbusRoman-Italic",
		"Times-BoldItalic": "NimbusRoman-BoldItalic", "Courier": "NimbusMonoPS-Regular", "Courier-Bold": "NimbusMonoPS-Bold", "Courier-Oblique": "NimbusMonoPS-Italic",
		"Courier-BoldOblique": "NimbusMonoPS-BoldItalic", "Symbol": "StandardSymbolsPS", "ZapfDingbats": "D050000L"} {
		b, err := os.ReadFile("/usr/share/fonts/type1/urw-base35/" + file + ".t1")
		if err != nil {
			t.Skip("the fonts of Debian's fonts-urw-base35 are not installed")
		}
		p, err := parseProgram(b)
		if err != nil {
			t.Fatal(err)
		}
		encodings := []string{"/Encoding /WinAnsiEncoding", "/Encoding /MacRomanEncoding", "",
			"/Encoding << /Differences [33 /Abreve /abreve /Cacute /Dcroat /ecaron /Gbreve /lcommaaccent /Nacute /ohungarumlaut /Sacute /Zdotaccent] >>"}
		if name == "Symbol" || name == "ZapfDingbats" {
			encodings = encodings[2:3]
		}
		compared := 0
		for _, encoding := range encodings {
			f, _, _ := fontFrom(t, func(*pdfbuild.File) string {
				return "<< /Type /Font /Subtype /Type1 /BaseFont /" + name + " " + encoding + " >>"
			})
			for c := 32; c < 256; c++ {
				g := f.Glyphs(nil, pdf.String([]byte{byte(c)}))[0]
				gid, ok := p.glyphByName(g.Name)
				if !ok || g.Name == "fraction" { // 167 in the standard Helvetica, 278 in theirs
					continue
				}
				compared++
				if w, _ := p.advance(gid); math.Abs(w-g.Advance) > 1e-9 {
					t.Errorf("%s: code %d (%s) is %v wide, want %v", name, c, g.Name, g.Advance, w)
				}
			}
		}
		if compared < 180 {
			t.Errorf("%s: only %d characters were compared", name, compared)
		}
	}
}

// Broken programs and dictionaries leave a usable font and a finding.
func TestDamagedFontsAreReplaced(t *testing.T) {
	for name, build := range map[string]func(p *pdfbuild.File) string{
		"rubbish for a program": func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /TrueType /BaseFont /Demo /FontDescriptor " + embed(p, "FontFile2", "", "rubbish rubbish", "") + " >>"
		},
		"a bare CFF without glyphs": func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type1 /BaseFont /Demo /FontDescriptor " + embed(p, "FontFile3", "/Subtype /Type1C", "\x01\x00\x04\x02\x00\x00\x00\x00\x00\x00", "") + " >>"
		},
		"a composite font with a broken program": func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type0 /BaseFont /Demo /Encoding /Identity-H /DescendantFonts [ << /Subtype /CIDFontType0 /FontDescriptor " +
				embed(p, "FontFile3", "/Subtype /CIDFontType0C", "\x01\x00\x04\x02\x00\x00\x00\x00\x00\x00", "") + " >> ] >>"
		},
		"not a dictionary": func(*pdfbuild.File) string { return "42" },
	} {
		f, _, c := fontFrom(t, build)
		if len(f.Glyphs(nil, "AB")) == 0 {
			t.Errorf("%s: no glyphs", name)
		}
		for _, g := range f.Glyphs(nil, "AB") {
			f.Outline(g.ID)
		}
		if !strings.Contains(ids(c), "font-damaged") {
			t.Errorf("%s: findings %s", name, ids(c))
		}
	}
}

func compositeFont(encoding, descendant, program string) func(p *pdfbuild.File) string {
	return func(p *pdfbuild.File) string {
		if strings.HasPrefix(encoding, "begin") {
			encoding = pdfbuild.Ref(p.Stream("/Type /CMap", encoding))
		}
		return "<< /Type /Font /Subtype /Type0 /BaseFont /ABCDEF+Demo /Encoding " + encoding +
			" /DescendantFonts [ << /Type /Font /Subtype /CIDFontType2 /BaseFont /ABCDEF+Demo " + descendant +
			" /FontDescriptor " + embed(p, "FontFile2", "", program, "/Flags 4") + " >> ] >>"
	}
}

// Widths by CID in both forms of W, and the default.
func TestCompositeWidths(t *testing.T) {
	f, _, c := fontFrom(t, compositeFont("/Identity-H", "/CIDToGIDMap /Identity /DW 700 /W [1 [10 20] 5 7 30]", testTrueType))
	for i, want := range []float64{0.7, 0.01, 0.02, 0.7, 0.7, 0.03, 0.03, 0.03, 0.7} {
		g := f.Glyphs(nil, pdf.String([]byte{0, byte(i)}))[0]
		wantID := i
		if i > 3 {
			wantID = 0
		}
		if g.Advance != want || g.ID != wantID || g.Bytes != 2 || g.Space {
			t.Errorf("CID %d: %+v, want advance %v and glyph %d", i, g, want, wantID)
		}
	}
	if ids(c) != "" || f.Vertical {
		t.Errorf("findings %s, vertical %v", ids(c), f.Vertical)
	}
}

// Vertical metrics: W2 in both forms, and what DW2 and W give where it is silent (9.7.4.3).
func TestVerticalMetrics(t *testing.T) {
	f, _, _ := fontFrom(t, compositeFont("/Identity-V", "/DW 600 /DW2 [900 -1100] /W2 [1 [-500 250 772] 2 3 -400 200 700]", testTrueType))
	if !f.Vertical {
		t.Fatal("not vertical")
	}
	for cid, want := range map[byte][3]float64{0: {-1.1, 0.3, 0.9}, 1: {-0.5, 0.25, 0.772}, 3: {-0.4, 0.2, 0.7}} {
		g := f.Glyphs(nil, pdf.String([]byte{0, cid}))[0]
		if got := [3]float64{g.AdvanceY, g.OriginX, g.OriginY}; got != want {
			t.Errorf("CID %d: %v, want %v", cid, got, want)
		}
	}
}

// From code over CID to glyph.
func TestCompositeCodesFindGlyphs(t *testing.T) {
	toGID := func(p *pdfbuild.File, build func(string) func(*pdfbuild.File) string) string {
		n := p.Stream("", "\x00\x00\x00\x03\x00\x02\x00\x01")
		return build("/CIDToGIDMap " + pdfbuild.Ref(n))(p)
	}
	f, _, _ := fontFrom(t, func(p *pdfbuild.File) string {
		return toGID(p, func(d string) func(*pdfbuild.File) string { return compositeFont("/Identity-H", d, testTrueType) })
	})
	if g := f.Glyphs(nil, "\x00\x01\x00\x03\x00\x09"); g[0].ID != 3 || g[1].ID != 1 || g[2].ID != 0 {
		t.Errorf("through the table: %+v", g)
	}
	f, _, c := fontFrom(t, compositeFont("begincodespacerange <00> <7F> endcodespacerange begincidrange <41> <43> 1 endcidrange", "", testTrueType))
	if g := f.Glyphs(nil, "AC "); len(g) != 3 || g[0].ID != 1 || g[1].ID != 3 || !g[2].Space || ids(c) != "" {
		t.Errorf("through an embedded CMap: %+v; findings %s", g, ids(c))
	}
	f, _, c = fontFrom(t, compositeFont("/Demo-H", "", testTrueType))
	if g := f.Glyphs(nil, "\x00\x01"); len(g) != 1 || g[0].ID != -1 || ids(c) != "cmap-not-supported" {
		t.Errorf("through a CMap that is not carried: %+v; findings %s", g, ids(c))
	}
	f, _, c = fontFrom(t, compositeFont("/90msp-RKSJ-V", "", testTrueType))
	if g := f.Glyphs(nil, "!\x81\x75\x88\x9f"); len(g) != 3 || g[0].ID != 2 || g[1].Bytes != 2 || g[1].ID != 0 || !f.Vertical || ids(c) != "" {
		t.Errorf("through a predefined CMap: %+v, vertical %v; findings %s", g, f.Vertical, ids(c))
	}
	f, _, c = fontFrom(t, compositeFont("begincmap /90msp-RKSJ-H usecmap begincidchar <2A> 3 endcidchar", "", testTrueType))
	if g := f.Glyphs(nil, "!*"); len(g) != 2 || g[0].ID != 2 || g[1].ID != 3 || ids(c) != "" {
		t.Errorf("through a CMap built on a predefined one: %+v; findings %s", g, ids(c))
	}
}

// A composite font that is not in the file shows what ToUnicode says of it.
func TestCompositeSubstitute(t *testing.T) {
	f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
		u := p.Stream("", "1 beginbfchar <0005> <0041> endbfchar 1 beginbfrange <0006> <0006> <4E00> endbfrange")
		return "<< /Type /Font /Subtype /Type0 /BaseFont /Demo /Encoding /Identity-H /ToUnicode " + pdfbuild.Ref(u) +
			" /DescendantFonts [ << /Subtype /CIDFontType2 /BaseFont /Demo /W [5 [667]] >> ] >>"
	})
	g := f.Glyphs(nil, "\x00\x05\x00\x06")
	if p := f.Outline(g[0].ID); p.Empty() || f.Embedded {
		t.Errorf("A draws %s", pathText(p))
	}
	if p := f.Outline(g[1].ID); pathText(p) != pathText(standInBox(1)) || ids(c) != "font-glyph-missing font-not-embedded" {
		t.Errorf("a missing character draws %s; findings %s", pathText(p), ids(c))
	}
}

// A font of ideographs that is not in the file: Latin is drawn by the substitute in the file's widths,
// ideographs are boxes, blanks are nothing.
func TestIdeographsAreBoxes(t *testing.T) {
	for name, tc := range map[string]struct {
		encoding, info string
		text           pdf.String
	}{
		"collection": {"/Identity-H", "/Registry (Adobe) /Ordering (Japan1) /Supplement 2", "\x00\x22\x04\x65\x02\x79"},
		"CMap":       {"/90msp-RKSJ-H", "/Registry (Adobe) /Ordering (Identity) /Supplement 0", "A\x88\x9f\x81\x40"},
		"Unicode":    {"/UniJIS-UTF16-H", "", "\x00A\x4E\x9C\x30\x00"},
	} {
		f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type0 /BaseFont /Demo /Encoding " + tc.encoding +
				" /DescendantFonts [ << /Subtype /CIDFontType0 /BaseFont /Demo /W [34 [500]] /CIDSystemInfo << " + tc.info + " >> >> ] >>"
		})
		g := f.Glyphs(nil, tc.text)
		if len(g) != 3 || g[0].Advance != 0.5 || g[1].Advance != 1 || g[2].ID != -1 {
			t.Errorf("%s: %+v", name, g)
			continue
		}
		sans := substituteFor("Demo", 0)
		a, _ := outlineOf(sans, sans.unicodeCmap().lookup('A'))
		adv, _ := sans.advance(sans.unicodeCmap().lookup('A'))
		if got, want := f.Outline(g[0].ID).Bounds().X1, a.Bounds().X1*0.5/adv; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: A reaches %v, want %v", name, got, want)
		}
		if ids(c) != "font-not-embedded" {
			t.Errorf("%s: findings %s", name, ids(c))
		}
		if got := pathText(f.Outline(g[1].ID)); got != pathText(standInBox(1)) || ids(c) != "font-glyph-missing font-not-embedded" {
			t.Errorf("%s: the ideograph draws %s; findings %s", name, got, ids(c))
		}
	}
}

// Half-width Latin characters come from a font whose characters are all as wide as each other.
func TestHalfWidthLatin(t *testing.T) {
	for _, tc := range []struct{ encoding, family string }{{"90ms-RKSJ-H", "Courier"}, {"90msp-RKSJ-H", "Helvetica"}, {"GBK-EUC-H", "Courier"}, {"KSCms-UHC-HW-V", "Courier"}, {"ETen-B5-H", "Courier"}} {
		f, _, _ := fontFrom(t, func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type0 /BaseFont /Demo /Encoding /" + tc.encoding + " /DescendantFonts [ << /Subtype /CIDFontType0 /DW 500 >> ] >>"
		})
		i, _ := outlineOf(substituteFor(tc.family, 0), substituteFor(tc.family, 0).unicodeCmap().lookup('i'))
		if got := f.Outline(f.Glyphs(nil, "i")[0].ID); got == nil || len(got.Points) != len(i.Points) {
			t.Errorf("%s: i draws %s", tc.encoding, pathText(got))
		}
	}
}

// Glyph indices of the usual fonts are read in the order these have, of others not at all.
func TestGlyphIndicesOfUsualFonts(t *testing.T) {
	for name, want := range map[string]string{"Arial,Bold": "font-not-embedded", "Demo": "font-glyph-missing font-not-embedded"} {
		f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
			return "<< /Type /Font /Subtype /Type0 /BaseFont /" + name + " /Encoding /Identity-H /DescendantFonts [ << /Subtype /CIDFontType2 /BaseFont /" + name +
				" /CIDSystemInfo << /Ordering (Identity) >> >> ] >>"
		})
		bold := substituteFor("Arial,Bold", 0)
		g := f.Glyphs(nil, "\x00\x24\x00\x03") // A and a space
		got := f.Outline(g[0].ID)
		a, _ := outlineOf(bold, bold.unicodeCmap().lookup('A'))
		if drawn := math.Abs(got.Bounds().Y1-a.Bounds().Y1) < 1e-9; drawn != (name != "Demo") {
			t.Errorf("%s: A draws %s", name, pathText(got))
		}
		if blank := g[1].ID < 0; blank != (name != "Demo") {
			t.Errorf("%s: the space is %+v", name, g[1])
		}
		if ids(c) != want {
			t.Errorf("%s: findings %s, want %s", name, ids(c), want)
		}
	}
}

// What a Type 3 font hands on.
func TestType3(t *testing.T) {
	f, _, c := fontFrom(t, func(p *pdfbuild.File) string {
		n := p.Stream("", "750 0 d0")
		return "<< /Type /Font /Subtype /Type3 /FontBBox [0 0 1 1] /FontMatrix [0.01 0 0 0.02 0 0] /FirstChar 97 /LastChar 98 /Widths [75 80] " +
			"/Encoding << /Differences [97 /dot /lost] >> /CharProcs << /dot " + pdfbuild.Ref(n) + " >> /Resources << /Demo 1 >> >>"
	})
	g := f.Glyphs(nil, "abc")
	if f.Type3 == nil || f.Type3.Procs["dot"] == nil || f.Type3.Matrix.D != 0.02 || f.Type3.Resources == nil || ids(c) != "" {
		t.Fatalf("%+v; findings %s", f.Type3, ids(c))
	}
	if g[0].ID != 97 || g[0].Name != "dot" || g[0].Advance != 0.75 || g[1].ID != -1 || g[1].Advance != 0.8 || g[2].ID != -1 || g[2].Advance != 0 {
		t.Errorf("%+v", g)
	}
	if f.Outline(97) != nil {
		t.Error("a procedure has no outline")
	}
}

// Many goroutines get one font and one outline.
func TestFontsAreShared(t *testing.T) {
	f, r, _ := fontFrom(t, compositeFont("/Identity-H", "", testTrueType))
	first := f.Outline(2)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			g := r.Font(f.Ref, finding.Place{Page: 2})
			if g != f || g.Outline(2) != first || g.Outline(3).Empty() {
				t.Error("another font or outline")
			}
		})
	}
	wg.Wait()
}

package font_test

import (
	"context"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/font"
	"laydown/internal/pdfbuild"
	"laydown/internal/truth"
)

// gidTable is a CIDToGIDMap that leads the CIDs given to glyphs 1, 2, ...
func gidTable(cids ...int) string {
	b := make([]byte, 2*8000)
	for i, c := range cids {
		binary.BigEndian.PutUint16(b[2*c:], uint16(i+1))
	}
	return string(b)
}

// Composite fonts put their glyphs where independent interpreters put them.
func TestCompositeFontsAsInterpretersDrawThem(t *testing.T) {
	if testing.Short() {
		t.Skip("interpreters take seconds")
	}
	for _, p := range []string{"gs", "mutool"} {
		if _, err := exec.LookPath(p); err != nil {
			t.Skip(p + " is not installed")
		}
	}
	japan := "/CIDSystemInfo << /Registry (Adobe) /Ordering (Japan1) /Supplement 2 >>"
	identity := "/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >>"
	latin := []int{34, 35, 1125, 7887, 7891} // A, B, the first ideograph, vertical forms of a comma and a long vowel mark
	for _, tc := range []struct {
		name, encoding string
		key, kind      string // of the program's stream
		program        string
		descendant     string
		gids           string // CIDToGIDMap stream
		text           string
		show           string // operators before the text
		odd            string // the interpreter that is not asked
	}{
		{name: "CID-keyed CFF", encoding: "/90msp-RKSJ-H", key: "FontFile3", kind: "/Subtype /CIDFontType0C", program: font.BarCFF(latin, false),
			descendant: "/Subtype /CIDFontType0 /W [34 [600 700]] " + japan, text: "AB\x88\x9fA"},
		{name: "CID-keyed CFF in OpenType", encoding: "/90msp-RKSJ-H", key: "FontFile3", kind: "/Subtype /OpenType", program: font.BarCFF(latin, true),
			descendant: "/Subtype /CIDFontType0 /W [34 [600 700]] " + japan, text: "AB\x88\x9fA"},
		{name: "CFF with names", encoding: "/Identity-H", key: "FontFile3", kind: "/Subtype /CIDFontType0C", program: font.BarCFF(nil, false),
			descendant: "/Subtype /CIDFontType0 /DW 800 " + identity, text: "\x00\x01\x00\x02\x00\x03\x00\x05"},
		{name: "CFF with names in OpenType", encoding: "/Identity-H", key: "FontFile3", kind: "/Subtype /OpenType", program: font.BarCFF(nil, true),
			descendant: "/Subtype /CIDFontType0 /DW 800 " + identity, text: "\x00\x01\x00\x02\x00\x03\x00\x05"},
		{name: "TrueType through a table", encoding: "/UniJIS-UCS2-H", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /DW 900 /W [34 35 650] " + japan, gids: gidTable(latin...), text: "\x00A\x00B\x4e\x9c"},
		{name: "TrueType by identity", encoding: "/Identity-H", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /W [1 [700 800] 4 5 900] " + identity, text: "\x00\x01\x00\x02\x00\x04\x00\x05"},
		{name: "vertical by default metrics", encoding: "/Identity-V", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /W [1 [700 800]] " + identity, text: "\x00\x01\x00\x02\x00\x03"},
		{name: "vertical, stretched", encoding: "/Identity-V", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /W [1 [700 800]] " + identity, text: "\x00\x01\x00\x02\x00\x03",
			show: "80 Tz", odd: "mutool"}, // it leaves the position vector as wide as before; by 9.4.4 Tz scales all of glyph space
		{name: "vertical by W2", encoding: "/Identity-V", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /DW 600 /DW2 [700 -900] /W2 [1 [-600 100 500] 3 [-800 450 900 -900 500 800]] " + identity,
			text:       "\x00\x01\x00\x02\x00\x03\x00\x04\x00\x02"},
		{name: "vertical by a range of W2", encoding: "/Identity-V", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /W2 [1 2 -800 450 900] " + identity, text: "\x00\x01\x00\x02\x00\x03",
			odd: "gs"}, // it leaves the glyphs of the range one on the other
		{name: "vertical forms", encoding: "/90msp-RKSJ-V", key: "FontFile3", kind: "/Subtype /CIDFontType0C", program: font.BarCFF(latin, false),
			descendant: "/Subtype /CIDFontType0 /W [34 [600 700]] " + japan, text: "A\x81\x41\x88\x9f\x81\x5b"},
		{name: "own CMap, vertical", encoding: "/CIDInit /ProcSet findresource begin 12 dict begin begincmap /CMapName /Own-V def /CMapType 1 def /WMode 1 def " +
			"/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> def 2 begincodespacerange <00> <7F> <8000> <FFFF> endcodespacerange " +
			"2 begincidrange <41> <42> 1 <8001> <8003> 3 endcidrange endcmap end end", key: "FontFile2", program: font.BarTrueType(),
			descendant: "/Subtype /CIDFontType2 /CIDToGIDMap /Identity /DW2 [800 -1000] " + identity, text: "AB\x80\x01\x80\x03"},
	} {
		t.Run(strings.ReplaceAll(tc.name, " ", "-"), func(t *testing.T) {
			f := pdfbuild.New()
			program := f.Stream(tc.kind, tc.program)
			descriptor := f.Add("<< /Type /FontDescriptor /FontName /ABCDEF+Demo /Flags 4 /FontBBox [0 -200 1000 1000] /ItalicAngle 0 /Ascent 800 /Descent -200 /StemV 80 /CapHeight 700 /" +
				tc.key + " " + pdfbuild.Ref(program) + " >>")
			if tc.gids != "" {
				tc.descendant += " /CIDToGIDMap " + pdfbuild.Ref(f.Stream("", tc.gids))
			}
			kid := f.Add("<< /Type /Font /BaseFont /ABCDEF+Demo " + tc.descendant + " /FontDescriptor " + pdfbuild.Ref(descriptor) + " >>")
			if strings.Contains(tc.encoding, "begincmap") {
				dict := "/Type /CMap /CMapName /Own-V /WMode 1 /CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >>"
				tc.encoding = pdfbuild.Ref(f.Stream(dict, tc.encoding))
			}
			n := f.Add("<< /Type /Font /Subtype /Type0 /BaseFont /ABCDEF+Demo /Encoding " + tc.encoding + " /DescendantFonts [ " + pdfbuild.Ref(kid) + " ] >>")
			f.Page(200, 200, "/Font << /F "+pdfbuild.Ref(n)+" >>", "BT 3 Tc 5 Ts "+tc.show+" /F 40 Tf 30 140 Td <"+hexOf(tc.text)+"> Tj ET")
			file := filepath.Join(t.TempDir(), "page.pdf")
			if err := os.WriteFile(file, f.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
			ctx := context.Background()
			ours, err := truth.Ours(ctx, file, 1)
			if err != nil {
				t.Fatal(err)
			}
			compare(t, ours, file, "gs", tc.odd, truth.Ghostscript)
			compare(t, ours, file, "mutool", tc.odd, truth.MuPDF)
		})
	}
}

func hexOf(s string) string {
	const digits = "0123456789abcdef"
	var b strings.Builder
	for i := range len(s) {
		b.WriteByte(digits[s[i]>>4])
		b.WriteByte(digits[s[i]&15])
	}
	return b.String()
}

// compare holds the black plate against an interpreter's: no more than the rim of an edge may differ.
func compare(t *testing.T, ours *truth.OurPage, file, name, odd string, run func(context.Context, string, int, int) (*truth.Plates, error)) {
	t.Helper()
	if name == odd {
		return
	}
	theirs, err := run(context.Background(), file, 1, ours.DPI)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	a, b := ours.Plane["Black"], theirs.Plane["Black"]
	sum, apart, toner := 0, 0, 0
	for y := range min(ours.H, theirs.H) {
		for x := range min(ours.W, theirs.W) {
			u, v := int(a[y*ours.W+x]), int(b[y*theirs.W+x])
			d := max(u-v, v-u)
			sum += d
			toner += u
			if d > 128 {
				apart++
			}
		}
	}
	if toner < 255*1000 || apart > 0 || sum*25 > toner {
		t.Errorf("%s: toner %d, differs by %d; %d pixels are apart", name, toner/255, sum/255, apart)
	}
}

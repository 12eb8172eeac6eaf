package font

import (
	"testing"

	"github.com/go-fonts/liberation/liberationsansregular"
)

func mustTrueType(t *testing.T, b []byte) *trueType {
	t.Helper()
	p, err := parseProgram(b)
	if err != nil {
		t.Fatal(err)
	}
	return p.(*trueType)
}

// What simple and composite glyphs draw.
func TestGlyfDraws(t *testing.T) {
	none := []byte{}
	const xy, words, scale, more, mine = compXY, compWords, compScale, compMore, compMyMetrics
	comp := func(parts ...[]byte) []byte { return cat(be(-1, 0, 0, 0, 0), cat(parts...)) }
	// A circle of four off-curve points: on-curve points lie midway.
	ring := cat(be(1, 0, 0, 100, 100, 3, 0), []byte{0, 0, 0, 0}, be(0, 100, 0, -100), be(0, 0, 100, 0))
	for _, tc := range []struct {
		name   string
		glyphs [][]byte
		lsb    []int
		want   string
	}{
		{"square", [][]byte{none, square(10, 20, 100)}, nil, "M 10,20 L 10,120 L 110,120 L 110,20 Z"},
		{"shifted to its bearing", [][]byte{none, square(10, 20, 100)}, []int{0, 25}, "M 25,20 L 25,120 L 125,120 L 125,20 Z"},
		{"no on-curve point", [][]byte{none, ring}, nil,
			"M 0,50 C 0,16.667 16.667,0 50,0 C 83.333,0 100,16.667 100,50 C 100,83.333 83.333,100 50,100 C 16.667,100 0,83.333 0,50 Z"},
		{"two parts, the second scaled", [][]byte{none, comp(be(xy|words|more, 2, 0, 0), be(xy|words|scale, 2, 200, 10, 0x2000)), square(0, 0, 100)}, []int{0, 0, 0},
			"M 0,0 L 0,100 L 100,100 L 100,0 Z M 200,10 L 200,60 L 250,60 L 250,10 Z"},
		{"points matched", [][]byte{none, comp(be(xy|words|more, 2, 0, 0), be(words, 2, 2, 0)), square(0, 0, 100)}, []int{0, 0, 0},
			"M 0,0 L 0,100 L 100,100 L 100,0 Z M 100,100 L 100,200 L 200,200 L 200,100 Z"},
		{"metrics of a part", [][]byte{none, comp(be(xy|words|mine, 2, 0, 0)), square(0, 0, 100)}, []int{0, 0, 7}, "M 7,0 L 7,100 L 107,100 L 107,0 Z"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := mustTrueType(t, buildTrueType(ttOptions{glyphs: tc.glyphs, lsb: tc.lsb}))
			p, err := outlineOf(f, 1)
			if err != nil {
				t.Fatal(err)
			}
			if got := pathText(p); got != tc.want {
				t.Errorf("drew %s\nwant %s", got, tc.want)
			}
		})
	}
}

// A composite that holds itself, and data cut short, are told.
func TestGlyfRefusesDamage(t *testing.T) {
	self := cat(be(-1, 0, 0, 0, 0), be(compXY|compWords|compMore, 1, 0, 0), be(compXY|compWords, 1, 0, 0))
	for name, g := range map[string][]byte{"holds itself": self, "cut short": square(0, 0, 100)[:16], "points promised": be(1, 0, 0, 9, 9, 65535, 0)} {
		f := mustTrueType(t, buildTrueType(ttOptions{glyphs: [][]byte{{}, g}}))
		if _, err := outlineOf(f, 1); err == nil {
			t.Errorf("%s: no complaint", name)
		}
	}
}

// Which glyph a code of a simple TrueType font shows (9.6.5.4).
func TestTrueTypeCodesFindGlyphs(t *testing.T) {
	glyphs := make([][]byte, 6)
	names := []string{".notdef", "one", "two", "three", "four", "five"}
	uni, mac, sym := [2]int{3, 1}, [2]int{1, 0}, [2]int{3, 0}
	type cmaps = map[[2]int][]byte
	win := pdfEncoding{given: true, base: winAnsiEncoding()}
	diff := pdfEncoding{given: true, differences: map[int]string{65: "three", 66: "uni0042", 67: "g4"}}
	for _, tc := range []struct {
		name  string
		cmaps cmaps
		enc   pdfEncoding
		flags int
		code  int
		want  int
	}{
		{"nonsymbolic through Unicode", cmaps{uni: cmap6('A', 2), mac: cmap6('A', 3)}, win, flagNonsymbolic, 'A', 2},
		{"nonsymbolic through the Macintosh set", cmaps{mac: cmap6(0x80, 4)}, win, flagNonsymbolic, 0xC4, 4}, // Adieresis
		{"nonsymbolic through post", cmaps{mac: cmap6('Z', 1)}, diff, flagNonsymbolic, 65, 3},
		{"name of the uni form", cmaps{uni: cmap6('B', 5)}, diff, flagNonsymbolic, 66, 5},
		{"name by index", cmaps{uni: cmap6('B', 5)}, diff, flagNonsymbolic, 67, 4},
		{"symbolic in the private range", cmaps{sym: cmap6(0xF041, 5)}, pdfEncoding{}, flagSymbolic, 'A', 5},
		{"symbolic without the range", cmaps{sym: cmap6('A', 4)}, pdfEncoding{}, flagSymbolic, 'A', 4},
		{"symbolic Macintosh by code", cmaps{mac: cmap6(0xC4, 4)}, win, flagSymbolic, 0xC4, 4},
		{"symbolic with encoding and Unicode", cmaps{uni: cmap6('A', 2), mac: cmap6('A', 3)}, win, flagSymbolic, 'A', 2},
		{"nothing but Unicode, no encoding", cmaps{uni: cmap6('A', 2)}, pdfEncoding{}, flagSymbolic, 'A', 2},
		{"no cmap", nil, pdfEncoding{}, flagSymbolic, 3, 3},
		{"missing shows .notdef", cmaps{uni: cmap6('A', 2)}, win, flagNonsymbolic, 'Z', 0},
		{"missing space shows nothing", cmaps{uni: cmap6('A', 2)}, win, flagNonsymbolic, ' ', -1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := mustTrueType(t, buildTrueType(ttOptions{glyphs: append([][]byte{square(0, 0, 9)}, glyphs[1:]...), names: names, cmaps: tc.cmaps}))
			gids, _ := trueTypeGlyphs(f, f.cmaps, &tc.enc, tc.flags)
			if gids[tc.code] != tc.want {
				t.Errorf("code %d shows glyph %d, want %d", tc.code, gids[tc.code], tc.want)
			}
		})
	}
}

// The substitutes have the advances of the standard 14 fonts, which files may leave out.
func TestSubstitutesHaveStandardAdvances(t *testing.T) {
	for _, tc := range []struct {
		font, char string
		want       float64
	}{
		{"Helvetica", "A", 667}, {"Helvetica", "i", 222}, {"Helvetica-Bold", "A", 722}, {"Times-Roman", "A", 722}, {"Times-Roman", "i", 278},
		{"Times-BoldItalic", "A", 667}, {"Times-Italic", "A", 611}, {"Courier", "A", 600}, {"Courier-BoldOblique", "m", 600},
	} {
		f := substituteFor(tc.font, 0)
		w, _ := f.advance(f.unicodeCmap().lookup(uint32(tc.char[0])))
		if w*1000 < tc.want-1 || w*1000 > tc.want+1 {
			t.Errorf("%s %s is %.1f wide, want %v", tc.font, tc.char, w*1000, tc.want)
		}
	}
}

// A real font: contours, and an accented letter that is its base and more.
func TestRealGlyphs(t *testing.T) {
	f := mustTrueType(t, liberationsansregular.TTF)
	a, _ := f.glyphByName("a")
	aacute, _ := f.glyphByName("aacute")
	pa, err1 := outlineOf(f, a)
	pb, err2 := outlineOf(f, aacute)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if len(pb.Points) <= len(pa.Points) || pb.Bounds().Y1 <= pa.Bounds().Y1 || pb.Bounds().Y0 != pa.Bounds().Y0 {
		t.Errorf("a spans %v, aacute %v", pa.Bounds(), pb.Bounds())
	}
}

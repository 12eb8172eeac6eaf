package font

import "testing"

func mustCFF(t *testing.T, b []byte) *cffFont {
	t.Helper()
	p, err := parseProgram(b)
	if err != nil {
		t.Fatal(err)
	}
	return p.(*cffFont)
}

// What each charstring operator draws, and which width it leaves.
func TestType2CharstringsDraw(t *testing.T) {
	for _, tc := range []struct {
		name, code, want string
		width            float64
	}{
		{"default width", "10 20 rmoveto 100 hlineto 50 vlineto endchar", "M 10,20 L 110,20 L 110,70 Z", 0.1},
		{"own width", "7 10 hmoveto 100 50 hlineto endchar", "M 10,0 L 110,0 L 110,50 Z", 0.057},
		{"width before hints", "7 1 2 hstemhm 3 4 hintmask MASK 10 vmoveto 5 5 rlineto endchar", "M 0,10 L 5,15 Z", 0.057},
		{"hhcurveto", "0 hmoveto 9 1 2 3 4 hhcurveto endchar", "M 0,0 C 1,9 3,12 7,12 Z", 0.1},
		{"vvcurveto", "0 hmoveto 9 1 2 3 4 vvcurveto endchar", "M 0,0 C 9,1 11,4 11,8 Z", 0.1},
		{"hvcurveto with a last operand", "0 hmoveto 10 20 30 40 5 hvcurveto endchar", "M 0,0 C 10,0 30,30 35,70 Z", 0.1},
		{"vhcurveto twice", "0 hmoveto 10 20 30 40 1 2 3 4 vhcurveto endchar", "M 0,0 C 0,10 20,40 60,40 C 61,40 63,43 63,47 Z", 0.1},
		{"rcurveline", "0 hmoveto 1 1 1 1 1 1 5 6 rcurveline endchar", "M 0,0 C 1,1 2,2 3,3 L 8,9 Z", 0.1},
		{"rlinecurve", "0 hmoveto 5 6 1 1 1 1 1 1 rlinecurve endchar", "M 0,0 L 5,6 C 6,7 7,8 8,9 Z", 0.1},
		{"hflex", "0 hmoveto 1 2 3 4 5 6 7 hflex endchar", "M 0,0 C 1,0 3,3 7,3 C 12,3 18,0 25,0 Z", 0.1},
		{"flex1", "0 hmoveto 10 1 10 1 10 1 10 1 10 1 10 flex1 endchar", "M 0,0 C 10,1 20,2 30,3 C 40,4 50,5 60,0 Z", 0.1},
		{"subroutines", "0 hmoveto -107 callsubr -107 callgsubr endchar", "M 0,0 L 10,0 L 10,20 Z", 0.1},
		{"arithmetic", "0 hmoveto 3 4 mul 1 2 1 2 ifelse rlineto endchar", "M 0,0 L 12,1 Z", 0.1},
		{"storage", "0 hmoveto 33 0 put 0 get 2 rlineto endchar", "M 0,0 L 33,2 Z", 0.1},
		{"roll", "0 hmoveto 1 2 3 4 2 1 roll rlineto endchar", "M 0,0 L 1,2 L 5,5 Z", 0.1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := mustCFF(t, buildCFF(cffOptions{glyphs: []string{"endchar", tc.code}, subrs: []string{"10 hlineto return"}, gsubrs: []string{"20 vlineto return"}}))
			p, err := outlineOf(f, 1)
			if err != nil {
				t.Fatal(err)
			}
			if got := pathText(p); got != tc.want {
				t.Errorf("drew %s\nwant %s", got, tc.want)
			}
			if w, _ := f.advance(1); w != tc.width {
				t.Errorf("width %v, want %v", w, tc.width)
			}
		})
	}
}

// An accented character made by endchar with four operands.
func TestType2SeacPlacesTheAccent(t *testing.T) {
	f := mustCFF(t, buildCFF(cffOptions{
		glyphs:  []string{"endchar", "0 hmoveto 10 10 hlineto endchar", "500 vmoveto 5 5 hlineto endchar", "100 20 97 194 endchar"},
		charset: cat([]byte{0}, be(66, 125, 200)), // a, acute, aacute
	}))
	g, ok := f.glyphByName("aacute")
	p, err := outlineOf(f, g)
	if !ok || err != nil || pathText(p) != "M 0,0 L 10,0 L 10,10 Z M 100,520 L 105,520 L 105,525 Z" {
		t.Errorf("%v %v drew %s", ok, err, pathText(p))
	}
}

// Codes reach glyphs through a built-in encoding with ranges and supplements, names through strings.
func TestCFFEncodingAndNames(t *testing.T) {
	f := mustCFF(t, buildCFF(cffOptions{
		glyphs:   []string{"endchar", "endchar", "endchar", "endchar"},
		charset:  cat([]byte{1}, be(34), []byte{1}, be(391), []byte{0}), // A, B, own name
		strings:  []string{"swash"},
		encoding: []byte{0x81, 1, 70, 2, 1, 200, 0, 35},
	}))
	if g, ok := f.glyphByName("swash"); !ok || g != 3 {
		t.Errorf("swash is glyph %d, %v", g, ok)
	}
	for code, want := range map[byte]int{70: 1, 71: 2, 72: 3, 200: 2, 65: -1} {
		if got := f.builtin(code); got != want {
			t.Errorf("code %d shows %d, want %d", code, got, want)
		}
	}
}

// A CID-keyed font maps CIDs through its charset, and each glyph takes the matrix of its font.
func TestCFFCIDKeyed(t *testing.T) {
	half := []byte{30, 0xA0, 0x00, 0x5F} // 0.0005
	zero := []byte{139}
	f := mustCFF(t, buildCFF(cffOptions{
		glyphs:   []string{"endchar", "0 hmoveto 100 100 hlineto endchar", "0 hmoveto 100 100 hlineto endchar"},
		charset:  cat([]byte{2}, be(500, 1)),
		fonts:    [][]byte{{}, cat(half, zero, zero, half, zero, zero, []byte{12, 7})},
		fdSelect: cat([]byte{3}, be(2), be(0), []byte{0}, be(2), []byte{1}, be(3)),
	}))
	if f.gidFromCID(500) != 1 || f.gidFromCID(501) != 2 || f.gidFromCID(1) != -1 {
		t.Errorf("CIDs 500, 501, 1 show %d, %d, %d", f.gidFromCID(500), f.gidFromCID(501), f.gidFromCID(1))
	}
	for g, want := range []string{"nil", "M 0,0 L 100,0 L 100,100 Z", "M 0,0 L 50,0 L 50,50 Z"} {
		if p, err := outlineOf(f, g); err != nil || pathText(p) != want {
			t.Errorf("glyph %d: %v drew %s, want %s", g, err, pathText(p), want)
		}
	}
}

// The highest CIDs have glyphs too.
func TestCFFHighestCIDs(t *testing.T) {
	f := mustCFF(t, buildCFF(cffOptions{glyphs: []string{"endchar", "endchar", "endchar"}, charset: cat([]byte{2}, be(65534, 1)), fonts: [][]byte{{}}, fdSelect: make([]byte, 4)}))
	if f.gidFromCID(0) != 0 || f.gidFromCID(65534) != 1 || f.gidFromCID(65535) != 2 || f.gidFromCID(65536) != -1 || f.gidFromCID(5) != -1 {
		t.Errorf("CIDs 0, 65534, 65535 show %d, %d, %d", f.gidFromCID(0), f.gidFromCID(65534), f.gidFromCID(65535))
	}
}

// A charstring that multiplies its work by subroutines ends at a limit.
func TestType2WorkIsBounded(t *testing.T) {
	var subrs []string
	for i := range 20 { // each calls the next one many times
		subrs = append(subrs, repeatWords(csBias(i+1)+" callsubr", 8)+" return")
	}
	subrs = append(subrs, "1 1 rlineto return")
	f := mustCFF(t, buildCFF(cffOptions{glyphs: []string{"endchar", "0 hmoveto " + csBias(0) + " callsubr endchar"}, subrs: subrs}))
	if p, err := outlineOf(f, 1); err == nil {
		t.Errorf("drew %d points without complaint", len(p.Points))
	}
}

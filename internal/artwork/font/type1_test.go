package font

import (
	"encoding/hex"
	"testing"
)

func mustType1(t *testing.T, b []byte) *type1Font {
	t.Helper()
	p, err := parseProgram(b)
	if err != nil {
		t.Fatal(err)
	}
	return p.(*type1Font)
}

// What each charstring operator draws.
func TestType1CharstringsDraw(t *testing.T) {
	subrs := []string{
		"3 0 callothersubr pop pop setcurrentpoint return", // the four standard entries
		"0 1 callothersubr return",
		"0 2 callothersubr return",
		"return",
		"100 hlineto return", // 4
		"5 hstem return",     // 5, a hint group
	}
	for _, tc := range []struct{ name, code, want string }{
		{"side bearing and lines", "10 500 hsbw 20 vmoveto 100 hlineto 50 vlineto -100 hlineto closepath endchar",
			"M 10,20 L 110,20 L 110,70 L 10,70 Z"},
		{"sbw", "10 30 500 0 sbw 5 hmoveto 100 20 rlineto closepath endchar", "M 15,30 L 115,50 Z"},
		{"curves", "0 500 hsbw 0 0 rmoveto 1 2 3 4 5 6 rrcurveto 10 20 30 40 vhcurveto 10 20 30 40 hvcurveto closepath endchar",
			"M 0,0 C 1,2 4,6 9,12 C 9,22 29,52 69,52 C 79,52 99,82 99,122 Z"},
		{"division", "0 500 hsbw 0 hmoveto 100 8 div hlineto 7 vlineto closepath endchar", "M 0,0 L 12.5,0 L 12.5,7 Z"},
		{"subroutine", "0 500 hsbw 0 hmoveto 4 callsubr 10 vlineto closepath endchar", "M 0,0 L 100,0 L 100,10 Z"},
		{"hint replacement", "0 500 hsbw 0 hmoveto 10 hlineto 5 1 3 callothersubr pop callsubr 10 vlineto closepath endchar",
			"M 0,0 L 10,0 L 10,10 Z"},
		{"the point stays after closepath", "0 500 hsbw 0 hmoveto 10 hlineto 10 vlineto closepath 5 5 rmoveto 7 hlineto 7 vlineto closepath endchar",
			"M 0,0 L 10,0 L 10,10 Z M 15,15 L 22,15 L 22,22 Z"},
		{"flex", "0 500 hsbw 0 hmoveto 1 callsubr 50 0 rmoveto 2 callsubr -30 0 rmoveto 2 callsubr 10 5 rmoveto 2 callsubr " +
			"20 0 rmoveto 2 callsubr 20 0 rmoveto 2 callsubr 10 -5 rmoveto 2 callsubr 20 0 rmoveto 2 callsubr 50 100 0 0 callsubr 10 vlineto closepath endchar",
			"M 0,0 C 20,0 30,5 50,5 C 70,5 80,0 100,0 L 100,10 Z"},
		{"no marks", "0 250 hsbw endchar", "nil"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := mustType1(t, buildType1("StandardEncoding def", subrs, []t1Glyph{{".notdef", "0 250 hsbw endchar"}, {"A", tc.code}}))
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

// Where seac puts the accent: its side bearing point at adx from the side bearing of the whole.
func TestType1SeacPlacesTheAccent(t *testing.T) {
	f := mustType1(t, buildType1("StandardEncoding def", nil, []t1Glyph{
		{"a", "20 400 hsbw 0 hmoveto 10 hlineto 10 vlineto closepath endchar"},
		{"acute", "30 300 hsbw 500 vmoveto 5 hlineto 5 vlineto closepath endchar"},
		{"aacute", "20 400 hsbw 30 110 200 97 194 seac"},
	}))
	g, _ := f.glyphByName("aacute")
	p, err := outlineOf(f, g)
	if err != nil {
		t.Fatal(err)
	}
	// The accent starts at its own bearing 30, moved by 20 + 110 - 30 and 200.
	if got, want := pathText(p), "M 20,0 L 30,0 L 30,10 Z M 130,700 L 135,700 L 135,705 Z"; got != want {
		t.Errorf("drew %s\nwant %s", got, want)
	}
	if w, ok := f.advance(g); !ok || w != 0.4 {
		t.Errorf("advance %v %v, want 0.4", w, ok)
	}
}

// The wrappings a Type 1 program comes in all read alike.
func TestType1ReadsEveryWrapping(t *testing.T) {
	plain := buildType1("256 array 0 1 255 {1 index exch /.notdef put} for dup 65 /B put dup 8#102 /A put readonly def", nil,
		[]t1Glyph{{".notdef", "0 250 hsbw endchar"}, {"A", "0 500 hsbw 0 hmoveto 10 hlineto 10 vlineto closepath endchar"}, {"B", "0 600 hsbw endchar"}})
	at := 0
	for i := range plain {
		if string(plain[i:i+6]) == "eexec\n" {
			at = i + 6
			break
		}
	}
	seg := func(kind byte, b []byte) []byte {
		return cat([]byte{0x80, kind, byte(len(b)), byte(len(b) >> 8), 0, 0}, b)
	}
	_, private := splitEexec(plain)
	for name, b := range map[string][]byte{
		"as it is":    plain,
		"hexadecimal": cat(plain[:at], []byte(hex.EncodeToString(plain[at:]))),
		"PFB":         cat(seg(1, plain[:at]), seg(2, plain[at:]), []byte{0x80, 3}),
		"in clear":    cat(plain[:at-len("currentfile eexec\n")], private),
	} {
		t.Run(name, func(t *testing.T) {
			f := mustType1(t, b)
			if g, ok := f.glyphByName("A"); !ok || g != 1 || f.builtin('B') != 1 || f.builtin('A') != 2 || f.builtin('C') != -1 {
				t.Errorf("encoding: A is %d, codes B and A show %d and %d", g, f.builtin('B'), f.builtin('A'))
			}
			if p, err := outlineOf(f, 1); err != nil || pathText(p) != "M 0,0 L 10,0 L 10,10 Z" {
				t.Errorf("A draws %s, %v", pathText(p), err)
			}
		})
	}
}

// Charstrings that cannot be followed say so instead of drawing on.
func TestType1RefusesBadCharstrings(t *testing.T) {
	for _, code := range []string{
		"0 500 hsbw 9 callsubr endchar",                                       // no such subroutine
		"0 500 hsbw 0 callsubr endchar",                                       // endless recursion
		"0 500 hsbw 5 rlineto endchar",                                        // too few operands
		"0 500 hsbw 0 0 0 97 193 seac",                                        // parts missing
		"0 500 hsbw 1 0 div hlineto endchar",                                  // division by nothing
		"0 500 hsbw 3 0 3 callothersubr 7 19 callothersubr closepath endchar", // more arguments than there are
	} {
		f := mustType1(t, buildType1("StandardEncoding def", []string{"0 callsubr"}, []t1Glyph{{"A", code}}))
		if _, err := outlineOf(f, 0); err == nil {
			t.Errorf("%q was drawn without complaint", code)
		}
	}
}

package font

import (
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
)

// soundPath checks what painters rely on: finite points, subpaths that begin with a move and are closed.
func soundPath(t *testing.T, p *geom.Path) {
	t.Helper()
	if p == nil {
		return
	}
	points, open := 0, false
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			if open {
				t.Fatal("a subpath is left open")
			}
			open = true
			points++
		case geom.LineTo, geom.CubicTo:
			if !open {
				t.Fatal("a segment without a move")
			}
			points++
			if v == geom.CubicTo {
				points += 2
			}
		case geom.Close:
			open = false
		}
	}
	if open || points != len(p.Points) {
		t.Fatalf("open %v, %d points for %d", open, len(p.Points), points)
	}
	for _, q := range p.Points {
		if !(math.Abs(q.X) <= maxCoordinate && math.Abs(q.Y) <= maxCoordinate) {
			t.Fatalf("a point at %v", q)
		}
	}
}

func fuzzProgram(f *testing.F) {
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := parseProgram(b)
		if err != nil {
			if p != nil {
				t.Fatal("an error and a program")
			}
			return
		}
		if p.numGlyphs() < 1 {
			t.Fatal("a program without glyphs")
		}
		for g := range min(p.numGlyphs(), 16) {
			path, work, err := p.draw(g)
			soundPath(t, path)
			if work > 2*maxGlyphOps {
				t.Fatalf("glyph %d took %d steps", g, work)
			}
			if again, _, err2 := p.draw(g); !reflect.DeepEqual(path, again) || (err == nil) != (err2 == nil) {
				t.Fatalf("glyph %d is drawn in two ways", g)
			}
			if w, ok := p.advance(g); ok && math.IsNaN(w) {
				t.Fatal("an advance that is not a number")
			}
		}
		for c := range 256 {
			if g := p.builtin(byte(c)); g < -1 || g >= p.numGlyphs() {
				t.Fatalf("code %d shows glyph %d of %d", c, g, p.numGlyphs())
			}
		}
		enc := pdfEncoding{given: true, base: winAnsiEncoding()}
		gids, _ := namedGlyphs(p, &enc)
		if tt, ok := p.(*trueType); ok {
			gids, _ = trueTypeGlyphs(p, tt.cmaps, &enc, flagNonsymbolic)
		}
		for c, g := range gids {
			if g < -1 || g >= p.numGlyphs() {
				t.Fatalf("code %d is encoded as glyph %d of %d", c, g, p.numGlyphs())
			}
		}
	})
}

func FuzzType1(f *testing.F) {
	f.Add(buildType1("StandardEncoding def", []string{"10 hlineto return"}, []t1Glyph{{"A", "0 500 hsbw 0 hmoveto 0 callsubr 5 vlineto closepath endchar"}, {"aacute", "0 5 hsbw 0 0 0 97 193 seac"}}))
	// In the clear, where changes reach the charstrings: flex, seac and numbers of all lengths.
	plain := func(glyphs []t1Glyph, subrs ...string) []byte {
		b := []byte("%!PS /FontMatrix [0.001 0 0 0.001 0 0] def /Encoding StandardEncoding def /lenIV -1 def /Subrs 4 array\n")
		for i, code := range subrs {
			c := charstring(code, type1Ops)
			b = fmt.Appendf(b, "dup %d %d RD %s NP\n", i, len(c), c)
		}
		b = append(b, "/CharStrings 4 dict dup begin\n"...)
		for _, g := range glyphs {
			c := charstring(g.code, type1Ops)
			b = fmt.Appendf(b, "/%s %d RD %s ND\n", g.name, len(c), c)
		}
		return append(b, "end"...)
	}
	f.Add(plain([]t1Glyph{{"A", "0 500 hsbw 9 200 rmoveto 1 callsubr 5 0 rlineto 2 callsubr 1 2 3 4 5 6 rrcurveto closepath endchar"}, {"acute", "7 200 hsbw 1 2 rmoveto 3 hlineto closepath endchar"}},
		"3 0 callothersubr pop pop setcurrentpoint return", "0 1 callothersubr return", "0 2 callothersubr return"))
	f.Add(plain([]t1Glyph{{"a", "9 -200 hsbw 5 vlineto 6 7 div hlineto endchar"}, {"acute", "1 2 3 4 sbw endchar"}, {"aacute", "0 5 hsbw 0 10 -20 97 194 seac"}}))
	fuzzProgram(f)
}

func FuzzCFF(f *testing.F) {
	f.Add(buildCFF(cffOptions{glyphs: []string{"endchar", "0 hmoveto -107 callsubr 5 5 rlineto endchar"}, subrs: []string{"10 hlineto return"}}))
	f.Add(buildCFF(cffOptions{glyphs: []string{"endchar", "endchar"}, charset: cat([]byte{2}, be(500, 1)), fonts: [][]byte{{}}, fdSelect: []byte{0, 0, 0}}))
	fuzzProgram(f)
}

func FuzzTrueType(f *testing.F) {
	f.Add([]byte(testTrueType))
	f.Add(buildTrueType(ttOptions{glyphs: [][]byte{square(0, 0, 9), cat(be(-1, 0, 0, 0, 0), be(compXY|compWords, 0, 5, 5))}, names: []string{".notdef", "A"},
		cmaps: map[[2]int][]byte{{1, 0}: cmap6('A', 1), {3, 0}: be(4, 32, 0, 4, 4, 1, 0, 0xF041, 0xFFFF, 0, 0xF041, 0xFFFF, 0x0FC0, 1, 0, 0)}}))
	fuzzProgram(f)
}

// A CMap cuts every string into codes that join up to the string again, by its code spaces, and its tables
// are in order.
func FuzzCMap(f *testing.F) {
	f.Add([]byte(mixedCMap), "a\x81\x41\x9f", "")
	f.Add([]byte("1 begincodespacerange <00000000> <FFFFFFFF> endcodespacerange 1 beginbfrange <00> <FF> [<0041>] endbfrange"), "abcdefg", "")
	f.Add([]byte("2 begincidchar <8140> 7 <81> 9 endcidchar 1 beginnotdefrange <00> <1f> 3 endnotdefrange"), "\x81\x40\x05", "90ms-RKSJ-V")
	f.Add([]byte("1 begincodespacerange <81> <81> endcodespacerange"), "\x81\x30\x81\x30\xff", "GBK2K-H")
	f.Fuzz(func(t *testing.T, b []byte, s, base string) {
		c := parseCMap(b)
		for i := range c.ranges {
			for _, list := range [][]cidRange{c.chars[i], c.ranges[i], c.notdef[i], c.unicode[i], c.uniRange[i]} {
				for k, r := range list {
					if r.lo > r.hi || k > 0 && list[k-1].hi >= r.lo || i < 3 && r.hi >= 1<<(8*i+8) {
						t.Fatalf("%d bytes: range %d of %v is out of order", i+1, k, list)
					}
				}
			}
		}
		c.base = lookupCMap(base)
		for len(s) > 0 {
			code, n, valid := c.next(s)
			if n < 1 || n > 4 || n > len(s) {
				t.Fatalf("a code of %d bytes from %d", n, len(s))
			}
			v := uint32(0)
			for i := range n {
				v = v<<8 | uint32(s[i])
			}
			if v != code {
				t.Fatalf("code %X from bytes %X", code, v)
			}
			if first := shortestInSpace(c, s); valid != (first > 0) || valid && n != first {
				t.Fatalf("% X: %d bytes, valid %v; the shortest code has %d", s, n, valid, first)
			}
			c.cid(code, n)
			c.runeOf(code, n)
			s = s[n:]
		}
	})
}

// shortestInSpace is the length of the shortest beginning of s that lies in a code space, 0 when none does.
func shortestInSpace(c *cmapFile, s string) int {
	for n := 1; n <= min(4, len(s)); n++ {
		for x := c; x != nil; x = x.base {
			for _, sp := range x.spaces[n-1] {
				lo, hi := binary.BigEndian.AppendUint32(nil, sp.lo)[4-n:], binary.BigEndian.AppendUint32(nil, sp.hi)[4-n:]
				inside := true
				for i := range n {
					inside = inside && s[i] >= lo[i] && s[i] <= hi[i]
				}
				if inside {
					return n
				}
			}
		}
	}
	return 0
}

// What a file says of a font, whatever it is, gives codes that take up the string, and sound outlines.
func FuzzFontDictionary(f *testing.F) {
	f.Add("/Subtype /Type0 /Encoding /90ms-RKSJ-V /DescendantFonts [ << /Subtype /CIDFontType2 /W [1 [500] 7 9 300] /W2 [1 2 3 4 5] /DW2 [900 -900] /CIDSystemInfo << /Ordering (Japan1) >> >> ]", "a\x88\x9f")
	f.Add("/Subtype /Type1 /BaseFont /ZapfDingbats /Widths [1 2 3] /FirstChar 33 /Encoding << /Differences [33 /a1 /uni4E00] >>", "!4")
	f.Add("/Subtype /TrueType /BaseFont /Arial,Bold /FontDescriptor << /Flags 4 /StemV 200 /MissingWidth 1e30 >>", "ab")
	f.Add("/Subtype /Type3 /FontMatrix [1 0 0 1 0 0] /CharProcs << >> /Encoding << /Differences [97 /a] >>", "ab")
	f.Fuzz(func(t *testing.T, dict, s string) {
		if len(dict) > 4096 || len(s) > 256 {
			return
		}
		font, _, _ := fontFrom(t, func(*pdfbuild.File) string { return "<< " + dict + " >>" })
		bytes := 0
		for _, g := range font.Glyphs(nil, pdf.String(s)) {
			if g.Bytes < 1 || g.ID < -1 || math.IsNaN(g.Advance+g.AdvanceY+g.OriginX+g.OriginY) || math.IsInf(g.Advance+g.AdvanceY+g.OriginX+g.OriginY, 0) {
				t.Fatalf("%+v", g)
			}
			bytes += g.Bytes
			p := font.Outline(g.ID)
			soundPath(t, p)
			if font.Outline(g.ID) != p {
				t.Fatal("another outline for the same glyph")
			}
		}
		if bytes != len(s) {
			t.Fatalf("codes take %d bytes of %d", bytes, len(s))
		}
	})
}

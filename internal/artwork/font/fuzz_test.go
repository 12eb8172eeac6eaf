package font

import (
	"math"
	"testing"

	"laydown/internal/geom"
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
			path, _ := outlineOf(p, g)
			soundPath(t, path)
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

// A CMap cuts every string into codes that join up to the string again.
func FuzzCMap(f *testing.F) {
	f.Add([]byte(mixedCMap), "a\x81\x41\x9f")
	f.Add([]byte("1 begincodespacerange <00000000> <FFFFFFFF> endcodespacerange 1 beginbfrange <00> <FF> [<0041>] endbfrange"), "abcdefg")
	f.Fuzz(func(t *testing.T, b []byte, s string) {
		c := parseCMap(b)
		for len(s) > 0 {
			code, n, _ := c.next(s)
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
			c.cid(code, n)
			c.runeOf(code, n)
			s = s[n:]
		}
	})
}

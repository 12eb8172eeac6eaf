package font

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/pdfbuild"
)

// A page draws so many characters and no more; the next page may draw again.
func TestGlyphWorkOfAPageIsBounded(t *testing.T) {
	f, r, c := fontFrom(t, compositeFont("/Identity-H", "", testTrueType))
	if f.Outline(1).Empty() || ids(c) != "" {
		t.Fatalf("findings %s", ids(c))
	}
	r.meter.spend(nil, limits.MaxGlyphWork)
	if f.Outline(2) != nil || ids(c) != "font-glyphs-too-many" {
		t.Errorf("a glyph past the limit was drawn; findings %s", ids(c))
	}
	if f.Outline(1).Empty() {
		t.Error("a glyph drawn before was lost")
	}
	r.Font(f.Ref, finding.Place{Page: 1})
	if f.Outline(2) != nil {
		t.Error("the same page was allowed more")
	}
	r.Font(f.Ref, finding.Place{Page: 2})
	if f.Outline(2).Empty() {
		t.Error("the next page was allowed nothing")
	}
}

// Fonts of earlier pages are forgotten when they take too much memory, not while a page uses them.
func TestFontsAreForgotten(t *testing.T) {
	f, r, _ := fontFrom(t, compositeFont("/Identity-H", "", testTrueType))
	r.meter.kept.Store(limits.FontCacheBytes + 1)
	if r.Font(f.Ref, finding.Place{Page: 1}) != f {
		t.Error("a font was read again on the same page")
	}
	g := r.Font(f.Ref, finding.Place{Page: 2})
	if g == f || g.Outline(1).Empty() {
		t.Error("the font was kept, or is of no use when read again")
	}
}

// A CMap with more than this program keeps is told.
func TestCMapOverTheLimit(t *testing.T) {
	spaces := "begincodespacerange " + strings.Repeat("<8000> <80FF> ", maxCodeSpaces) + "<0000> <7FFF> endcodespacerange begincidrange <0000> <FFFF> 0 endcidrange"
	_, _, c := fontFrom(t, compositeFont(spaces, "", testTrueType))
	if ids(c) != "cmap-too-large" {
		t.Errorf("findings %s", ids(c))
	}
	chars := "begincodespacerange <0000> <FFFF> endcodespacerange begincidchar " + strings.Repeat("<0041> 1 ", maxCMapEntries+1) + "endcidchar"
	f, _, c := fontFrom(t, compositeFont(chars, "", testTrueType))
	if g := f.Glyphs(nil, "\x00A"); ids(c) != "cmap-too-large" || g[0].ID != 1 {
		t.Errorf("findings %s, %+v", ids(c), g)
	}
}

// Fonts that share a long table of widths share it in memory.
func TestWidthsAreShared(t *testing.T) {
	var second int
	f, r, _ := fontFrom(t, func(p *pdfbuild.File) string {
		widths := p.Add("[1 [10 20 30]]")
		font := func() string {
			return "<< /Type /Font /Subtype /Type0 /BaseFont /Demo /Encoding /Identity-H /DescendantFonts [ << /Subtype /CIDFontType2 /W " + pdfbuild.Ref(widths) + " >> ] >>"
		}
		second = p.Add(font())
		return font()
	})
	g := r.Font(pdf.Ref{Num: second}, finding.Place{Page: 1})
	if &f.composite.widths[0] != &g.composite.widths[0] {
		t.Error("the widths were read twice")
	}
	if w := g.Glyphs(nil, "\x00\x02")[0].Advance; w != 0.02 {
		t.Errorf("advance %v", w)
	}
}

// Programs that would keep a careless reader busy for minutes end soon.
func TestHostileProgramsEndSoon(t *testing.T) {
	double := []string{"1 callsubr 1 callsubr return"}
	for i := range maxSubrDepth {
		double = append(double, fmt.Sprintf("%d callsubr %d callsubr return", i+2, i+2))
	}
	fds := make([][]byte, 2000)
	for i := range fds {
		fds[i] = cat(dictInt(1<<30), dictInt(0), []byte{18}) // a Private dictionary as long as the file
	}
	for name, data := range map[string][]byte{
		"encodings without end": []byte("%!PS " + strings.Repeat("/Encoding 1 ", 300_000)),
		"doubling subroutines":  buildType1("StandardEncoding def", double, []t1Glyph{{"A", "0 500 hsbw 0 callsubr endchar"}}),
		"private dictionaries":  buildCFF(cffOptions{glyphs: []string{"endchar", "endchar"}, charset: cat([]byte{2}, be(1, 1)), fonts: fds, fdSelect: make([]byte, 3), strings: []string{strings.Repeat("x", 1<<20)}}),
	} {
		start := time.Now()
		if p, err := parseProgram(data); err == nil {
			for g := range p.numGlyphs() {
				p.draw(g)
			}
		}
		if d := time.Since(start); d > 20*time.Second {
			t.Errorf("%s: %v", name, d)
		}
	}
}

package check

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// The toners of the press two-set hold lines of 0.25 pt (0.088 mm) in process colour and 0.5 pt (0.176 mm) in
// specials, gaps of twice that, type of 5 and 6 pt.

// fine is a page looked at in 600 dpi.
func fine(content string) artwork { return artwork{dpi: 600, pages: []string{content}} }

func TestLineTooThin(t *testing.T) {
	const id = "line-too-thin"
	f := holds(t, id, finding.Warning, fine(fill(silver, 5, 5, 20, .15)), quiet{
		"as thick as held":  fine(fill(silver, 5, 5, 20, .176)),
		"process colour":    fine(fill(cmyk, 5, 5, 20, .15)),
		"short":             fine(fill(silver, 5, 5, .9, .15)),
		"a picture's grain": {dpi: 600, pages: []string{shown("", 5, 5, 20, .15)}, picture: row("/DeviceGray", 20), samples: noise(20)},
		"a spike":           fine(silver + " 20 20 m 40 20 l 20 22 l h f"),
		"a corner":          fine(silver + " 20 20 m 40 20 l 30 40 l h f"),
		"part of a solid":   fine(fill(silver, 5, 5, 20, .15) + fill(silver, 5, 5.15, 20, 5)),
		"type":              {dpi: 600, res: helvetica, pages: []string{typed(silver, "llllllll", .8, 5, 20)}},
		"beyond the bleed":  fine(fill(silver, -9, 5, 5, .15)),
	})
	if w := f.Figures["width_mm"]; math.Abs(w-.15) > .01 {
		t.Errorf("width %g, want 0.15", w)
	}
	wantItems(t, f, 0)
	holds(t, id, finding.Error, fine(fill(silver, 5, 5, 20, .08)), nil)
	holds(t, id, finding.Warning, fine(fill(cmyk, 5, 5, 20, .07)), nil)
	one(t, fine("/Silver CS 1 SCN .15 w 20 20 m 50 34 l S"), id)
	// A light tint is as thin as a solid.
	tinted := fine(fill("/Silver cs .3 scn", 5, 5, 20, .15))
	if f := one(t, tinted, id); math.Abs(f.Figures["width_mm"]-.15) > .01 {
		t.Errorf("%v", f.Figures)
	}
	// What a reversed band leaves of a solid.
	left := one(t, fine(fill(silver, 5, 5, 20, 5)+fill("0 0 0 0 k", 5, 5.15, 20, 4.85)), id)
	if left.Severity != finding.Warning || left.Figures["count"] != 1 {
		t.Errorf("the rim of the knock-out counts: %v %v", left.Severity, left.Figures)
	}
}

func TestLineOfNoWidth(t *testing.T) {
	f := holds(t, "line-of-no-width", finding.Warning, artwork{pages: []string{"0 0 0 1 K 0 w 20 20 m 50 20 l S"}}, quiet{
		"a width":      {pages: []string{"0 0 0 1 K .01 w 20 20 m 50 20 l S"}},
		"paper white":  {pages: []string{"0 0 0 0 K 0 w 20 20 m 50 20 l S"}},
		"beyond bleed": {pages: []string{"0 0 0 1 K 0 w 20 1 m 50 1 l S"}},
	})
	wantItems(t, f, 0)
}

func TestGapFillsIn(t *testing.T) {
	const id = "gap-fills-in"
	two := func(ops string, gap float64) string { return fill(ops, 5, 5, 20, 5) + fill(ops, 5, 10+gap, 20, 5) }
	f := holds(t, id, finding.Warning, fine(two(silver, .3)), quiet{
		"as wide as held":     fine(two(silver, .36)),
		"process colour":      fine(two(cmyk, .3)),
		"filled by a picture": {dpi: 600, pages: []string{two("0 0 0 1 k", .14) + shown("", 5, 9, 20, 3)}, picture: row("/DeviceGray", 20), samples: strings.Repeat("\x20\x30", 10)},
		"lines that meet":     fine(silver + " 20 20 m 50 20 l 50 22 l h f 20 20 m 50 16 l 50 14 l h f"),
		"touching":            fine(two(silver, 0)),
		"short":               fine(fill(silver, 5, 5, 1.5, 5) + fill(silver, 5, 10.3, 1.5, 5)),
		"no solid":            fine(fill(silver, 5, 5, 20, .3)),
	})
	if w := f.Figures["width_mm"]; math.Abs(w-.3) > .015 {
		t.Errorf("width %g, want 0.3", w)
	}
	one(t, fine(fill(silver, 5, 5, 20, 10)+fill("0 0 0 0 k", 5, 8, 20, .3)), id)
	wantQuiet(t, fine(fill(silver, 5, 5, 20, 10)+fill(over+"0 0 0 1 k", 5, 8, 20, .3)), id)
	// In a light tint nobody sees it fill in.
	wantQuiet(t, fine(two("/Silver cs .15 scn", .3)), id)
	one(t, fine(two("/Silver cs .25 scn", .3)), id)
	one(t, fine(fill("/Silver cs .1 scn", 5, 5, 20, 5)+fill(silver, 5, 10.3, 20, 5)), id)
}

// Spaces between letters drawn as outlines are as those between letters of a font. Larger letters, bars of a code, and what is within one
// letter are not.
func TestSpacesBetweenOutlinedLettersAreNoGaps(t *testing.T) {
	const id = "gap-fills-in"
	h := func(x, y, size float64) string { // an H of two thirds its height
		s := size / 6
		return fill(silver, x, y, s, size) + fill(silver, x+3*s, y, s, size) + fill(silver, x+s, y+size/2-s/2, 2*s, s)
	}
	word := func(n int, size float64) (s string) {
		for i := range n {
			s += h(5+float64(i)*(size*2/3+.3), 20, size)
		}
		return s
	}
	bars := ""
	for i := range 8 {
		bars += fill(silver, 5+float64(i)*1.1, 20, .8, 3)
	}
	wantQuiet(t, fine(word(5, 3)), id)
	one(t, fine(word(2, 3)), id)
	one(t, fine(word(5, 8)), id)
	one(t, fine(bars), id)
	slit := fill(silver, 5, 30, .8, 3) + fill(silver, 6.1, 30, .8, 3) + fill(silver, 5.8, 30, .3, .5)
	one(t, fine(word(5, 3)+slit), id)
}

func TestSpeckLost(t *testing.T) {
	const id = "speck-lost"
	dot := func(ops string, d float64) string { // a square of the area of a disc
		side := d * math.Sqrt(math.Pi) / 2
		return fill(ops, 5, 5, side, side) + fill(ops, 15, 5, 5, 5)
	}
	f := holds(t, id, finding.Warning, fine(dot(white, .27)), quiet{
		"as large as held": fine(dot(white, .3)),
		"silver":           fine(dot(silver, .2)),
		"process colour":   fine(dot(cmyk, .2)),
	})
	wantItems(t, f, 0)
	one(t, fine(dot(clearIn, .27)), id)
}

// points is a size of type on the pages of these tests, which are scaled to millimetres.
func points(pt float64) float64 { return pt * 25.4 / 72 }

func TestTypeTooSmall(t *testing.T) {
	const id = "type-too-small"
	line := func(ops string, pt float64) artwork {
		return artwork{dpi: 600, res: helvetica, pages: []string{typed(ops, "Night sky", points(pt), 5, 20)}}
	}
	f := holds(t, id, finding.Warning, line(silver, 5.8), quiet{
		"as large as held": line(silver, 6.1),
		"process colour":   line("0 0 0 1 k", 5),
		"paper white":      line("0 0 0 0 k", 3),
		"invisible":        line("3 Tr 0 0 0 1 k", 3),
		"several toners":   line("1 .5 0 0 k", 9),
		"a trace of one":   line(".05 0 0 1 k", 6),
	})
	if math.Abs(f.Figures["size_pt"]-5.8) > .05 {
		t.Errorf("%v", f.Figures)
	}
	wantItems(t, f, 0)
	one(t, line("0 0 0 1 k", 4.8), id)
	if f := one(t, line("1 .5 0 0 k", 8.8), id); !strings.Contains(f.What, "several process toners") {
		t.Error(f.What)
	}
	// Stems: letters drawn as thin strokes by mode 1 are thin whatever their size.
	thin := artwork{dpi: 600, res: helvetica, pages: []string{typed("1 Tr .1 w /Silver CS 1 SCN", "lllll", points(10), 5, 20)}}
	if f := one(t, thin, id); !strings.Contains(f.What, "strokes") {
		t.Error(f.What)
	}
}

func TestTintDropsOut(t *testing.T) {
	const id = "tint-drops-out"
	f := holds(t, id, finding.Note, artwork{pages: []string{fill(".02 .01 0 0 k", 5, 5, 10, 6)}}, quiet{
		"3 %":           {pages: []string{fill(".03 .01 0 0 k", 5, 5, 10, 6)}},
		"one is darker": {pages: []string{fill(".02 .5 0 0 k", 5, 5, 10, 6)}},
		"white":         {pages: []string{fill("0 0 0 0 k", 5, 5, 10, 6)}},
		"small":         {pages: []string{fill(".02 .01 0 0 k", 5, 5, 5, 4.9)}},
		"a special too": {pages: []string{fill("/Silver cs .02 scn", 5, 5, 10, 6)}},
	})
	if f.Figures["tint_percent"] != 2 {
		t.Errorf("%v", f.Figures)
	}
}

// bands are n boxes of w mm side by side, each a step lighter than the last.
func bands(n int, w, step float64) artwork {
	var b strings.Builder
	for i := range n {
		b.WriteString(fill(fmt.Sprintf("0 0 0 %g k", 1-float64(i)*step), 5+float64(i)*w, 5, w, 10))
	}
	return artwork{pages: []string{b.String()}}
}

func TestBlendWithSteps(t *testing.T) {
	const id = "blend-with-steps"
	f := holds(t, id, finding.Warning, bands(8, 1, .05), quiet{
		"narrow bands":   bands(8, .4, .05),
		"small steps":    bands(8, 1, .014),
		"four bands":     bands(4, 1, .05),
		"a smooth blend": {pages: []string{"q " + box(5, 5, 40, 20) + "W n /B sh Q\n"}, res: blend("/DeviceCMYK", "0 0 0 1", "0 0 0 0")},
		"unequal steps":  {pages: []string{bands(4, 1, .05).pages[0] + bands(4, 1, .2).pages[0]}},
	})
	wantItems(t, f, 0, 1, 2, 3, 4, 5, 6, 7)
	if f.Figures["step_mm"] != 1 {
		t.Errorf("%v", f.Figures)
	}
	one(t, bands(5, 1, .016), id)
	// A blend of ten steps over 14 mm, by a calculator function that rounds.
	stepped := artwork{pages: []string{"q " + box(5, 5, 40, 20) + "W n /B sh Q\n"}}
	stepped.shading = "{ 10 mul round 10 div 0 exch 0 exch 0 exch }"
	if f := one(t, stepped, id); math.Abs(f.Figures["step_mm"]-4) > .1 {
		t.Errorf("%v", f.Figures)
	}
}

// underlay is a colour over a white choked by mm, on dark stock.
func underlay(choke float64, more string) artwork {
	return artwork{stock: "black-board", dpi: 300, pages: []string{fill(white, 5+choke, 5+choke, 20-2*choke, 20-2*choke) + fill(over+"1 .5 0 0 k", 5, 5, 20, 20) + more}}
}

func TestWhitePeeksOut(t *testing.T) {
	const id = "white-peeks-out"
	light := underlay(0, "")
	light.stock = "white-matt"
	beyond := artwork{stock: "black-board", dpi: 300, pages: []string{fill(white, 5, 5, 30, 20) + fill(over+"1 .5 0 0 k", 8, 8, 20, 10)}}
	f := holds(t, id, finding.Warning, underlay(0, ""), quiet{
		"choked as far as passes are off": underlay(.4, ""),
		"white stock":                     light,
		"white ground round the colours":  beyond,
		"no white":                        {stock: "black-board", pages: []string{fill(cmyk, 5, 5, 10, 6)}},
	})
	if l := f.Figures["length_mm"]; l < 76 || l > 84 || f.Figures["choke_mm"] > .02 {
		t.Errorf("%v, want about 80 mm", f.Figures)
	}
	// The job's wish goes before the register of the press, 0.4 mm between two passes.
	wish := func(choke, wanted press.Length) artwork {
		a := underlay(float64(choke), "")
		a.job = &press.Job{Wishes: press.Wishes{Underlay: []press.UnderlayWish{{Toner: "White", Under: []string{"process"}, Choke: wanted}}}}
		return a
	}
	wantQuiet(t, wish(.1, .1), id)
	one(t, wish(.05, .1), id)
	// Within the register of one pass, 0.1 mm, and that of two: a note.
	holds(t, id, finding.Note, underlay(.3, ""), nil)
	holds(t, id, finding.Note, underlay(.1, ""), nil)
	holds(t, id, finding.Warning, underlay(.05, ""), nil)
	// Turned, tinted and in another place the same.
	tinted := underlay(0, "")
	tinted.pages = []string{".87 .5 -.5 .87 20 0 cm " + fill("/White cs .8 scn", 15, 15, 10, 10) + fill(over+".3 0 0 0 k", 15, 15, 10, 10)}
	one(t, tinted, id)
}

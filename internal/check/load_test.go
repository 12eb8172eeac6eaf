package check

import (
	"strings"
	"testing"

	"laydown/internal/finding"
)

const outsideRange = "tint-outside-range"

func TestTintOutsideTheRangeIsAWarning(t *testing.T) {
	for name, c := range map[string]struct {
		ops, holds string
		tint       float64
	}{
		"too light":                    {"/Silver cs .1 scn", "30 to 100 %", 10},
		"a tint of a solid-only toner": {over + "/Clear cs .6 scn", "solids only", 60},
		"a light tint of a mix":        {"/Pale cs .5 scn", "30 to 100 %", 20},
	} {
		t.Run(name, func(t *testing.T) {
			a := artwork{pages: []string{fill(silver, 1, 1, 3, 3) + fill(c.ops, 5, 5, 10, 6)}}
			fs := with(a.check(t), outsideRange)
			if len(fs) == 0 {
				t.Fatal("quiet")
			}
			f := fs[0]
			if d := f.Figures["tint_percent"] - c.tint; f.Severity != finding.Warning || d > .5 || d < -.5 || f.Figures["area_mm2"] < 59 || f.Figures["area_mm2"] > 61 {
				t.Errorf("%v, figures %v, want %g %% on 60", f.Severity, f.Figures, c.tint)
			}
			if !strings.Contains(f.What, c.holds) {
				t.Errorf("what %q, want %q", f.What, c.holds)
			}
			wantItems(t, f, 1)
			wantBox(t, f, 5, 5, 10, 6)
		})
	}
}

func TestTintOutsideTheRangeAdvises(t *testing.T) {
	f := one(t, artwork{pages: []string{fill("/Silver cs .1 scn", 5, 5, 10, 6)}}, outsideRange)
	if !strings.Contains(f.Remedy, "70 % is advised") {
		t.Errorf("remedy %q", f.Remedy)
	}
}

func TestTintsStayQuiet(t *testing.T) {
	// Slanted and curved shapes, whose edges hold every tint.
	shapes := "20 20 m 60 35 l 45 50 l h f 30 30 m 40 45 50 15 60 30 c 55 22 l h f "
	for name, a := range map[string]artwork{
		"anti-aliased edges at 150 dpi":     {dpi: 150, pages: []string{silver + " " + shapes + over + clearIn + " " + shapes}},
		"anti-aliased edges at 200 dpi":     {dpi: 200, pages: []string{silver + " " + shapes + over + clearIn + " " + shapes}},
		"many small shapes":                 {dpi: 150, pages: []string{clearIn + strings.Repeat(" "+shapes+" .9 .05 -.05 .9 1.3 2.1 cm", 20)}},
		"in range":                          {pages: []string{fill("/Silver cs .7 scn", 5, 5, 10, 6)}},
		"at the bound":                      {pages: []string{fill("/Silver cs .3 scn", 5, 5, 10, 6)}},
		"solid":                             {pages: []string{fill(clearIn, 5, 5, 10, 6) + fill(white, 20, 5, 10, 6)}},
		"process colours may have any tint": {pages: []string{fill(".02 .02 .02 0 k", 5, 5, 10, 6)}},
		"less than 0.5 mm2":                 {pages: []string{fill("/Silver cs .1 scn", 5, 5, .6, .6)}},
		"a strip of 0.2 mm":                 {pages: []string{fill("/Silver cs .1 scn", 5, 5, 10, .2)}},
		"beyond the bleed":                  {pages: []string{fill("/Silver cs .1 scn", -9, 5, 5, 6)}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, outsideRange) })
	}
}

const overLimit = "pile-over-limit"

func TestPileInOnePass(t *testing.T) {
	a := artwork{press: "six-station", pages: []string{fill("1 1 .8 .5 k", 5, 5, 10, 6) + fill("1 1 .5 .4 k", 20, 5, 10, 6)}}
	f := one(t, a, overLimit)
	if f.Severity != finding.Error || f.Figures["pile_percent"] != 330 || f.Figures["limit_percent"] != 300 || !strings.Contains(f.What, "in one pass") {
		t.Errorf("%v %v %s", f.Severity, f.Figures, f.What)
	}
	wantItems(t, f, 0)
	// Averaging over 1 mm2 takes a little off the corners only: 330 % falls to 300 % at 0.45 mm from an edge.
	if b := f.Place.Box; b.X < 5 || b.Y < 5 || b.X+b.W > 15 || b.Y+b.H > 11 || b.W < 8.8 || b.H < 4.8 {
		t.Errorf("box %+v", *b)
	}
}

func TestPilePerPassAndInSum(t *testing.T) {
	// 270 % of process colours break the 260 % of a pass; with white and silver 470 % break the 400 % in sum.
	a := artwork{pages: []string{fill(white, 5, 5, 10, 6) + fill(over+silver, 5, 5, 10, 6) + fill(over+"1 1 .7 0 k", 5, 5, 10, 6)}}
	fs := with(a.check(t), overLimit)
	var pass, sum bool
	for _, f := range fs {
		pass = pass || strings.Contains(f.What, "270 % in pass") && f.Figures["limit_percent"] == 260
		sum = sum || strings.Contains(f.What, "470 % in all passes together") && f.Figures["limit_percent"] == 400
	}
	if !pass || !sum {
		t.Errorf("pass %v, sum %v: %s", pass, sum, describe(fs))
	}
}

func TestPileStaysQuiet(t *testing.T) {
	for name, a := range map[string]artwork{
		"at the limit":     {press: "six-station", pages: []string{fill("1 1 1 0 k", 5, 5, 10, 6) + dab("0 0 0 1 k", 5)}},
		"a lone pixel":     {press: "six-station", pages: []string{fill("1 1 1 1 k", 5, 5, .2, .2)}},
		"a line of 0.4 mm": {press: "six-station", pages: []string{fill("1 1 1 1 k", 5, 5, 20, .4)}},
		"knocked out":      {press: "six-station", pages: []string{fill("1 1 1 0 k", 5, 5, 10, 6) + fill(white, 5, 5, 10, 6)}},
		"shared by passes": {pages: []string{fill(white, 5, 5, 10, 6) + fill(over+"1 1 .5 0 k", 5, 5, 10, 6)}},
		"beyond the bleed": {press: "six-station", pages: []string{fill("1 1 1 1 k", -9, 5, 5, 6) + fill("1 1 .5 .4 k", 5, 5, 10, 6) + dab("0 0 1 1 k", 5)}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, overLimit) })
	}
}

package check

import (
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// dab is a small mark to bring a toner in.
func dab(ops string, n float64) string { return fill(ops, 2+4*n, 36, 3, 3) }

const cmyk = "1 .5 .5 0 k"

func TestPassesNeeded(t *testing.T) {
	two := dab("0 0 0 1 k", 0) + dab(silver, 1)
	three := two + dab(gold, 2) + dab(clearIn, 3)
	for name, c := range map[string]struct {
		art      artwork
		passes   float64
		severity finding.Severity
		says     string
	}{
		"two":                        {artwork{pages: []string{two}}, 2, finding.Note, "pass 1 with the set"},
		"three":                      {artwork{pages: []string{three}, press: "five-station"}, 3, finding.Warning, "3 times"},
		"more than the stock stands": {artwork{pages: []string{three}, press: "five-station", hits: 2}, 3, finding.Error, "3 times"},
	} {
		t.Run(name, func(t *testing.T) {
			f := one(t, c.art, "passes-needed")
			if f.Severity != c.severity || f.Figures["passes"] != c.passes || !strings.Contains(f.What, c.says) {
				t.Errorf("%v, %v: %s", f.Severity, f.Figures, f.What)
			}
			if c.severity == finding.Error && !strings.Contains(f.Why, "at most 2 times") {
				t.Errorf("why %q", f.Why)
			}
		})
	}
}

// Hits count both sides of a sheet together: three passes a side are six of the sheet.
func TestPassesOfBothSidesCountTogether(t *testing.T) {
	three := dab("0 0 0 1 k", 0) + dab(silver, 1) + dab(gold, 2) + dab(clearIn, 3)
	ofSheet := func(a artwork) (out []finding.Finding) {
		for _, f := range with(a.check(t), "passes-needed") {
			if f.Place.Page == 0 {
				out = append(out, f)
			}
		}
		return out
	}
	fs := ofSheet(artwork{pages: []string{three, three, three}, press: "five-station", hits: 5})
	if len(fs) != 1 || fs[0].Severity != finding.Error || fs[0].Figures["passes"] != 6 || !strings.Contains(fs[0].What, "pages 1 and 2 goes through the press 6 times") {
		t.Errorf("%s", describe(fs))
	}
	for name, a := range map[string]artwork{
		"as many as it stands":     {pages: []string{three, three}, press: "five-station", hits: 6},
		"one side alone is told":   {pages: []string{three, three}, press: "five-station", hits: 2},
		"printed on one side each": {pages: []string{three, three}, press: "five-station", hits: 5, job: &press.Job{Sides: 1}},
	} {
		if fs := ofSheet(a); len(fs) > 0 {
			t.Errorf("%s: %s", name, describe(fs))
		}
	}
}

func TestOnePassStaysQuiet(t *testing.T) {
	for name, a := range map[string]artwork{
		"process only":        {pages: []string{dab(cmyk, 0)}},
		"special set only":    {pages: []string{dab(white, 0) + dab(silver, 1) + dab(clearIn, 2)}},
		"all in one set":      {press: "six-station", hits: 1, pages: []string{dab(cmyk, 0) + dab(white, 1) + dab(clearIn, 2)}},
		"nothing on the page": {pages: []string{""}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, "passes-needed") })
	}
}

func TestRegisterMarksOutsideTheBleedUseNoToner(t *testing.T) {
	a := artwork{pages: []string{dab(silver, 0) + fill("/Marks cs 1 scn", -9, 10, 4, 1)}, spaces: "/Marks " + pdfbuild.Spot("All", 1, 1, 1, 1)}
	wantQuiet(t, a, "passes-needed")
}

// noYellow is a press without yellow in any set.
const noYellow = `
name: duo
title: Duo
sheet: {width: 300mm, height: 400mm, margins: {lead: 5mm, trail: 5mm, side: 5mm}}
resolution: 600dpi
toners:
  - {name: Cyan, kind: process, stand_in: [100%, 0%, 0%, 0%], mass: 4gsm}
  - {name: Black, kind: process, stand_in: [0%, 0%, 0%, 100%], mass: 4gsm}
sets:
  - {name: duo, stations: [Cyan, Black]}
register: {within: 0.1mm, between: 0.3mm}
pile: {per_pass: 200%, sum: 200%, area: 1mm2}
`

func TestTonerInNoSetCannotBePrinted(t *testing.T) {
	f := one(t, artwork{defs: readPress(t, noYellow), pages: []string{dab("0 0 1 0 k", 0)}}, "passes-needed")
	if f.Severity != finding.Error || !strings.Contains(f.What, "Yellow") || strings.Contains(f.What, "..") || f.Figures != nil {
		t.Errorf("%+v", f)
	}
	wantQuiet(t, artwork{defs: readPress(t, noYellow), pages: []string{dab("1 0 0 1 k", 0)}}, "passes-needed")
}

const knocksOut = "must-overprint-knocks-out"

func TestClearThatKnocksOutIsAnErrorWithItsArea(t *testing.T) {
	picture := fill("1 .5 0 0 k", 5, 5, 20, 20)
	for name, c := range map[string]struct {
		art   artwork
		items []int
	}{
		"knockout":       {artwork{pages: []string{picture + fill(over+clearIn, 6, 6, 4, 4) + fill(knock+clearIn, 15, 15, 20, 5)}}, []int{2}},
		"over a special": {artwork{pages: []string{fill(white, 5, 5, 20, 20) + fill(clearIn, 15, 15, 20, 5)}}, []int{1}},
		"mixed with tints of 0, overprinting": {artwork{build: mixture("/Cyan /Magenta /Clear"),
			pages: []string{picture + fill(over+"/Mix cs 0 0 1 scn", 15, 15, 20, 5)}}, []int{1}},
		"overprinting inside an isolated group": {artwork{group: fill(over+clearIn, 15, 15, 20, 5), pages: []string{picture + "/G Do"}}, []int{2}},
	} {
		t.Run(name, func(t *testing.T) {
			f := one(t, c.art, knocksOut)
			if a := f.Figures["area_mm2"]; f.Severity != finding.Error || a < 48 || a > 52 {
				t.Errorf("%v, area %g, want 50", f.Severity, a)
			}
			wantItems(t, f, c.items...)
			wantBox(t, f, 15, 15, 10, 5)
		})
	}
}

func TestClearThatKnocksOutNamesWhatIsLost(t *testing.T) {
	f := one(t, artwork{pages: []string{fill("1 .5 0 0 k", 5, 5, 20, 20) + fill(clearIn, 15, 15, 20, 5)}}, knocksOut)
	if want := []string{"Clear", "Cyan", "Magenta"}; !slices.Equal(f.Place.Colourants, want) || !strings.Contains(f.What, "Cyan, Magenta") {
		t.Errorf("colourants %q, want %q; %s", f.Place.Colourants, want, f.What)
	}
}

func TestClearStaysQuiet(t *testing.T) {
	picture := fill("1 .5 0 0 k", 5, 5, 20, 20)
	for name, c := range map[string]string{
		"overprinting":                         picture + fill(over+clearIn, 15, 15, 20, 5),
		"multiply":                             picture + fill(multiply+clearIn, 15, 15, 20, 5),
		"on bare stock":                        picture + fill(clearIn, 30, 15, 20, 5),
		"too little to see":                    picture + fill(clearIn, 24.5, 15, 20, .5),
		"below the picture":                    fill(clearIn, 15, 15, 20, 5) + fill(over+"1 .5 0 0 k", 5, 5, 20, 20),
		"covered by what is drawn later":       picture + fill(clearIn, 15, 15, 10, 5) + fill(over+"1 .5 0 0 k", 15, 15, 10, 5),
		"another toner may knock out":          picture + fill(gold, 15, 15, 20, 5),
		"under it there is a shade below 10 %": fill(".08 0 0 0 k", 5, 5, 20, 20) + fill(clearIn, 15, 15, 20, 5),
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, artwork{pages: []string{c}}, knocksOut) })
	}
	t.Run("covered by a shape of the same outline", func(t *testing.T) {
		wantQuiet(t, artwork{dpi: 150, pages: []string{picture + fill(clearIn, 15, 15, 10, 5) + fill(over+"1 .5 0 0 k", 15, 15, 10, 5)}}, knocksOut)
	})
	t.Run("mixed with a colour", func(t *testing.T) {
		wantQuiet(t, artwork{build: mixture("/Cyan /Clear"), pages: []string{picture + fill("/Mix cs .5 1 scn", 15, 15, 10, 5)}}, knocksOut)
	})
}

const coveredLater = "covered-by-later-toner"

func TestTonerUnderAnOpaqueOneLaidLaterIsAnError(t *testing.T) {
	for name, c := range map[string]struct {
		art   artwork
		lost  []string
		items []int
	}{
		"white above gold":   {artwork{pages: []string{fill(gold, 5, 5, 20, 20) + fill(over+white, 15, 15, 20, 5)}}, []string{"White", "Gold"}, []int{1}},
		"multiplied":         {artwork{pages: []string{fill(gold, 5, 5, 20, 20) + fill(multiply+white, 15, 15, 20, 5)}}, []string{"White", "Gold"}, []int{1}},
		"silver above gold":  {artwork{pages: []string{fill(gold, 5, 5, 20, 20) + fill(over+silver, 15, 15, 20, 5)}}, []string{"Silver", "Gold"}, []int{1}},
		"picture over white": {artwork{press: "five-station", pages: []string{fill(white, 5, 5, 20, 20) + fill(over+".8 .5 0 0 k", 15, 15, 20, 5)}}, []string{"Cyan", "Magenta", "White"}, []int{1}},
	} {
		t.Run(name, func(t *testing.T) {
			f := one(t, c.art, coveredLater)
			if a := f.Figures["area_mm2"]; f.Severity != finding.Error || a < 48 || a > 52 {
				t.Errorf("%v, area %g, want 50", f.Severity, a)
			}
			if !slices.Equal(f.Place.Colourants, c.lost) {
				t.Errorf("colourants %q, want %q", f.Place.Colourants, c.lost)
			}
			wantItems(t, f, c.items...)
			wantBox(t, f, 15, 15, 10, 5)
		})
	}
}

func TestTonerOrderStaysQuiet(t *testing.T) {
	for name, a := range map[string]artwork{
		"knocked out":                    {pages: []string{fill(gold, 5, 5, 20, 20) + fill(knock+white, 15, 15, 20, 5)}},
		"drawn as laid":                  {pages: []string{fill(white, 5, 5, 20, 20) + fill(over+gold, 15, 15, 20, 5)}},
		"side by side":                   {pages: []string{fill(gold, 5, 5, 10, 20) + fill(over+white, 15, 15, 20, 5)}},
		"the upper toner is transparent": {pages: []string{fill(clearIn, 5, 5, 20, 20) + fill(over+white, 15, 15, 20, 5)}},
		"a light tint does not hide":     {pages: []string{fill("/Gold cs .3 scn", 5, 5, 20, 20) + fill(over+white, 15, 15, 20, 5)}},
		"painted as one mixture":         {build: mixture("/White /Gold"), pages: []string{fill("/Mix cs 1 1 scn", 5, 5, 20, 20)}},
		"a trap of 0.1 mm":               {dpi: 200, pages: []string{fill(gold, 5, 5, 10, 20) + fill(over+white, 14.9, 5, 10, 20)}},
		"white first in the stations":    {press: "six-station", pages: []string{fill(white, 5, 5, 20, 20) + fill(over+".8 .5 0 0 k", 15, 15, 20, 5)}},
		"knocked out by something later": {pages: []string{fill(gold, 5, 5, 20, 20) + fill(over+white, 15, 15, 20, 5) + fill(knock+gold, 5, 5, 20, 20)}},
		"an underlay by its own word": {step: "/GTS_ProcStepsGroup /White",
			pages: []string{fill(gold, 5, 5, 20, 20) + "/OC /Step BDC " + fill(over+white, 15, 15, 20, 5) + "EMC "}},
		"drawn again above, as it is laid": {pages: []string{fill(gold, 5, 5, 20, 20) + fill(over+white, 15, 15, 10, 5) + fill(gold, 15, 15, 10, 5)}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, coveredLater) })
	}
}

const onDark = "process-on-dark-stock"

func TestProcessOnDarkStockWithoutWhite(t *testing.T) {
	for stock, severity := range map[string]finding.Severity{"black-board": finding.Error, "midnight-blue-board": finding.Error,
		"kraft": finding.Warning, "silver-metallised-board": finding.Warning} {
		t.Run(stock, func(t *testing.T) {
			a := artwork{stock: stock, pages: []string{fill(white, 5, 5, 20, 20) + fill(over+".8 .5 0 0 k", 10, 10, 25, 10)}}
			f := one(t, a, onDark)
			if area := f.Figures["area_mm2"]; f.Severity != severity || area < 98 || area > 102 {
				t.Errorf("%v, area %g, want 100", f.Severity, area)
			}
			if !strings.Contains(f.Remedy, `"White"`) || !slices.Equal(f.Place.Colourants, []string{"Cyan", "Magenta"}) {
				t.Errorf("remedy %q, colourants %q", f.Remedy, f.Place.Colourants)
			}
			wantItems(t, f, 1)
			wantBox(t, f, 25, 10, 10, 10)
		})
	}
}

func TestProcessKnockingOutItsWhiteOnDarkStock(t *testing.T) {
	a := artwork{stock: "black-board", pages: []string{fill(white, 5, 5, 20, 20) + fill(".8 .5 0 0 k", 10, 10, 10, 10)}}
	wantBox(t, one(t, a, onDark), 10, 10, 10, 10)
}

func TestWhiteLaidOverTheProcessColoursIsNoWhiteUnderThem(t *testing.T) {
	a := artwork{stock: "black-board", press: "five-station", pages: []string{fill(white, 5, 5, 20, 20) + fill(over+".8 .5 0 0 k", 10, 10, 10, 10)}}
	one(t, a, onDark)
}

func TestProcessOnDarkStockStaysQuiet(t *testing.T) {
	for name, a := range map[string]artwork{
		"white under it":      {pages: []string{fill(white, 5, 5, 20, 20) + fill(over+".8 .5 0 0 k", 5, 5, 20, 20)}},
		"on white stock":      {stock: "white-gloss", pages: []string{fill(".8 .5 0 0 k", 5, 5, 20, 20)}},
		"white choked 0.1 mm": {dpi: 200, pages: []string{fill(white, 5.1, 5.1, 19.8, 19.8) + fill(over+".8 .5 0 0 k", 5, 5, 20, 20)}},
		"black only":          {pages: []string{fill("0 0 0 1 k", 5, 5, 20, 20)}},
		"rich black":          {pages: []string{fill(".6 .4 .4 1 k", 5, 5, 20, 20)}},
		"a metal under it":    {press: "two-set", pages: []string{fill(silver, 5, 5, 20, 20) + fill(over+"0 .5 0 0 k", 5, 5, 20, 20)}, alter: specialFirst},
		"beyond the bleed":    {pages: []string{fill(".8 .5 0 0 k", -9, 5, 5, 20)}},
		"a hair line":         {pages: []string{fill(".8 .5 0 0 k", 5, 5, 20, .3)}},
	} {
		t.Run(name, func(t *testing.T) {
			if a.stock == "" {
				a.stock = "black-board"
			}
			wantQuiet(t, a, onDark)
		})
	}
}

// specialFirst turns the passes round so that the special set goes first.
func specialFirst(p *Page) {
	if len(p.Passes) == 2 && p.Passes[1].Set.Name == "special" {
		p.Passes[0], p.Passes[1] = p.Passes[1], p.Passes[0]
	}
}

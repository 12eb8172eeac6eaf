package check

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// quiet holds pages a rule must say nothing of.
type quiet map[string]artwork

// holds fails unless the rule speaks once of the page, as severe as said, and is quiet on its sound twins.
func holds(t *testing.T, id finding.ID, sev finding.Severity, a artwork, twins quiet) finding.Finding {
	t.Helper()
	f := one(t, a, id)
	if f.Severity != sev {
		t.Errorf("%v, want %v: %s", f.Severity, sev, f.What)
	}
	if f.What == "" || f.Why == "" || f.Remedy == "" || !strings.HasSuffix(f.What, ".") {
		t.Errorf("what %q, why %q, remedy %q", f.What, f.Why, f.Remedy)
	}
	for name, twin := range twins {
		t.Run(name, func(t *testing.T) { wantQuiet(t, twin, id) })
	}
	return f
}

// wantArea fails unless the finding's area is near the one given, within a tenth: pixels of a fifth of a
// millimetre.
func wantArea(t *testing.T, f finding.Finding, mm2 float64) {
	t.Helper()
	if a := f.Figures["area_mm2"]; a < .9*mm2 || a > 1.1*mm2 {
		t.Errorf("area %g, want %g", a, mm2)
	}
}

func onHidden(content string) string { return "/OC /Off BDC " + content + " EMC " }

func TestTonerOnHiddenLayersOnly(t *testing.T) {
	f := holds(t, "colourant-on-hidden-layers-only", finding.Warning,
		artwork{hidden: true, pages: []string{fill(gold, 20, 5, 3, 3) + onHidden(fill(silver, 5, 5, 10, 6))}}, quiet{
			"on a shown layer too":  {hidden: true, pages: []string{fill(silver, 20, 5, 3, 3) + onHidden(fill(silver, 5, 5, 10, 6))}},
			"shown":                 {pages: []string{fill(silver, 5, 5, 10, 6)}},
			"no toner of the press": {hidden: true, pages: []string{onHidden(fill("/Moon cs 1 scn", 5, 5, 10, 6))}, spaces: "/Moon " + pdfbuild.Spot("Moon", 0, 0, 0, .5)},
		})
	if f.Place.Layer != "Hidden" || f.Place.Colourants[0] != "Silver" {
		t.Errorf("%+v", f.Place)
	}
	wantBox(t, f, 5, 5, 10, 6)
}

func TestTonerAskedForUnused(t *testing.T) {
	wishes := press.Wishes{Underlay: []press.UnderlayWish{{Toner: "White", Under: []string{"process"}}}, Clear: []press.ClearWish{{Toner: "Clear", Over: []string{"Seal"}}}}
	both := fill(white, 5, 5, 10, 6) + fill(over+clearIn, 5, 5, 10, 6)
	f := holds(t, "toner-asked-for-unused", finding.Error, artwork{job: &press.Job{Wishes: wishes}, pages: []string{fill(white, 5, 5, 10, 6)}}, quiet{
		"used":               {job: &press.Job{Wishes: wishes}, pages: []string{both}},
		"used on other page": {job: &press.Job{Wishes: wishes}, pages: []string{fill(white, 5, 5, 10, 6), fill(clearIn, 5, 5, 10, 6)}},
		"no wish":            {job: &press.Job{}, pages: []string{fill(white, 5, 5, 10, 6)}},
		"no job":             {pages: []string{""}},
	})
	if !strings.Contains(f.What, "Clear over Seal") || len(f.Remedies) > 0 {
		t.Errorf("%s %v; there is nothing on the layer Seal", f.What, f.Remedies)
	}
	f = one(t, artwork{job: &press.Job{Wishes: wishes}, layer: "Seal", pages: []string{fill(white, 5, 5, 10, 6) + "/OC /L BDC " + fill(over+"1 0 0 0 k", 5, 5, 10, 6) + "EMC "}}, "toner-asked-for-unused")
	if f.Remedies[0] != "make-clear" {
		t.Errorf("%s %v", f.What, f.Remedies)
	}
}

func TestRegistrationColourInsideTheTrim(t *testing.T) {
	all := "/All " + pdfbuild.Spot("All", 1, 1, 1, 1)
	const marks = "/All cs 1 scn"
	f := holds(t, "registration-colour-inside-trim", finding.Error, artwork{spaces: all, pages: []string{fill(marks, 5, 5, 10, 6)}}, quiet{
		"beyond the trim":          {spaces: all, pages: []string{fill(marks, -8, 5, 4, .2)}},
		"at the trim":              {spaces: all, pages: []string{fill(marks, -8, 5, 8.2, .4)}},
		"round the trim, one path": {spaces: all, pages: []string{marks + " " + box(-8, 0, 4, .2) + box(64, 0, 4, .2) + box(-8, 40, 4, .2) + "f\n"}},
		"0.09 mm2":                 {spaces: all, dpi: 508, pages: []string{fill(marks, 5, 5, .3, .3)}},
		"tint 0":                   {spaces: all, pages: []string{fill("/All cs 0 scn", 5, 5, 10, 6)}},
		"no trim box":              {spaces: all, boxes: "none", pages: []string{fill(marks, 5, 5, 10, 6)}},
	})
	wantArea(t, f, 60)
	wantBox(t, f, 5, 5, 10, 6)
	one(t, artwork{spaces: all, dpi: 508, pages: []string{fill(marks, 5, 5, .35, .35)}}, "registration-colour-inside-trim")
}

func TestWhiteSetToOverprintVanishes(t *testing.T) {
	below := fill(cmyk, 5, 5, 20, 20)
	f := holds(t, "white-overprint-vanishes", finding.Error, artwork{pages: []string{below + fill(over+"0 0 0 0 k", 8, 8, 6, 4)}}, quiet{
		"knocking out":         {pages: []string{below + fill(knock+"0 0 0 0 k", 8, 8, 6, 4)}},
		"on bare stock":        {pages: []string{below + fill(over+"0 0 0 0 k", 30, 8, 6, 4)}},
		"white toner":          {pages: []string{below + fill(over+white, 8, 8, 6, 4)}},
		"a colour":             {pages: []string{below + fill(over+"0 0 0 .1 k", 8, 8, 6, 4)}},
		"gray knocks out too":  {pages: []string{below + fill(over+"1 g", 8, 8, 6, 4)}},
		"less than 0.1 mm2":    {dpi: 508, pages: []string{below + fill(over+"0 0 0 0 k", 8, 8, .3, .3)}},
		"covered again":        {pages: []string{below + fill(over+"0 0 0 0 k", 8, 8, 6, 4) + fill(cmyk, 8, 8, 6, 4)}},
		"beyond the bleed":     {pages: []string{fill(cmyk, -9, 5, 5, 5) + fill(over+"0 0 0 0 k", -8, 6, 2, 2)}},
		"over a special toner": {pages: []string{fill(over+"0 0 0 0 k", 8, 8, 6, 4) + fill(silver, 5, 5, 20, 20)}},
	})
	wantArea(t, f, 24)
	wantItems(t, f, 1)
	one(t, artwork{pages: []string{fill(silver, 5, 5, 20, 20) + fill(over+"0 0 0 0 k", 8, 8, 6, 4)}}, "white-overprint-vanishes")
}

func TestTwoNamesWithOneLook(t *testing.T) {
	twin := func(name string, k float64) string { return "/Twin " + pdfbuild.Spot(name, 0, 0, 0, k) }
	pages := []string{fill(silver, 5, 5, 10, 6) + fill("/Twin cs 1 scn", 20, 5, 10, 6)}
	f := holds(t, "one-look-two-names", finding.Warning, artwork{pages: pages, spaces: twin("Moonshine", .45)}, quiet{
		"another look": {pages: pages, spaces: twin("Moonshine", .46)},
		"one name":     {pages: pages, spaces: twin("Silver", .45)},
		"not painted":  {pages: []string{fill(silver, 5, 5, 10, 6)}, spaces: twin("Moonshine", .45)},
	})
	if len(f.Place.Colourants) != 2 || f.Place.Colourants[1] != "Silver" {
		t.Errorf("%v", f.Place.Colourants)
	}
	holds(t, "one-look-two-names", finding.Note, artwork{pages: pages, spaces: twin("Clear", .45)}, nil)
	holds(t, "one-look-two-names", finding.Note, artwork{press: "none", pages: pages, spaces: twin("Moonshine", .45)}, nil)
}

func TestMixtureNamesMissingToner(t *testing.T) {
	pages := []string{fill("/Mix cs 1 1 scn", 5, 10, 20, 8)}
	f := holds(t, "mixture-names-missing-toner", finding.Error, artwork{pages: pages, build: mixture("/Silver /Moon")}, quiet{
		"both mounted":         {pages: pages, build: mixture("/Silver /Gold")},
		"only process is lost": {pages: pages, build: mixture("/Cyan /Moon")},
		"no press":             {press: "none", pages: pages, build: mixture("/Silver /Moon")},
	})
	if !strings.Contains(f.What, `Silver is mixed with "Moon"`) {
		t.Error(f.What)
	}
	wantItems(t, f, 0)
}

// blend is the resource of an axial blend /B between two colours of a space.
func blend(space, from, to string) string {
	return "/Shading << /B << /ShadingType 2 /ColorSpace " + space + " /Coords [40 40 80 40] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [" +
		from + "] /C1 [" + to + "] >> >> >>"
}

// row is the dictionary of an image of one row of n pixels, 8 bits deep.
func row(space string, n int) string {
	return fmt.Sprintf("/Height 1 /BitsPerComponent 8 /Width %d /ColorSpace %s", n, space)
}

func TestTonerLookInBlendOrImage(t *testing.T) {
	const id = "toner-look-in-blend-or-image"
	sh := []string{"q " + box(5, 5, 20, 20) + "W n /B sh Q\n"}
	gold, near := ".2 .35 .8 .15", ".2 .36 .8 .15"
	f := holds(t, id, finding.Warning, artwork{pages: sh, res: blend("/DeviceCMYK", gold, "0 0 0 0")}, quiet{
		"another colour":     {pages: sh, res: blend("/DeviceCMYK", near, "0 0 0 0")},
		"tints of the toner": {pages: sh, res: blend("[/Separation /Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 ["+gold+"] >>]", "1", "0")},
		"one ink":            {pages: sh, res: blend("/DeviceCMYK", "0 0 0 .45", "0 0 0 0")},
	})
	if !strings.Contains(f.What, `"Gold"`) {
		t.Error(f.What)
	}
	// 20 % 35 % 80 % 15 % in bytes.
	const golden, other = "\x33\x59\xcc\x26", "\x10\x20\x30\x40"
	pic := func(n int) artwork {
		return artwork{pages: []string{shown("", 5, 5, 10, 6)}, picture: row("/DeviceCMYK", 20), samples: strings.Repeat(golden, n) + strings.Repeat(other, 20-n)}
	}
	holds(t, id, finding.Warning, pic(1), quiet{"4 % of the pixels": {pages: pic(1).pages, picture: row("/DeviceCMYK", 25), samples: golden + strings.Repeat(other, 24)}})
	rgb := artwork{pages: []string{fill("/Shine cs 1 scn", 20, 5, 3, 3) + shown("", 5, 5, 10, 6)}, picture: row("/DeviceRGB", 2), samples: "\xcc\x99\x33abc", job: &press.Job{Assign: map[string]string{"Shine": "Gold"}},
		spaces: "/Shine [/Separation /Shine /DeviceRGB << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1 1 1] /C1 [.8 .6 .2] >>]"}
	holds(t, id, finding.Warning, rgb, nil)
}

func TestAssignedNameMissing(t *testing.T) {
	const id = "assigned-name-missing"
	shine := "/Shine " + pdfbuild.Spot("Moon#20Shine", 0, 0, 0, .4)
	pages := []string{fill("/Shine cs 1 scn", 5, 5, 10, 6)}
	f := holds(t, id, finding.Warning, artwork{pages: pages, spaces: shine, job: &press.Job{Assign: map[string]string{"Moonshine": "Silver"}}}, quiet{
		"there":  {pages: pages, spaces: shine, job: &press.Job{Assign: map[string]string{"Moon Shine": "Silver"}}},
		"no job": {pages: pages, spaces: shine},
	})
	if !strings.Contains(f.Remedy, `"Moon Shine"`) {
		t.Error(f.Remedy)
	}
}

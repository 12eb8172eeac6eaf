package check

import (
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

var twoSilvers = "/Grey " + pdfbuild.Spot("Silver", 0, 0, 0, .45) + " /Blue " + pdfbuild.Spot("Silver", .5, .2, 0, 0)

func TestDifferingDefinitionsOfOneNameAreAWarning(t *testing.T) {
	a := artwork{spaces: twoSilvers, pages: []string{
		fill("/Grey cs 1 scn", 1, 1, 5, 5) + fill("/Blue cs 1 scn", 10, 10, 6, 4) + fill("/Blue cs 1 scn", 20, 10, 6, 4)}}
	f := one(t, a, "colourant-definitions-differ")
	if f.Severity != finding.Warning || !strings.Contains(f.What, "CMYK 0 0 0 45") || !strings.Contains(f.What, "CMYK 50 20 0 0") {
		t.Errorf("%v %q", f.Severity, f.What)
	}
	wantItems(t, f, 1, 2)
	wantBox(t, f, 10, 10, 16, 4)
}

func TestDifferingDefinitionsOverTwoPagesAreFoundOnTheSecond(t *testing.T) {
	a := artwork{spaces: twoSilvers, pages: []string{fill("/Grey cs 1 scn", 1, 1, 5, 5), fill("/Blue cs 1 scn", 10, 10, 6, 4)}}
	f := one(t, a, "colourant-definitions-differ")
	if f.Place.Page != 2 || !strings.Contains(f.What, "(page 1)") || !strings.Contains(f.What, "(page 2)") {
		t.Errorf("page %d: %q", f.Place.Page, f.What)
	}
}

func TestDefinitionsThatLookAlikeStayQuiet(t *testing.T) {
	stitched := "/Grey " + pdfbuild.Spot("Silver", 0, 0, 0, .45) + " /Same [/Separation /Silver /DeviceCMYK << /FunctionType 3 /Domain [0 1] /Functions " +
		"[<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 0 0 .45] >>] /Bounds [] /Encode [0 1] >>]"
	for name, a := range map[string]artwork{
		"written differently": {spaces: stitched, pages: []string{fill("/Grey cs 1 scn", 1, 1, 5, 5) + fill("/Same cs 1 scn", 9, 1, 5, 5)}},
		"defined, not used":   {spaces: twoSilvers, pages: []string{fill("/Grey cs 1 scn", 1, 1, 5, 5)}},
		"hidden":              {spaces: twoSilvers, hidden: true, pages: []string{fill("/Grey cs 1 scn", 1, 1, 5, 5) + "/OC /Off BDC " + fill("/Blue cs 1 scn", 9, 1, 5, 5) + "EMC"}},
		"all": {spaces: "/A1 " + pdfbuild.Spot("All", 1, 1, 1, 1) + " /A2 " + pdfbuild.Spot("All", 0, 0, 0, 1),
			pages: []string{fill("/A1 cs 1 scn", 1, 1, 5, 5) + fill("/A2 cs 1 scn", 9, 1, 5, 5)}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, "colourant-definitions-differ") })
	}
}

func TestStandInPaintedInProcessColourIsFound(t *testing.T) {
	for _, c := range []struct {
		ops, name string
		severity  finding.Severity
	}{
		{".2 .35 .8 .15 k", "Gold", finding.Error},
		{".203 .348 .8 .15 k", "Gold", finding.Error}, // rounded on its way
		{".1 .18 .45 .12 k", "Pale Gold", finding.Error},
		{".25 0 0 .1 k", "White", finding.Warning}, // two inks: may be meant
	} {
		t.Run(c.ops, func(t *testing.T) {
			a := artwork{pages: []string{fill("1 0 0 0 k", 1, 1, 5, 5) + fill(c.ops, 10, 10, 6, 4)}}
			f := one(t, a, "stand-in-in-process-colour")
			if f.Severity != c.severity || f.Place.Colourants[0] != c.name {
				t.Errorf("%v %q", f.Severity, f.Place.Colourants)
			}
			wantItems(t, f, 1)
			wantBox(t, f, 10, 10, 6, 4)
		})
	}
}

func TestStandInInProcessColourStaysQuiet(t *testing.T) {
	for name, ops := range map[string]string{
		"the toner itself": gold, "another colour": ".22 .35 .8 .15 k", "one ink is too usual": "0 .2 0 0 k", "rgb": ".2 .35 .8 rg",
	} {
		t.Run(name, func(t *testing.T) {
			wantQuiet(t, artwork{pages: []string{fill(ops, 10, 10, 6, 4)}}, "stand-in-in-process-colour")
		})
	}
}

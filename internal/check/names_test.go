package check

import (
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// named is a page with a box painted in a colourant of that PDF name.
func named(name string) artwork {
	return artwork{pages: []string{fill(white, 1, 1, 3, 3) + fill("/X cs 1 scn", 5, 10, 20, 8)}, spaces: "/X " + pdfbuild.Spot(name, 0, .5, .3, 0)}
}

func TestUnknownColourantIsAnError(t *testing.T) {
	f := one(t, named("Moon#20Dust"), "colourant-unknown")
	if f.Severity != finding.Error || f.Place.Colourants[0] != "Moon Dust" || !strings.Contains(f.What, `"Moon Dust"`) {
		t.Errorf("%+v", f)
	}
	if !strings.Contains(f.Remedy, "White, Silver, Gold, Clear, Pale Gold") || strings.Contains(f.Remedy, "Cyan") {
		t.Errorf("remedy %q", f.Remedy)
	}
	wantItems(t, f, 1)
	wantBox(t, f, 5, 10, 20, 8)
}

func TestUnknownColourantStaysQuiet(t *testing.T) {
	assigned := named("Moon#20Dust")
	assigned.job = &press.Job{Assign: map[string]string{"Moon Dust": "Silver"}}
	unused := named("Moon#20Dust")
	unused.pages = []string{fill(white, 1, 1, 3, 3)}
	for name, a := range map[string]artwork{
		"toner": named("White"), "mix": named("Pale#20Gold"), "process name": named("Cyan"), "all": named("All"), "none": named("None"),
		"nearly right": named("white"), "assigned by the job": assigned, "defined but not used": unused,
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, "colourant-unknown") })
	}
}

func TestUnknownColourantInAMixtureTakesItsTonersAlong(t *testing.T) {
	a := artwork{pages: []string{fill("/Mix cs 1 1 scn", 5, 10, 20, 8)}, build: mixture("/Silver /Moon")}
	if f := one(t, a, "colourant-unknown"); !strings.Contains(f.Why, "mixed with Silver") {
		t.Errorf("why %q", f.Why)
	}
}

func TestNameOnHiddenLayerIsANote(t *testing.T) {
	for id, name := range map[finding.ID]string{"colourant-unknown": "Moon#20Dust", "colourant-name-nearly-right": "white"} {
		a := named(name)
		a.pages = []string{"/OC /Off BDC " + fill("/X cs 1 scn", 5, 10, 20, 8) + "EMC\n"}
		a.hidden = true
		if f := one(t, a, id); f.Severity != finding.Note {
			t.Errorf("%s is %v, want a note", id, f.Severity)
		}
	}
}

func TestNearlyRightNameIsAnErrorWithTheNameWanted(t *testing.T) {
	for _, c := range []struct{ name, want string }{
		{"white", "White"}, {"WHITE", "White"}, {"White#20", "White"}, {"#20White", "White"}, {"Whi#20te", "White"},
		{"Whit#C3#A9", "White"}, {"S#C3#ADlver", "Silver"}, {"Pale_Gold", "Pale Gold"}, {"Pale-Gold", "Pale Gold"}, {"PaleGold", "Pale Gold"},
		{"Pale.Gold", "Pale Gold"}, {"Spot#20White", "White"}, {"spot_white", "White"}, {"White#20Ink", "White"}, {"Metallic#20Gold", "Gold"},
		{"Transparent", "Clear"}, {"Champagne", "Pale Gold"}, {"Sliver", "Silver"}, {"Golld", "Gold"}, {"cyan", "Cyan"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := named(c.name)
			f := one(t, a, "colourant-name-nearly-right")
			if f.Severity != finding.Error || len(f.Notes) != 1 || f.Notes[0] != "wanted name: "+c.want {
				t.Errorf("severity %v, notes %q, want %q", f.Severity, f.Notes, c.want)
			}
			wantItems(t, f, 1)
			wantQuiet(t, a, "colourant-unknown")
		})
	}
}

func TestNearlyRightNameStaysQuiet(t *testing.T) {
	assigned := named("white")
	assigned.job = &press.Job{Assign: map[string]string{"white": "White"}}
	for name, a := range map[string]artwork{"right": named("White"), "far off": named("Moon#20Dust"), "assigned by the job": assigned} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, "colourant-name-nearly-right") })
	}
}

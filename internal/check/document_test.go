package check

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

// trimBox is a TrimBox of w x h mm in the lower left of the usual trim.
func trimBox(w, h float64) string {
	const k = geom.PointsPerMM
	return fmt.Sprintf("/TrimBox [%g %g %g %g]", slug*k, slug*k, (slug+w)*k, (slug+h)*k)
}

func TestMissingTrimBoxIsAWarning(t *testing.T) {
	f := one(t, artwork{boxes: "none", pages: []string{""}}, "finished-size-unclear")
	if f.Severity != finding.Warning || !strings.Contains(f.What, "80.0 × 60.0 mm") {
		t.Errorf("%v %s", f.Severity, f.What)
	}
	wantQuiet(t, artwork{pages: []string{""}}, "finished-size-unclear")
}

func TestFinishedSizeAgainstTheJob(t *testing.T) {
	job := &press.Job{Finished: &press.Size{Width: 60, Height: 40}}
	for name, c := range map[string]struct {
		art      artwork
		severity finding.Severity
		found    bool
	}{
		"equal":               {artwork{boxes: trimBox(60, 40), job: job}, 0, false},
		"within 0.3 mm":       {artwork{boxes: trimBox(60.2, 39.8), job: job}, 0, false},
		"no wish":             {artwork{boxes: trimBox(50, 40)}, 0, false},
		"differs":             {artwork{boxes: trimBox(59.5, 40), job: job}, finding.Error, true},
		"turned by a quarter": {artwork{boxes: trimBox(60, 40), job: &press.Job{Finished: &press.Size{Width: 40, Height: 60}}}, finding.Note, true},
	} {
		t.Run(name, func(t *testing.T) {
			c.art.pages = []string{""}
			if !c.found {
				wantQuiet(t, c.art, "finished-size-differs")
				return
			}
			if f := one(t, c.art, "finished-size-differs"); f.Severity != c.severity || f.Figures["width_mm"] == 0 {
				t.Errorf("%v, want %v; %v", f.Severity, c.severity, f.Figures)
			}
		})
	}
}

const noBleed = "bleed-missing"

func TestBleedMissing(t *testing.T) {
	for name, c := range map[string]struct {
		content, edges, plates string
		length                 float64
	}{
		"left":            {fill("1 0 0 0 k", 0, 5, 10, 10), "left edge", "Cyan", 10},
		"right":           {fill(silver, 50, 5, 10, 12), "right edge", "Silver", 12},
		"top":             {fill("1 0 0 0 k", 5, 0, 8, 10), "top edge", "Cyan", 8},
		"bottom":          {fill("1 1 0 0 k", 5, 30, 8, 10), "bottom edge", "Cyan, Magenta", 8},
		"all":             {fill("1 0 0 0 k", 0, 0, trimW, trimH), "left, right, top and bottom edges", "Cyan", 200},
		"1 mm too little": {fill("1 0 0 0 k", -2, 5, 10, 10), "left edge", "Cyan", 10},
		"hardly touching": {fill("1 0 0 0 k", .1, 5, 10, 10), "left edge", "Cyan", 10},
		"white goes on":   {fill(white, -3, -3, 20, 46) + fill(over+"1 0 0 0 k", 0, 5, 10, 10), "left edge", "Cyan", 10},
		"two by the side": {fill("1 0 0 0 k", 0, 5, 10, 5) + fill("1 0 0 0 k", 0, 20, 10, 5), "left edge", "Cyan", 10},
		"a tint of 15 %":  {fill(".15 0 0 0 k", 0, 5, 10, 10), "left edge", "Cyan", 10},
	} {
		t.Run(name, func(t *testing.T) {
			f := one(t, artwork{pages: []string{c.content}}, noBleed)
			if !strings.Contains(f.What, "at the "+c.edges+" but") || strings.Join(f.Place.Colourants, ", ") != c.plates {
				t.Errorf("%s; %q", f.What, f.Place.Colourants)
			}
			if d := f.Figures["length_mm"] - c.length; d > .5 || d < -.5 {
				t.Errorf("length %v, want %g", f.Figures, c.length)
			}
		})
	}
	f := one(t, artwork{pages: []string{fill("1 0 0 0 k", 20, 5, 10, 10) + fill("1 0 0 0 k", 0, 5, 10, 10)}}, noBleed)
	wantBox(t, f, 0, 5, .6, 10)
	wantItems(t, f, 1)
}

func TestBleedIsTheOneOfTheJob(t *testing.T) {
	c := fill("1 0 0 0 k", -2, 5, 10, 10)
	wantQuiet(t, artwork{pages: []string{c}, job: &press.Job{Bleed: 2}}, noBleed)
	if f := one(t, artwork{pages: []string{c}, job: &press.Job{Bleed: 2.5}}, noBleed); !strings.Contains(f.What, "2.5 mm") {
		t.Error(f.What)
	}
}

func TestBleedStaysQuiet(t *testing.T) {
	for name, a := range map[string]artwork{
		"bleeding all round":              {pages: []string{fill("1 0 0 0 k", -3, -3, trimW+6, trimH+6)}},
		"bleeding at 150 dpi":             {dpi: 150, pages: []string{fill("1 0 0 0 k", -3, -3, trimW+6, trimH+6)}},
		"white choked under the bleed":    {dpi: 200, pages: []string{fill(white, -2.9, -2.9, trimW+5.8, trimH+5.8) + fill(over+"1 0 0 0 k", -3, -3, trimW+6, trimH+6)}},
		"nothing at the edge":             {pages: []string{fill("1 0 0 0 k", 1, 1, trimW-2, trimH-2)}},
		"no TrimBox":                      {boxes: "none", pages: []string{fill("1 0 0 0 k", -slug, -slug, 80, 60)}},
		"a stroke of less than 1 mm":      {pages: []string{fill("1 0 0 0 k", 0, 5, 10, .7)}},
		"a shape drawn to end in a point": {pages: []string{"1 0 0 0 k 9 30 m 20 35 l 20 25 l h f"}},
		"light shade only":                {pages: []string{fill(".06 0 0 0 k", 0, 5, 10, 10)}},
	} {
		t.Run(name, func(t *testing.T) { wantQuiet(t, a, noBleed) })
	}
}

func TestIncompletePageIsNeverClean(t *testing.T) {
	a := artwork{pages: []string{fill("1 0 0 0 k", 5, 5, 10, 10)}}
	wantQuiet(t, a, "page-incomplete")
	a.alter = func(p *Page) { p.List.Incomplete = true }
	if f := one(t, a, "page-incomplete"); !f.Incomplete || f.Severity != finding.Error || f.Class != finding.Unsupported {
		t.Errorf("%+v", f)
	}
}

func TestLayersThatAViewerShowsOtherwiseAreAWarning(t *testing.T) {
	a := artwork{pages: []string{""}}
	wantQuiet(t, a, "layers-differ-in-viewer")
	a.alter = func(p *Page) { p.List.ViewerDiffers = true }
	if f := one(t, a, "layers-differ-in-viewer"); f.Severity != finding.Warning {
		t.Errorf("%+v", f)
	}
}

package report

import (
	"bytes"
	"image"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/plan"
)

func sample() *Data {
	box := &finding.BoxMM{X: 10, Y: 5, W: 20, H: 8}
	return &Data{
		File: "ticket <1>.pdf", Press: "Two-set press", Stock: "Black board", StockSwatch: "#101010", Version: "test",
		Pages: []Page{{
			Number: 1, WidthMM: 100, HeightMM: 50, TrimMM: finding.BoxMM{X: 5, Y: 5, W: 90, H: 40}, DPI: 72,
			Look: image.NewRGBA(image.Rect(0, 0, 10, 5)),
			Findings: []finding.Finding{
				{ID: "a", Severity: finding.Error, What: "First thing.", Why: "Because.", Remedy: "Do it.", Place: finding.Place{Page: 1, Box: box, Items: []int{3, 4}}},
				{ID: "b", Severity: finding.Warning, What: "Second thing.", Place: finding.Place{Page: 1, Box: box}, Count: 3},
			},
			Plates: []Plate{{Name: "White", Kind: "opaque white", Coverage: 42.44, Max: 100, Picture: image.NewGray(image.Rect(0, 0, 4, 4)), Swatch: "#ffffff"}},
			Passes: []Pass{{Set: "set special", Toners: []Layer{{Name: "White", Swatch: "#fff", Used: true}, {Name: "Gold", Swatch: "transparent"}}}},
		}},
		Cautions: []string{"Hot."},
	}
}

func write(t *testing.T, d *Data) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestReport_shows_findings_plates_and_passes(t *testing.T) {
	got := write(t, sample())
	for _, want := range []string{"First thing.", "Because.", "Do it.", "(3 times)", "10 mm from the left, 5 mm from the top of the trim; 20 × 8 mm",
		"items 3, 4", "42.4 %", "Gold (not used)", "Pass 1", "Hot.", "Not ready to print.", "1 error, 1 warning", `id="p1f2"`, `href="#p1f2"`} {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
}

func TestReport_is_self_contained(t *testing.T) {
	got := write(t, sample())
	for _, bad := range []string{"http://", "https://", "<script", "url("} {
		if strings.Contains(got, bad) {
			t.Errorf("the report reaches outside itself: %q", bad)
		}
	}
}

func TestReport_escapes_what_files_say(t *testing.T) {
	d := sample()
	d.Pages[0].Plates[0].Name = "<img src=x onerror=alert(1)>"
	if got := write(t, d); strings.Contains(got, "<img src=x") || strings.Contains(got, "ticket <1>") {
		t.Error("text from the file reaches the page unescaped")
	}
}

func TestReport_is_the_same_for_the_same_job(t *testing.T) {
	if write(t, sample()) != write(t, sample()) {
		t.Error("two runs differ")
	}
}

func TestTags_do_not_cover_each_other(t *testing.T) {
	got := tags(sample().Pages[0])
	if len(got) != 2 || got[1].Left-got[0].Left < 3 {
		t.Errorf("two findings in one place get tags %v", got)
	}
}

func TestReport_says_when_clean(t *testing.T) {
	d := sample()
	d.Clean, d.Pages[0].Findings = true, nil
	if got := write(t, d); !strings.Contains(got, "Nothing stands against printing.") || !strings.Contains(got, "no findings") {
		t.Error("a clean job is not called clean")
	}
}

func TestReport_tells_the_plan_with_formulas(t *testing.T) {
	d := sample()
	grams, total := 0.1025, 144.7
	d.Plan = &Plan{Wishes: []string{"White under process"}, Name: "as wished", Why: []string{"Page 1: 2 passes."}, Between: 0.4, Within: 0.1,
		Work:     []Work{{1, "special", false, "1", false, 1, "White, Gold"}, {2, "process", true, "1", false, 2, "Cyan"}},
		Register: []string{"page 1: White of pass 1 and Cyan of pass 2 lie on each other."},
		Ways:     []Way{{"as wished", 2, 1, "60 min", "144.70 EUR", "0.579 EUR", ""}, {"without <Clear>", 2, 1, "50 min", "not given", "not given", "no change"}},
		Reckoning: &plan.Reckoning{Quantity: 250, Up: 4, Assumptions: []string{"The first set is in."},
			Toner:    []plan.TonerFigures{{Toner: "White", Piece: plan.Figure{Value: &grams, Unit: "g", Formula: "0.0227 m² × 45 % × 10 g/m²"}, Cost: plan.Figure{NotGiven: []string{"price of a kilogram of White"}}}},
			Total:    plan.Figure{What: "cost", Value: &total, Unit: "EUR", Formula: "clicks + stock", NotGiven: []string{"price of a kilogram of White"}},
			PerPiece: plan.Figure{What: "cost of a piece"}}}
	got := write(t, d)
	for _, want := range []string{"“White under process”", "process (changed)", "White, Gold", "may be off each other by 0.4 mm", "0.1025 g", "0.0227 m² × 45 % × 10 g/m²", "144.70 EUR &#43; ?",
		"(not given: price of a kilogram of White)", "without &lt;Clear&gt;", "The first set is in."} {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	d.Plan = &Plan{Impossible: "page 1: no order keeps both", Remedy: "give up one"}
	if got := write(t, d); !strings.Contains(got, "It cannot be printed as wished:") || !strings.Contains(got, "give up one") {
		t.Error("nothing is said of a job that cannot be printed")
	}
}

// Names as long as a line and tables wider than a telephone neither leave their box nor are out of reach of a keyboard.
func TestReport_keeps_long_words_and_wide_tables_in_their_boxes(t *testing.T) {
	got := write(t, sample())
	for _, want := range []string{"h1, code, figcaption, li p { overflow-wrap: anywhere; }", "td { overflow-wrap: break-word; }", ".scroll { overflow-x: auto; }"} {
		if !strings.Contains(got, want) {
			t.Errorf("the page has no rule %s", want)
		}
	}
	if n, keyed := strings.Count(got, `class="scroll"`), strings.Count(got, `class="scroll" tabindex="0"`); n == 0 || n != keyed {
		t.Errorf("%d of %d scrolled boxes can be reached by keyboard", keyed, n)
	}
}

func TestReport_parts_the_place_from_the_name_of_the_rule(t *testing.T) {
	d := sample()
	d.Pages[0].Findings = []finding.Finding{{ID: "font-gone", What: "No font.", Place: finding.Place{Page: 1, Object: 14, Offset: 5033}}, {ID: "whole", What: "Some."}}
	got := write(t, d)
	for _, want := range []string{`PDF object 14, byte 5033 · <span class="id">font-gone`, `<p class="where"><span class="id">whole`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s", want)
		}
	}
}

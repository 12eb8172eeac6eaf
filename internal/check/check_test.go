package check

import (
	"context"
	"runtime"
	"strings"
	"testing"

	"laydown/internal/finding"
)

// faulty has something for most rules.
var faulty = artwork{stock: "midnight-blue-board", pages: []string{
	fill(gold, 5, 5, 10, 10) + fill(over+white, 7, 7, 5, 5) + fill(knock+clearIn, 5, 12, 3, 8) +
		fill("1 .8 .9 0 k", 20, 5, 20, 20) + fill("/Silver cs .1 scn", 45, 5, 10, 10) + fill(".2 .35 .8 .15 k", 30, 20, 5, 5) +
		fill("0 1 0 0 k", 0, 30, 10, 10) + fill("/Typo cs 1 scn", 30, 30, 5, 5) + fill("/Alien cs 1 scn", 40, 30, 5, 5)},
	spaces: "/Typo [/Separation /white /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [.9] >>]" +
		" /Alien [/Separation /Moon#20Dust /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [.5] >>]"}

func TestFindingsTellPlaceReasonAndRemedy(t *testing.T) {
	fs := faulty.check(t)
	if len(fs) < 8 {
		t.Fatalf("only %d findings: %s", len(fs), describe(fs))
	}
	for _, f := range fs {
		if f.What == "" || f.Why == "" || f.Remedy == "" || f.Place.Page != 1 && f.ID != "output-intent-missing" {
			t.Errorf("%s: what %q, why %q, remedy %q, page %d", f.ID, f.What, f.Why, f.Remedy, f.Place.Page)
		}
		if f.ID != "passes-needed" && f.ID != "output-intent-missing" && (f.Place.Box == nil || len(f.Place.Items) == 0 || f.Place.Offset == 0) {
			t.Errorf("%s: place %+v", f.ID, f.Place)
		}
		for _, s := range []string{f.What, f.Why, f.Remedy} {
			if strings.Contains(s, "%!") || !strings.HasSuffix(s, ".") || strings.Contains(s, "..") {
				t.Errorf("%s: not a sentence: %q", f.ID, s)
			}
		}
	}
}

// withRules puts other rules in place for one test.
func withRules(t *testing.T, rules ...Rule) {
	before := Rules
	t.Cleanup(func() { Rules = before })
	Rules = rules
}

func TestPanickingRuleIsAFindingAndTheOthersSpeak(t *testing.T) {
	withRules(t, Rule{ID: "broken", Page: func(context.Context, *Case) error { panic("no such plate") }}, trimBoxMissing)
	fs := (&artwork{pages: []string{""}, boxes: "none"}).check(t)
	failed := with(fs, "rule-failed")
	if len(failed) != 1 || !failed[0].Incomplete || failed[0].Severity != finding.Error || !strings.Contains(failed[0].What, `"broken"`) {
		t.Fatalf("findings %+v", fs)
	}
	if strings.Contains(failed[0].What, "goroutine") || len(failed[0].Notes) != 1 || !strings.Contains(failed[0].Notes[0], "goroutine") {
		t.Errorf("the stack belongs into the notes: %q %q", failed[0].What, failed[0].Notes)
	}
	if len(with(fs, "finished-size-unclear")) != 1 {
		t.Errorf("the rule after it did not speak: %s", describe(fs))
	}
}

func TestRulesEndWithTheContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	withRules(t, Rule{ID: "a", Page: func(context.Context, *Case) error { cancel(); return ctx.Err() }},
		Rule{ID: "b", Page: func(context.Context, *Case) error { t.Error("goes on"); return nil }})
	var out finding.Collector
	if err := Run(ctx, &Input{}, &Page{}, &out); err != context.Canceled || len(out.Sorted()) > 0 {
		t.Errorf("error %v, findings %v", err, out.Sorted())
	}
}

func TestNoPressNoJobIsQuietButForTheDocument(t *testing.T) {
	a := faulty
	a.press = "none"
	for _, f := range a.check(t) {
		if f.ID != "bleed-missing" && f.ID != "output-intent-missing" {
			t.Errorf("%s: %s", f.ID, f.What)
		}
	}
}

// Masks of a byte a pixel are what a rule may allocate on a large page; sums and distances of 4 or 8 are not.
func TestRulesAllocateMasksOnly(t *testing.T) {
	all := func(ops string) string { return fill(ops, -9, -9, 78, 58) }
	a := artwork{dpi: 508, stock: "black-board", pages: []string{all(gold) + all(over+white) + all(over+silver) + all(over+"1 1 .9 .8 k") +
		fill(knock+clearIn, -5, -5, 30, 40) + fill(knock+"/Silver cs .1 scn", 0, 0, 30, 30) + fill("1 1 0 0 k", 30, 10, 40, 30)}}
	in := a.input(t)
	p := a.page(t, in, a.open(t), 1)
	for i := range Rules {
		r := &Rules[i]
		if r.Page == nil {
			continue
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if err := r.Page(t.Context(), &Case{Input: in, Page: p, rule: r, out: finding.Discard}); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		perPixel := float64(after.TotalAlloc-before.TotalAlloc) / float64(p.Plates.Width*p.Plates.Height)
		t.Logf("%s: %.1f bytes a pixel", r.ID, perPixel)
		// Rules that measure distances take more for a strip or the box of the line work at a time: 4 bytes a pixel for
		// each distance, copies of planes, depths of 2 bytes.
		most := 8.0
		if r.Group == Fineness || r.ID == "white-peeks-out" {
			most = 40
		}
		if perPixel > most {
			t.Errorf("%s allocates %.1f bytes a pixel", r.ID, perPixel)
		}
	}
}

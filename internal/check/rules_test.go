package check

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/golden"
	"laydown/internal/press"
)

// knownRemedies are the mends a finding may name.
var knownRemedies = []string{"rename-colourant", "merge-colourants", "one-definition", "to-toner", "to-process", "overprint-on", "multiply-on",
	"spare-underlay", "laydown-overprint", "make-underlay", "make-clear", "clip-tints", "thicken-lines", "add-bleed", "set-boxes", "centre-boxes", "embed-needed",
	"drop-hidden-layers", "choke-underlay", "knock-out", "lighten-pile"}

func TestEveryRuleIsDescribedAndNamedOnce(t *testing.T) {
	seen := map[finding.ID]bool{}
	groups := []Group{Names, Laydown, Fineness, Load, Images, Document, Reading}
	at := 0
	for _, r := range Rules {
		if r.ID == "" || r.Measures == "" || r.Source == "" || len(r.Severities) == 0 || seen[r.ID] {
			t.Errorf("rule %q: measures %q, source %q, severities %v, met before %v", r.ID, r.Measures, r.Source, r.Severities, seen[r.ID])
		}
		seen[r.ID] = true
		g := slices.Index(groups, r.Group)
		if g < at {
			t.Errorf("rule %q of group %q stands after those of a later group", r.ID, r.Group)
		}
		at = g
		if looks := r.Page != nil || r.File != nil; looks == (r.Group == Reading) {
			t.Errorf("rule %q of group %q looks at something: %v", r.ID, r.Group, looks)
		}
		keys := map[string]bool{"severity": true}
		for _, f := range r.Figures {
			if f.Key == "" || keys[f.Key] || f.What == "" || f.Source == "" || f.Default == 0 && f.From == "" {
				t.Errorf("rule %q: figure %+v", r.ID, f)
			}
			keys[f.Key] = true
		}
		for _, m := range r.Remedies {
			if !slices.Contains(knownRemedies, m) {
				t.Errorf("rule %q names the unknown mend %q", r.ID, m)
			}
		}
	}
}

func TestEveryRuleHasAFileOfItsOwn(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	rule := regexp.MustCompile(`(?m)^var \w+ = Rule\{`)
	n := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") || name == "reading.go" {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		m := len(rule.FindAll(text, -1))
		n += m
		if m > 1 {
			t.Errorf("%s holds %d rules", name, m)
		}
	}
	if n < 10 {
		t.Errorf("only %d rules were seen", n)
	}
}

// TestRulesPageIsCurrent compares docs/rules.md with the rules; -update writes it.
func TestRulesPageIsCurrent(t *testing.T) {
	golden.Text(t, "../../../docs/rules.md", rulesPage())
}

func rulesPage() string {
	var b strings.Builder
	b.WriteString(`# The rules of the check

Generated from the rules in internal/check (` + "`go test ./internal/check -run RulesPage -update`" + `); ` + "`laydown check --rules`" + ` shows the same.
Severity and figures can be changed in a press, a stock or a job file; the job goes before the stock, the stock before the press:

    checks:
      bleed-missing: {severity: warning, bleed: 2mm}   # severity: note, warning, error or off

Findings name the mends that can answer them. Figures without a published source are marked so and are starting values, not a standard.
docs/false-alarms.md tells how the rules do on ordinary documents.
`)
	var group Group
	for _, r := range Rules {
		if r.Group != group {
			group = r.Group
			fmt.Fprintf(&b, "\n## %s\n\n| rule | measures | figures | source | severity | mends |\n|---|---|---|---|---|---|\n", strings.ToUpper(string(group[:1]))+string(group[1:]))
		}
		var figures, severities []string
		for _, f := range r.Figures {
			figures = append(figures, fmt.Sprintf("`%s`: %s: %s (%s)", f.Key, f.What, f.Words(), f.Source))
		}
		for _, s := range r.Severities {
			severities = append(severities, s.String())
		}
		if r.Fixed {
			severities = append(severities, "fixed")
		}
		cell := func(s string) string { return strings.ReplaceAll(s, "|", "\\|") }
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s |\n", r.ID, cell(r.Measures), cell(strings.Join(figures, "; ")), cell(r.Source),
			strings.Join(severities, ", "), strings.Join(r.Remedies, ", "))
	}
	return b.String()
}

// setting is what a job's checks say of one rule.
func setting(t *testing.T, rule string, keys map[string]string) map[string]press.CheckSetting {
	t.Helper()
	s, err := Settle(nil, nil, &press.Job{Checks: press.Checks{rule: keys}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSettingsChangeSeverityAndFigures(t *testing.T) {
	art := artwork{pages: []string{fill("1 0 0 0 k", -2.4, 5, 10, 10)}}
	if f := one(t, art, "bleed-missing"); f.Severity != finding.Error || !slices.Equal(f.Remedies, []string{"add-bleed"}) {
		t.Errorf("as built in: %v %v", f.Severity, f.Remedies)
	}
	art.settings = setting(t, "bleed-missing", map[string]string{"severity": "note"})
	if f := one(t, art, "bleed-missing"); f.Severity != finding.Note {
		t.Errorf("set to note: %v", f.Severity)
	}
	art.settings = setting(t, "bleed-missing", map[string]string{"severity": "off"})
	wantQuiet(t, art, "bleed-missing")
	art.settings = setting(t, "bleed-missing", map[string]string{"bleed": "2mm"})
	wantQuiet(t, art, "bleed-missing")
}

func TestFiguresOfTheRuleGoBeforeThoseOfPressAndJob(t *testing.T) {
	art := artwork{pages: []string{fill("1 0 0 0 k", -2.4, 5, 10, 10)}, job: &press.Job{Bleed: 2}}
	wantQuiet(t, art, "bleed-missing")
	art.settings = setting(t, "bleed-missing", map[string]string{"bleed": "3mm"})
	one(t, art, "bleed-missing")
}

func TestWhatReadersTellIsDressed(t *testing.T) {
	fs := func() []finding.Finding {
		return []finding.Finding{{ID: "font-not-embedded", Severity: finding.Error}, {ID: "operator-damaged"},
			{ID: "font-not-embedded", Severity: finding.Error, Incomplete: true}}
	}
	in := &Input{}
	if out := in.Dress(fs()); len(out) != 3 || !slices.Equal(out[0].Remedies, []string{"embed-needed"}) || out[1].Remedies != nil {
		t.Errorf("%+v", out)
	}
	in.Settings = setting(t, "font-not-embedded", map[string]string{"severity": "note"})
	if out := in.Dress(fs()); out[0].Severity != finding.Note {
		t.Errorf("%+v", out)
	}
	in.Settings = setting(t, "font-not-embedded", map[string]string{"severity": "off"})
	if out := in.Dress(fs()); len(out) != 2 || !out[1].Incomplete {
		t.Errorf("what leaves something unseen was silenced: %+v", out)
	}
}

// Whatever figures a person sets, rules neither panic nor give up: at most a width is too large to be measured.
func TestRulesStandAnyFigures(t *testing.T) {
	for _, v := range []float64{0, 1e6} {
		art := faulty
		art.res = helvetica
		art.pages = []string{faulty.pages[0] + typed("0 0 0 1 k", "Night", 3, 5, 20) + shown("", 30, 5, 5, 5)}
		art.picture, art.samples = row("/DeviceRGB", 2), "abcdef"
		art.job = &press.Job{Lead: press.EdgeTop, Zones: []press.Zone{{Kind: press.ZoneFold, Left: 30, Height: 40}, {Kind: press.ZoneGlue, Width: 5, Height: 5},
			{Kind: press.ZoneWriteOn, Width: 9, Height: 9}, {Kind: press.ZonePerforation, Top: 20, Width: 60}}}
		art.settings = map[string]press.CheckSetting{}
		for _, r := range Rules {
			figures := map[string]float64{}
			for _, f := range r.Figures {
				figures[f.Key] = v
			}
			art.settings[string(r.ID)] = press.CheckSetting{Figures: figures}
		}
		for _, f := range with(art.check(t), "rule-failed") {
			if len(f.Notes) > 0 || v == 0 || !strings.Contains(f.What, "distance: ") {
				t.Errorf("figures of %g: %s %.400s", v, f.What, f.Notes)
			}
		}
	}
}

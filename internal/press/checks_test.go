package press

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var someRules = []CheckRule{
	{Name: "bleed-missing", Figures: []CheckFigure{{"bleed", UnitLength}, {"least", UnitNumber}}},
	{Name: "page-incomplete", Fixed: true},
}

func withChecks(t *testing.T, press, stock, job string) (*Press, *Stock, *Job) {
	t.Helper()
	two, _ := ShippedPress("two-set")
	kraft, _ := ShippedStock("kraft")
	p, err := ReadPress("press.yaml", []byte(string(two)+press))
	if err != nil {
		t.Fatal(err)
	}
	k, err := ReadStock("stock.yaml", []byte(string(kraft)+stock))
	if err != nil {
		t.Fatal(err)
	}
	j, err := ReadJob("job.yaml", []byte(planetarium+job))
	if err != nil {
		t.Fatal(err)
	}
	return p, k, j
}

func TestJobGoesBeforeStockBeforePress(t *testing.T) {
	p, k, j := withChecks(t,
		"\nchecks:\n  bleed-missing: {severity: note, bleed: 2mm, least: 4}\n",
		"\nchecks:\n  bleed-missing:\n    severity: off\n    bleed: 5mm\n",
		"\nchecks:\n  bleed-missing: {bleed: 1.5mm}\n")
	got, err := SettleChecks(someRules, p, k, j)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]CheckSetting{"bleed-missing": {Severity: SeverityOff, Figures: map[string]float64{"bleed": 1.5, "least": 4}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestFaultsOfCheckSettingsTellPlaceAndRemedy(t *testing.T) {
	for _, c := range []struct{ text, says, remedy string }{
		{"bleed-mising: {bleed: 2mm}", `no rule is named "bleed-mising"`, `did you mean "bleed-missing"?`},
		{"bleed-missing: {bled: 2mm}", `the rule "bleed-missing" has no key "bled"`, `did you mean "bleed"?`},
		{"bleed-missing: {severity: loud}", `"loud" is not a severity`, `"warning"`},
		{"bleed-missing: {bleed: 2}", `"2" has no unit`, "2mm"},
		{"bleed-missing: {least: 2mm}", "is not a plain number", "without a unit"},
		{"bleed-missing: {bleed: -2mm}", "is out of range", "0 to"},
		{"bleed-missing: {least: .nan}", "", ""},
		{"page-incomplete: {severity: off}", "cannot be changed", "remove the key"},
	} {
		p, _, _ := withChecks(t, "\nchecks:\n  "+c.text+"\n", "", "")
		_, err := SettleChecks(someRules, p, nil, nil)
		var list Errors
		if !errors.As(err, &list) || len(list) != 1 {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if text := err.Error(); !strings.Contains(text, c.says) || !strings.Contains(text, c.remedy) || !strings.Contains(text, "press.yaml:") {
			t.Errorf("%s: %v", c.text, err)
		}
	}
}

func TestCheckSettingsComeBackEqual(t *testing.T) {
	p, _, _ := withChecks(t, "\nchecks:\n  bleed-missing: {severity: off, bleed: 2mm}\n", "", "")
	text, err := Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadPress("again", text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if d := cmp.Diff(p.Checks, back.Checks); d != "" {
		t.Error(d)
	}
}

func TestZonesAndForbiddenPilesAreChecked(t *testing.T) {
	if _, err := ReadJob("job.yaml", []byte(planetarium+"\nzones:\n  - {kind: fold, left: 105mm, top: 0mm, height: 99mm}\nlead: top\n")); err != nil {
		t.Error(err)
	}
	for text, says := range map[string]string{
		"\nzones:\n  - {kind: fould, left: 1mm, top: 1mm, width: 1mm}\n":          `did you mean "fold"?`,
		"\nzones:\n  - {kind: fold, left: 1mm, top: 1mm}\n":                       "no extent",
		"\nzones:\n  - {kind: glue, left: 1mm, top: 1mm, width: 1mm, page: -1}\n": "no page -1",
		"\nlead: upper\n": `"upper" is not known here`,
	} {
		if _, err := ReadJob("job.yaml", []byte(planetarium+text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", text, err)
		}
	}
	two, _ := ShippedPress("two-set")
	for never, says := range map[string]string{"[Silver, process]": "", "[Bronze]": "no toner of this press", "[Clear]": "lies on itself"} {
		_, err := ReadPress("press.yaml", []byte(strings.Replace(string(two), "must_overprint: true", "must_overprint: true\n    never_on: "+never, 1)))
		if says == "" && err != nil || says != "" && (err == nil || !strings.Contains(err.Error(), says)) {
			t.Errorf("%s: %v", never, err)
		}
	}
}

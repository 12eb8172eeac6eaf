package press

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Checks change rules of the check, by the rule's name: severity is note, warning, error or off; every
// figure of the rule has its own key, with its unit. `laydown check --rules` lists rules and keys.
type Checks map[string]map[string]string

// keySeverity is the key every rule has beside its figures.
const keySeverity = "severity"

// SeverityOff keeps a rule from speaking.
const SeverityOff = "off"

var severityWords = []string{"note", "warning", "error", SeverityOff}

// Units a figure of a rule may have, as written in definitions.
const (
	UnitLength  = "mm"
	UnitArea    = "mm2"
	UnitPercent = "%"
	UnitDPI     = "dpi"
	UnitGSM     = "gsm"
	UnitNumber  = "" // a plain number
)

// CheckRule is what definitions may say of one rule.
type CheckRule struct {
	Name    string
	Figures []CheckFigure
	Fixed   bool // its severity cannot be changed
}

// CheckFigure is one figure of a rule.
type CheckFigure struct{ Key, Unit string }

// CheckSetting is what the definitions together say of one rule.
type CheckSetting struct {
	Severity string             // "" = as built in
	Figures  map[string]float64 // by key, in the figure's unit; only those that were written
}

// SettleChecks reads the key checks of press, stock and job, each of which may be nil: the job's word
// goes before the stock's, the stock's before the press's. Unknown rules and keys, wrong units and words
// are Errors with their places.
func SettleChecks(rules []CheckRule, p *Press, k *Stock, j *Job) (map[string]CheckSetting, error) {
	out := map[string]CheckSetting{}
	var errs Errors
	add := func(list Checks, src *source, file string) {
		if len(list) == 0 {
			return
		}
		if src == nil {
			src = newSource(file, nil)
		}
		src = &source{file: src.file, lines: src.lines, at: src.at}
		src.settle(list, rules, out)
		errs = append(errs, src.errs...)
	}
	if p != nil {
		add(p.Checks, p.src, "press")
	}
	if k != nil {
		add(k.Checks, k.src, "stock")
	}
	if j != nil {
		add(j.Checks, j.src, "job")
	}
	if len(errs) > 0 {
		return nil, errs
	}
	return out, nil
}

// settle adds what one definition says, over what is there.
func (s *source) settle(list Checks, rules []CheckRule, out map[string]CheckSetting) {
	for _, name := range sortedKeys(list) {
		path := "checks." + name
		i := slices.IndexFunc(rules, func(r CheckRule) bool { return r.Name == name })
		if i < 0 {
			names := make([]string, len(rules))
			for i, r := range rules {
				names[i] = r.Name
			}
			s.errorAt(keyPath(path), didYouMean(name, names)+" `laydown check --rules` lists them", "no rule is named %q", name)
			continue
		}
		set := out[name]
		for _, key := range sortedKeys(list[name]) {
			s.settleKey(path+"."+key, key, list[name][key], &rules[i], &set)
		}
		out[name] = set
	}
}

func (s *source) settleKey(path, key, text string, rule *CheckRule, set *CheckSetting) {
	if key == keySeverity {
		switch {
		case !slices.Contains(severityWords, text):
			s.errorAt(path, didYouMean(text, severityWords), "%q is not a severity", text)
		case rule.Fixed:
			s.errorAt(path, "remove the key", "the severity of %q cannot be changed: what could not be read is never called clean", rule.Name)
		default:
			set.Severity = text
		}
		return
	}
	keys := []string{keySeverity}
	for _, f := range rule.Figures {
		if f.Key != key {
			keys = append(keys, f.Key)
			continue
		}
		v, err := parseFigure(text, f.Unit)
		if err != nil {
			what, remedy, _ := strings.Cut(err.Error(), "; ")
			s.errorAt(path, remedy, "%s", what)
			return
		}
		figures := map[string]float64{key: v}
		for k, old := range set.Figures {
			if k != key {
				figures[k] = old
			}
		}
		set.Figures = figures
		return
	}
	s.errorAt(keyPath(path), didYouMean(key, keys), "the rule %q has no key %q", rule.Name, key)
}

// maxFigure is far above any figure that makes sense.
const maxFigure = 1e6

func parseFigure(text, unit string) (v float64, err error) {
	switch unit {
	case UnitLength:
		v, err = parseUnit(text, "a length", "3mm", lengthUnits)
	case UnitArea:
		v, err = parseUnit(text, "an area", "1mm2", areaUnits)
	case UnitPercent:
		v, err = parseUnit(text, "a percentage", "70%", percentUnits)
	case UnitDPI:
		v, err = parseUnit(text, "a resolution", "300dpi", dpiUnits)
	case UnitGSM:
		v, err = parseUnit(text, "a mass per area", "300gsm", gsmUnits)
	default:
		if v, err = strconv.ParseFloat(text, 64); err != nil {
			err = fmt.Errorf("%q is not a plain number; write it without a unit, as 12 or 0.5", text)
		}
	}
	if err == nil && !(v >= 0 && v <= maxFigure) || math.IsNaN(v) {
		err = fmt.Errorf("%q is out of range; a figure is 0 to %g", text, maxFigure)
	}
	return v, err
}

package check

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// Group says which part of the work a rule belongs to.
type Group string

// The groups, in the order rules are asked.
const (
	Names    Group = "names and definitions"
	Laydown  Group = "laydown"
	Fineness Group = "fineness"
	Load     Group = "load"
	Images   Group = "images"
	Document Group = "document"
	Reading  Group = "reading" // met by the readers and painters; the rule only names severity and remedies
)

// Rule is one check. It gives findings of its own ID only.
type Rule struct {
	ID       finding.ID
	Group    Group
	Measures string   // what it looks at, for the list of rules
	Figures  []Figure // the numbers it holds the artwork to
	Source   string   // where the rule comes from
	// Severities its findings can have as built in, least first.
	Severities []finding.Severity
	Remedies   []string // IDs of remedies that can answer its findings
	// Fixed: the severity cannot be changed by definitions.
	Fixed bool
	// Page looks at one page. File looks at the whole file after its pages; Case.Page is nil then. A rule
	// of the group Reading has neither.
	Page func(ctx context.Context, c *Case) error
	File func(ctx context.Context, c *Case) error
}

// Figure is one number of a rule, changeable by definitions under its key.
type Figure struct {
	Key     string
	Unit    string // one of the units of package press
	Default float64
	// From says where the figure comes from unless it is set among the checks, "bleed of the job"; Default
	// holds when that is silent too.
	From   string
	What   string // what is bounded
	Source string
}

// CommonPractice is the source of figures nobody has published.
const CommonPractice = "common practice, no source"

// Text writes a value of the figure with its unit, to four decimals.
func (f *Figure) Text(v float64) string {
	n := strconv.FormatFloat(math.Round(v*1e4)/1e4, 'g', -1, 64)
	switch f.Unit {
	case press.UnitNumber:
		return n
	case press.UnitArea:
		return n + " mm²"
	case press.UnitGSM:
		return n + " g/m²"
	}
	return n + " " + f.Unit
}

// Words tells where the figure stands unless it is set: "bleed of the job, else 3 mm".
func (f *Figure) Words() string {
	switch {
	case f.From == "":
		return f.Text(f.Default)
	case f.Default == 0:
		return f.From
	}
	return f.From + ", else " + f.Text(f.Default)
}

// Case is one rule at work: the input, the page, and where findings go.
type Case struct {
	*Input
	*Page
	rule *Rule
	out  finding.Sink
}

// figure is the value of a figure of the rule: as set, else its default.
func (c *Case) figure(key string) float64 { return c.figureElse(key, 0) }

// figureElse is figure with a value that goes before the default when above 0: that of the press or the job.
func (c *Case) figureElse(key string, other float64) float64 {
	if v, ok := c.Settings[string(c.rule.ID)].Figures[key]; ok {
		return v
	}
	for i := range c.rule.Figures {
		if f := &c.rule.Figures[i]; f.Key == key {
			if other > 0 {
				return other
			}
			return f.Default
		}
	}
	panic(fmt.Sprintf("rule %s has no figure %q", c.rule.ID, key))
}

// Add gives a finding of the rule. Its ID, its remedies unless it names its own, and the severity that
// definitions ask for are filled in.
func (c *Case) Add(f finding.Finding) {
	f.ID = c.rule.ID
	if f.Remedies == nil {
		f.Remedies = c.rule.Remedies
	}
	if c.dress(c.rule, &f) {
		c.out.Add(f)
	}
}

// dress gives a finding the severity the definitions ask for; false = it is not wanted. What leaves
// something unseen is never silenced.
func (in *Input) dress(r *Rule, f *finding.Finding) bool {
	word := in.Settings[string(r.ID)].Severity
	switch {
	case word == "" || r.Fixed:
		return true
	case word == press.SeverityOff:
		return f.Incomplete
	}
	var s finding.Severity
	if s.UnmarshalText([]byte(word)) == nil {
		f.Severity = s
	}
	return true
}

// off reports whether a rule is not wanted at all.
func (in *Input) off(r *Rule) bool {
	return !r.Fixed && in.Settings[string(r.ID)].Severity == press.SeverityOff
}

// Dress gives findings of the readers and painters the severity and the remedies their rule in the
// group Reading names, and leaves out those not wanted.
func (in *Input) Dress(fs []finding.Finding) []finding.Finding {
	out := fs[:0]
	for _, f := range fs {
		r := readingRule(f.ID)
		if r == nil || in.dress(r, &f) {
			if r != nil && f.Remedies == nil {
				f.Remedies = r.Remedies
			}
			out = append(out, f)
		}
	}
	return out
}

func readingRule(id finding.ID) *Rule {
	for i := range Rules {
		if Rules[i].ID == id && Rules[i].Group == Reading {
			return &Rules[i]
		}
	}
	return nil
}

// Settle reads what press, stock and job, each of which may be nil, say of the rules. The error is
// press.Errors, with places.
func Settle(p *press.Press, k *press.Stock, j *press.Job) (map[string]press.CheckSetting, error) {
	var known []press.CheckRule
	for i := range Rules {
		r := press.CheckRule{Name: string(Rules[i].ID), Fixed: Rules[i].Fixed}
		for _, f := range Rules[i].Figures {
			r.Figures = append(r.Figures, press.CheckFigure{Key: f.Key, Unit: f.Unit})
		}
		known = append(known, r)
	}
	return press.SettleChecks(known, p, k, j)
}

// areaFigure is the figure most rules on areas have.
func areaFigure(mm2 float64) []Figure {
	return []Figure{{Key: "area", Unit: press.UnitArea, Default: mm2, What: "smallest area that counts", Source: CommonPractice}}
}

// Package mend holds the remedies: each takes a fault out of an artwork by changing the file as little as can be.
//
// A remedy looks at pages as they were read and collects changes in an Edit, which becomes an incremental update:
// untouched objects keep their bytes and the revision before stays in the file. It also says on which plates, and where,
// the pages may differ afterwards; whoever applies it holds the plates before and after against that.
//
// Content streams are changed by splicing bytes at operators, so that type stays type, vectors stay vectors and
// images keep their data. A form drawn in several places is copied for the one that changes.
package mend

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// Remedy is one way to mend an artwork.
type Remedy struct {
	ID      string
	Title   string       // what it does, in one line
	Answers []finding.ID // findings it answers
	Safe    bool         // it cannot change the intended look: --all-safe applies it where it is offered
	Options []Option
	// Offer proposes options that answer a finding; empty when there are none. Nil = never offered.
	Offer func(f *finding.Finding, in *Input) []Options
	// Apply collects the changes in e. It changes nothing when there is nothing to mend.
	Apply func(ctx context.Context, e *Edit, o Options) error
}

// Option is one choice a remedy takes.
type Option struct {
	Name     string
	Help     string
	Required bool
}

// Input is what artwork is mended for.
type Input struct {
	Press *press.Press // nil = none
	Stock *press.Stock // nil = none
	Job   *press.Job   // nil = none
}

// Options are choices by name.
type Options map[string]string

// Use is a remedy with its options.
type Use struct {
	Remedy  *Remedy
	Options Options
}

// String writes the use as Parse reads it, options in the order of the remedy's list.
func (u Use) String() string {
	var b strings.Builder
	b.WriteString(u.Remedy.ID)
	sep := ":"
	for _, o := range u.Remedy.Options {
		if v, ok := u.Options[o.Name]; ok {
			b.WriteString(sep + o.Name + "=" + quoted(v))
			sep = ","
		}
	}
	return b.String()
}

func quoted(v string) string {
	if v == "" || strings.ContainsAny(v, "\",=") || strings.TrimSpace(v) != v {
		return strconv.Quote(v)
	}
	return v
}

// All lists every remedy, in the order in which several are best applied: names first, then colours, then how objects meet,
// then what is made anew.
var All = []*Remedy{
	renameColourant,
	mergeColourants,
	oneDefinition,
	toToner,
	toProcess,
	clipTints,
	lightenPile,
	overprintOn,
	multiplyOn,
	spareUnderlay,
	laydownOverprint,
	knockOut,
	thickenLines,
	chokeUnderlay,
	dropHiddenLayers,
	setBoxes,
	centreBoxes,
	embedNeeded,
	addBleed,
	makeUnderlay,
	makeClear,
}

// Find finds a remedy by its ID.
func Find(id string) (*Remedy, bool) {
	for _, r := range All {
		if r.ID == id {
			return r, true
		}
	}
	return nil, false
}

// Rank is where a remedy stands in All.
func (r *Remedy) Rank() int { return slices.Index(All, r) }

// Parse reads a use written as "rename-colourant:from=white,to=White". A value with a comma, an equals sign or quotes stands
// in double quotes.
func Parse(s string) (Use, error) {
	id, rest, _ := strings.Cut(s, ":")
	r, ok := Find(strings.TrimSpace(id))
	if !ok {
		var ids []string
		for _, r := range All {
			ids = append(ids, r.ID)
		}
		return Use{}, fmt.Errorf("there is no remedy %q; choose one of %s", id, strings.Join(ids, ", "))
	}
	o, err := parseOptions(rest)
	if err != nil {
		return Use{}, fmt.Errorf("the options of %s cannot be understood: %w; write them as name=value, commas between", id, err)
	}
	u := Use{r, o}
	return u, u.check()
}

// wide are the options that, left out, mean all there is.
var wide = append([]Option{{Name: "toner"}, {Name: "edges"}, {Name: "font"}}, selectOptions...)

// Answers reports whether the use was to do what another, as offered, does: the same remedy with the same options, with those
// left out that mean all then, and others of its own but such as choose objects.
func (u Use) Answers(offered Use) bool {
	if u.Remedy != offered.Remedy {
		return false
	}
	means := func(list []Option, name string) bool {
		return slices.ContainsFunc(list, func(o Option) bool { return o.Name == name })
	}
	for n, v := range offered.Options {
		if own, given := u.Options[n]; given && own != v || !given && !means(wide, n) {
			return false
		}
	}
	for n := range u.Options {
		if _, given := offered.Options[n]; !given && means(selectOptions, n) {
			return false
		}
	}
	return true
}

// check refuses options the remedy does not have, and asks for those it must have.
func (u Use) check() error {
	var names []string
	for _, o := range u.Remedy.Options {
		names = append(names, o.Name)
		if o.Required && u.Options[o.Name] == "" {
			return fmt.Errorf("%s needs the option %s (%s)", u.Remedy.ID, o.Name, o.Help)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(u.Options)) {
		if !slices.Contains(names, n) {
			if len(names) == 0 {
				return fmt.Errorf("%s takes no options", u.Remedy.ID)
			}
			return fmt.Errorf("%s has no option %q; it takes %s", u.Remedy.ID, n, strings.Join(names, ", "))
		}
	}
	return nil
}

func parseOptions(s string) (Options, error) {
	o := Options{}
	for s = strings.TrimSpace(s); s != ""; {
		name, rest, ok := strings.Cut(s, "=")
		name = strings.TrimSpace(name)
		if !ok || name == "" {
			return nil, fmt.Errorf("%q has no value", s)
		}
		if _, twice := o[name]; twice {
			return nil, fmt.Errorf("%s is given twice", name)
		}
		var value string
		if strings.HasPrefix(rest, `"`) {
			q, err := strconv.QuotedPrefix(rest)
			if err != nil {
				return nil, fmt.Errorf("a quotation mark is missing in %q", rest)
			}
			value, _ = strconv.Unquote(q)
			rest = strings.TrimSpace(rest[len(q):])
			if rest != "" && rest[0] != ',' {
				return nil, fmt.Errorf("something follows the quoted value of %s", name)
			}
			rest = strings.TrimPrefix(rest, ",")
		} else {
			value, rest, _ = strings.Cut(rest, ",")
			value = strings.TrimSpace(value)
		}
		o[name], s = value, strings.TrimSpace(rest)
	}
	return o, nil
}

// Offers proposes what answers a finding, of the remedies it names if it names any: the safe uses first.
func Offers(f *finding.Finding, in *Input) []Use {
	var safe, others []Use
	for _, r := range All {
		if r.Offer == nil || !slices.Contains(r.Answers, f.ID) || f.Remedies != nil && !slices.Contains(f.Remedies, r.ID) {
			continue
		}
		for _, o := range r.Offer(f, in) {
			if r.Safe {
				safe = append(safe, Use{r, o})
			} else {
				others = append(others, Use{r, o})
			}
		}
	}
	return append(safe, others...)
}

// text is an option that may be left out.
func (o Options) text(name, otherwise string) string {
	if v, ok := o[name]; ok {
		return v
	}
	return otherwise
}

// yes reads a switch.
func (o Options) yes(name string) (bool, error) {
	switch o[name] {
	case "", "no":
		return false, nil
	case "yes":
		return true, nil
	}
	return false, fmt.Errorf("%s is yes or no, not %q", name, o[name])
}

// percent reads "70%" or "70" as 0.7.
func (o Options) percent(name string, otherwise float64) (float64, error) {
	s, ok := o[name]
	if !ok {
		return otherwise, nil
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, "%")), 64)
	if err != nil || !(v >= 0 && v <= 100) {
		return 0, fmt.Errorf("%s is 0 to 100 %%, not %q", name, s)
	}
	return v / 100, nil
}

// mm reads "0.1mm" or "0.25pt" as millimetres.
func (o Options) mm(name string, otherwise float64) (float64, error) {
	s, ok := o[name]
	if !ok {
		return otherwise, nil
	}
	l, err := press.ParseLength(s)
	if err != nil || l < 0 {
		return 0, fmt.Errorf("%s is a length such as 0.1mm, not %q", name, s)
	}
	return float64(l), nil
}

// list reads names with | between.
func (o Options) list(name string) []string {
	if o[name] == "" {
		return nil
	}
	var out []string
	for _, s := range strings.Split(o[name], "|") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

var errNoPress = errors.New("this remedy needs to know the press; name one, or a job that does")

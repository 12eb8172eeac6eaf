package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var wishedTonerUnused = Rule{
	ID:         "toner-asked-for-unused",
	Group:      Names,
	Measures:   "toners the job wishes for as underlay or clear that no page puts on the sheet; quiet unless all pages were looked at",
	Source:     "job definition",
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"make-underlay", "make-clear"},
	File: func(_ context.Context, c *Case) error {
		if c.Job == nil || len(c.pages) == 0 || !c.whole() {
			return nil
		}
		wished := map[string]string{}
		for _, w := range c.Job.Wishes.Underlay {
			wished[w.Toner] = "under " + strings.Join(w.Under, ", ")
		}
		empty := map[string]bool{} // of clears: the layer they are to lie over has nothing on it
		for _, w := range c.Job.Wishes.Clear {
			wished[w.Toner] = "over " + strings.Join(w.Over, ", ")
			empty[w.Toner] = len(w.Over) > 0 && !slices.ContainsFunc(c.pages, func(p pageFacts) bool { return slices.Contains(p.layers, w.Over[0]) })
		}
		for _, p := range c.pages {
			for _, name := range p.used {
				delete(wished, name)
			}
		}
		for _, name := range sortedKeys(wished) {
			f := finding.Finding{
				Severity: finding.Error,
				What:     fmt.Sprintf("The job asks for %s %s, but nothing in the artwork is painted in it.", name, wished[name]),
				Why:      "What the artwork does not hold is not printed, whatever the job wishes.",
				Remedy:   fmt.Sprintf("Draw the %s in the artwork, have it made, or strike the wish from the job.", name),
				Place:    finding.Place{Colourants: []string{name}},
				Remedies: []string{"make-clear"},
			}
			if empty[name] {
				f.Remedies = []string{}
			}
			if slices.ContainsFunc(c.Job.Wishes.Underlay, func(w press.UnderlayWish) bool { return w.Toner == name }) {
				f.Remedies = []string{"make-underlay"}
			}
			c.Add(f)
		}
		return nil
	},
}

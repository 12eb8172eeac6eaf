package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var assignedNameMissing = Rule{
	ID:         "assigned-name-missing",
	Group:      Names,
	Measures:   "colourant names that the job assigns to toners and that no page's artwork holds; quiet unless all pages were looked at",
	Source:     "job definition; ISO 32000-2, 7.3.5: names are equal only byte for byte",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Job == nil || len(c.pages) == 0 || !c.whole() {
			return nil
		}
		held := map[string]bool{}
		for _, p := range c.pages {
			for _, n := range p.names {
				held[n] = true
			}
		}
		for _, name := range sortedKeys(c.Job.Assign) {
			if held[name] {
				continue
			}
			remedy := "Correct the name under assign in the job, or strike it."
			if near := press.Nearest(name, sortedKeys(held)); len(near) > 0 {
				remedy = fmt.Sprintf("Correct the name under assign in the job; the artwork holds %s.", quotedList(near))
			}
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("The job assigns the colourant %q to %s, but nothing in the artwork has that name.", name, c.Job.Assign[name]),
				Why:      "Names must match letter for letter, capitals and blanks included; an assignment that meets nothing changes nothing.",
				Remedy:   remedy,
				Place:    finding.Place{Colourants: []string{name}},
			})
		}
		return nil
	},
}

// namesOf lists the colourants a page's artwork names.
func namesOf(p *Page) (out []string) {
	for _, n := range p.List.Names {
		out = append(out, strings.Clone(n.Name))
	}
	return out
}

package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
)

var nearlyRightName = Rule{
	ID:         "colourant-name-nearly-right",
	Group:      Names,
	Severities: []finding.Severity{finding.Note, finding.Error},
	Remedies:   []string{"rename-colourant"},
	Measures:   "names that miss a toner of the press by case, blanks, accents, separators, a usual other name or one letter",
	Source:     "ISO 32000-2, 7.3.5 and 8.6.6.4: names are equal only byte for byte; common practice, no source, for the list of other names",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Press == nil {
			return nil
		}
		for _, n := range p.List.Names {
			if p.mounted(n.Name) {
				continue
			}
			want, near := in.wanted(n.Name)
			if !near {
				continue
			}
			items := p.itemsNaming(n.Name)
			sev, ok := p.usedOrHidden(items, n)
			if !ok {
				continue
			}
			c.Add(finding.Finding{
				Severity: sev,
				What:     fmt.Sprintf("The colourant is named %q; the press knows it as %q.", n.Name, want),
				Why: "Names must match letter for letter, capitals and blanks included. As it stands nothing of it reaches the toner: it prints in process colours made from its stand-in colour." +
					p.dragged(n.Name),
				Remedy: fmt.Sprintf("Rename the colourant %q to %q in the artwork.", n.Name, want),
				Place:  p.place(p.boundsOf(items), items, n.Name),
				Notes:  []string{"wanted name: " + want},
			})
		}
		return nil
	},
}

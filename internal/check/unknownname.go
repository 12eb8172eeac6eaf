package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
)

var unknownColourant = Rule{
	ID:         "colourant-unknown",
	Group:      Names,
	Severities: []finding.Severity{finding.Note, finding.Error},
	Remedies:   []string{"merge-colourants", "to-process"},
	Measures:   "every colourant name in the artwork against the toners and mixes of the press",
	Source:     "ISO 32000-2, 8.6.6.4: a name without a plate is printed through its stand-in colour",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Press == nil {
			return nil
		}
		for _, n := range p.List.Names {
			if p.mounted(n.Name) {
				continue
			}
			if _, near := in.wanted(n.Name); near {
				continue // nearlyRightName speaks
			}
			items := p.itemsNaming(n.Name)
			sev, ok := p.usedOrHidden(items, n)
			if !ok {
				continue
			}
			remedy := "Convert these objects to process colours on purpose, or choose another press."
			if have := p.specialNames(); have != "" {
				remedy = fmt.Sprintf("Give these objects one of the special toners of the press (%s), or convert them to process colours on purpose.", have)
			}
			c.Add(finding.Finding{
				Severity: sev,
				What:     fmt.Sprintf("The artwork names the colourant %q, which this press does not have.", n.Name),
				Why: "A name without a toner is not printed as that toner: what is painted in it comes out in process colours made from its stand-in colour." +
					p.dragged(n.Name),
				Remedy: remedy,
				Place:  p.place(p.boundsOf(items), items, n.Name),
			})
		}
		return nil
	},
}

// Unmounted lists the colourants the page paints with that the press has no toner or mix for: they are printed through
// their stand-in colour.
func (p *Page) Unmounted() (names []string) {
	for _, n := range p.List.Names {
		if !p.mounted(n.Name) && len(p.itemsNaming(n.Name)) > 0 {
			names = append(names, n.Name)
		}
	}
	return names
}

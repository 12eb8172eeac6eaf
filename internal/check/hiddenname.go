package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/finding"
)

var hiddenName = Rule{
	ID:         "colourant-on-hidden-layers-only",
	Group:      Names,
	Measures:   "special toners that the page names on hidden layers and nowhere else",
	Source:     "ISO 32000-2, 8.11: what is on a hidden layer is not printed; " + CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"drop-hidden-layers"},
	Page: func(_ context.Context, c *Case) error {
		for _, n := range c.List.Names {
			if !n.HiddenOnly || !c.isSpecialName(n.Name) || c.onStepsOnly(n.Name) {
				continue
			}
			items := c.hiddenNaming(n.Name)
			if len(items) == 0 {
				continue
			}
			pl := c.place(c.boundsOf(items), items, n.Name)
			layer, first := "", c.List.Items[items[0]].Layer
			if slices.ContainsFunc(items, func(i int) bool { return c.List.Items[i].Layer != first }) {
				pl.Layer = "" // on several
			}
			if pl.Layer != "" {
				layer = fmt.Sprintf(" %q", pl.Layer)
			}
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s is painted on the hidden layer%s only, so nothing of it is printed on this page.", n.Name, layer),
				Why:      "A layer switched off to see the artwork better stays off on the press: the toner is missing from the sheet.",
				Remedy:   "Switch the layer on before exporting, or delete it if it is not meant to print.",
				Place:    pl,
			})
		}
		return nil
	},
}

// hiddenNaming lists the items that do not print and whose colours name the colourant.
func (p *Page) hiddenNaming(name string) (items []int) {
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if !it.Hidden {
			continue
		}
		for _, k := range p.inksOf(it) {
			if slices.Contains(k.names(), name) {
				items = appendItem(items, i)
			}
		}
	}
	return items
}

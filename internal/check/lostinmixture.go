package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/finding"
)

var lostInMixture = Rule{
	ID:         "mixture-names-missing-toner",
	Group:      Names,
	Measures:   "colours mixed of several colourants (DeviceN) one of which the press lacks, so that its special toners in the same colour are lost too",
	Source:     "ISO 32000-2, 8.6.6.5: when one name is not available, the whole mixture is printed through its alternate colour; NChannel decides name by name",
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"to-process"},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil {
			return nil
		}
		type loss struct{ missing, lost string }
		items := map[loss][]int{}
		c.eachInk(func(i int, k ink) {
			d, ok := k.space.(*colour.DeviceN)
			if !ok || d.NChannel {
				return
			}
			var missing, lost []string
			for _, n := range d.Names {
				switch {
				case n == "None" || n == "All":
				case !c.mounted(n):
					missing = append(missing, n)
				case c.isSpecialName(n):
					lost = append(lost, n)
				}
			}
			if len(missing) > 0 && len(lost) > 0 {
				l := loss{strings.Join(missing, "\x00"), strings.Join(lost, "\x00")}
				items[l] = appendItem(items[l], i)
			}
		})
		var all []loss
		for l := range items {
			all = append(all, l)
		}
		slices.SortFunc(all, func(a, b loss) int { return strings.Compare(a.missing+"\x01"+a.lost, b.missing+"\x01"+b.lost) })
		for _, l := range all {
			missing, lost := strings.Split(l.missing, "\x00"), strings.Split(l.lost, "\x00")
			c.Add(finding.Finding{
				Severity: finding.Error,
				What:     fmt.Sprintf("%s is mixed with %s, which this press does not have, so nothing of the mixture reaches the toner.", strings.Join(lost, ", "), quotedList(missing)),
				Why:      "A colour mixed of several colourants is printed as it is only when the press has them all. Otherwise the whole mixture comes out in process colours made from its stand-in colour.",
				Remedy:   fmt.Sprintf("Take %s out of these colours, or give it the name of a toner of the press.", quotedList(missing)),
				Place:    c.place(c.boundsOf(items[l]), items[l], append(slices.Clone(lost), missing...)...),
			})
		}
		return nil
	},
}

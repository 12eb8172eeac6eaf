package check

import (
	"context"
	"fmt"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
)

var hairline = Rule{
	ID:         "line-of-no-width",
	Group:      Fineness,
	Measures:   "printing strokes with a line width of 0, which are one pixel of the press wide",
	Source:     "ISO 32000-2, 8.4.3.2: the thinnest line that can be rendered; its use is advised against",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"thicken-lines"},
	Page: func(_ context.Context, c *Case) error {
		var items []int
		var plates plateBits
		for i := range c.List.Items {
			it := &c.List.Items[i]
			if it.Kind != displist.Stroke || it.Pen == nil || it.Pen.Style.Width != 0 || it.Hidden || it.Bounds.Grow(1).Intersect(c.List.Page.Bleed).Empty() {
				continue
			}
			if on := c.itemToner(i); on != 0 {
				items = append(items, i)
				plates |= on
			}
		}
		if len(items) == 0 {
			return nil
		}
		what := fmt.Sprintf("%d lines have a width of 0.", len(items))
		if len(items) == 1 {
			what = "A line has a width of 0."
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     what,
			Why:      "It is as thin as the press can make it, a pixel: well seen on screen, and lost on paper.",
			Remedy:   "Give the lines a width the toner holds.",
			Place:    c.place(c.boundsOf(items).Grow(.5), items, c.plateNames(plates)...),
		})
		return nil
	},
}

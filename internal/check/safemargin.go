package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var insideSafeMargin = Rule{
	ID:    "type-in-safe-margin",
	Group: Document,
	Measures: "type that lies wholly inside the trim and comes nearer to it than the margin, by painting it alone; type that the trim cuts is taken as meant, and so " +
		"is all without a TrimBox",
	Figures:    []Figure{{Key: "margin", Unit: press.UnitLength, Default: 3, What: "distance type keeps from the trim", Source: CommonPractice}},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		trim := c.List.Page.Trim
		safe := trim.Grow(-press.Length(c.figure("margin")).Points())
		if !c.List.Page.HasTrim || safe.Empty() {
			return nil
		}
		var items []int
		for i := range c.List.Items {
			it := &c.List.Items[i]
			b := it.Bounds
			within := b.X0 >= trim.X0 && b.Y0 >= trim.Y0 && b.X1 <= trim.X1 && b.Y1 <= trim.Y1
			near := b.X0 < safe.X0 || b.Y0 < safe.Y0 || b.X1 > safe.X1 || b.Y1 > safe.Y1
			if it.Text != nil && within && near && c.itemToner(i) != 0 {
				items = append(items, i)
			}
		}
		pixels := c.pixelsOf(c.boundsOf(items))
		if len(items) == 0 || pixels.Empty() {
			return nil
		}
		m := c.newMask()
		err := c.alone(ctx, items, pixels, func(_, y int, tints []byte) {
			start := y*c.Plates.Width + pixels.Min.X
			for x, v := range tints {
				m[start+x] |= bit(v >= visibleTint)
			}
		})
		if err != nil {
			return err
		}
		x0, y0, x1, y1 := c.PixelRect(safe)
		for y := y0; y < y1; y++ {
			clear(m[y*c.Plates.Width+x0 : y*c.Plates.Width+max(x0, x1)])
		}
		c.within(m, trim)
		items = c.touchingOf(items, m)
		if c.pixels(m).Empty() {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Type comes nearer than %.3g mm to the trim.", c.figure("margin")),
			Why:      "Cutting is off by up to a millimetre: type close to the edge is cut or looks crooked.",
			Remedy:   fmt.Sprintf("Keep type %.3g mm or more from the trim.", c.figure("margin")),
			Place:    c.place(c.bounds(m), items),
		})
		return nil
	},
}

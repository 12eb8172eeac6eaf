package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var typeAtFold = Rule{
	ID:         "type-at-fold",
	Group:      Document,
	Measures:   "type near the fold lines that the job names or processing-step layers hold, by painting it alone",
	Figures:    append(areaFigure(.2), Figure{Key: "distance", Unit: press.UnitLength, Default: 2, What: "distance type keeps from a fold", Source: CommonPractice}),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		m, err := c.zone(ctx, press.ZoneFold, c.figure("distance"))
		if m == nil || err != nil {
			return err
		}
		near := c.touching(m)
		var items []int
		for i := range c.List.Items {
			if it := &c.List.Items[i]; it.Text != nil && !it.Hidden && c.itemToner(i) != 0 && near.box(it.Bounds) {
				items = append(items, i)
			}
		}
		pixels := c.pixelsOf(c.boundsOf(items))
		if len(items) == 0 || pixels.Empty() {
			return nil
		}
		err = c.alone(ctx, items, pixels, func(_, y int, tints []byte) {
			start := y*c.Plates.Width + pixels.Min.X
			for x, v := range tints {
				if m[start+x] != 0 && v >= visibleTint {
					m[start+x] = 2
				}
			}
		})
		if err != nil {
			return err
		}
		for i, v := range m {
			m[i] = bit(v == 2)
		}
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Type comes nearer than %.3g mm to a fold.", c.figure("distance")),
			Why:      "Folds are off by half a millimetre and more: letters run round the edge, and their toner breaks there.",
			Remedy:   fmt.Sprintf("Keep type %.3g mm or more from folds.", c.figure("distance")),
			Place:    c.place(c.bounds(m), c.touchingOf(items, m)),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

package check

import (
	"context"
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var fluorescentWithoutWhite = Rule{
	ID:       "fluorescent-without-white",
	Group:    Laydown,
	Measures: "fluorescent toner above 10 % on a stock darker than the figure with less than half an opaque white under it; strips under 0.6 mm do not count",
	Figures: append(areaFigure(1),
		Figure{Key: "lightness", Unit: press.UnitNumber, Default: 85, What: "L* of the stock below which a fluorescent wants a white", Source: CommonPractice}),
	Source:     CommonPractice + ": a fluorescent glows on white only",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"make-underlay"},
	Page: func(_ context.Context, c *Case) error {
		if c.Stock == nil || c.Press == nil || c.Stock.Front[0] >= c.figure("lightness") {
			return nil
		}
		rank := c.rank()
		for k := len(colourant.ProcessNames); k < c.Plates.Set.Len(); k++ {
			plane := c.Plates.Plane(k)
			if c.Plates.Set.At(k).Kind != colourant.Fluorescent || plane == nil {
				continue
			}
			m := c.bare(plane, c.opaqueUnder(k, rank))
			area, counts := c.settled(m, .6)
			if !counts {
				continue
			}
			name := c.Plates.Set.At(k).Name
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s lies on the stock %s (L* %.0f) without white under it, on %s.", name, c.Stock.Title, c.Stock.Front[0], areaText(area)),
				Why:      "A fluorescent toner is transparent and sends back more light than it gets only when the ground is white: on a toned stock it loses its glow.",
				Remedy:   whiteRemedy(c.Press),
				Place:    c.place(c.bounds(m), c.itemsTouching(m, 1<<k), name),
				Figures:  map[string]float64{"area_mm2": round2(area), "stock_L": c.Stock.Front[0]},
			})
		}
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var heavyAcrossFold = Rule{
	ID:       "heavy-toner-across-fold",
	Group:    Load,
	Measures: "the sum of all tints in a strip along the fold lines that the job names or processing-step layers hold (folding, creasing)",
	Figures: append(areaFigure(1),
		Figure{Key: "pile", Unit: press.UnitPercent, Default: 200, What: "sum of tints from which a fold cracks", Source: CommonPractice},
		Figure{Key: "width", Unit: press.UnitLength, Default: 3, What: "width of the strip", Source: CommonPractice}),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		m, err := c.zone(ctx, press.ZoneFold, c.figure("width")/2)
		if m == nil || err != nil {
			return err
		}
		c.keepWhere(m, c.allPlates(), c.figure("pile"))
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		plates := c.meeting(c.allPlates(), m)
		names := c.plateNames(plates)
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Toner of %.0f %% or more lies across a fold, on %s (%s).", c.figure("pile"), areaText(area), strings.Join(names, ", ")),
			Why:      "A thick layer of toner breaks when it is folded, and the stock shows along the edge.",
			Remedy:   "Lighten the colours along the fold, leave white, metal and clear out there, and have the sheet creased before it is folded.",
			Place:    c.place(c.bounds(m), c.itemsTouching(m, plates), names...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

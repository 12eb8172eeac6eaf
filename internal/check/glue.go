package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var tonerInGlueZone = Rule{
	ID:         "toner-in-glue-zone",
	Group:      Load,
	Measures:   "toner of 10 % or more, all plates together, where the job or a processing-step layer (gluing, ink free) says that glue goes",
	Figures:    areaFigure(1),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Error},
	Page: func(ctx context.Context, c *Case) error {
		m, err := c.zone(ctx, press.ZoneGlue, 0)
		if m == nil || err != nil {
			return err
		}
		c.keepWhere(m, c.allPlates(), 10)
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		plates := c.meeting(c.allPlates(), m)
		names := c.plateNames(plates)
		c.Add(finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("There is toner in a glue zone, on %s (%s).", areaText(area), strings.Join(names, ", ")),
			Why:      "Glue holds on the stock, not on toner: the piece comes apart.",
			Remedy:   "Leave the glue zone free of all colours, white and clear included.",
			Place:    c.place(c.bounds(m), c.itemsTouching(m, plates), names...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

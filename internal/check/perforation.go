package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var tonerAtPerforation = Rule{
	ID:       "toner-at-perforation",
	Group:    Load,
	Measures: "white and clear of 10 % or more near perforations that the job names or processing-step layers hold",
	Figures: append(areaFigure(1),
		Figure{Key: "distance", Unit: press.UnitLength, Default: 2, What: "distance white and clear keep from a perforation", Source: CommonPractice}),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		plates := c.platesOf(colourant.Clear, colourant.OpaqueWhite)
		if plates == 0 {
			return nil
		}
		m, err := c.zone(ctx, press.ZonePerforation, c.figure("distance"))
		if m == nil || err != nil {
			return err
		}
		c.keepWhere(m, plates, 10)
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		plates = c.meeting(plates, m)
		names := c.plateNames(plates)
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("%s comes nearer than %.3g mm to a perforation, on %s.", strings.Join(names, ", "), c.figure("distance"), areaText(area)),
			Why:      "These layers are thick and tough: they tear unevenly and flake off along the perforation.",
			Remedy:   "End white and clear before the perforation.",
			Place:    c.place(c.bounds(m), c.itemsTouching(m, plates), names...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

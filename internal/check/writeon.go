package check

import (
	"context"
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var clearInWritingZone = Rule{
	ID:         "clear-in-writing-zone",
	Group:      Load,
	Measures:   "clear of 10 % or more where the job or a processing-step layer (varnish free) says that somebody will write or nothing may shine",
	Figures:    areaFigure(1),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Error},
	Page: func(ctx context.Context, c *Case) error {
		clears := c.platesOf(colourant.Clear)
		if clears == 0 {
			return nil
		}
		m, err := c.zone(ctx, press.ZoneWriteOn, 0)
		if m == nil || err != nil {
			return err
		}
		c.keepWhere(m, clears, 10)
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		names := c.plateNames(c.meeting(clears, m))
		c.Add(finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("There is clear where somebody will write, on %s.", areaText(area)),
			Why:      "Pens and stamps do not hold on clear.",
			Remedy:   "Cut the zone out of the clear.",
			Place:    c.place(c.bounds(m), c.itemsTouching(m, clears), names...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

// platesOf is the set of plates of one of the kinds that have toner.
func (p *Page) platesOf(kinds ...colourant.Kind) (b plateBits) {
	for k := range p.Plates.Set.Len() {
		for _, kind := range kinds {
			if p.Plates.Plane(k) != nil && p.Plates.Set.At(k).Kind == kind {
				b |= 1 << k
			}
		}
	}
	return b
}

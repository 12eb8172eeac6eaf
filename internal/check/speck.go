package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var speckLost = Rule{
	ID:         "speck-lost",
	Group:      Fineness,
	Measures:   "dots of flat shapes in clear and white smaller than a disc of the figure; type does not count",
	Figures:    []Figure{{Key: "dot", Unit: press.UnitLength, Default: .3, What: "diameter of the smallest dot", Source: CommonPractice}},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		for _, g := range c.fineGroups() {
			if g.plates&c.platesOf(colourant.Clear, colourant.OpaqueWhite) == 0 {
				continue
			}
			w, err := c.shapes(ctx, g.plates)
			if err != nil {
				return err
			}
			if w.W == 0 {
				continue
			}
			d := c.figure("dot")
			// A tenth less is what coverage by pixels may be off.
			regions, err := distance.Specks(w.Plane, .9*math.Pi/4*d*d, distance.Options{Faint: faintLine})
			if err != nil {
				return err
			}
			if len(regions) == 0 {
				continue
			}
			m := c.newMask()
			c.markRegions(m, w, regions, false)
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s has dots smaller than %.2f mm, in %s.", g.names[0], d, places(len(regions))),
				Why:      "So little toner does not hold: such dots are lost or come off.",
				Remedy:   fmt.Sprintf("Leave dots out, or make them %.2f mm or larger.", d),
				Place:    c.place(c.bounds(m), c.touchingOf(w.items, m), g.names...),
				Figures:  map[string]float64{"count": float64(len(regions))},
			})
		}
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
)

var passOnPass = Rule{
	ID:         "toner-on-earlier-pass",
	Group:      Laydown,
	Measures:   "visible toner (10 % or more) of two passes in one place, on a press that says toner of a later pass must not lie on that of an earlier; strips under 0.2 mm do not count",
	Figures:    areaFigure(.5),
	Source:     "press definition (pass_on_pass)",
	Severities: []finding.Severity{finding.Error},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil || c.Press.PassOnPass == nil || *c.Press.PassOnPass || len(c.Passes) < 2 {
			return nil
		}
		earlier, m := c.newMask(), c.newMask()
		var all plateBits
		for n, pass := range c.Passes {
			var planes [][]byte
			for _, name := range pass.Toners {
				if k, ok := c.Plates.Set.Lookup(name); ok && c.Plates.Plane(k) != nil {
					planes = append(planes, c.Plates.Plane(k))
					all |= 1 << k
				}
			}
			for i := range m {
				for _, plane := range planes {
					if plane[i] < visibleTint {
						continue
					}
					if e := int(earlier[i]); e != 0 && e != n+1 {
						m[i] = 1
					} else {
						earlier[i] = byte(n + 1)
					}
				}
			}
		}
		c.within(m, c.List.Page.Bleed)
		c.thickOnly(m, .16)
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		all = c.meeting(all, m)
		names := c.plateNames(all)
		c.Add(finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("Toners of different passes lie on each other, on %s (%s); this press does not hold that.", areaText(area), strings.Join(names, ", ")),
			Why:      "Toner laid on a layer that has been fused already does not bond with it.",
			Remedy:   "Let the objects of the later pass knock out those of the earlier, or choose a press that carries the toners in one set.",
			Place:    c.place(c.bounds(m), c.itemsTouching(m, all), names...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

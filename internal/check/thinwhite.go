package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var whiteTooThin = Rule{
	ID:    "white-too-thin",
	Group: Laydown,
	Measures: "cyan, magenta or yellow above 10 %, but in rich blacks, over white between half and the least tint, on a stock darker than the figure; less white counts as " +
		"none (process-on-dark-stock); strips under 0.6 mm do not count",
	Figures: append(areaFigure(1),
		Figure{Key: "lightness", Unit: press.UnitNumber, Default: 75, What: "L* of the stock below which process colours want a white", Source: CommonPractice},
		Figure{Key: "least", Unit: press.UnitPercent, Default: 80, What: "least tint of white under process colours", Source: CommonPractice + "; below 100 % colours get muted"}),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"make-underlay"},
	Page: func(_ context.Context, c *Case) error {
		if c.Stock == nil || c.Press == nil || c.Stock.Front[0] >= c.figure("lightness") {
			return nil
		}
		least := int(math.Round(c.figure("least") * 2.55))
		rank := c.rank()
		black := c.Plates.Plane(processBlack)
		for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
			white := c.Plates.Plane(b)
			if c.Plates.Set.At(b).Kind != colourant.OpaqueWhite || white == nil {
				continue
			}
			var m mask
			var plates plateBits
			for k := range processBlack {
				plane := c.Plates.Plane(k)
				if plane == nil || rank[b] >= 0 && rank[k] >= 0 && rank[b] > rank[k] {
					continue
				}
				for i, v := range plane {
					// A level of rounding belongs to the figure itself.
					if v >= visibleTint && white[i] >= solidTint && int(white[i])+1 < least && at(black, i) < nearlyBlack {
						if m == nil {
							m = c.newMask()
						}
						m[i] = 1
						plates |= 1 << k
					}
				}
			}
			area, counts := c.settled(m, .6)
			if !counts {
				continue
			}
			name, tint := c.Plates.Set.At(b).Name, meanTint(white, m)
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("The %s under process colours is only %.0f %% on %s.", name, tint, areaText(area)),
				Why:      "A tint of white lets the dark stock through between its dots: the colours on it come out muted and uneven.",
				Remedy:   fmt.Sprintf("Lay %s at 100 %% under these colours.", name),
				Place:    c.place(c.bounds(m), c.itemsTouching(m, 1<<b), append([]string{name}, c.plateNames(plates)...)...),
				Figures:  map[string]float64{"area_mm2": round2(area), "tint_percent": math.Round(tint*10) / 10},
			})
		}
		return nil
	},
}

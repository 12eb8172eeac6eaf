package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var oneSidedCurl = Rule{
	ID:    "one-sided-curl",
	Group: Load,
	Measures: "the mean sum of all tints inside the trim of a sheet's front against its back, on heavy or light stock; pages 1 and 2, 3 and 4 and so on are taken for two " +
		"sides of a sheet when the job has two sides or the file two pages, and a page for one-sided when the job has one side or the file one page",
	Figures: []Figure{
		{Key: "difference", Unit: press.UnitPercent, Default: 150, What: "difference of the two sides", Source: CommonPractice},
		{Key: "heavy", Unit: press.UnitGSM, Default: 300, What: "stock above this weight is heavy", Source: CommonPractice},
		{Key: "light", Unit: press.UnitGSM, Default: 100, What: "stock below this weight is light", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Stock == nil || len(c.pages) == 0 || !c.whole() {
			return nil
		}
		if w := float64(c.Stock.Weight); w <= c.figure("heavy") && w >= c.figure("light") {
			return nil
		}
		sides := 0
		if c.Job != nil {
			sides = c.Job.Sides
		}
		if sides == 0 && len(c.pages) <= 2 {
			sides = len(c.pages)
		}
		for i := 0; i < len(c.pages) && sides > 0; i += sides {
			front, back := c.pages[i], pageFacts{}
			if sides == 2 && i+1 < len(c.pages) {
				back = c.pages[i+1]
			}
			off := math.Abs(front.pile - back.pile)
			if off <= c.figure("difference")+.5 {
				continue
			}
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What: fmt.Sprintf("One side of the sheet carries %.0f %% of toner on average, the other %.0f %%, on a stock of %.0f g/m².",
					math.Max(front.pile, back.pile), math.Min(front.pile, back.pile), float64(c.Stock.Weight)),
				Why:     "Toner shrinks as it cools and bends the sheet towards the side that carries more.",
				Remedy:  "Balance the two sides, lighten the heavier, or choose a stock of middling weight.",
				Place:   finding.Place{Page: front.number},
				Figures: map[string]float64{"difference_percent": math.Round(off)},
			})
		}
		return nil
	},
}

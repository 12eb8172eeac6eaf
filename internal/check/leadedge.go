package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var heavyAtLeadEdge = Rule{
	ID:       "heavy-toner-at-lead-edge",
	Group:    Load,
	Measures: "the mean sum of all tints in a strip along the edge of the trim that the job says enters the press first; quiet when it says nothing",
	Figures: []Figure{
		{Key: "pile", Unit: press.UnitPercent, Default: 150, What: "mean sum of tints", Source: CommonPractice},
		{Key: "depth", Unit: press.UnitLength, Default: 10, What: "depth of the strip", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		if c.Job == nil || c.Job.Lead == "" {
			return nil
		}
		r := c.strip(c.Job.Lead, c.figure("depth"))
		box := c.listRect(r.Min.X, r.Min.Y, r.Max.X, r.Max.Y)
		pile := c.meanPile(box)
		if pile <= c.figure("pile")+.5 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("The %s edge, which enters the press first, carries %.0f %% of toner on average.", c.Job.Lead, pile),
			Why:      "The sheet has to let go of the fuser at this edge: under heavy toner it sticks, curls or jams.",
			Remedy:   "Turn the page so that a lighter edge goes first, or lighten the colours there; keep solid white away from it.",
			Place:    c.place(box, nil),
			Figures:  map[string]float64{"pile_percent": math.Round(pile)},
		})
		return nil
	},
}

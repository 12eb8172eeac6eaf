package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var gapFillsIn = Rule{
	ID:    "gap-fills-in",
	Group: Fineness,
	Measures: "gaps and reversed lines in flat shapes on the plates narrower than the toner keeps open, type that knocks out included, by exact distance from the outlines; " +
		"gaps between letters do not count",
	Figures: []Figure{
		{Key: "reversed", Unit: press.UnitLength, From: "finest.reversed of the toner, by kind where it says nothing", What: "narrowest gap", Source: "press definition; " + CommonPractice},
		{Key: "length", Unit: press.UnitLength, Default: 2, What: "shorter narrow places do not count", Source: CommonPractice},
	},
	Source:     "as line-too-thin; " + CommonPractice,
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Page: func(ctx context.Context, c *Case) error {
		for _, g := range c.fineGroups() {
			limit := c.figureElse("reversed", c.finest(g.plates, func(f press.Finest) press.Length { return f.Reversed }))
			w, err := c.lineWork(ctx, g.plates, notType)
			if err != nil {
				return err
			}
			if w.W == 0 {
				continue
			}
			// Shapes that touch between two pixels leave a faint seam, which is no gap: what is half open counts.
			regions, err := distance.Gaps(w.Plane, limit, distance.Options{Workers: 1})
			if err != nil {
				return err
			}
			regions = longOnly(narrower(regions, limit-.01), c.figure("length"))
			if len(regions) == 0 {
				continue
			}
			m := c.newMask()
			c.markRegions(m, &w, regions, true)
			width := thinnest(regions)
			f := finding.Finding{
				Severity: finding.Warning,
				What: fmt.Sprintf("Gaps in %s are down to %.2f mm (%.2f pt) narrow, in %s; gaps of %.2f mm (%.2f pt) stay open.", strings.Join(g.names, ", "), width,
					press.Length(width).Points(), places(len(regions)), limit, press.Length(limit).Points()),
				Why:     "Toner spreads a little when it is fused: narrower gaps fill in.",
				Remedy:  fmt.Sprintf("Open these gaps to %.2f mm or more, or close them.", limit),
				Place:   c.place(c.bounds(m), c.touchingOf(w.items, m), g.names...),
				Figures: map[string]float64{"width_mm": round3(width), "count": float64(len(regions))},
			}
			if width < limit/2 {
				f.Severity = finding.Error
			}
			c.Add(f)
		}
		return nil
	},
}

func places(n int) string {
	if n == 1 {
		return "1 place"
	}
	return fmt.Sprintf("%d places", n)
}

package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

var tintTooLight = Rule{
	ID:    "tint-drops-out",
	Group: Fineness,
	Measures: "flat process tints lighter than the figure in objects that have no darker one, so that nothing may be seen of them; pictures and blends fade out on purpose " +
		"and do not count",
	Figures: append(areaFigure(25),
		Figure{Key: "least", Unit: press.UnitPercent, Default: 3, What: "lightest tint that is safely printed", Source: CommonPractice}),
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		least := c.figure("least") / 100 * math.MaxUint16
		var items []int
		var plates plateBits
		lightest := math.Inf(1)
		for _, s := range c.plan() {
			it := &c.List.Items[s.Item]
			if s.Ink == nil || s.Sampled || s.Context.Space != separate.BlendCMYK || it.Kind == displist.BeginGroup || it.Alpha < 1 || it.SoftMask != nil {
				continue
			}
			most := uint16(0)
			for k, v := range s.Ink.Values {
				if s.Ink.Effects[k] == separate.Paint {
					most = max(most, v)
				}
			}
			box := it.Bounds.Intersect(c.List.Page.Bleed)
			// Half a level of rounding belongs to the figure.
			if most == 0 || float64(most) >= least-128 || box.Empty() || box.W()*box.H() < c.figure("area")*pointsPerMM2 || c.itemToner(s.Item)&^processPlates != 0 {
				continue
			}
			items = append(items, s.Item)
			plates |= c.itemToner(s.Item)
			lightest = min(lightest, float64(most)/math.MaxUint16*100)
		}
		if len(items) == 0 {
			return nil
		}
		names := c.plateNames(plates & (1<<len(colourant.ProcessNames) - 1))
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("%s painted in tints as light as %.1f %% (%s).", objects(len(items)), lightest, strings.Join(names, ", ")),
			Why:      "Dots so small are not printed reliably: the tint may be missing or patchy.",
			Remedy:   fmt.Sprintf("Use tints of %.0f %% or more, or leave these areas white.", c.figure("least")),
			Place:    c.place(c.boundsOf(items), items, names...),
			Figures:  map[string]float64{"tint_percent": math.Round(lightest*10) / 10},
		})
		return nil
	},
}

// pointsPerMM2 turns square millimetres to square points.
const pointsPerMM2 = (72 / 25.4) * (72 / 25.4)

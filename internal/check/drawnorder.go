package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
)

var drawnOrderDiffers = Rule{
	ID:    "drawn-order-differs-from-laydown",
	Group: Laydown,
	Measures: "for every pair of a special toner and another, or the process toners together: toner drawn above one that the press lays on top of it, where both are " +
		"on the plates and the upper objects would hide the lower if they knocked out; a warning where the upper is a metal; pairs whose upper layer on the press is " +
		"opaque belong to covered-by-later-toner, and what lies as the job wishes an underlay is right; strips under 0.2 mm do not count",
	Figures:    areaFigure(1),
	Source:     "press definition (laydown order); " + CommonPractice + ": a metal with process toner on it takes its colour",
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Remedies:   []string{"knock-out"},
	Page: func(ctx context.Context, c *Case) error {
		rank := c.rank()
		var wrong mask
		try := func(above, below plateBits) error {
			if above == 0 || below == 0 {
				return nil
			}
			m, upper, err := c.paintedOver(ctx, above, below, wrong)
			if m == nil || err != nil {
				return err
			}
			wrong = m
			c.thickOnly(wrong, .16)
			if area := c.areaMM2(wrong); area >= c.figure("area") {
				c.Add(c.drawnOrderFinding(wrong, area, upper, above, below))
			}
			return nil
		}
		laid := func(k int) bool { return rank[k] >= 0 && c.Plates.Plane(k) != nil }
		for a := len(colourant.ProcessNames); a < c.Plates.Set.Len(); a++ {
			if !laid(a) {
				continue
			}
			var below, above plateBits // process toners laid after a, and before it
			for k := range colourant.ProcessNames {
				switch {
				case !laid(k):
				case rank[k] > rank[a]:
					below |= 1 << k
				default:
					above |= 1 << k
				}
			}
			if err := try(1<<a, below&^c.wishedOver(a)); err != nil {
				return err
			}
			if c.opaque(a) {
				continue
			}
			if err := try(above, 1<<a); err != nil {
				return err
			}
			for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
				if b != a && laid(b) && rank[b] < rank[a] && !c.wishedOver(b).has(a) {
					if err := try(1<<b, 1<<a); err != nil {
						return err
					}
				}
			}
		}
		return nil
	},
}

func (p *Page) drawnOrderFinding(wrong mask, area float64, upper []int, above, below plateBits) finding.Finding {
	up, down := p.plateNames(p.meeting(above, wrong)), p.plateNames(p.meeting(below, wrong))
	f := finding.Finding{
		Severity: finding.Note,
		What: fmt.Sprintf("%s %s drawn above %s, but the press lays %s on top, on %s.", strings.Join(up, ", "), isAre(up), strings.Join(down, ", "),
			strings.Join(down, ", "), areaText(area)),
		Why:     "The order of the layers in the artwork does not change the order of the stations: where both are printed, they lie the other way round than drawn.",
		Remedy:  "Nothing to do if that is meant; else let the upper objects knock out what lies below (overprint off), or choose a press with the other order.",
		Place:   p.place(p.bounds(wrong), p.touchingOf(upper, wrong), append(up, down...)...),
		Figures: map[string]float64{"area_mm2": round2(area)},
	}
	for k := len(colourant.ProcessNames); k < p.Plates.Set.Len(); k++ {
		if above.has(k) && p.Plates.Set.At(k).Kind == colourant.Metallic {
			f.Severity = finding.Warning
			f.Why += " Toner on a metal takes its glint and tints it."
		}
	}
	return f
}

func isAre(names []string) string {
	if len(names) == 1 {
		return "is"
	}
	return "are"
}

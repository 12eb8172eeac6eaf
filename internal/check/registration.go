package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var registrationInsideTrim = Rule{
	ID:    "registration-colour-inside-trim",
	Group: Names,
	Measures: "toner inside the trim of what is painted in the colourant All, which is meant for marks beyond it, by painting these objects alone; " +
		"quiet without a TrimBox",
	Figures: []Figure{
		{Key: "area", Unit: press.UnitArea, Default: .1, What: "smallest area that counts", Source: CommonPractice},
		{Key: "inside", Unit: press.UnitLength, Default: .3, What: "marks may reach this far into the trim", Source: CommonPractice},
	},
	Source:     "ISO 32000-2, 8.6.6.4: All paints every plate; Ghent Workgroup sheet-fed list, row 21 (from memory)",
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"to-process"},
	Page: func(ctx context.Context, c *Case) error {
		inside := c.List.Page.Trim.Grow(-press.Length(c.figure("inside")).Points())
		if !c.List.Page.HasTrim || inside.Empty() {
			return nil
		}
		var items []int
		for _, i := range c.itemsNaming("All") {
			if !c.List.Items[i].Bounds.Intersect(inside).Empty() {
				items = append(items, i)
			}
		}
		pixels := c.pixelsOf(c.boundsOf(items).Intersect(inside))
		if len(items) == 0 || pixels.Empty() {
			return nil
		}
		m := c.newMask()
		err := c.alone(ctx, items, pixels, func(_, y int, tints []byte) {
			start := y*c.Plates.Width + pixels.Min.X
			for x, v := range tints {
				m[start+x] |= bit(v >= visibleTint)
			}
		})
		if err != nil {
			return err
		}
		c.within(m, inside)
		area := c.areaMM2(m)
		if area < c.figure("area") {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("The registration colour is used inside the trim, on %s.", areaText(area)),
			Why:      "It paints every toner of the press at once, white, metal and clear too: the pile does not fuse, and every pass needs its plate.",
			Remedy:   "Paint these objects in black or the colour that is meant; keep the registration colour for marks beyond the trim.",
			Place:    c.place(c.bounds(m), c.touchingOf(items, m), "All"),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

package check

import (
	"context"
	"fmt"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/plates/separate"
)

var vanishingWhite = Rule{
	ID:    "white-overprint-vanishes",
	Group: Names,
	Measures: "objects painted in CMYK 0 0 0 0 and set to overprint (mode 1), which mark nothing, where they would have knocked out toner without it, by " +
		"painting the page again with them knocking out",
	Figures:    areaFigure(.1),
	Source:     "ISO 32000-2, 8.6.7 and Table 146; Ghent Workgroup sheet-fed list, rows 8 and 9 (from memory)",
	Severities: []finding.Severity{finding.Error},
	Page: func(ctx context.Context, c *Case) error {
		var items []int
		for _, s := range c.plan() {
			it := &c.List.Items[s.Item]
			if s.Ink != nil && !s.Sampled && s.Ink.Nothing && it.Kind != displist.BeginGroup && s.Ink.Reasons[0] == separate.ReasonMode {
				items = append(items, s.Item)
			}
		}
		pixels := c.pixelsOf(c.boundsOf(items))
		if len(items) == 0 || pixels.Empty() {
			return nil
		}
		lost, _, err := c.lighter(ctx, c.knockingOut(items), nil, pixels, nil)
		if err != nil || lost == nil {
			return err
		}
		c.within(lost, c.List.Page.Bleed)
		area := c.areaMM2(lost)
		if area < c.figure("area") {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("White objects are set to overprint, so they do not print: they should show on %s.", areaText(area)),
			Why:      "White in process colours is no toner but a gap in the others. Set to overprint it leaves them alone, and the object is not there.",
			Remedy:   "Set these objects to knock out (overprint off), or paint them in the white toner if the press has one.",
			Place:    c.place(c.bounds(lost), c.touchingOf(items, lost)),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

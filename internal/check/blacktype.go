package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// overprintActs reports whether an item set to overprint leaves the process plates alone that it has no tint for: named colours
// do, and CMYK in mode 1 (ISO 32000-2, Table 146).
func overprintActs(it *displist.Item) bool {
	space, _, _ := it.Colours()
	switch space.(type) {
	case *colour.Separation, *colour.DeviceN:
		return true
	}
	return it.OverprintMode == 1 && space == colour.Space(colour.CMYK)
}

var blackTypeKnocksOut = Rule{
	ID:    "black-type-knocks-out",
	Group: Laydown,
	Measures: "toner missing under small type in black alone, against the page painted without it; type set to overprint too, where that does not act on its " +
		"colour (gray, or CMYK in mode 0)",
	Figures: append(areaFigure(.5),
		Figure{Key: "size", Unit: press.UnitLength, Default: float64(press.LengthFromPoints(12)), What: "size of type from which it may knock out, 12 pt", Source: "Ghent Workgroup sheet-fed list, rows 10 and 11 (from memory)"},
		Figure{Key: "black", Unit: press.UnitPercent, Default: 95, What: "black of at least this tint", Source: CommonPractice}),
	Source:     CommonPractice + ": black over white, metal and colours overprints, since a knock-out shows a rim where plates are off each other",
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		most := press.Length(c.figure("size")).Points()
		least := c.figure("black") / 100 * math.MaxUint16
		var items []int
		for _, s := range c.plan() {
			it := &c.List.Items[s.Item]
			if it.Text == nil || it.Overprint && overprintActs(it) || !blackAlone(&s) {
				continue
			}
			if size, sure := typeSize(it); !sure || size >= most || float64(s.Ink.Values[processBlack]) < least {
				continue
			}
			items = append(items, s.Item)
		}
		lost, plates, err := c.heavierWithout(ctx, items, c.List.Page.Bleed, func(k int) bool { return k != processBlack })
		if err != nil || lost == nil {
			return err
		}
		area := c.areaMM2(lost)
		if area < c.figure("area") {
			return nil
		}
		under := c.plateNames(plates)
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Small black type knocks out %s under it, on %s.", strings.Join(under, ", "), areaText(area)),
			Why:      "Where the plates are off each other, a rim of bare stock shows beside every letter.",
			Remedy:   "Set black type to overprint, in the colourant Black or as CMYK in mode 1: black hides what lies under it.",
			Place:    c.place(c.bounds(lost), c.touchingOf(items, lost), append([]string{"Black"}, under...)...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		})
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/finding"
)

var profileOverprint = Rule{
	ID:    "pdfx-overprint-with-profile",
	Group: Document,
	Measures: "objects of files that call themselves PDF/X, set to overprint in mode 1 and painted in CMYK that has a profile, where a component is 0: by the standard it " +
		"erases what lies under it unless profile and output are the same",
	Source:     "ISO 15930-7 (PDF/X-4), from memory; ISO 32000-2, 8.6.5.7 and 8.6.7",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		if claim == "" {
			return nil
		}
		var items []int
		c.eachInk(func(i int, k ink) {
			it := &c.List.Items[i]
			if !it.Overprint || it.OverprintMode != 1 || it.Bounds.Intersect(c.List.Page.Bleed).Empty() {
				return
			}
			icc, ok := k.space.(*colour.ICCBased)
			if ok && icc.N == 4 && slices.Contains(k.comps, 0) && slices.ContainsFunc(k.comps, func(v float64) bool { return v > 0 }) {
				items = appendItem(items, i)
			}
		})
		if len(items) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("%s set to overprint in a CMYK colour with a profile, in a file that calls itself %s.", objects(len(items)), claim),
			Why:      "Toners at 0 % are left alone in plain CMYK; where colours have a profile they may be converted, and then erase what lies under them. Receivers differ.",
			Remedy:   "Give objects that overprint plain CMYK or a toner of their own, and export again.",
			Place:    c.place(c.boundsOf(items), items),
		})
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"math"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

var pageSizesDiffer = Rule{
	ID:         "page-sizes-differ",
	Group:      Document,
	Measures:   "the finished sizes of all pages looked at, and whether they stand upright alike; pages without a TrimBox count only where all are",
	Figures:    []Figure{{Key: "difference", Unit: press.UnitLength, Default: .3, What: "largest difference of a side that counts as equal", Source: CommonPractice}},
	Source:     "Ghent Workgroup sheet-fed list, row 4 (from memory)",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		// Pages without a TrimBox have been told of; they count only among themselves.
		own := slices.ContainsFunc(c.pages, func(p pageFacts) bool { return p.own })
		pages := slices.DeleteFunc(slices.Clone(c.pages), func(p pageFacts) bool { return p.own != own })
		mm := func(r geom.Rect) (w, h float64) { return r.W() / geom.PointsPerMM, r.H() / geom.PointsPerMM }
		if len(pages) < 2 {
			return nil
		}
		w, h := mm(pages[0].trim)
		for _, p := range pages[1:] {
			pw, ph := mm(p.trim)
			if math.Max(math.Abs(pw-w), math.Abs(ph-h)) <= c.figure("difference") {
				continue
			}
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What: fmt.Sprintf("Pages have different finished sizes: page %d has %.1f × %.1f mm, page %d has %.1f × %.1f mm.",
					pages[0].number, w, h, p.number, pw, ph),
				Why:    "Sheets are laid out for one size; pages of another are placed wrongly or need a job of their own.",
				Remedy: "Export pages of different sizes as different files, or set their TrimBoxes alike.",
				Place:  finding.Place{Page: p.number},
			})
			return nil
		}
		return nil
	},
}

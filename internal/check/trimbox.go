package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
	"laydown/internal/geom"
)

var trimBoxMissing = Rule{
	ID:         "finished-size-unclear",
	Group:      Document,
	Measures:   "whether the page has a TrimBox of its own",
	Source:     "ISO 32000-2, 14.11.2: TrimBox is not inherited",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"set-boxes", "centre-boxes"},
	Page: func(_ context.Context, c *Case) error {
		pg := c.List.Page
		if pg.HasTrim {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("The page has no TrimBox; the whole page of %.1f × %.1f mm is taken as the finished size.", pg.Trim.W()/geom.PointsPerMM, pg.Trim.H()/geom.PointsPerMM),
			Why:      "The printer cannot tell where to cut, and how far the artwork bleeds is unknown.",
			Remedy:   "Export with trim and bleed boxes, or set the TrimBox to the finished size.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

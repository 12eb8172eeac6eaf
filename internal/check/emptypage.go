package check

import (
	"context"

	"laydown/internal/finding"
	"laydown/internal/geom"
)

var pageEmpty = Rule{
	ID:         "page-empty",
	Group:      Document,
	Measures:   "pages without any toner inside the bleed",
	Source:     "Ghent Workgroup sheet-fed list, row 5 (from memory)",
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		if len(c.Used()) > 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     "Nothing is printed on this page.",
			Why:      "An empty page is often one whose layers were switched off or whose picture was lost.",
			Remedy:   "Nothing to do if the page is meant to be blank.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

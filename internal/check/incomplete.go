package check

import (
	"context"

	"laydown/internal/finding"
	"laydown/internal/geom"
)

var pageIncomplete = Rule{
	ID:         "page-incomplete",
	Group:      Document,
	Measures:   "whether everything on the page could be read and painted as written",
	Source:     "what could not be read is never called clean",
	Severities: []finding.Severity{finding.Error},
	Fixed:      true,
	Page: func(_ context.Context, c *Case) error {
		if !c.List.Incomplete {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
			What:   "Part of this page could not be read or painted; the plates and the picture show less than the artwork holds.",
			Why:    "What is not seen here may still be printed, so nothing about this page can be called clean.",
			Remedy: "See the findings that name what was left out, and simplify or repair these objects.",
			Place:  c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

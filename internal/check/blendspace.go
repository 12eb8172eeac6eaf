package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

var blendSpaceNotCMYK = Rule{
	ID:         "blend-space-not-cmyk",
	Group:      Document,
	Measures:   "the colour space transparency of the page is computed in (that of the page group), where the page has any",
	Source:     "ISO 32000-2, 11.4.7 and 11.7.2; Ghent Workgroup sheet-fed list, row 24 (from memory)",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		space := separate.PageContext(c.List).Space
		if !c.List.Blending || space == separate.BlendCMYK || len(c.List.Items) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Transparency on this page is computed in %s, not in CMYK.", space),
			Why:      "All process colours of the page go through that space and back: plain black becomes four colours, numbers change, and overprinting process colours knock out.",
			Remedy:   "Choose CMYK as the transparency blend space of the document, and export again.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

package check

import (
	"context"

	"laydown/internal/finding"
	"laydown/internal/geom"
)

var viewerLayersDiffer = Rule{
	ID:         "layers-differ-in-viewer",
	Group:      Document,
	Measures:   "the layers the press prints against those a viewer shows when it prints",
	Source:     "ISO 32000-2, 8.11.4.5: usage application dictionaries are for viewers only",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"drop-hidden-layers"},
	Page: func(_ context.Context, c *Case) error {
		if !c.List.ViewerDiffers {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     "A viewer that prints this file would show other layers than the press does.",
			Why:      "The press follows the file's default layer states; viewers switch layers for printing by rules the press does not apply.",
			Remedy:   "Delete layers that are not meant to print, and leave all others visible.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

package check

import (
	"context"

	"laydown/internal/artwork/displist"
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
		f := finding.Finding{
			Severity: finding.Warning,
			What:     "A viewer that prints this file would show other layers than the press does.",
			Why:      "The press follows the file's default layer states; viewers switch layers for printing by rules the press does not apply.",
			Remedy:   "Delete layers that are not meant to print, and leave all others visible.",
			Place:    c.place(geom.Rect{}, nil),
		}
		for i := range c.List.Items {
			if it := &c.List.Items[i]; !it.Hidden && layersDiffer(it.Layer) {
				f.Remedies = []string{} // the viewer leaves out what prints
			}
		}
		c.Add(f)
		return nil
	},
}

// layersDiffer reports whether a layer, or one round it, prints and is left out by a viewer, or the other way round.
func layersDiffer(l *displist.Layer) bool {
	for ; l != nil; l = l.Parent {
		if l.Visible != l.Viewer {
			return true
		}
	}
	return false
}

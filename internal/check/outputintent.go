package check

import (
	"context"

	"laydown/internal/finding"
)

var outputIntentMissing = Rule{
	ID:         "output-intent-missing",
	Group:      Document,
	Measures:   "whether file or first page name an output intent for printing (GTS_PDFX)",
	Source:     "ISO 32000-2, 14.11.5; Ghent Workgroup sheet-fed list, row 29 (from memory)",
	Severities: []finding.Severity{finding.Note},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil || c.hasIntent() {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     "The file has no output intent.",
			Why:      "Nobody can tell for which printing condition its CMYK colours were chosen, and RGB colours are converted as the press thinks best.",
			Remedy:   "Export as PDF/X-4 with the profile of the press, or of the condition the colours were chosen for.",
		})
		return nil
	},
}

// hasIntent reports whether the catalogue or the first page has an output intent of PDF/X.
func (in *Input) hasIntent() bool { return len(in.pdfxIntents()) > 0 }

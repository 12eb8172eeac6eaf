package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var annotationPrints = Rule{
	ID:         "annotation-prints",
	Group:      Document,
	Measures:   "annotations and form fields set to print with marks inside the bleed; printer's marks do not count",
	Source:     "ISO 32000-2, 12.5.3; ISO 15930-7 (PDF/X-4) allows printer's marks and trap networks only there (from memory)",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		var items []int
		seen := map[int]bool{}
		for i := range c.List.Items {
			it := &c.List.Items[i]
			n := it.Origin.Annotation
			if n == 0 || it.Hidden || c.itemToner(i) == 0 || it.Bounds.Intersect(c.List.Page.Bleed).Empty() || c.printersMark(n) {
				continue
			}
			items = append(items, i)
			seen[n] = true
		}
		if len(items) == 0 {
			return nil
		}
		what := fmt.Sprintf("%d annotations or form fields are printed.", len(seen))
		if len(seen) == 1 {
			what = "An annotation or form field is printed."
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     what,
			Why:      "Comments, stamps and fields are put on the page by viewers, each in its own way; few are meant for the press.",
			Remedy:   "Delete them, or make them part of the page in the program that made the artwork.",
			Place:    c.place(c.boundsOf(items), items),
		})
		return nil
	},
}

// printersMark reports whether an annotation is a printer's mark or a trap network.
func (in *Input) printersMark(object int) bool {
	if in.Doc == nil {
		return false
	}
	d, _ := in.Doc.Dict(pdf.Ref{Num: object})
	kind, _ := in.Doc.Name(d["Subtype"])
	return slices.Contains([]pdf.Name{"PrinterMark", "TrapNet"}, kind)
}

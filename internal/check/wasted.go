package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var resolutionWasted = Rule{
	ID:       "image-resolution-wasted",
	Group:    Images,
	Measures: "images of tones with far more samples than can be printed; small ones do not count",
	Figures: []Figure{
		{Key: "most", Unit: press.UnitDPI, Default: 450, What: "above it the samples are wasted", Source: CommonPractice},
		{Key: "size", Unit: press.UnitLength, Default: 20, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		var items []int
		finest := 0.0
		for _, pic := range c.pictures() {
			if !pic.oneBit && !pic.flat && pic.ppi > c.figure("most")*1.0005 && max(pic.w, pic.h) >= c.figure("size") {
				items = append(items, pic.item)
				finest = max(finest, pic.ppi)
			}
		}
		if len(items) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("%s as high as %.0f dpi; more than %.0f dpi cannot be seen in print.", imagesHave(len(items)), finest, c.figure("most")),
			Why:      "The samples beyond that are averaged away; they only make the file large and slow.",
			Remedy:   "Nothing to do for one print; for many files, export images at 300 dpi.",
			Place:    c.place(c.boundsOf(items), items),
			Figures:  map[string]float64{"resolution_dpi": math.Round(finest)},
		})
		return nil
	},
}

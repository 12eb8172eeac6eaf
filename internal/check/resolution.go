package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var resolutionLow = Rule{
	ID:    "image-resolution-low",
	Group: Images,
	Measures: "the effective resolution of images, of the coarser axis, by kind: tones, tones in a special plate, line work of one bit; those of one flat colour, small " +
		"ones and those in patterns do not count. Down-sampling shows as a resolution below what is wanted; image-resolution-round and image-resampled look for its traces",
	Figures: []Figure{
		{Key: "wanted", Unit: press.UnitDPI, Default: 225, What: "tones: below it a warning", Source: CommonPractice + "; Ghent Workgroup sheet-fed list, row 25, has 224 (from memory)"},
		{Key: "least", Unit: press.UnitDPI, Default: 150, What: "tones: below it an error", Source: CommonPractice + "; row 25 has 149 (from memory)"},
		{Key: "special", Unit: press.UnitDPI, Default: 300, What: "tones in a special plate: below it a warning", Source: CommonPractice},
		{Key: "line_wanted", Unit: press.UnitDPI, Default: 800, What: "line work: below it, and below the press's own, a warning", Source: CommonPractice + "; row 26 has 799 (from memory)"},
		{Key: "line_least", Unit: press.UnitDPI, Default: 600, What: "line work: below it, and below the press's own, an error", Source: CommonPractice + "; row 26 has 549 (from memory)"},
		{Key: "size", Unit: press.UnitLength, Default: 5, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     "ISO 32000-2, 8.9.5: samples by the size they are shown in",
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Page: func(_ context.Context, c *Case) error {
		lines := math.Inf(1)
		if c.Press != nil {
			lines = float64(c.Press.Resolution)
		}
		type class struct {
			kind   string
			limit  float64
			severe finding.Severity
		}
		found := map[class][]int{}
		coarsest := map[class]float64{}
		var order []class
		add := func(k class, pic picture) {
			if found[k] == nil {
				order = append(order, k)
				coarsest[k] = pic.ppi
			}
			found[k] = append(found[k], pic.item)
			coarsest[k] = min(coarsest[k], pic.ppi)
		}
		for _, pic := range c.pictures() {
			if pic.flat || max(pic.w, pic.h) < c.figure("size") {
				continue
			}
			kind, wanted, least := "tones", c.figure("wanted"), c.figure("least")
			switch {
			case pic.oneBit:
				kind, wanted, least = "line work", min(lines, c.figure("line_wanted")), min(lines, c.figure("line_least"))
			case pic.toner&c.specialPlates() != 0:
				kind, wanted = "tones in a special plate", max(wanted, c.figure("special"))
			}
			// Half a sample in a thousand is the rounding of sizes.
			switch ppi := pic.ppi * 1.0005; {
			case ppi < least:
				add(class{kind, least, finding.Error}, pic)
			case ppi < wanted:
				add(class{kind, wanted, finding.Warning}, pic)
			}
		}
		for _, k := range order {
			items := found[k]
			c.Add(finding.Finding{
				Severity: k.severe,
				What:     fmt.Sprintf("%s (%s) as low as %.0f dpi; at least %.0f dpi are wanted.", imagesHave(len(items)), k.kind, coarsest[k], k.limit),
				Why:      "Too few samples for their size: edges show steps and detail is soft.",
				Remedy:   "Place the image smaller, or use the original in its full resolution; enlarging it in a program adds no detail.",
				Place:    c.place(c.boundsOf(items), items),
				Figures:  map[string]float64{"resolution_dpi": math.Round(coarsest[k])},
			})
		}
		return nil
	},
}

func imagesHave(n int) string {
	if n == 1 {
		return "1 image has a resolution"
	}
	return fmt.Sprintf("%d images have a resolution", n)
}

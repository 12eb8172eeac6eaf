package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

// exportResolutions are round figures that exports down-sample to: common practice, no source.
var exportResolutions = []float64{72, 96, 100, 120, 144, 150, 200, 220, 225, 250, 300, 350, 400, 450, 600}

var resolutionRound = Rule{
	ID:    "image-resolution-round",
	Group: Images,
	Measures: "images of tones that share one round resolution (72, 96, 100, 120, 144, 150, 200, 220, 225, 250, 300, 350, 400, 450 or 600 dpi) to the sample, though their sizes on " +
		"the page are no whole numbers of samples: images placed unchanged are exact, those scaled in the layout anything, down-sampled ones rounded to the next sample",
	Figures: []Figure{
		{Key: "images", Unit: press.UnitNumber, Default: 3, What: "least number of images of different size", Source: CommonPractice},
		{Key: "difference", Unit: press.UnitDPI, Default: .3, What: "how far off a resolution may be", Source: CommonPractice},
		{Key: "size", Unit: press.UnitLength, Default: 5, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		shared := map[float64][]int{}
		sizes := map[float64]map[[2]int]bool{}
		seen := map[pdf.Ref]bool{}
		for _, pic := range c.pictures() {
			im := c.List.Items[pic.item].Image
			if pic.flat || pic.oneBit || max(pic.w, pic.h) < c.figure("size") || im.Ref != (pdf.Ref{}) && seen[im.Ref] {
				continue
			}
			seen[im.Ref] = true
			at := roundedTo(im.Width, im.Height, pic.w*geom.PointsPerMM/72, pic.h*geom.PointsPerMM/72, c.figure("difference"))
			if at == 0 {
				continue
			}
			if sizes[at] == nil {
				sizes[at] = map[[2]int]bool{}
			}
			shared[at] = append(shared[at], pic.item)
			sizes[at][[2]int{im.Width, im.Height}] = true
		}
		for _, at := range exportResolutions {
			if len(sizes[at]) == 0 || float64(len(sizes[at])) < c.figure("images") {
				continue
			}
			c.Add(finding.Finding{
				Severity: finding.Note,
				What:     fmt.Sprintf("%d images of different size have %g dpi each, to the sample: they look as though they were down-sampled on export.", len(shared[at]), at),
				Why:      "Down-sampling throws detail away for good; where that is too much for the plate, nothing in the file brings it back.",
				Remedy:   fmt.Sprintf("Nothing to do where %g dpi are enough; else export again without down-sampling.", at),
				Place:    c.place(c.boundsOf(shared[at]), shared[at]),
				Figures:  map[string]float64{"resolution_dpi": at, "count": float64(len(shared[at]))},
			})
		}
		return nil
	},
}

// roundedTo is the round resolution an image of w x h samples shown in so many inches was rounded to, 0 for none: on both
// axes less than a sample off, and on one of them not exact.
func roundedTo(w, h int, inchesW, inchesH, within float64) float64 {
	for _, r := range exportResolutions {
		offW, offH := math.Abs(float64(w)-r*inchesW), math.Abs(float64(h)-r*inchesH)
		if offW >= 1 || offH >= 1 || offW > within*inchesW || offH > within*inchesH {
			continue
		}
		// A hundredth of a sample is the rounding of numbers in the file.
		if offW > .01 || offH > .01 {
			return r
		}
	}
	return 0
}

package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

var finishedSizeDiffers = Rule{
	ID:         "finished-size-differs",
	Group:      Document,
	Measures:   "the size of the TrimBox against the finished size of the job; a note where it is only turned by a quarter",
	Figures:    []Figure{{Key: "difference", Unit: press.UnitLength, Default: .3, What: "largest difference of a side that counts as equal", Source: CommonPractice}},
	Source:     "job definition",
	Severities: []finding.Severity{finding.Note, finding.Error},
	Page: func(_ context.Context, c *Case) error {
		if c.Job == nil || c.Job.Finished == nil {
			return nil
		}
		trim, most := c.List.Page.Trim, c.figure("difference")
		w, h := trim.W()/geom.PointsPerMM, trim.H()/geom.PointsPerMM
		fw, fh := float64(c.Job.Finished.Width), float64(c.Job.Finished.Height)
		if math.Max(math.Abs(w-fw), math.Abs(h-fh)) <= most {
			return nil
		}
		f := finding.Finding{
			Severity: finding.Error,
			What:     fmt.Sprintf("The page is %.1f × %.1f mm finished; the job asks for %.1f × %.1f mm.", w, h, fw, fh),
			Why:      "It will be cut to the wrong size, or scaled by somebody who has to guess.",
			Remedy:   "Set up the artwork in the finished size, or correct the job.",
			Place:    c.place(geom.Rect{}, nil),
			Figures:  map[string]float64{"width_mm": round2(w), "height_mm": round2(h)},
		}
		if math.Max(math.Abs(w-fh), math.Abs(h-fw)) <= most {
			f.Severity = finding.Note
			f.What += " It is turned by a quarter."
		}
		c.Add(f)
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/artwork/image"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// maxTraced images of a page are looked at: a page of thousands is one of icons.
const maxTraced = 200

var imageResampled = Rule{
	ID:    "image-resampled",
	Group: Images,
	Measures: "traces of an image of tones having been enlarged by software: samples that are repeated, or interpolation, which shows as a period of the second differences " +
		"along rows and columns alike; a warning in a special plate, else a note, where the resolution without the enlargement is below what is wanted. Factors of 2, 4 and 8 " +
		"show only where they were linear or repeated samples, a down-sampling that left no period not at all; images with sides under 96 samples do not count, nor do softness " +
		"and patterns; the first 200 images of a page",
	Figures: []Figure{
		{Key: "special", Unit: press.UnitDPI, Default: 300, What: "in a special plate: resolution before enlarging that is enough", Source: CommonPractice},
		{Key: "wanted", Unit: press.UnitDPI, Default: 225, What: "elsewhere: resolution before enlarging that is enough", Source: CommonPractice},
		{Key: "size", Unit: press.UnitLength, Default: 5, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     "A. C. Gallagher, Detection of linear and cubic interpolation in JPEG compressed images (2005), from memory; thresholds of our own",
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		known := map[*image.Image]resampling{}
		var special, other enlarged
		for _, pic := range c.pictures() {
			if pic.flat || pic.oneBit || pic.toner == 0 || max(pic.w, pic.h) < c.figure("size") {
				continue
			}
			im := c.List.Items[pic.item].Image.Image
			r, met := known[im]
			if !met {
				if len(known) == maxTraced {
					continue
				}
				r = resampled(im)
				known[im] = r
			}
			to, wanted := &other, c.figure("wanted")
			if pic.toner&c.specialPlates() != 0 {
				to, wanted = &special, c.figure("special")
			}
			if r.factor > 1 && pic.ppi/r.factor < wanted {
				to.add(pic, r)
			}
		}
		if special.items != nil {
			f := special.finding(c, " in a special plate", "Edges and tints of special toners show the steps or the blur of it where a picture hides them.")
			f.Severity = finding.Warning
			f.Place.Colourants = c.plateNames(c.tonerOfItems(special.items) & c.specialPlates())
			c.Add(f)
		}
		if other.items != nil {
			c.Add(other.finding(c, "", "Enlarging adds samples and no detail: the picture prints as soft or as stepped as it was."))
		}
		return nil
	},
}

// enlarged gathers the images of one finding and what is told of the coarsest.
type enlarged struct {
	items    []int
	repeated bool    // that image's samples were repeated
	coarsest float64 // least resolution before the enlargement
	factor   float64 // of that image
}

func (e *enlarged) add(pic picture, r resampling) {
	if before := pic.ppi / r.factor; e.items == nil || before < e.coarsest {
		e.coarsest, e.factor, e.repeated = before, r.factor, r.repeated
	}
	e.items = append(e.items, pic.item)
}

func (e *enlarged) finding(c *Case, where, why string) finding.Finding {
	subject := fmt.Sprintf("1 image%s has", where)
	if n := len(e.items); n > 1 {
		subject = fmt.Sprintf("%d images%s have", n, where)
	}
	what := fmt.Sprintf("%s been computed anew from another grid of samples, as by enlarging %.2f times: no more than %.0f dpi are its own.", subject, e.factor, e.coarsest)
	if e.repeated {
		what = fmt.Sprintf("%s been enlarged by repeating samples, %.2f times each: %.0f dpi are its own.", subject, e.factor, e.coarsest)
	}
	if len(e.items) > 1 {
		what = strings.Replace(what, "are its own", "are the own of the coarsest", 1)
	}
	return finding.Finding{
		Severity: finding.Note,
		What:     what,
		Why:      why,
		Remedy:   "Place the original image, and export without down-sampling.",
		Place:    c.place(c.boundsOf(e.items), e.items),
		Figures:  map[string]float64{"factor": round2(e.factor), "resolution_dpi": math.Round(e.coarsest)},
	}
}

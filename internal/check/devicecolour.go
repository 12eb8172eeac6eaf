package check

import (
	"context"
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var deviceColourUndefined = Rule{
	ID:    "pdfx-device-colour",
	Group: Document,
	Measures: "objects in device RGB or device CMYK on pages of files that call themselves PDF/X and whose output intent is for another kind of colour, without a default " +
		"space that would say what they mean",
	Source:     "ISO 15930-7 (PDF/X-4), from memory; ISO 32000-2, 8.6.5.6",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		intents := c.pdfxIntents()
		if claim == "" || len(intents) != 1 {
			return nil
		}
		meant := c.intentSpace(intents[0])
		if meant == "" {
			return nil
		}
		for _, d := range []struct {
			space colour.Space
			name  string
		}{{colour.RGB, "RGB"}, {colour.CMYK, "CMYK"}} {
			if d.name == meant {
				continue
			}
			var items []int
			c.eachInk(func(i int, k ink) {
				if deviceSpace(k.space) == d.space && !c.List.Items[i].Bounds.Intersect(c.List.Page.Bleed).Empty() {
					items = appendItem(items, i)
				}
			})
			if len(items) == 0 {
				continue
			}
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s painted in device %s, in a file that calls itself %s with an output intent for %s.", objects(len(items)), d.name, claim, meant),
				Why:      "Nothing in the file says what these colours look like: each receiver converts them in its own way.",
				Remedy:   "Convert these colours to the output intent's, or give them a profile, and export again.",
				Place:    c.place(c.boundsOf(items), items),
			})
		}
		return nil
	},
}

// deviceSpace is the space itself, or of a palette the space it leads to.
func deviceSpace(s colour.Space) colour.Space {
	if x, ok := s.(*colour.Indexed); ok {
		return x.Base
	}
	return s
}

// intentSpace is the kind of colour of an output intent's embedded profile: Gray, RGB, CMYK, or "" where nothing is known.
func (in *Input) intentSpace(d pdf.Dict) string {
	_, space, _ := in.intentProfile(d)
	switch space {
	case "GRAY":
		return "Gray"
	case "RGB ":
		return "RGB"
	case "CMYK":
		return "CMYK"
	}
	return ""
}

package check

import (
	"context"
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
)

var rgbOnPage = Rule{
	ID:         "rgb-on-page",
	Group:      Images,
	Measures:   "printing images and objects in RGB or Lab",
	Source:     "Ghent Workgroup sheet-fed list, row 30 (from memory); " + CommonPractice,
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil {
			return nil
		}
		var items []int
		images := 0
		c.eachInk(func(i int, k ink) {
			if _, lab := k.space.(*colour.Lab); !lab && !isRGB(k.space) {
				return
			}
			if n := len(items); n > 0 && items[n-1] == i {
				return
			}
			items = append(items, i)
			if it := &c.List.Items[i]; it.Kind == displist.Image && !it.Image.Stencil {
				images++
			}
		})
		if len(items) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("%s painted in RGB or Lab, %d of them images.", objects(len(items)), images),
			Why:      "The press has no red, green and blue toner: these colours are converted to cyan, magenta, yellow and black, and grays and blacks become mixtures of all four.",
			Remedy:   "Convert to the press's CMYK in the program that made the artwork, where you see the result; keep black type in plain black.",
			Place:    c.place(c.boundsOf(items), items),
		})
		return nil
	},
}

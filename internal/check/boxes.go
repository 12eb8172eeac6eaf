package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

var boxesOdd = Rule{
	ID:    "boxes-inconsistent",
	Group: Document,
	Measures: "the boxes of the page against each other: TrimBox inside BleedBox inside MediaBox, CropBox not inside the TrimBox, no ArtBox beside the TrimBox, and a " +
		"UserUnit of 1",
	Figures:    []Figure{{Key: "difference", Unit: press.UnitLength, Default: .1, What: "boxes may stand out of each other this far", Source: CommonPractice}},
	Source:     "ISO 32000-2, 14.11.2; ISO 15930-7 (PDF/X-4) and Ghent Workgroup sheet-fed list, rows 2 and 3 (from memory)",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		p := &c.List.Page
		slack := press.Length(c.figure("difference")).Points()
		inside := func(in, out geom.Rect) bool {
			return in.X0 >= out.X0-slack && in.Y0 >= out.Y0-slack && in.X1 <= out.X1+slack && in.Y1 <= out.Y1+slack
		}
		var points []string
		for _, name := range []pdf.Name{"TrimBox", "BleedBox"} {
			if c.standsOut(name, slack) {
				points = append(points, fmt.Sprintf("the %s stands out of the MediaBox", name))
			}
		}
		if p.HasTrim && p.HasBleed && !inside(p.Trim, p.Bleed) {
			points = append(points, "the TrimBox stands out of the BleedBox")
		}
		if p.HasTrim && p.HasCrop && !inside(p.Trim, p.Crop) {
			points = append(points, "the CropBox cuts into the TrimBox")
		}
		if p.HasTrim && p.HasArt && !inside(p.Trim, p.Art) {
			points = append(points, "there is an ArtBox smaller than the TrimBox")
		}
		if p.UserUnit != 0 && p.UserUnit != 1 {
			points = append(points, fmt.Sprintf("the page is scaled by a UserUnit of %g", p.UserUnit))
		}
		if len(points) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("The boxes of the page do not fit together: %s.", strings.Join(points, "; ")),
			Why:      "Programs that place the page go by different boxes and may cut, shift or scale it.",
			Remedy:   "Set TrimBox to the finished size and BleedBox to that with the bleed, both inside the MediaBox, and export without scaling.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

// standsOut reports whether a box as the file has it stands out of the MediaBox, to which boxes are clipped when read.
func (c *Case) standsOut(name pdf.Name, slack float64) bool {
	if c.Doc == nil {
		return false
	}
	pg, err := c.Doc.Page(c.List.Page.Number)
	if err != nil {
		return false // the reader has told
	}
	b, ok := c.Doc.Nums(pg.Dict[name])
	if !ok || len(b) != 4 {
		return false
	}
	m := pg.MediaBox
	return min(b[0], b[2]) < m[0]-slack || min(b[1], b[3]) < m[1]-slack || max(b[0], b[2]) > m[2]+slack || max(b[1], b[3]) > m[3]+slack
}

package check

import (
	"context"
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var whiteBeforeFilmPrint = Rule{
	ID:    "white-hides-print-on-film",
	Group: Laydown,
	Measures: "process colours above 10 % on film with half a white or more between them and who looks: over them where the printed face is seen, under them where the print is " +
		"seen through the film. Where the job does not say which, white over them is a note",
	Figures:    areaFigure(1),
	Source:     "press definition (laydown order), job (seen); Kubelka-Munk layers: an opaque layer hides what lies beyond it",
	Severities: []finding.Severity{finding.Note, finding.Error},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil || !c.onFilm() {
			return nil
		}
		through := c.seen() == press.SeenThrough
		rank := c.rank()
		for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
			white := c.Plates.Plane(b)
			if c.Plates.Set.At(b).Kind != colourant.OpaqueWhite || white == nil || rank[b] < 0 {
				continue
			}
			var m mask
			var plates plateBits
			for k := range colourant.ProcessNames {
				plane := c.Plates.Plane(k)
				if plane == nil || rank[k] < 0 || rank[b] < rank[k] != through {
					continue
				}
				for i, v := range plane {
					if v >= visibleTint && white[i] >= solidTint {
						if m == nil {
							m = c.newMask()
						}
						m[i] = 1
						plates |= 1 << k
					}
				}
			}
			area, counts := c.settled(m, .2)
			if !counts {
				continue
			}
			name := c.Plates.Set.At(b).Name
			plates = c.meeting(plates, m)
			f := finding.Finding{
				Severity: finding.Error,
				Why:      "White is opaque: what lies beyond it is hidden.",
				Place:    c.place(c.bounds(m), c.itemsTouching(m, 1<<b|plates), append([]string{name}, c.plateNames(plates)...)...),
				Figures:  map[string]float64{"area_mm2": round2(area)},
			}
			switch {
			case through:
				f.What = fmt.Sprintf("The print is looked at through the film, but %s is laid before the process colours, on %s: it lies between them and the film.", name, areaText(area))
				f.Remedy = "Print on a press, or in an order of its sets, that lays white last."
			case c.seen() == press.SeenFace:
				f.What = fmt.Sprintf("The printed face is looked at, but %s is laid over the process colours, on %s.", name, areaText(area))
				f.Remedy = "Print on a press, or in an order of its sets, that lays white first; or turn the artwork over and look at it through the film."
			default:
				f.Severity = finding.Note
				f.What = fmt.Sprintf("%s is laid over the process colours, on %s: they can be seen through the film only.", name, areaText(area))
				f.Remedy = "Nothing to do where the print is looked at through the film: write \"seen: through\" into the job, and see that the artwork is turned over."
			}
			c.Add(f)
		}
		return nil
	},
}

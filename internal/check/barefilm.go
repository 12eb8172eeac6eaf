package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var bareFilm = Rule{
	ID:    "colour-on-bare-film",
	Group: Laydown,
	Measures: "cyan, magenta or yellow above 10 %, but in rich blacks, on film with less than half an opaque toner behind it: under it where the job says that the printed face " +
		"is seen, over it where the print is seen through the film, on neither side where the job says nothing; strips under 0.6 mm do not count",
	Figures:    areaFigure(1),
	Source:     CommonPractice + ": process toner is transparent, and so is film",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"make-underlay"},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil || !c.onFilm() {
			return nil
		}
		through := c.seen() == press.SeenThrough
		behind := c.opaqueUnder
		switch c.seen() {
		case press.SeenThrough:
			behind = c.opaqueOver
		case "":
			behind = func(k int, rank []int) [][]byte { return slices.Concat(c.opaqueUnder(k, rank), c.opaqueOver(k, rank)) }
		}
		bare, process := c.unbacked(behind)
		area, counts := c.settled(bare, .6)
		if !counts {
			return nil
		}
		process = c.meeting(process, bare)
		f := finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Process colours lie on the film %s without white behind them, on %s.", c.Stock.Title, areaText(area)),
			Why:      "Process toner is transparent: whatever is behind the film shows through the colours, and before a dark ground they are nearly invisible. Leave it so only where that is wanted.",
			Remedy:   whiteRemedy(c.Press),
			Place:    c.place(c.bounds(bare), c.itemsTouching(bare, process), c.plateNames(process)...),
			Figures:  map[string]float64{"area_mm2": round2(area)},
		}
		if through {
			f.Remedy = "Put a white of the same outline over these objects, set to overprint, and print it last."
		}
		// An underlay helps where the press lays it before the colours it is to lie under.
		for _, name := range c.plateNames(process) {
			if _, before := c.whiteBefore(name); through || !before {
				f.Remedies = []string{}
			}
		}
		c.Add(f)
		return nil
	},
}

func (in *Input) onFilm() bool { return in.Stock != nil && in.Stock.Surface == press.SurfaceFilm }

// seen is how the job says print on film is looked at, "" when it does not.
func (in *Input) seen() string {
	if in.Job == nil {
		return ""
	}
	return in.Job.Seen
}

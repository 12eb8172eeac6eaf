package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var lineTooThin = Rule{
	ID:    "line-too-thin",
	Group: Fineness,
	Measures: "features of flat shapes and strokes on the plates thinner than the toner holds, by exact distance from their outlines; the process toners together, each special " +
		"alone; type has a rule of its own, pictures, blends and patterns do not count; an error below half the figure",
	Figures: []Figure{
		{Key: "line", Unit: press.UnitLength, From: "finest.line of the toner, by kind where it says nothing", What: "thinnest line", Source: "press definition; " + CommonPractice},
		{Key: "length", Unit: press.UnitLength, Default: 1, What: "shorter thin places do not count", Source: CommonPractice},
	},
	Source:     "F. Chazal, D. Cohen-Steiner and A. Lieutier, A sampling theory for compact sets in Euclidean space (2009), for what is thin; " + CommonPractice,
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Remedies:   []string{"thicken-lines"},
	Page: func(ctx context.Context, c *Case) error {
		return c.eachFine(ctx, "line", func(f press.Finest) press.Length { return f.Line }, func(g fineGroup, w *lineWork, limit float64) (*finding.Finding, error) {
			regions, err := distance.Thin(w.Plane, limit, distance.Options{Faint: faintLine})
			if err != nil {
				return nil, err
			}
			regions = w.lasting(regions, limit, c.figure("length"))
			if len(regions) == 0 {
				return nil, nil
			}
			m := c.newMask()
			c.markRegions(m, w, regions, false)
			width := thinnest(regions)
			names := c.plateNames(c.meeting(g.plates, m))
			return &finding.Finding{
				What: fmt.Sprintf("%s down to %.2f mm (%.2f pt) thin in %s; lines of %.2f mm (%.2f pt) are held.", features(len(regions)), width,
					press.Length(width).Points(), strings.Join(names, ", "), limit, press.Length(limit).Points()),
				Why:     "Lines thinner than that break up or are lost.",
				Remedy:  fmt.Sprintf("Make these lines %.2f mm or thicker.", limit),
				Place:   c.place(c.bounds(m), c.touchingOf(w.items, m), names...),
				Figures: map[string]float64{"width_mm": round3(width), "count": float64(len(regions))},
				Notes:   c.tell(w, regions),
			}, nil
		})
	},
}

// eachFine looks at the line work of each group of plates that has any, held to the largest of a figure of its toners; what it
// finds is a warning, and an error where the width is below half the figure.
func (c *Case) eachFine(ctx context.Context, key string, of func(press.Finest) press.Length,
	look func(g fineGroup, w *lineWork, limit float64) (*finding.Finding, error)) error {
	for _, g := range c.fineGroups() {
		limit := c.figureElse(key, c.finest(g.plates, of))
		w, err := c.shapes(ctx, g.plates)
		if err != nil {
			return err
		}
		if w.W == 0 {
			continue
		}
		f, err := look(g, w, limit)
		if err != nil {
			return err
		}
		if f == nil {
			continue
		}
		f.Severity = finding.Warning
		if f.Figures["width_mm"] < limit/2 {
			f.Severity = finding.Error
		}
		c.Add(*f)
	}
	return nil
}

// faintLine is the least coverage of a line of less than half a pixel. Where a knock-out ends with the shape it is cut from,
// the anti-aliased edge keeps up to a quarter of a pixel of coverage, a(1-a), which is no line.
const faintLine = 70

// finest is the largest of a figure of the toners on some plates, mm.
func (c *Case) finest(plates plateBits, of func(press.Finest) press.Length) (most float64) {
	for k := range c.Plates.Set.Len() {
		if !plates.has(k) {
			continue
		}
		if t, ok := c.tonerOf(c.Page, k); ok {
			most = max(most, float64(of(t.FinestHeld())))
		}
	}
	return most
}

func features(n int) string {
	if n == 1 {
		return "1 place is"
	}
	return fmt.Sprintf("%d places are", n)
}

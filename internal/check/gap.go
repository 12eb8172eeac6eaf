package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var gapFillsIn = Rule{
	ID:    "gap-fills-in",
	Group: Fineness,
	Measures: "gaps and reversed lines in flat shapes on the plates narrower than the toner keeps open, type that knocks out included, by exact distance from the outlines; " +
		"gaps between letters do not count, small ones drawn as outlines included, nor gaps in light tints",
	Figures: []Figure{
		{Key: "reversed", Unit: press.UnitLength, From: "finest.reversed of the toner, by kind where it says nothing", What: "narrowest gap", Source: "press definition; " + CommonPractice},
		{Key: "tint", Unit: press.UnitPercent, Default: 20, What: "least tint beside a gap; one in a lighter tint is not seen to fill in", Source: CommonPractice},
		{Key: "length", Unit: press.UnitLength, Default: 2, What: "shorter narrow places do not count", Source: CommonPractice},
	},
	Source:     "as line-too-thin; " + CommonPractice,
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Page: func(ctx context.Context, c *Case) error {
		return c.eachFine(ctx, "reversed", func(f press.Finest) press.Length { return f.Reversed }, func(g fineGroup, w *lineWork, limit float64) (*finding.Finding, error) {
			// Shapes that touch between two pixels leave a faint seam, which is no gap: what is half open counts.
			regions, err := distance.Gaps(w.Plane, limit, distance.Options{})
			if err != nil {
				return nil, err
			}
			regions = w.betweenLetters(c.empty(w, g.plates, w.lasting(regions, limit, c.figure("length"))))
			if len(regions) == 0 {
				return nil, nil
			}
			m := c.newMask()
			c.markRegions(m, w, regions, true)
			width := thinnest(regions)
			return &finding.Finding{
				What: fmt.Sprintf("Gaps in %s are down to %.2f mm (%.2f pt) narrow, in %s; gaps of %.2f mm (%.2f pt) stay open.", strings.Join(g.names, ", "), width,
					press.Length(width).Points(), places(len(regions)), limit, press.Length(limit).Points()),
				Why:     "Toner spreads a little when it is fused: narrower gaps fill in.",
				Remedy:  fmt.Sprintf("Open these gaps to %.2f mm or more, or close them.", limit),
				Place:   c.place(c.bounds(m), c.touchingOf(w.items, m), g.names...),
				Figures: map[string]float64{"width_mm": round3(width), "count": float64(len(regions))},
				Notes:   c.tell(w, regions),
			}, nil
		})
	},
}

// empty leaves out the gaps that something else on the page fills, a picture say: those where the plates hold a quarter
// of full tint more than the line work. It also leaves out those that nobody would see fill in: less than a tenth of the
// work's edge beside them has the least tint.
func (c *Case) empty(w *lineWork, plates plateBits, gaps []distance.Region) (out []distance.Region) {
	least := byte(math.Round(c.figure("tint") * 2.55))
	most := func(x, y int) (v byte) {
		for k := range c.Plates.Set.Len() {
			if plates.has(k) {
				v = max(v, c.Plates.At(k, w.at.X+x, w.at.Y+y))
			}
		}
		return v
	}
	for _, r := range gaps {
		work, page, n, edge, dark := 0, 0, 0, 0, 0
		for y := max(0, r.Y0-edgeReach); y < min(w.H, r.Y1+edgeReach); y++ {
			for x := max(0, r.X0-edgeReach); x < min(w.W, r.X1+edgeReach); x++ {
				v := w.Pix[y*w.W+x]
				switch in := x >= r.X0 && x < r.X1 && y >= r.Y0 && y < r.Y1; {
				case in && v < 128:
					work, page, n = work+int(v), page+int(most(x, y)), n+1
				case v == 255 && w.besideGap(x, y):
					edge++
					if most(x, y) >= least {
						dark++
					}
				}
			}
		}
		if n > 0 && page-work < 64*n && 10*dark >= edge {
			out = append(out, r)
		}
	}
	return out
}

// edgeReach is how far from a gap the tint beside it is read, pixels: past the half-covered ones of its edge.
const edgeReach = 3

// besideGap reports whether there is a gap within edgeReach of a pixel, along or across.
func (w *lineWork) besideGap(x, y int) bool {
	for d := 1; d <= edgeReach; d++ {
		if x >= d && w.Pix[y*w.W+x-d] < 128 || x+d < w.W && w.Pix[y*w.W+x+d] < 128 ||
			y >= d && w.Pix[(y-d)*w.W+x] < 128 || y+d < w.H && w.Pix[(y+d)*w.W+x] < 128 {
			return true
		}
	}
	return false
}

func places(n int) string {
	if n == 1 {
		return "1 place"
	}
	return fmt.Sprintf("%d places", n)
}

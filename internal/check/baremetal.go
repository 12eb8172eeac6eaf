package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var metalOnBareStock = Rule{
	ID:    "metal-on-bare-stock",
	Group: Laydown,
	Measures: "metallic toner above 10 % with less than half an opaque white, or of another toner but clear, under it, on a stock that is uncoated or darker than the figure " +
		"and not metallised, where the press can lay a white before the metal; strips under 0.6 mm do not count",
	Figures: append(areaFigure(1),
		Figure{Key: "lightness", Unit: press.UnitNumber, Default: 75, What: "L* of the stock below which metals want a white, uncoated or not", Source: CommonPractice}),
	Source:     CommonPractice + ": metals lie duller on rough or dark stock",
	Severities: []finding.Severity{finding.Note},
	Remedies:   []string{"make-underlay"},
	Page: func(_ context.Context, c *Case) error {
		if c.Stock == nil || c.Press == nil {
			return nil
		}
		dark, rough := c.Stock.Front[0] < c.figure("lightness"), c.Stock.Surface == press.SurfaceUncoated
		if c.Stock.Surface == press.SurfaceMetallised || !dark && !rough {
			return nil
		}
		rank := c.rank()
		for k := len(colourant.ProcessNames); k < c.Plates.Set.Len(); k++ {
			plane := c.Plates.Plane(k)
			if c.Plates.Set.At(k).Kind != colourant.Metallic || plane == nil {
				continue
			}
			name := c.Plates.Set.At(k).Name
			white, ok := c.whiteBefore(name)
			if !ok {
				continue
			}
			m := c.bare(plane, c.tonersUnder(k, rank))
			area, counts := c.settled(m, .6)
			if !counts {
				continue
			}
			c.Add(finding.Finding{
				Severity: finding.Note,
				What:     fmt.Sprintf("%s lies on the bare stock %s without white under it, on %s.", name, c.Stock.Title, areaText(area)),
				Why:      bareMetalWhy(dark, rough),
				Remedy:   fmt.Sprintf("Nothing to do if the muted look is meant; else put a shape of the same outline in %q under these objects, a little smaller all round.", white),
				Place:    c.place(c.bounds(m), c.itemsTouching(m, 1<<k), name),
				Figures:  map[string]float64{"area_mm2": round2(area), "stock_L": c.Stock.Front[0]},
			})
		}
		return nil
	},
}

func bareMetalWhy(dark, rough bool) string {
	switch {
	case dark && rough:
		return "A metal is as smooth and as closed as what it lies on: on a rough stock its flakes lie at all angles, and a dark one shows between them. It glints less."
	case dark:
		return "A metal does not hide all that it lies on: a dark stock shows between its flakes, and it looks darker and duller."
	}
	return "A metal is as smooth as what it lies on: on a rough stock its flakes lie at all angles, and it glints less."
}

// whiteBefore names an opaque white that the press lays down before a toner, with all else the page uses.
func (c *Case) whiteBefore(toner string) (white string, ok bool) {
	for i := range c.Press.Toners {
		if c.Press.Toners[i].Kind != colourant.OpaqueWhite {
			continue
		}
		white = c.Press.Toners[i].Name
		used := c.Used()
		if !slices.Contains(used, white) {
			used = append(used, white)
		}
		passes, err := c.Press.Passes(used)
		if err != nil {
			continue
		}
		var laid []string
		for _, p := range passes {
			laid = append(laid, p.Toners...)
		}
		if w, t := slices.Index(laid, white), slices.Index(laid, toner); w >= 0 && w < t {
			return white, true
		}
	}
	return "", false
}

// tonersUnder lists the planes of all toners but clears laid down before plate k, or at no known time.
func (p *Page) tonersUnder(k int, rank []int) (planes [][]byte) {
	for b := range p.Plates.Set.Len() {
		if b != k && p.Plates.Set.At(b).Kind != colourant.Clear && p.Plates.Plane(b) != nil && (rank[b] < 0 || rank[k] < 0 || rank[b] < rank[k]) {
			planes = append(planes, p.Plates.Plane(b))
		}
	}
	return planes
}

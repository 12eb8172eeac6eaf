package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var pileOverLimit = Rule{
	ID:         "pile-over-limit",
	Group:      Load,
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"lighten-pile"},
	Measures:   "the sum of all tints, averaged over the press's area, per pass and over all passes",
	Figures: []Figure{
		{Key: "pass", Unit: press.UnitPercent, From: "pile.per_pass of the press", What: "sum of tints in one pass", Source: "press definition"},
		{Key: "sum", Unit: press.UnitPercent, From: "pile.sum of the press", What: "sum of tints in all passes", Source: "press definition"},
		{Key: "area", Unit: press.UnitArea, From: "pile.area of the press", Default: 1, What: "area the sum is averaged over", Source: CommonPractice},
	},
	Source: "press definition; averaged over an area, as a lone pixel is no fault (common practice, no source)",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Press == nil {
			return nil
		}
		pile := press.Pile{
			PerPass: press.Percent(c.figureElse("pass", float64(in.Press.Pile.PerPass))), Sum: press.Percent(c.figureElse("sum", float64(in.Press.Pile.Sum))),
			Area: press.Area(c.figureElse("area", float64(in.Press.Pile.Area))),
		}
		sum, where := float64(pile.Sum), "in all passes together"
		switch {
		case len(p.Passes) > 1:
			for i, pass := range p.Passes {
				c.overPile(pile, pass.Toners, float64(pile.PerPass), fmt.Sprintf("in pass %d", i+1))
			}
		case len(p.Passes) == 1:
			where = "in one pass"
			if sum == 0 || pile.PerPass > 0 && pile.PerPass < pile.Sum {
				sum = float64(pile.PerPass)
			}
		}
		c.overPile(pile, p.Used(), sum, where)
		return nil
	},
}

// overPile reports where the sum of the named plates, averaged over the press's area, is above limit percent.
func (c *Case) overPile(pile press.Pile, names []string, limit float64, where string) {
	p := c.Page
	var planes [][]byte
	var bits plateBits
	most := 0
	for _, n := range names {
		if k, ok := p.Plates.Set.Lookup(n); ok && p.Plates.Plane(k) != nil {
			planes, bits = append(planes, p.Plates.Plane(k)), bits|1<<k
			most += int(darkest(p.Plates.Plane(k)))
		}
	}
	if limit <= 0 || float64(most)/2.55 <= limit {
		return
	}
	side := max(1, int(math.Round(math.Sqrt(float64(pile.Area))/p.px())))
	over, worst := p.thickPile(planes, side, limit+.5)
	if over == nil {
		return
	}
	bits = p.meeting(bits, over)
	area, laid := p.areaMM2(over), p.plateNames(bits)
	c.Add(finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("The toners pile up to %.0f %% %s (%s); the press holds %.0f %%.", worst, where, strings.Join(laid, ", "), limit),
		Why:      "Toner that lies too thick does not fuse through: it cracks, rubs off, marks the next sheet or sticks in the press.",
		Remedy: "Lighten the process colours there, take white out from under dark areas, or let a special toner knock out what lies below." +
			" If a colour profile made the colours, choose one with less total ink.",
		Place:   p.place(p.bounds(over), p.itemsTouching(over, bits), laid...),
		Figures: map[string]float64{"pile_percent": math.Round(worst), "limit_percent": limit, "area_mm2": round2(area)},
	})
}

// darkest is the highest tint of a plane.
func darkest(plane []byte) (most byte) {
	for _, v := range plane {
		if most = max(most, v); most == 255 {
			break
		}
	}
	return most
}

// thickPile marks the pixels inside the bleed where the sum of the planes, averaged over side x side
// pixels round them, is above limit percent, and finds the highest. Outside the page counts as 0. Two
// running sums keep it to rows of memory: of the columns over side rows, and of those over side columns.
func (p *Page) thickPile(planes [][]byte, side int, limit float64) (over mask, worst float64) {
	w, h := p.Plates.Width, p.Plates.Height
	x0, y0, x1, y1 := p.PixelRect(p.List.Page.Bleed)
	before := side / 2
	after := side - before
	columns := make([]int32, before+w+after) // blank columns at both ends stand for what is outside
	add := func(y int, sign int32) {
		if y < 0 || y >= h {
			return
		}
		for _, plane := range planes {
			sums := columns[before : before+w]
			for x, v := range plane[y*w : y*w+w][:len(sums)] {
				sums[x] += sign * int32(v)
			}
		}
	}
	full := 2.55 * float64(side) * float64(side)
	least := int(limit * full)
	highest := least
	for y := y0 - before; y < y0+after-1; y++ {
		add(y, 1)
	}
	for y := y0; y < y1; y++ {
		add(y+after-1, 1)
		sum := 0
		for _, v := range columns[x0 : x0+side-1] {
			sum += int(v)
		}
		enter, leave := columns[x0+side-1:], columns[x0:]
		for x := range x1 - x0 {
			sum += int(enter[x])
			if sum > least {
				if over == nil {
					over = p.newMask()
				}
				over[y*w+x0+x] = 1
				highest = max(highest, sum)
			}
			sum -= int(leave[x])
		}
		add(y-before, -1)
	}
	return over, float64(highest) / full
}

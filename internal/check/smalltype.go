package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var typeTooSmall = Rule{
	ID:    "type-too-small",
	Group: Fineness,
	Measures: "type by its size, against the smallest of its toners, or of several process toners where its CMYK colour holds two or more; and by its stems, where more than " +
		"half of what is printed of a size is thinner than the toner's finest line, by exact distance from the outlines",
	Figures: []Figure{
		{Key: "type", Unit: press.UnitLength, From: "finest.type of the toner, by kind where it says nothing", What: "smallest size of type", Source: "press definition; " + CommonPractice},
		{Key: "several", Unit: press.UnitLength, Default: float64(press.LengthFromPoints(9)), What: "smallest size in two or more process toners, 9 pt", Source: CommonPractice + "; Ghent Workgroup sheet-fed list, row 16, has 8 or 9 pt (from memory)"},
		{Key: "line", Unit: press.UnitLength, From: "finest.line of the toner, by kind where it says nothing", What: "thinnest stem", Source: "press definition; " + CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(ctx context.Context, c *Case) error {
		for _, g := range c.fineGroups() {
			if err := c.smallTypeOf(ctx, g); err != nil {
				return err
			}
		}
		return nil
	},
}

func (c *Case) smallTypeOf(ctx context.Context, g fineGroup) error {
	least := press.Length(c.figureElse("type", c.finest(g.plates, func(f press.Finest) press.Length { return f.Type }))).Points()
	several := press.Length(c.figure("several")).Points()
	var small, mixed []int
	smallest, smallestMixed := math.Inf(1), math.Inf(1)
	stems := map[*displist.Item]bool{}
	for i := range c.List.Items {
		it := &c.List.Items[i]
		if it.Text == nil || it.Hidden || c.isRegistration(i) || c.itemToner(i)&g.plates == 0 || it.Bounds.Intersect(c.List.Page.Bleed).Empty() {
			continue
		}
		size, sure := typeSize(it)
		switch {
		case !sure:
		case size < least-.05:
			small = append(small, i)
			smallest = min(smallest, size)
		case size < several-.05 && g.plates&processPlates != 0 && c.severalProcess(it):
			mixed = append(mixed, i)
			smallestMixed = min(smallestMixed, size)
		case size < 2*least:
			stems[it] = true
		}
	}
	if len(small) > 0 {
		list := c.plateNames(c.tonerOfItems(small) & g.plates)
		names := strings.Join(list, ", ")
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Type as small as %.1f pt is printed in %s; %.1f pt is the least that is held.", smallest, names, least),
			Why:      "Smaller type fills in or loses its fine strokes.",
			Remedy:   fmt.Sprintf("Set it in %.1f pt or larger, rather bold than light.", least),
			Place:    c.place(c.boundsOf(small), small, list...),
			Figures:  map[string]float64{"size_pt": round2(smallest)},
		})
	}
	if len(mixed) > 0 {
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("Type as small as %.1f pt is made of several process toners; %.1f pt is the least for that.", smallestMixed, several),
			Why:      "Where the plates are off each other by a tenth of a millimetre, small letters get coloured rims.",
			Remedy:   "Set small type in one toner, black for example.",
			Place:    c.place(c.boundsOf(mixed), mixed, c.plateNames(c.tonerOfItems(mixed)&g.plates)...),
			Figures:  map[string]float64{"size_pt": round2(smallestMixed)},
		})
	}
	if len(stems) == 0 {
		return nil
	}
	return c.thinStems(ctx, g, stems)
}

// thinStems looks at the strokes of type that its size does not condemn.
func (c *Case) thinStems(ctx context.Context, g fineGroup, among map[*displist.Item]bool) error {
	limit := c.figureElse("line", c.finest(g.plates, func(f press.Finest) press.Length { return f.Line }))
	w, err := c.lineWork(ctx, g.plates, func(it *displist.Item) bool { return among[it] })
	if err != nil || w.W == 0 {
		return err
	}
	regions, err := distance.Thin(w.Plane, limit, distance.Options{Faint: faintLine})
	if err != nil {
		return err
	}
	regions = w.lasting(regions, limit, 0)
	thin, all := 0.0, 0.0
	for _, r := range regions {
		thin += r.Area
	}
	for _, v := range w.Pix {
		all += float64(v)
	}
	all *= c.px() * c.px() / 255
	if len(regions) == 0 || 2*thin <= all {
		return nil
	}
	m := c.newMask()
	c.markRegions(m, &w, regions, false)
	width := thinnest(regions)
	c.Add(finding.Finding{
		Severity: finding.Warning,
		What: fmt.Sprintf("The strokes of small type in %s are mostly thinner than %.2f mm (%.2f pt), down to %.2f mm.", strings.Join(g.names, ", "), limit,
			press.Length(limit).Points(), width),
		Why:     "The size may do, but strokes so thin break up or are lost.",
		Remedy:  "Choose a bolder cut, or a larger size.",
		Place:   c.place(c.bounds(m), c.touchingOf(w.items, m), g.names...),
		Figures: map[string]float64{"width_mm": round3(width)},
		Notes:   c.tell(&w, regions),
	})
	return nil
}

// typeSize is the size of type in points; sure is false where what is drawn is larger than the size can be, as in fonts
// that scale themselves.
func typeSize(it *displist.Item) (size float64, sure bool) {
	size = it.Text.Size
	return size, size > 0 && min(it.Bounds.W(), it.Bounds.H()) <= 1.5*size
}

// severalProcess reports whether an item has a CMYK colour of two inks or more, each visible.
func (c *Case) severalProcess(it *displist.Item) bool {
	for _, k := range c.inksOf(it) {
		if !isCMYK(k.space) || len(k.comps) != len(colourant.ProcessNames) {
			continue
		}
		n := 0
		for _, v := range k.comps {
			if v >= .1 {
				n++
			}
		}
		if n >= 2 {
			return true
		}
	}
	return false
}

// round3 rounds to thousandths.
func round3(v float64) float64 { return math.Round(v*1000)/1000 + 0 }

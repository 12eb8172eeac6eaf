package check

import (
	"context"
	"fmt"
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

const (
	nearlyBlack  = 230 // 90 % black: a rich black stays black on any stock
	processBlack = 3
)

var darkStockWithoutWhite = Rule{
	ID:         "process-on-dark-stock",
	Group:      Laydown,
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Remedies:   []string{"make-underlay", "spare-underlay"},
	Measures: "cyan, magenta or yellow above 10 %, but in rich blacks, on a stock darker than L* 75 with less than half an opaque toner under it; " +
		"strips thinner than 0.6 mm do not count; an error below L* 50, else and on metallised stock a warning; film has a rule of its own",
	Figures: []Figure{
		{Key: "lightness", Unit: press.UnitNumber, Default: 75, What: "L* of the stock below which process colours want a white", Source: CommonPractice},
		{Key: "deep", Unit: press.UnitNumber, Default: 50, What: "L* of the stock below which the finding is an error", Source: CommonPractice},
		{Key: "area", Unit: press.UnitArea, Default: 1, What: "smallest area that counts", Source: CommonPractice},
	},
	Source: "common practice, no source: process toner is transparent and takes its light from what lies under it",
	Page: func(ctx context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Stock == nil || in.Press == nil || in.Stock.Surface == press.SurfaceFilm || in.Stock.Front[0] >= c.figure("lightness") {
			return nil
		}
		bare, process := p.unbacked(p.opaqueUnder)
		area, counts := c.settled(bare, .6)
		if !counts {
			return nil
		}
		sev, why := darkWords(in.Stock, c.figure("deep"))
		process = p.meeting(process, bare)
		items := p.itemsTouching(bare, process)
		spared, err := c.underlain(ctx, bare, items)
		if err != nil {
			return err
		}
		f := finding.Finding{
			Severity: sev,
			What:     fmt.Sprintf("Process colours lie on the bare stock %s (L* %.0f) without white under them, on %s.", in.Stock.Title, in.Stock.Front[0], areaText(area)),
			Why:      why,
			Remedy:   whiteRemedy(in.Press),
			Place:    p.place(p.bounds(bare), items, p.plateNames(process)...),
			Figures:  map[string]float64{"area_mm2": round2(area), "stock_L": in.Stock.Front[0]},
			Remedies: []string{"make-underlay"},
		}
		if spared {
			f.Remedies = append(f.Remedies, "spare-underlay")
		}
		c.Add(f)
		return nil
	},
}

// underlain reports whether items knock out a white that would lie under all of a mask.
func (c *Case) underlain(ctx context.Context, m mask, items []int) (bool, error) {
	white, _, err := c.heavierWithout(ctx, items, c.List.Page.Bleed, func(k int) bool { return c.Plates.Set.At(k).Kind == colourant.OpaqueWhite })
	if white == nil || err != nil {
		return false, err
	}
	left := slices.Clone(m)
	for i := range left {
		left[i] &^= white[i]
	}
	c.thickOnly(left, .6)
	return c.areaMM2(left) < c.figure("area"), nil
}

func darkWords(s *press.Stock, deep float64) (sev finding.Severity, why string) {
	switch {
	case s.Surface == press.SurfaceMetallised:
		return finding.Warning, "Process toner is transparent: the metal shines through, so these colours look metallic and darker than on screen. Leave it so only where that is wanted."
	case s.Front[0] >= deep:
		return finding.Warning, "Process toner is transparent: it can only take light away. Mixed with the colour of the stock these colours come out darker and duller than on screen."
	}
	return finding.Error, "Process toner is transparent: it can only take light away. On a dark stock it sinks in and the picture is nearly invisible."
}

// whiteRemedy tells what to put under the colours.
func whiteRemedy(pr *press.Press) string {
	for _, t := range pr.Toners {
		if t.Kind == colourant.OpaqueWhite {
			return fmt.Sprintf("Put a shape of the same outline in %q under these objects, a little smaller all round, and set the objects to overprint so that they do not knock it out.", t.Name)
		}
	}
	return "This press has no opaque white: choose a light stock, or a press that lays a white under the process colours."
}

// unbacked marks visible chromatic process toner that none of the planes that may back a plate covers, and says on which
// plates. The mask is nil when there is none.
func (p *Page) unbacked(behind func(k int, rank []int) [][]byte) (m mask, plates plateBits) {
	rank := p.rank()
	black := p.Plates.Plane(processBlack)
	for k := range processBlack {
		plane := p.Plates.Plane(k)
		if plane == nil {
			continue
		}
		backs := behind(k, rank)
		for i, v := range plane {
			if v < visibleTint || at(black, i) >= nearlyBlack || backed(backs, i) {
				continue
			}
			if m == nil {
				m = p.newMask()
			}
			m[i] = 1
			plates |= 1 << k
		}
	}
	return m, plates
}

// opaqueUnder lists the planes of opaque toners laid down before plate k, or at no known time.
func (p *Page) opaqueUnder(k int, rank []int) (planes [][]byte) {
	for b := len(colourant.ProcessNames); b < p.Plates.Set.Len(); b++ {
		if p.opaque(b) && p.Plates.Plane(b) != nil && (rank[b] < 0 || rank[k] < 0 || rank[b] < rank[k]) {
			planes = append(planes, p.Plates.Plane(b))
		}
	}
	return planes
}

// opaqueOver lists the planes of opaque toners laid down after plate k, or at no known time.
func (p *Page) opaqueOver(k int, rank []int) (planes [][]byte) {
	for b := len(colourant.ProcessNames); b < p.Plates.Set.Len(); b++ {
		if p.opaque(b) && p.Plates.Plane(b) != nil && (rank[b] < 0 || rank[k] < 0 || rank[b] > rank[k]) {
			planes = append(planes, p.Plates.Plane(b))
		}
	}
	return planes
}

// bare marks visible toner of a plane that none of others covers; nil where there is none.
func (p *Page) bare(plane []byte, others [][]byte) (m mask) {
	for i, v := range plane {
		if v >= visibleTint && !backed(others, i) {
			if m == nil {
				m = p.newMask()
			}
			m[i] = 1
		}
	}
	return m
}

// settled clips a mask to the bleed, drops strips under a width in mm, and tells whether what is left, in mm², is as large as
// the rule's figure asks.
func (c *Case) settled(m mask, width float64) (area float64, counts bool) {
	if m == nil {
		return 0, false
	}
	c.within(m, c.List.Page.Bleed)
	c.thickOnly(m, width)
	area = c.areaMM2(m)
	return area, area >= c.figure("area")
}

func backed(planes [][]byte, i int) bool {
	for _, b := range planes {
		if b[i] >= solidTint {
			return true
		}
	}
	return false
}

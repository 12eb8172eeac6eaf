package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

var neverOn = Rule{
	ID:         "toners-never-on-each-other",
	Group:      Laydown,
	Measures:   "visible toner (10 % or more) of two toners in one place that the press says must never be piled on each other; strips under 0.2 mm do not count",
	Figures:    areaFigure(.5),
	Source:     "press definition (never_on of a toner)",
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"knock-out"},
	Page: func(ctx context.Context, c *Case) error {
		if c.Press == nil {
			return nil
		}
		var m mask
		for i := range c.Press.Toners {
			t := &c.Press.Toners[i]
			a, ok := c.Plates.Set.Lookup(t.Name)
			if !ok || len(t.NeverOn) == 0 || c.Plates.Plane(a) == nil {
				continue
			}
			for _, name := range t.NeverOn {
				other := plateBits(0)
				if name == press.UnderProcess {
					other = processPlates
				} else if b, ok := c.Plates.Set.Lookup(name); ok {
					other = 1 << b
				}
				if m == nil {
					m = c.newMask()
				}
				if err := c.piled(ctx, m, a, other&^(1<<a)); err != nil {
					return err
				}
			}
		}
		return nil
	},
}

// piled tells where plate a and others that must not lie on it are piled on each other; there is a mask of room for it.
func (c *Case) piled(ctx context.Context, m mask, a int, others plateBits) error {
	c.bothVisible(m, a, others)
	c.within(m, c.List.Page.Bleed)
	c.thickOnly(m, .16)
	area := c.areaMM2(m)
	if area < c.figure("area") {
		return nil
	}
	others = c.meeting(others, m)
	name, names := c.Plates.Set.At(a).Name, c.plateNames(others)
	f := finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("%s and %s lie on each other, on %s; the press says they must not.", name, strings.Join(names, ", "), areaText(area)),
		Why:      "These toners do not hold on each other: the upper one cracks, rubs off or loses its look.",
		Remedy:   "Let the upper objects knock out the lower (overprint off).",
		Place:    c.place(c.bounds(m), c.itemsTouching(m, others|1<<a), append([]string{name}, names...)...),
		Figures:  map[string]float64{"area_mm2": round2(area)},
	}
	up, err := c.parted(ctx, m, 1<<a, others)
	if err != nil {
		return err
	}
	down, err := c.parted(ctx, m, others, 1<<a)
	if err != nil {
		return err
	}
	switch {
	case max(up, down) < c.figure("area"):
		f.Remedies, f.Remedy = []string{}, "Paint these objects in one of the two toners only."
	case down > up: // the upper is named first
		f.Place.Colourants = append(names, name)
	}
	c.Add(f)
	return nil
}

// parted is the area of a mask from which knocking out takes the plates below: where objects in those above are drawn on them.
func (c *Case) parted(ctx context.Context, m mask, above, below plateBits) (mm2 float64, err error) {
	upper, box := c.drawnAbove(above, below)
	pixels := c.pixelsOf(box)
	if len(upper) == 0 || pixels.Empty() {
		return 0, nil
	}
	gone, _, err := c.lighter(ctx, c.knockingOut(upper), nil, pixels, below.has)
	if gone == nil || err != nil {
		return 0, err
	}
	for i := range gone {
		gone[i] &= m[i]
	}
	return c.areaMM2(gone), nil
}

// bothVisible sets the mask to where plate a and one of the others have visible toner.
func (p *Page) bothVisible(m mask, a int, others plateBits) {
	clear(m)
	pa := p.Plates.Plane(a)
	for b := range p.Plates.Set.Len() {
		pb := p.Plates.Plane(b)
		if !others.has(b) || pb == nil {
			continue
		}
		for i, v := range pa {
			if v >= visibleTint && pb[i] >= visibleTint {
				m[i] = 1
			}
		}
	}
}

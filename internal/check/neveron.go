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
	Page: func(_ context.Context, c *Case) error {
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
			var others plateBits
			for _, name := range t.NeverOn {
				if name == press.UnderProcess {
					others |= processPlates
				} else if b, ok := c.Plates.Set.Lookup(name); ok {
					others |= 1 << b
				}
			}
			if m == nil {
				m = c.newMask()
			}
			c.bothVisible(m, a, others&^(1<<a))
			c.within(m, c.List.Page.Bleed)
			c.thickOnly(m, .16)
			area := c.areaMM2(m)
			if area < c.figure("area") {
				continue
			}
			others = c.meeting(others, m)
			names := c.plateNames(others)
			c.Add(finding.Finding{
				Severity: finding.Error,
				What:     fmt.Sprintf("%s and %s lie on each other, on %s; the press says they must not.", t.Name, strings.Join(names, ", "), areaText(area)),
				Why:      "These toners do not hold on each other: the upper one cracks, rubs off or loses its look.",
				Remedy:   "Let the upper objects knock out the lower (overprint off).",
				Place:    c.place(c.bounds(m), c.itemsTouching(m, others|1<<a), append([]string{t.Name}, names...)...),
				Figures:  map[string]float64{"area_mm2": round2(area)},
			})
		}
		return nil
	},
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

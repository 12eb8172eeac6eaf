package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var tintOutsideRange = Rule{
	ID:         "tint-outside-range",
	Group:      Fineness,
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"clip-tints"},
	Measures:   "tints on each special plate against the range the toner holds; edges and strips under 0.3 mm do not count",
	Figures: []Figure{
		{Key: "area", Unit: press.UnitArea, Default: .5, What: "smallest area that counts", Source: CommonPractice},
		{Key: "width", Unit: press.UnitLength, Default: .3, What: "narrower strips do not count", Source: CommonPractice},
	},
	Source: "press definition",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		var m mask
		for k := len(colourant.ProcessNames); k < p.Plates.Set.Len(); k++ {
			toner, ok := in.tonerOf(p, k)
			if !ok || p.Plates.Plane(k) == nil {
				continue
			}
			least, most, _ := toner.Tint.Held()
			m = c.outside(m, k, 0, float64(least), toner)
			m = c.outside(m, k, float64(most), 100, toner)
		}
		return nil
	},
}

// outside reports tints of plate k between lo and hi percent, both exclusive. It works in m, which may be nil,
// and gives it back.
func (c *Case) outside(m mask, k int, lo, hi float64, toner *press.Toner) mask {
	p := c.Page
	// Half a level of rounding either way belongs to the bound itself.
	var within [256]byte
	for v := range within {
		t := float64(v) / 2.55
		within[v] = bit(t > lo+.2 && t < hi-.2)
	}
	plane := p.Plates.Plane(k)
	any := byte(0)
	for _, v := range plane {
		any |= within[v]
	}
	if any == 0 {
		return m
	}
	if m == nil {
		m = p.newMask()
	}
	for i, v := range plane {
		m[i] = within[v]
	}
	p.within(m, p.List.Page.Bleed)
	p.thickOnly(m, c.figure("width"))
	area := p.areaMM2(m)
	if area < c.figure("area") {
		return m
	}
	tint := meanTint(plane, m)
	c.Add(finding.Finding{
		Severity: finding.Warning,
		What:     fmt.Sprintf("%s is used at about %.0f %% on %s; the toner holds %s.", toner.Name, tint, areaText(area), rangeText(toner.Tint)),
		Why:      outsideWhy(toner.Kind),
		Remedy:   tintRemedy(toner.Tint),
		Place:    p.place(p.bounds(m), p.itemsTouching(m, 1<<k), toner.Name),
		Figures:  map[string]float64{"area_mm2": round2(area), "tint_percent": math.Round(tint*10) / 10},
	})
	return m
}

// meanTint is the mean percent of the plane inside the mask.
func meanTint(plane []byte, m mask) float64 {
	sum, n := 0, 0
	for i, v := range m {
		if v != 0 {
			sum, n = sum+int(plane[i]), n+1
		}
	}
	return float64(sum) / float64(n) / 2.55
}

func outsideWhy(k colourant.Kind) string {
	switch k {
	case colourant.Metallic:
		return "Too light a tint of a metallic looks grey instead of glinting; too dark a one fills in."
	case colourant.Clear:
		return "A clear in tints shows its dots as a pattern, or is hardly seen."
	case colourant.OpaqueWhite:
		return "Too light a tint of white prints uneven and hides nothing; too dark a one fills in."
	}
	return "Outside its range a toner prints uneven, drops out or fills in."
}

func rangeText(t press.TintRange) string {
	if !t.Tints() {
		return "solids only (0 or 100 %)"
	}
	least, most, _ := t.Held()
	return fmt.Sprintf("%.0f to %.0f %%", float64(least), float64(most))
}

func tintRemedy(t press.TintRange) string {
	switch {
	case !t.Tints():
		return "Set these objects to 100 %, and draw lighter areas as finer shapes instead."
	case t.Advised != 0:
		return fmt.Sprintf("Give these objects a tint inside the range; %.0f %% is advised.", float64(t.Advised))
	}
	return "Give these objects a tint inside the range."
}

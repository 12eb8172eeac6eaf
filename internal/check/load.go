package check

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var tintOutsideRange = Rule{
	ID:       "tint-outside-range",
	Measures: "flat tints on each special plate against the range the toner holds; edges and strips under 0.3 mm do not count",
	Figure:   "tint range of the toner, 0.5 mm2",
	Source:   "press definition",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		for k := len(colourant.ProcessNames); k < p.Plates.Set.Len(); k++ {
			toner, ok := in.toner(p, k)
			plane := p.Plates.Plane(k)
			if !ok || plane == nil {
				continue
			}
			least, most, _ := held(toner.Tint)
			for _, side := range []struct {
				lo, hi float64 // percent, exclusive
				word   string
			}{{0, least, "lighter"}, {most, 100, "darker"}} {
				if side.lo >= side.hi {
					continue
				}
				m := p.newMask()
				sum, n := 0.0, 0
				for i, v := range plane {
					// Half a level of rounding either way belongs to the bound itself.
					if t := float64(v) / 2.55; t > side.lo+.2 && t < side.hi-.2 {
						m[i] = 1
					}
				}
				m = p.thickOnly(p.within(m, p.List.Page.Bleed), .15)
				for i, v := range m {
					if v != 0 {
						sum, n = sum+float64(plane[i])/2.55, n+1
					}
				}
				area := p.areaMM2(m)
				if area < .5 {
					continue
				}
				box := p.bounds(m)
				items := p.itemsIn(box, func(i int) bool { return p.paintsPlate(i, k) && p.touchesMask(i, m) })
				f := finding.Finding{
					ID: "tint-outside-range", Severity: finding.Warning,
					What: fmt.Sprintf("%s is used at about %.0f %% on %.1f mm²; the toner holds %s.", toner.Name, sum/float64(n), area, rangeText(toner.Tint)),
					Why:  "Outside its range a toner prints uneven or drops out; a metallic looks grey instead of glinting, and a clear shows its screen.",
					Remedy: fmt.Sprintf("Give these objects a tint inside the range%s.",
						advised(toner.Tint)),
					Place:   p.place(box, items, toner.Name),
					Figures: map[string]float64{"area_mm2": area, "tint_percent": math.Round(sum/float64(n)*10) / 10},
				}
				out.Add(f)
			}
		}
		return nil
	},
}

func held(t press.TintRange) (least, most, advised float64) {
	a, b, c := t.Held()
	return float64(a), float64(b), float64(c)
}

func rangeText(t press.TintRange) string {
	if !t.Tints() {
		return "solids only (0 or 100 %)"
	}
	least, most, _ := held(t)
	return fmt.Sprintf("%.0f to %.0f %%", least, most)
}

func advised(t press.TintRange) string {
	if t.Advised == 0 {
		return ""
	}
	return fmt.Sprintf("; %.0f %% is advised", float64(t.Advised))
}

// paintsPlate reports whether item i's colour names plate k, directly or through a mix.
func (p *Page) paintsPlate(i, k int) bool {
	it := &p.List.Items[i]
	if it.Kind == displist.BeginGroup {
		return false
	}
	for _, n := range itemNames(it) {
		if j, ok := p.Target.Names[n]; ok && j == k {
			return true
		}
		if slices.ContainsFunc(p.Target.Mixes[n], partOf(k)) {
			return true
		}
	}
	return false
}

var pileOverLimit = Rule{
	ID:       "pile-over-limit",
	Measures: "the sum of all tints, averaged over the press's area, per pass and over all passes",
	Figure:   "pile limits of the press",
	Source:   "press definition; STANDARDS 7.4 (area-averaged: a lone pixel is not a fault)",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		for i, pass := range p.Passes {
			if len(p.Passes) > 1 {
				p.pile(in, pass.Toners, float64(in.Press.Pile.PerPass), fmt.Sprintf("in pass %d", i+1), out)
			}
		}
		limit := float64(in.Press.Pile.Sum)
		if len(p.Passes) == 1 && in.Press.Pile.PerPass > 0 {
			limit = min(limit, float64(in.Press.Pile.PerPass))
		}
		p.pile(in, p.usedToners(), limit, "in all", out)
		return nil
	},
}

// pile reports where the sum of the named plates, averaged over the press's area, is above limit percent.
func (p *Page) pile(in *Input, names []string, limit float64, where string, out finding.Sink) {
	if limit <= 0 {
		return
	}
	w, h := p.Plates.Width, p.Plates.Height
	sum := make([]int32, w*h)
	var laid []string
	for _, n := range names {
		k, ok := p.Plates.Set.Lookup(n)
		if !ok || p.Plates.Plane(k) == nil {
			continue
		}
		laid = append(laid, n)
		for i, v := range p.Plates.Plane(k) {
			sum[i] += int32(v)
		}
	}
	if float64(len(laid))*100 <= limit {
		return
	}
	side := max(1, int(math.Round(math.Sqrt(float64(in.Press.Pile.Area))/p.px())))
	mean := boxMean(sum, w, h, side)
	over := p.newMask()
	worst := 0.0
	for i, v := range mean {
		if pc := v / 2.55; pc > limit+.5 {
			over[i] = 1
		}
	}
	over = p.within(over, p.List.Page.Bleed)
	for i, v := range over {
		if v != 0 {
			worst = max(worst, mean[i]/2.55)
		}
	}
	if worst == 0 {
		return
	}
	box := p.bounds(over)
	items := p.itemsIn(box, func(i int) bool {
		return p.List.Items[i].Kind != displist.BeginGroup && p.touchesMask(i, over)
	})
	out.Add(finding.Finding{
		ID: "pile-over-limit", Severity: finding.Error,
		What:    fmt.Sprintf("The toners pile up to %.0f %% %s (%s); the press holds %.0f %%.", worst, where, strings.Join(laid, ", "), limit),
		Why:     "Toner that lies too thick does not fuse through: it cracks, rubs off, marks the next sheet or sticks in the press.",
		Remedy:  "Lighten the process colours there, take white out from under dark areas, or let a special toner knock out what lies below.",
		Place:   p.place(box, items, laid...),
		Figures: map[string]float64{"pile_percent": math.Round(worst), "limit_percent": limit, "area_mm2": p.areaMM2(over)},
	})
}

// boxMean averages over side x side pixels round each pixel, by a table of sums; outside counts as 0.
func boxMean(v []int32, w, h, side int) []float64 {
	table := make([]int64, (w+1)*(h+1))
	for y := range h {
		row := int64(0)
		for x := range w {
			row += int64(v[y*w+x])
			table[(y+1)*(w+1)+x+1] = table[y*(w+1)+x+1] + row
		}
	}
	out := make([]float64, w*h)
	a := side / 2
	b := side - a
	n := float64(side * side)
	for y := range h {
		y0, y1 := max(0, y-a), min(h, y+b)
		for x := range w {
			x0, x1 := max(0, x-a), min(w, x+b)
			s := table[y1*(w+1)+x1] - table[y0*(w+1)+x1] - table[y1*(w+1)+x0] + table[y0*(w+1)+x0]
			out[y*w+x] = float64(s) / n
		}
	}
	return out
}

package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

// coveredByLaterToner compares drawn order with laydown order. Toner a is drawn above b where b would be
// gone if the objects in a knocked out; where b is there and covers a on the press, a is lost.
var coveredByLaterToner = Rule{
	ID:         "covered-by-later-toner",
	Group:      Laydown,
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"knock-out"},
	Measures: "toner drawn above an opaque toner that the press lays down after it, where both are on the plates, by painting the page " +
		"again with the upper objects knocking out; strips under 0.2 mm do not count, nor do layers that stand for the processing step White",
	Figures: []Figure{{Key: "area", Unit: press.UnitArea, Default: .5, What: "smallest area that counts", Source: CommonPractice}},
	Source:  "press definition (laydown order); Kubelka-Munk layers: an opaque layer hides what lies under it",
	Page: func(ctx context.Context, c *Case) error {
		p := c.Page
		rank := p.rank()
		for b := len(colourant.ProcessNames); b < p.Plates.Set.Len(); b++ {
			if rank[b] < 0 || !p.opaque(b) || p.Plates.Plane(b) == nil {
				continue
			}
			var process plateBits
			for a := range p.Plates.Set.Len() {
				if a == b || rank[a] < 0 || rank[a] >= rank[b] || p.Plates.Plane(a) == nil {
					continue
				}
				if a < len(colourant.ProcessNames) {
					process |= 1 << a
				} else if err := c.covered(ctx, 1<<a, b); err != nil {
					return err
				}
			}
			if err := c.covered(ctx, process, b); err != nil {
				return err
			}
		}
		return nil
	},
}

// opaque reports whether the toner of a plate hides what lies under it.
func (p *Page) opaque(plate int) bool {
	k := p.Plates.Set.At(plate).Kind
	return k == colourant.OpaqueWhite || k == colourant.Metallic
}

// covered looks for one of the plates above drawn above b although b is laid down after it.
func (c *Case) covered(ctx context.Context, above plateBits, b int) error {
	wrong, upper, err := c.paintedOver(ctx, above, 1<<b, nil)
	if wrong == nil || err != nil {
		return err
	}
	c.thickOnly(wrong, .16)
	if area := c.areaMM2(wrong); area >= c.figure("area") {
		c.Add(c.coveredFinding(wrong, area, upper, above, b))
	}
	return nil
}

// paintedOver marks where visible toner of the plates above is drawn above toner of the plates below, half solid
// or more, by painting the page again with the upper objects, which it lists, knocking out: what is gone then lay below.
// The mask is nil when there is nothing; room for it may be handed in.
func (p *Page) paintedOver(ctx context.Context, above, below plateBits, room mask) (mask, []int, error) {
	upper, box := p.drawnAbove(above, below)
	if len(upper) == 0 {
		return nil, nil, nil
	}
	if room == nil {
		room = p.newMask()
	}
	both := room
	clear(both)
	p.markBoth(both, above, below)
	p.within(both, box)
	pixels := p.pixels(both)
	if pixels.Empty() {
		return nil, nil, nil
	}
	// 1 = both there; 2 is added where the lower is gone from the page painted anew.
	err := p.repaint(ctx, p.knockingOut(upper), nil, pixels, func(k, y int, tints []byte) {
		if !below.has(k) || p.Plates.Plane(k) == nil {
			return
		}
		start := y*p.Plates.Width + pixels.Min.X
		had := p.Plates.Plane(k)[start:]
		for x, v := range tints {
			if both[start+x] != 0 && had[x] >= solidTint && !missing(had[x], v) {
				both[start+x] |= 2
			}
		}
	})
	if err != nil {
		return nil, nil, err
	}
	for i, v := range both {
		both[i] = bit(v == 1)
	}
	return both, upper, nil
}

// drawnAbove lists the items that put toner on one of the plates above but none on those below, and whose bounds
// meet those of an earlier item on these; box holds what they may cover.
func (p *Page) drawnAbove(above, below plateBits) (upper []int, box geom.Rect) {
	var lower geom.Rect
	for i := range p.List.Items {
		toner := p.itemToner(i)
		bounds := p.List.Items[i].Bounds
		switch {
		case toner&below != 0:
			lower = lower.Union(bounds)
		case p.stepOfWhite(i):
		case toner&above != 0 && !bounds.Intersect(lower).Empty():
			upper = append(upper, i)
			box = box.Union(bounds)
		}
	}
	return upper, box
}

// markBoth sets the mask where one of the plates below lies half solid or more with visible toner of the plates above.
func (p *Page) markBoth(m mask, above, below plateBits) {
	for b := range p.Plates.Set.Len() {
		pb := p.Plates.Plane(b)
		if !below.has(b) || pb == nil {
			continue
		}
		for a := range p.Plates.Set.Len() {
			pa := p.Plates.Plane(a)
			if !above.has(a) || pa == nil {
				continue
			}
			for i, v := range pb {
				if v >= solidTint && pa[i] >= visibleTint {
					m[i] = 1
				}
			}
		}
	}
}

// knockingOut is the list with overprint and blend modes of the items, and of the groups round them, taken off.
func (p *Page) knockingOut(items []int) *displist.List {
	list := *p.List
	list.Items = slices.Clone(p.List.Items)
	for _, i := range items {
		list.Items[i].Overprint, list.Items[i].Blend = false, displist.Normal
	}
	for i := range list.Items {
		it := &list.Items[i]
		if it.Kind != displist.BeginGroup || it.Group == nil {
			continue
		}
		if at, _ := slices.BinarySearch(items, i); at < len(items) && items[at] < it.Group.End {
			it.Blend = displist.Normal
		}
	}
	return &list
}

func (p *Page) coveredFinding(wrong mask, area float64, upper []int, above plateBits, b int) finding.Finding {
	lost := p.plateNames(p.meeting(above, wrong))
	na, nb := strings.Join(lost, ", "), p.Plates.Set.At(b).Name
	are, them := "is", "it"
	if len(lost) > 1 {
		are, them = "are", "them"
	}
	remedy := fmt.Sprintf("Let the objects in %s knock out %s (overprint off), or choose a press that lays %s down before %s.", na, nb, nb, na)
	if above&processPlates != 0 && p.Plates.Set.At(b).Kind == colourant.OpaqueWhite {
		remedy = fmt.Sprintf("If %s is meant to lie under the process colours, ask for it in the job (wishes, underlay), so that it gets a pass of its own before theirs, or choose a press that lays it down first; else %s",
			nb, "let these objects knock it out (overprint off).")
	}
	return finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("%s %s drawn above %s, but the press lays %s down later, on top of %s, on %s.", na, are, nb, nb, them, areaText(area)),
		Why:      fmt.Sprintf("%s is opaque: what lies under it does not show. The order of the layers in the artwork does not change the order of the stations.", nb),
		Remedy:   remedy,
		Place:    p.place(p.bounds(wrong), p.touchingOf(upper, wrong), append(lost, nb)...),
		Figures:  map[string]float64{"area_mm2": round2(area)},
	}
}

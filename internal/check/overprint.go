package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

var clearKnocksOut = Rule{
	ID:         "must-overprint-knocks-out",
	Group:      Laydown,
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"overprint-on", "multiply-on"},
	Measures: "toner missing under objects painted in nothing but a toner that must overprint, against the page painted again without them; " +
		"an object that mixes it with other tints may knock out for their sake",
	Figures: []Figure{{Key: "area", Unit: press.UnitArea, Default: .5, What: "smallest area that counts", Source: CommonPractice}},
	Source:  "ISO 32000-2, 8.6.7 and 11.7.4; common practice, no source: a clear must overprint or multiply",
	Page: func(ctx context.Context, c *Case) error {
		in, p := c.Input, c.Page
		for plate := len(colourant.ProcessNames); plate < p.Plates.Set.Len(); plate++ {
			if t, ok := in.tonerOf(p, plate); !ok || !t.MustOverprint || p.Plates.Plane(plate) == nil {
				continue
			}
			if err := c.knockedOut(ctx, plate); err != nil {
				return err
			}
		}
		return nil
	},
}

// knockedOut reports what objects of nothing but the plate take off the others.
func (c *Case) knockedOut(ctx context.Context, plate int) error {
	p := c.Page
	suspects := p.knockoutSuspects(plate)
	if len(suspects) == 0 {
		return nil
	}
	lost, plates, err := p.lostUnder(ctx, plate, suspects)
	if err != nil || lost == nil {
		return err
	}
	area := p.areaMM2(lost)
	if area < c.figure("area") {
		return nil
	}
	name, under := p.Plates.Set.At(plate).Name, p.plateNames(plates)
	items := p.touchingOf(suspects, lost)
	c.Add(finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("%s knocks out %s under it, on %s.", name, strings.Join(under, ", "), areaText(area)),
		Why: fmt.Sprintf("%s belongs over other toners and must leave them alone. As drawn, it cuts its own shape out of them: on the sheet there is %s on bare stock.",
			name, name),
		Remedy:  p.overprintRemedy(name, items),
		Place:   p.place(p.bounds(lost), items, append([]string{name}, under...)...),
		Figures: map[string]float64{"area_mm2": round2(area)},
	})
	return nil
}

// knockoutSuspects lists the items that put toner on the plate alone and may knock out others. One that
// overprints a single colourant outside any group cannot.
func (p *Page) knockoutSuspects(plate int) []int {
	var out []int
	groups := 0 // items up to here are members of a group
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if it.Kind == displist.BeginGroup && it.Group != nil {
			groups = max(groups, it.Group.End)
			continue
		}
		if p.itemToner(i) != 1<<plate {
			continue
		}
		harmless := it.Overprint && i >= groups
		for _, k := range p.inksOf(it) {
			if _, single := k.space.(*colour.Separation); !single {
				harmless = false // other names of a DeviceN are painted with 0 %, overprint or not
			}
		}
		if !harmless {
			out = append(out, i)
		}
	}
	return out
}

// lostUnder paints the page without the items and marks where other plates then have more toner. The
// mask is nil when they never have.
func (p *Page) lostUnder(ctx context.Context, plate int, items []int) (lost mask, plates plateBits, err error) {
	left := make([]bool, len(p.List.Items))
	var box geom.Rect
	for _, i := range items {
		left[i] = true
		box = box.Union(p.List.Items[i].Bounds)
	}
	pixels := p.pixelsOf(box)
	if pixels.Empty() {
		return nil, 0, nil
	}
	err = p.repaint(ctx, p.List, func(i int) bool { return left[i] }, pixels, func(k, y int, tints []byte) {
		if k == plate {
			return
		}
		start := y*p.Plates.Width + pixels.Min.X
		any := false
		for x, without := range tints {
			if v := at(p.Plates.Plane(k), start+x); without >= visibleTint && missing(without, v) {
				if lost == nil {
					lost = p.newMask()
				}
				lost[start+x], any = 1, true
			}
		}
		if any {
			plates |= 1 << k
		}
	})
	return lost, plates, err
}

// missing reports whether more than 3 of 10 parts of a tint are gone. Shapes with the same outline drawn on each
// other leave up to a quarter less along their anti-aliased edges; that is not meant.
func missing(without, with byte) bool {
	return 10*(int(without)-int(with)) > 3*int(without)
}

// overprintRemedy is what to do about the items: most are only not set to overprint, some name other
// toners with 0 %, some stand in a group that knocks out as a whole.
func (p *Page) overprintRemedy(name string, items []int) string {
	plain, mixed, grouped := false, false, false
	for _, i := range items {
		it := &p.List.Items[i]
		single := true
		for _, k := range p.inksOf(it) {
			_, sep := k.space.(*colour.Separation)
			single = single && sep
		}
		plain = plain || single && !it.Overprint
		mixed = mixed || !single
		grouped = grouped || single && it.Overprint
	}
	var say []string
	if plain {
		say = append(say, fmt.Sprintf("Set the fills and strokes in %q to overprint (or their blend mode to Multiply).", name))
	}
	if mixed {
		say = append(say, fmt.Sprintf("Paint in the single colourant %q: a mixture that names other toners with 0 %% takes them off even when set to overprint.", name))
	}
	if grouped {
		say = append(say, fmt.Sprintf("Take the objects in %q out of their transparency group, or set the group's blend mode to Multiply: inside it their overprint does not reach what lies below.", name))
	}
	return strings.Join(say, " ")
}

func at(plane []byte, i int) byte {
	if plane == nil {
		return 0
	}
	return plane[i]
}

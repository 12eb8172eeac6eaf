package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
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
	lost, plates, err := p.heavierWithout(ctx, suspects, p.Region, func(k int) bool { return k != plate })
	if err != nil || lost == nil {
		return err
	}
	area := p.areaMM2(lost)
	if area < c.figure("area") {
		return nil
	}
	name, under := p.Plates.Set.At(plate).Name, p.plateNames(plates)
	items := p.touchingOf(suspects, lost)
	remedy, mends := p.overprintRemedy(name, items)
	c.Add(finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("%s knocks out %s under it, on %s.", name, strings.Join(under, ", "), areaText(area)),
		Why: fmt.Sprintf("%s belongs over other toners and must leave them alone. As drawn, it cuts its own shape out of them: on the sheet there is %s on bare stock.",
			name, name),
		Remedy:  remedy,
		Place:   p.place(p.bounds(lost), items, append([]string{name}, under...)...),
		Figures: map[string]float64{"area_mm2": round2(area)},
		// Nobody mends the members of a mixed group from outside.
		Remedies: mends,
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

// missing reports whether more than 3 of 10 parts of a tint are gone. Shapes with the same outline drawn on each
// other leave up to a quarter less along their anti-aliased edges; that is not meant.
func missing(without, with byte) bool {
	return 10*(int(without)-int(with)) > 3*int(without)
}

// overprintRemedy is what to do about the items, and the mends that do it: most are only not set to overprint, some name other
// toners with 0 %, some stand in a group that knocks out as a whole.
func (p *Page) overprintRemedy(name string, items []int) (text string, mends []string) {
	plain, mixed, grouped, pure := false, false, false, false
	groups := p.groups()
	for _, i := range items {
		single := true
		for _, k := range p.inksOf(&p.List.Items[i]) {
			_, sep := k.space.(*colour.Separation)
			single = single && sep
		}
		mixed = mixed || !single
		if g := groups[i]; g >= 0 {
			grouped = true
			pure = pure || p.allOn(g, p.itemToner(i))
		} else {
			plain = plain || single && !p.List.Items[i].Overprint
		}
	}
	mends = []string{}
	var say []string
	if plain {
		say = append(say, fmt.Sprintf("Set the fills and strokes in %q to overprint (or their blend mode to Multiply).", name))
	}
	if mixed {
		say = append(say, fmt.Sprintf("Paint in the single colourant %q: a mixture that names other toners with 0 %% takes them off even when set to overprint.", name))
	}
	if plain || mixed {
		mends = append(mends, "overprint-on")
	}
	if grouped {
		say = append(say, fmt.Sprintf("Take the objects in %q out of their transparency group, or set the group's blend mode to Multiply: inside it their overprint does not reach what lies below.", name))
	}
	if pure {
		mends = append(mends, "multiply-on")
	}
	return strings.Join(say, " "), mends
}

// groups tells for each item the outermost transparency group of the artwork it is a member of, -1 = none.
func (p *Page) groups() []int {
	of := make([]int, len(p.List.Items))
	end, group := 0, -1
	for i := range of {
		if i >= end {
			group = -1
		}
		of[i] = group
		if it := &p.List.Items[i]; i >= end && it.Kind == displist.BeginGroup && it.Group != nil && !it.Group.Implicit {
			group, end = i, it.Group.End
		}
	}
	return of
}

// allOn reports whether what is in a group puts toner on these plates only.
func (p *Page) allOn(group int, plates plateBits) bool {
	for i := group + 1; i < p.List.Items[group].Group.End; i++ {
		if p.List.Items[i].Kind != displist.BeginGroup && p.itemToner(i) != plates {
			return false
		}
	}
	return true
}

func at(plane []byte, i int) byte {
	if plane == nil {
		return 0
	}
	return plane[i]
}

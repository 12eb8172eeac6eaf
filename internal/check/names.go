package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// wanted finds the press's spelling for a name that is not mounted: a toner that lists it as a usual
// other name, or one it misses by case, blanks, accents, separators or a slip of the keyboard.
func (in *Input) wanted(name string) (string, bool) {
	if near := in.Press.Suggest(name); len(near) > 0 {
		return near[0], true
	}
	return "", false
}

// mounted reports whether the press knows the name byte for byte.
func (p *Page) mounted(name string) bool {
	_, plate := p.Target.Names[name]
	_, mix := p.Target.Mixes[name]
	return plate || mix
}

// specialNames lists what the artwork may name beside the process colours.
func (p *Page) specialNames() string {
	var names []string
	for _, c := range p.Plates.Set.All()[len(colourant.ProcessNames):] {
		names = append(names, c.Name)
	}
	return strings.Join(append(names, sortedKeys(p.Target.Mixes)...), ", ")
}

var unknownColourant = Rule{
	ID:       "colourant-unknown",
	Measures: "every colourant name in the artwork against the toners and mixes of the press",
	Source:   "ISO 32000-2, 8.6.6.4: a name without a plate is printed through its stand-in colour",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		for _, n := range p.List.Names {
			if p.mounted(n.Name) {
				continue
			}
			if _, near := in.wanted(n.Name); near {
				continue // nearlyRightName speaks
			}
			items := p.itemsNaming(n.Name)
			sev, ok := usedOrHidden(items, n)
			if !ok {
				continue
			}
			remedy := "Convert these objects to process colours on purpose, or choose another press."
			if have := p.specialNames(); have != "" {
				remedy = fmt.Sprintf("Give these objects one of the special toners of the press (%s), or convert them to process colours on purpose.", have)
			}
			out.Add(finding.Finding{
				ID: "colourant-unknown", Severity: sev,
				What: fmt.Sprintf("The artwork names the colourant %q, which this press does not have.", n.Name),
				Why: "A name without a toner is not printed as that toner: what is painted in it comes out in process colours made from its stand-in colour." +
					p.dragged(n.Name),
				Remedy: remedy,
				Place:  p.place(p.boundsOf(items), items, n.Name),
			})
		}
		return nil
	},
}

var nearlyRightName = Rule{
	ID:       "colourant-name-nearly-right",
	Measures: "names that miss a toner of the press by case, blanks, accents, separators, a usual other name or one letter",
	Source:   "ISO 32000-2, 7.3.5 and 8.6.6.4: names are equal only byte for byte; common practice, no source, for the list of other names",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		for _, n := range p.List.Names {
			if p.mounted(n.Name) {
				continue
			}
			want, near := in.wanted(n.Name)
			if !near {
				continue
			}
			items := p.itemsNaming(n.Name)
			sev, ok := usedOrHidden(items, n)
			if !ok {
				continue
			}
			out.Add(finding.Finding{
				ID: "colourant-name-nearly-right", Severity: sev,
				What: fmt.Sprintf("The colourant is named %q; the press knows it as %q.", n.Name, want),
				Why: "Names must match letter for letter, capitals and blanks included. As it stands nothing of it reaches the toner: it prints in process colours made from its stand-in colour." +
					p.dragged(n.Name),
				Remedy: fmt.Sprintf("Rename the colourant %q to %q in the artwork.", n.Name, want),
				Place:  p.place(p.boundsOf(items), items, n.Name),
				Notes:  []string{"wanted name: " + want},
			})
		}
		return nil
	},
}

// usedOrHidden tells how much a name matters: painted, an error; only on hidden layers, a note; only
// defined among the page's resources, nothing.
func usedOrHidden(items []int, n displist.NamedColourant) (s finding.Severity, speaks bool) {
	if len(items) > 0 {
		return finding.Error, true
	}
	return finding.Note, n.HiddenOnly
}

// dragged tells which toners are lost with a name that is not mounted: a mixture that names it goes
// through its stand-in colour as a whole (8.6.6.5).
func (p *Page) dragged(name string) string {
	lost := map[string]bool{}
	for _, i := range p.itemsNaming(name) {
		for _, k := range p.inksOf(&p.List.Items[i]) {
			d, ok := k.space.(*colour.DeviceN)
			if !ok || d.NChannel || !slices.Contains(d.Names, name) {
				continue
			}
			for _, n := range d.Names {
				if _, special := p.Target.Names[n]; special && !slices.Contains(colourant.ProcessNames[:], n) {
					lost[n] = true
				}
			}
		}
	}
	if len(lost) == 0 {
		return ""
	}
	return fmt.Sprintf(" It is mixed with %s in one colour, so that is lost with it.", strings.Join(sortedKeys(lost), ", "))
}

// itemsNaming lists the printing items whose colours name the colourant.
func (p *Page) itemsNaming(name string) []int {
	if p.naming == nil {
		p.naming = map[string][]int{}
		p.eachInk(func(i int, k ink) {
			for _, n := range k.names() {
				p.naming[n] = appendItem(p.naming[n], i)
			}
		})
	}
	return slices.Clone(p.naming[name])
}

// boundsOf is the box round the items.
func (p *Page) boundsOf(items []int) (box geom.Rect) {
	for _, i := range items {
		box = box.Union(p.List.Items[i].Bounds)
	}
	return box
}

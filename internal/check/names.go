package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/displist"
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

// pressNames lists what the artwork may name.
func (in *Input) pressNames() string {
	var names []string
	for _, t := range in.Press.Toners {
		names = append(names, t.Name)
	}
	for _, m := range in.Press.Mixes {
		names = append(names, m.Name)
	}
	return strings.Join(names, ", ")
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
			sev := finding.Error
			if len(items) == 0 {
				sev = finding.Note // only defined, or on a hidden layer
			}
			out.Add(finding.Finding{
				ID: "colourant-unknown", Severity: sev,
				What:   fmt.Sprintf("The artwork names the colourant %q, which this press does not have.", n.Name),
				Why:    "A name without a toner is not printed as that toner: what is painted in it comes out in process colours made from its stand-in colour.",
				Remedy: fmt.Sprintf("Give these objects one of the toners of the press (%s), or convert them to process colours on purpose.", in.pressNames()),
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
			sev := finding.Error
			if len(items) == 0 {
				sev = finding.Warning
			}
			out.Add(finding.Finding{
				ID: "colourant-name-nearly-right", Severity: sev,
				What:   fmt.Sprintf("The colourant is named %q; the press knows it as %q.", n.Name, want),
				Why:    "Names must match letter for letter, capitals and blanks included. As it stands nothing of it reaches the toner: it prints in process colours made from its stand-in colour.",
				Remedy: fmt.Sprintf("Rename the colourant %q to %q in the artwork.", n.Name, want),
				Place:  p.place(p.boundsOf(items), items, n.Name),
				Notes:  []string{"wanted name: " + want},
			})
		}
		return nil
	},
}

// itemsNaming lists the printing items whose colour names the colourant.
func (p *Page) itemsNaming(name string) []int {
	var out []int
	p.eachColour(func(i int, it *displist.Item, names []string) {
		for _, n := range names {
			if n == name {
				out = append(out, i)
				return
			}
		}
	})
	return out
}

// eachColour calls f with every printing item and the colourant names of its colour space.
func (p *Page) eachColour(f func(i int, it *displist.Item, names []string)) {
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if it.Hidden || it.Kind == displist.BeginGroup {
			continue
		}
		if names := itemNames(it); len(names) > 0 {
			f(i, it, names)
		}
	}
}

// boundsOf is the box round the items.
func (p *Page) boundsOf(items []int) (box geom.Rect) {
	for _, i := range items {
		box = box.Union(p.List.Items[i].Bounds)
	}
	return box
}

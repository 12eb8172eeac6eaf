package check

import (
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

// usedOrHidden tells how much a name matters: painted, an error; only on hidden layers, a note; only
// defined among the page's resources or used on technical processing steps, nothing.
func (p *Page) usedOrHidden(items []int, n displist.NamedColourant) (s finding.Severity, speaks bool) {
	if len(items) > 0 {
		return finding.Error, true
	}
	return finding.Note, n.HiddenOnly && !p.onStepsOnly(n.Name)
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
	return slices.Clip(p.naming[name])
}

// boundsOf is the box round the items.
func (p *Page) boundsOf(items []int) (box geom.Rect) {
	for _, i := range items {
		box = box.Union(p.List.Items[i].Bounds)
	}
	return box
}

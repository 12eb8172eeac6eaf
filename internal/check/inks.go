package check

import (
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
)

// ink is one colour an item paints with.
type ink struct {
	space colour.Space
	comps []float64 // nil for images and shadings, which hold many
}

// inksOf lists the colours of an item: one, but for a coloured tiling, which has those of its cell.
func (p *Page) inksOf(it *displist.Item) []ink {
	space, comps, cell := it.Colours()
	switch {
	case cell != nil:
		return p.cellInks(cell)
	case space == nil:
		return nil
	}
	return []ink{{space, comps}}
}

// maxCellInks colours of a tiling's cell are told apart; of more only the spaces count.
const maxCellInks = 64

// cellInks lists the different colours of a tiling's cell. They are kept: thousands of items may share a
// cell of thousands.
func (p *Page) cellInks(t *displist.Tiling) []ink {
	all, known := p.cells[t]
	if known {
		return all
	}
	for i := range t.Items {
		if t.Items[i].Hidden {
			continue
		}
		for _, k := range p.inksOf(&t.Items[i]) {
			if len(all) >= maxCellInks {
				k.comps = nil
			}
			if !slices.ContainsFunc(all, func(o ink) bool { return o.space == k.space && slices.Equal(o.comps, k.comps) }) {
				all = append(all, k)
			}
		}
	}
	if p.cells == nil {
		p.cells = map[*displist.Tiling][]ink{}
	}
	p.cells[t] = all
	return all
}

// names lists the colourant names of the ink's space.
func (k ink) names() []string {
	return colour.Names(k.space)
}

// tint is component c; an ink of many colours counts as full.
func (k ink) tint(c int) float64 {
	if c < len(k.comps) {
		return k.comps[c]
	}
	return 1
}

// plateBits is a set of plates: limits.MaxColourants are 64.
type plateBits uint64

const processPlates plateBits = 1<<len(colourant.ProcessNames) - 1

func (b plateBits) has(plate int) bool { return b>>plate&1 != 0 }

// plateNames lists the colourants of a set of plates, in plate order.
func (p *Page) plateNames(b plateBits) (names []string) {
	for k, c := range p.Plates.Set.All() {
		if b.has(k) {
			names = append(names, c.Name)
		}
	}
	return names
}

// toner is the set of plates the ink puts toner on, as far as its tints tell.
func (p *Page) toner(k ink) plateBits {
	names := k.names()
	if names == nil {
		if k.space == colour.Space(colour.Gray) && len(k.comps) == 1 && p.grayIsBlack() {
			return plateBits(bit(k.comps[0] < 1)) << processBlack
		}
		return processToner(k)
	}
	var b plateBits
	for c, n := range names {
		at, plate := p.Target.Names[n]
		mix := p.Target.Mixes[n]
		switch {
		case n == "None":
		case !plate && mix == nil && n != "All":
			// Not mounted: the stand-in colour is printed, in a DeviceN that of the whole mixture (8.6.6.5).
			if d, ok := k.space.(*colour.DeviceN); ok && !d.NChannel {
				return processPlates
			}
			b |= processPlates
		case k.tint(c) == 0:
		case n == "All":
			b |= 1<<p.Plates.Set.Len() - 1
		case plate:
			b |= 1 << at
		default:
			for _, part := range mix {
				b |= 1 << part.Plate
			}
		}
	}
	return b
}

// grayIsBlack reports whether DeviceGray ends on the black plate alone (10.4.2.3): not where transparency is computed in
// another space than CMYK.
func (p *Page) grayIsBlack() bool {
	if p.gray == 0 {
		p.gray = 1
		if separate.PageContext(p.List).Space != separate.BlendCMYK {
			p.gray = 2
		}
		for i := range p.List.Items {
			if g := p.List.Items[i].Group; g != nil && g.Space != nil && !isCMYK(g.Space) {
				p.gray = 2
			}
		}
	}
	return p.gray == 1
}

// processToner is toner for a space without names: all process plates, but those CMYK gives no tint to
// and none for white.
func processToner(k ink) plateBits {
	switch {
	case k.comps == nil:
	case isCMYK(k.space):
		var b plateBits
		for c := range colourant.ProcessNames {
			if k.tint(c) > 0 {
				b |= 1 << c
			}
		}
		return b
	case k.space == colour.Space(colour.Gray) || k.space == colour.Space(colour.RGB):
		if !slices.ContainsFunc(k.comps, func(v float64) bool { return v < 1 }) {
			return 0
		}
	}
	return processPlates
}

func isCMYK(s colour.Space) bool {
	if icc, ok := s.(*colour.ICCBased); ok {
		return icc.N == 4
	}
	return s == colour.Space(colour.CMYK)
}

// itemToner is the set of plates item i puts toner on.
func (p *Page) itemToner(i int) (b plateBits) {
	if it := &p.List.Items[i]; !it.Hidden {
		for _, k := range p.inksOf(it) {
			b |= p.toner(k)
		}
	}
	return b
}

// eachInk calls f with the colours of every printing item.
func (p *Page) eachInk(f func(i int, k ink)) {
	for i := range p.List.Items {
		if it := &p.List.Items[i]; !it.Hidden {
			for _, k := range p.inksOf(it) {
				f(i, k)
			}
		}
	}
}

// appendItem appends i unless it is the last already: a tiling comes once for each of its colours.
func appendItem(items []int, i int) []int {
	if len(items) > 0 && items[len(items)-1] == i {
		return items
	}
	return append(items, i)
}

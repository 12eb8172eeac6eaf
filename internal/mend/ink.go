package mend

import (
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// ink is one colour an item paints with; comps are nil for images and shadings, which hold many.
type ink struct {
	space colour.Space
	comps []float64
}

// inksOf lists the colours of an item: one, but for a coloured tiling, which has those of its cell.
func inksOf(it *displist.Item) []ink {
	space, comps, cell := it.Colours()
	switch {
	case cell != nil:
		var all []ink
		for i := range cell.Items {
			all = append(all, inksOf(&cell.Items[i])...)
		}
		return all
	case space == nil:
		return nil
	}
	return []ink{{space, comps}}
}

// flat reports whether an item paints one plain colour: no image, shading or pattern.
func flat(it *displist.Item) bool {
	switch it.Kind {
	case displist.Fill, displist.Stroke:
	case displist.Image:
		if it.Image == nil || !it.Image.Stencil {
			return false
		}
	default:
		return false
	}
	return it.Paint.Space != nil && it.Paint.Tiling == nil && it.Paint.Shading == nil
}

// namesAny reports whether an item names one of the colourants.
func namesAny(it *displist.Item, which ...string) bool {
	for _, k := range inksOf(it) {
		for _, n := range colour.Names(k.space) {
			if slices.Contains(which, n) {
				return true
			}
		}
	}
	return false
}

// only reports whether an item paints in the one colourant and nothing else.
func only(it *displist.Item, name string) bool {
	inks := inksOf(it)
	for _, k := range inks {
		if ns := colour.Names(k.space); len(ns) != 1 || ns[0] != name {
			return false
		}
	}
	return len(inks) > 0
}

// processColour reports whether an item paints in process colours and no names.
func processColour(it *displist.Item) bool {
	inks := inksOf(it)
	for _, k := range inks {
		for _, n := range colour.Names(k.space) {
			if !slices.Contains(colourant.ProcessNames[:], n) {
				return false
			}
		}
	}
	return len(inks) > 0
}

// box holds every mark of item i, for a group those of its members.
func (p *Page) box(i int) geom.Rect {
	it := &p.List.Items[i]
	b := it.Bounds
	if it.Clip != nil {
		b = b.Intersect(it.Clip.Bounds)
	}
	return b
}

// platesOf names the plates an ink may put toner on or take it from, as the target has them.
func platesOf(t *separate.Target, name string) []string {
	if i, ok := t.Names[name]; ok {
		return []string{t.Set.At(i).Name}
	}
	if mix, ok := t.Mixes[name]; ok {
		var out []string
		for _, part := range mix {
			out = append(out, t.Set.At(part.Plate).Name)
		}
		return out
	}
	return append([]string(nil), colourant.ProcessNames[:]...)
}

// siblings are the other items of the operator that paints item i: a stroke beside a fill.
func (p *Page) siblings(i int) (out []int) {
	items := p.List.Items
	for k := i - 1; k >= 0 && items[k].Origin == items[i].Origin; k-- {
		out = append(out, k)
	}
	for k := i + 1; k < len(items) && items[k].Origin == items[i].Origin; k++ {
		out = append(out, k)
	}
	return out
}

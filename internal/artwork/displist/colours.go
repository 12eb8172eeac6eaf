package displist

import "laydown/internal/artwork/colour"

// Colours is what an item paints with: a space and one value for each of its components, nil for images and
// shadings, which hold many. Indexed and Pattern are looked through. For a coloured tiling it is the cell instead,
// whose items have theirs. A group has none: its members stand on the list themselves.
func (it *Item) Colours() (space colour.Space, comps []float64, cell *Tiling) {
	switch t := it.Paint.Tiling; {
	case it.Kind == BeginGroup:
		return nil, nil, nil
	case it.Kind == Image && it.Image != nil && !it.Image.Stencil:
		space = it.Image.Space
	case it.Kind == Shade && it.Shading != nil:
		space = it.Shading.Space
	case it.Paint.Shading != nil:
		space = it.Paint.Shading.Space
	case t != nil && t.Coloured:
		return nil, nil, t
	default:
		space, comps = it.Paint.Space, it.Paint.Comps
	}
	if p, ok := space.(*colour.Pattern); ok {
		space = p.Under
	}
	if ix, ok := space.(*colour.Indexed); ok {
		space = ix.Base
		if len(comps) == 1 {
			base := make([]float64, space.Components())
			ix.Lookup(base, comps[0])
			comps = base
		}
	}
	if space == nil {
		return nil, nil, nil
	}
	return space, comps, nil
}

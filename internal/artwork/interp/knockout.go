package interp

import (
	"cmp"
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// knockoutShows reports whether it shows that the glyphs of the items from first on knock each other
// out (9.3.8): a later one that is not opaque overlaps an earlier one. Glyphs of one item paint once in
// any case. Overprinting alone is opaque, as in a file without transparency. Boxes stand for glyphs, so it may say so of
// glyphs that only come close.
func knockoutShows(items []displist.Item, first int) bool {
	var boxes []geom.Rect
	var clear []bool
	any := false
	for i := first; i < len(items); {
		it := &items[i]
		c := it.Alpha < 1 || it.Blend != displist.Normal || it.SoftMask != nil || it.Paint.Tiling != nil && it.Paint.Tiling.Blending
		if it.Kind == displist.BeginGroup {
			c = true // implicit groups stand for transparent objects only
			i = it.Group.End
		} else {
			i++
		}
		boxes, clear = append(boxes, it.Bounds), append(clear, c)
		any = any || c
	}
	return any && anyOverlap(boxes, func(later int) bool { return clear[later] })
}

// anyOverlap reports whether two of the boxes overlap of which counts says so of the later one, or, of very
// many, whether that may be.
func anyOverlap(boxes []geom.Rect, counts func(later int) bool) bool {
	if len(boxes) < 2 {
		return false
	}
	var all geom.Rect
	for _, b := range boxes {
		all = all.Union(b)
	}
	low, high := func(r *geom.Rect) float64 { return r.Y0 }, func(r *geom.Rect) float64 { return r.Y1 }
	if all.W() > all.H() {
		low, high = func(r *geom.Rect) float64 { return r.X0 }, func(r *geom.Rect) float64 { return r.X1 }
	}
	order := make([]int, len(boxes))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(low(&boxes[i]), low(&boxes[j])) })
	budget := 100_000
	for k, i := range order {
		a := &boxes[i]
		for _, j := range order[k+1:] {
			b := &boxes[j]
			if low(b) >= high(a) {
				break
			}
			if budget--; budget < 0 || counts(max(i, j)) && !a.Intersect(*b).Empty() {
				return true
			}
		}
	}
	return false
}

// groupFromItems makes the items from first on the members of an implicit knockout group.
func (m *machine) groupFromItems(first int) {
	head := m.item(displist.BeginGroup, geom.Rect{})
	head.Alpha, head.Blend, head.SoftMask = 1, displist.Normal, nil
	head.Origin = m.items[first].Origin
	n := m.openGroup(head, &displist.Group{Implicit: true, Knockout: true})
	if n < 0 || m.stopped {
		m.closeGroup(n)
		return
	}
	g := m.items[n]
	copy(m.items[first+1:], m.items[first:n])
	for i := first + 1; i <= n; i++ {
		if grp := m.items[i].Group; grp != nil {
			grp.End++
		}
	}
	m.items[first] = g
	m.closeGroup(first)
}

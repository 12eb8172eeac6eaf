package check

import (
	"cmp"
	"context"
	"fmt"
	"image"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/distance"
)

// lineWork is the flat shapes on some plates as coverage of their outlines.
type lineWork struct {
	distance.Plane
	at    image.Point // of its corner, in pixels of the page
	items []int       // that make it
}

// lineWork paints the shapes of flat colour that put toner on one of the plates, at full tint whatever theirs is, and
// what knocks them out; type only when asked for. Pictures, blends and patterns are tones, whose grain is no line: they are
// left out. The work is empty when there is nothing. A byte a pixel of the box round the items.
func (c *Case) lineWork(ctx context.Context, plates plateBits, wanted func(*displist.Item) bool) (w lineWork, err error) {
	const skipped, bare, solid = 0, 1, 2
	part := func(i int) int {
		it := &c.List.Items[i]
		if it.Kind == displist.BeginGroup || it.Hidden || c.isRegistration(i) {
			return skipped
		}
		tone := it.Paint.Shading != nil || it.Paint.Tiling != nil || it.Kind == displist.Shade || it.Kind == displist.Image && !it.Image.Stencil
		on := c.itemToner(i)&plates != 0
		switch {
		case tone:
			// What a picture leaves of a shape under it, a sliver beside its edge, is nobody's line.
		case on && it.SoftMask == nil:
			if wanted(it) {
				return solid
			}
		case on || !it.Overprint && it.Blend == displist.Normal:
			return bare
		}
		return skipped
	}
	// Counted first: a page may have a million items, and a list that grows holds them more than twice.
	count, solids := 0, 0
	for i := range c.List.Items {
		switch part(i) {
		case solid:
			solids++
			count++
		case bare:
			count++
		}
	}
	list := &displist.List{Page: c.List.Page, Items: make([]displist.Item, 0, count)}
	w.items = make([]int, 0, solids)
	for i := range c.List.Items {
		switch part(i) {
		case solid:
			list.Items = append(list.Items, flat(&c.List.Items[i], 1))
			w.items = append(w.items, i)
		case bare:
			list.Items = append(list.Items, flat(&c.List.Items[i], 0))
		}
	}
	box := c.boundsOf(w.items).Intersect(c.List.Page.Bleed)
	pixels := c.pixelsOf(box.Grow(geom.PointsPerMM))
	if len(w.items) == 0 || box.Empty() || pixels.Empty() {
		return lineWork{}, nil
	}
	w.Plane = distance.Plane{Pix: make([]byte, pixels.Dx()*pixels.Dy()), W: pixels.Dx(), H: pixels.Dy(), DPI: c.Plates.DPI}
	w.at = pixels.Min
	err = c.repaint(ctx, list, nil, pixels, func(k, y int, tints []byte) {
		if k == processBlack {
			copy(w.Pix[(y-pixels.Min.Y)*w.W:], tints[:w.W])
		}
	})
	return w, err
}

// isRegistration reports whether an item is painted in All: registrationInsideTrim speaks of these.
func (p *Page) isRegistration(i int) bool {
	_, yes := slices.BinarySearch(p.itemsNaming("All"), i)
	return yes
}

// shapes is the line work without type of some plates, kept for the rules that share it.
func (c *Case) shapes(ctx context.Context, plates plateBits) (*lineWork, error) {
	if w, known := c.works[plates]; known {
		return w, nil
	}
	w, err := c.lineWork(ctx, plates, func(it *displist.Item) bool { return it.Text == nil })
	if err != nil {
		return nil, err
	}
	if c.works == nil {
		c.works = map[plateBits]*lineWork{}
	}
	c.works[plates] = &w
	return &w, nil
}

// flat is an item's shape in plain black, or in paper white that knocks out.
func flat(it *displist.Item, black float64) displist.Item {
	return displist.Item{Kind: it.Kind, Alpha: 1, Bounds: it.Bounds, Clip: it.Clip, Shape: it.Shape, Pen: it.Pen, Image: it.Image,
		Paint: displist.Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, black}}}
}

// mark marks the pixels of the boxes of regions that are inside the work, or outside it for gaps.
func (c *Case) markRegions(m mask, w *lineWork, regions []distance.Region, gaps bool) {
	for _, r := range regions {
		for y := r.Y0; y < r.Y1; y++ {
			for x := r.X0; x < r.X1; x++ {
				if (w.Pix[y*w.W+x] >= 64) != gaps {
					m[(w.at.Y+y)*c.Plates.Width+w.at.X+x] = 1
				}
			}
		}
	}
}

// mostPlaces of fine detail are told one by one.
const mostPlaces = 8

// tell lists where the regions lie, the thinnest first, in mm from the trim.
func (c *Case) tell(w *lineWork, regions []distance.Region) (notes []string) {
	sorted := slices.Clone(regions)
	slices.SortStableFunc(sorted, func(a, b distance.Region) int { return cmp.Compare(a.Width, b.Width) })
	for _, r := range sorted[:min(len(sorted), mostPlaces)] {
		box := c.boxMM(c.listRect(w.at.X+r.X0, w.at.Y+r.Y0, w.at.X+r.X1, w.at.Y+r.Y1))
		notes = append(notes, fmt.Sprintf("%.2f mm wide and %.1f mm long, %.1f mm from the left and %.1f mm from the top of the trim", r.Width, r.Length, box.X, box.Y))
	}
	if n := len(sorted) - mostPlaces; n > 0 {
		notes = append(notes, fmt.Sprintf("and %d more", n))
	}
	return notes
}

// fineGroup is plates whose line work is looked at together.
type fineGroup struct {
	plates plateBits
	names  []string
}

// fineGroups are the process plates together and each special plate, as far as they have toner and the press knows
// them.
func (c *Case) fineGroups() (out []fineGroup) {
	if c.Press == nil {
		return nil
	}
	var process fineGroup
	for k := range c.Plates.Set.Len() {
		if c.Plates.Plane(k) == nil {
			continue
		}
		if _, known := c.tonerOf(c.Page, k); !known {
			continue
		}
		name := c.Plates.Set.At(k).Name
		if special(k) {
			out = append(out, fineGroup{1 << k, []string{name}})
		} else {
			process.plates |= 1 << k
			process.names = append(process.names, name)
		}
	}
	if process.plates != 0 {
		out = append([]fineGroup{process}, out...)
	}
	return out
}

// lasting keeps the regions narrower than width and at least as long as length, mm. A tenth of a pixel, and a hundredth of
// a millimetre, is what widths may be measured wrong. What touches the border of the plane is cut there by the page, and
// nobody knows how wide it is. What narrows steadily, a spike or two lines that meet, ends somewhere whatever its width: of a
// wedge the thinnest tenth is well under the middle, of a line nearly the same.
func (w *lineWork) lasting(regions []distance.Region, width, length float64) (out []distance.Region) {
	width -= max(.01, .1/w.PerMM())
	for _, r := range regions {
		cut := r.X0 <= 1 || r.Y0 <= 1 || r.X1 >= w.W-1 || r.Y1 >= w.H-1
		wedge := r.Thinnest < .7*r.Width
		if r.Width < width && r.Length >= length && !cut && !wedge {
			out = append(out, r)
		}
	}
	return out
}

// thinnest is the width of the thinnest region, mm.
func thinnest(regions []distance.Region) float64 {
	w := regions[0].Width
	for _, r := range regions {
		w = min(w, r.Width)
	}
	return w
}

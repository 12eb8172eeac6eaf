package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
)

// A clip in force where a group is painted clips the group, which is one object of its parent (11.4.1, 11.6.6). On the chains of its members
// it stands as well, since they inherit it. Applied to each of them it would be right for whole pixels alone: where it covers
// a pixel by half, two members, one over the other, would cover three quarters and show what lies between. So all links that the
// members have in common are applied once, to the group's result.

// farthest bounds the links looked at.
const farthest = 64

// commonClip returns the innermost link that stands on the chains of all items, from clip inwards; ok is false, and the link clip, when that
// itself does not stand on all of them.
func commonClip(items []displist.Item, clip *displist.Clip) (common *displist.Clip, ok bool) {
	if len(items) == 0 {
		return clip, true
	}
	place := map[*displist.Clip]int{}
	var links []*displist.Clip // of the first item, from the innermost
	for c := items[0].Clip; ; c = c.Parent {
		place[c] = len(links)
		links = append(links, c)
		if c == clip {
			break
		}
		if c == nil || len(links) == farthest {
			return clip, clip == nil
		}
	}
	at := 0
	known := map[*displist.Clip]bool{items[0].Clip: true}
	for i := range items {
		c := items[i].Clip
		if known[c] {
			continue
		}
		known[c] = true
		k, found := place[c]
		for hops := 0; !found && c != nil && hops < farthest; hops++ {
			c = c.Parent
			k, found = place[c]
		}
		if !found {
			return clip, clip == nil
		}
		at = max(at, k)
	}
	return links[at], true
}

// clippedSoftly reports whether two members of a group and more may lie where its clip covers pixels by a part.
func (p *planner) clippedSoftly(pl *plan, i int) bool {
	st := &pl.steps[i]
	if st.clip == nil {
		return false
	}
	inner := p.wholePixels(st.clip)
	n := 0
	for k := i + 1; k < st.next && n < 2; k++ {
		it := &pl.items[k]
		switch {
		case it.Hidden:
			k = max(pl.steps[k].next, k+1) - 1
		case it.Kind != displist.BeginGroup && !inner.holds(p.dev.Bounds(it.Bounds)):
			n++
		}
	}
	return n == 2
}

// wholePixels are those a chain lets through whole; none when it is not one of upright rectangles.
func (p *planner) wholePixels(c *displist.Clip) wholeRect {
	r := fixedRect{math.MinInt32, math.MinInt32, math.MaxInt32, math.MaxInt32}
	for hops := 0; c != nil; c = c.Parent {
		if hops++; hops > farthest || c.Shape.Path == nil || p.dev.B != 0 || p.dev.C != 0 {
			return wholeRect{}
		}
		b, ok := c.Shape.Path.AsRect()
		if !ok {
			return wholeRect{}
		}
		d := p.dev.Bounds(b)
		r = fixedRect{max(r.x0, fixed(d.X0)), max(r.y0, fixed(d.Y0)), min(r.x1, fixed(d.X1)), min(r.y1, fixed(d.Y1))}
	}
	return wholeRect(r.inner())
}

type wholeRect raster.IntRect

// holds reports whether a rectangle in pixels lies inside.
func (w wholeRect) holds(r geom.Rect) bool {
	return r.X0 >= float64(w.X0) && r.Y0 >= float64(w.Y0) && r.X1 <= float64(w.X1) && r.Y1 <= float64(w.Y1)
}

// clipKey names the cover of a chain down to, and without, the link base.
type clipKey struct{ clip, base *displist.Clip }

// clippedOnce makes base the link that clips painted from now on leave out, with all that is outside of it, until back is called.
func (w *worker) clippedOnce(base *displist.Clip, cover *clipCover) (back func()) {
	was, start := w.base, w.start
	w.base, w.start = base, w.open
	if base != nil && cover.isRec && (was == nil || start.bounded) {
		w.start.bounded, w.start.bound = true, cover.fixed
		if was != nil {
			w.start.bound = cover.fixed.common(start.bound)
		}
	}
	return func() { w.base, w.start = was, start }
}

// common is the rectangle two have in common.
func (r fixedRect) common(o fixedRect) fixedRect {
	return fixedRect{max(r.x0, o.x0), max(r.y0, o.y0), min(r.x1, o.x1), min(r.y1, o.y1)}
}

// without is a rectangle without those of its sides that lie on or outside of those of bound: they were applied with it.
func (r fixedRect) without(bound, open fixedRect) fixedRect {
	if r.x0 <= bound.x0 {
		r.x0 = open.x0
	}
	if r.y0 <= bound.y0 {
		r.y0 = open.y0
	}
	if r.x1 >= bound.x1 {
		r.x1 = open.x1
	}
	if r.y1 >= bound.y1 {
		r.y1 = open.y1
	}
	return r
}

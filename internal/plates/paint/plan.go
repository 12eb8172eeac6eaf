package paint

import (
	"fmt"
	"math"
	"sync"
	"sync/atomic"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// A plan is a list (of the page, or of a soft mask's group) made ready to be painted by many
// goroutines: which items are painted where and how. All that depends on the list alone is decided
// here once, so that no band can decide otherwise.
type plan struct {
	items  []displist.Item
	steps  []step
	target *separate.Target
	dev    geom.Matrix
	abs    geom.Matrix      // list space to pixels of the page: dev without the place of the region
	ctx    separate.Context // of the items outside any group
	n      int              // components of ctx
	blends bool             // some blend mode may read the alpha of the outermost group
	page   bool
	finer  float64 // pixels across a pixel of the page, in the cell of a tiling; 0 = 1, not in a cell

	masks map[*displist.SoftMask]*maskPlan // shared by all plans of a job
	clips map[*displist.Clip]*clipShape
}

// A step is what paint knows of one item.
type step struct {
	box    raster.IntRect // device pixels that can be touched; empty = not painted
	next   int            // index of the item after this one and its members
	ctx    separate.Context
	elided bool           // a group painted straight into its parent
	clip   *displist.Clip // of a group: what clips it as a whole
	shared bool           // clip is on every member's own chain, where it need not be applied again
	within separate.Context

	once    sync.Once
	shape   *raster.Edges
	ink     *separate.Ink
	image   *imageStep
	pattern *patternStep // a shading or tiling the item is painted with
	uses    atomic.Int32 // bands that still need the shape; it is let go after the last
	single  bool         // one band alone needs the shape
}

// clipShape is one link of a clip chain in device space.
type clipShape struct {
	once   sync.Once
	isRect bool
	rect   fixedRect
	edges  *raster.Edges
}

// planner makes the plans of one job.
type planner struct {
	job    *job
	sink   finding.Sink
	page   raster.IntRect
	number int
	dev    geom.Matrix
	abs    geom.Matrix
	masks  map[*displist.SoftMask]*maskPlan
	clips  map[*displist.Clip]*clipShape
	deep   bool // the depth limit was reported
	tile   bool // of a cell
	cells  map[*displist.Tiling]reading
}

// plan prepares items. depth counts groups and masks around them.
func (p *planner) plan(items []displist.Item, target *separate.Target, ctx separate.Context, skip func(int) bool, depth int, knockout bool) *plan {
	pl := &plan{items: items, steps: make([]step, len(items)), target: target, dev: p.dev, abs: p.abs, ctx: ctx,
		n: target.Components(ctx), masks: p.masks, clips: p.clips}
	pl.blends = p.members(pl, 0, len(items), ctx, knockout, depth, skip).blends
	return pl
}

// reading is what the members of a group ask of the backdrop.
type reading struct {
	blends   bool // a blend mode: colour and alpha
	backdrop bool // a blend mode or overprint
}

// members plans items from <= i < to, which stand in one group. knockout is that of the group.
func (p *planner) members(pl *plan, from, to int, ctx separate.Context, knockout bool, depth int, skip func(int) bool) (r reading) {
	for i := from; i < to; {
		it, st := &pl.items[i], &pl.steps[i]
		st.ctx, st.next = ctx, i+1
		if it.Kind == displist.BeginGroup && it.Group != nil {
			st.next = min(max(it.Group.End, i+1), to)
		}
		next := st.next
		if it.Hidden || it.Alpha < 0 || (skip != nil && skip(i)) {
			i = next
			continue
		}
		st.box = p.box(it)
		p.clip(it.Clip)
		if it.SoftMask != nil {
			p.mask(it.SoftMask, depth+1)
		}
		r.blends = r.blends || it.Blend != displist.Normal
		r.backdrop = r.backdrop || it.Blend != displist.Normal || it.Overprint
		switch it.Kind {
		case displist.BeginGroup:
			if it.Group == nil {
				st.box = raster.IntRect{}
				break
			}
			in := p.group(pl, i, knockout, depth, skip)
			if !it.Group.Isolated || st.elided {
				r.blends = r.blends || in.blends
				r.backdrop = r.backdrop || in.backdrop
			}
		case displist.Image:
			if it.Image == nil || it.Image.Image == nil {
				st.box = raster.IntRect{}
			}
		}
		if it.Shading != nil || it.Paint.Tiling != nil || it.Paint.Shading != nil {
			in := p.pattern(pl, i)
			r.blends, r.backdrop = r.blends || in.blends, r.backdrop || in.backdrop
		}
		i = next
	}
	return r
}

// group plans the members of group item i and decides whether it needs a buffer of its own.
func (p *planner) group(pl *plan, i int, parentKnockout bool, depth int, skip func(int) bool) reading {
	it, st := &pl.items[i], &pl.steps[i]
	g := it.Group
	st.within = st.ctx.Within(g)
	tooDeep := depth >= limits.MaxGroupDepth
	if tooDeep {
		st.within = st.ctx
		p.tooDeep(it)
	}
	in := p.members(pl, i+1, st.next, st.within, g.Knockout && !tooDeep, depth+1, skip)
	st.clip, st.shared = commonClip(pl.items[i+1:st.next], it.Clip)
	p.clip(st.clip)
	plain := it.Alpha >= 1 && it.Blend == displist.Normal && it.SoftMask == nil && !g.Knockout &&
		!parentKnockout && st.within == st.ctx && st.shared
	st.elided = tooDeep || plain && !(g.Isolated && (in.backdrop || p.clippedSoftly(pl, i)))
	return in
}

func (p *planner) tooDeep(it *displist.Item) {
	if p.deep {
		return
	}
	p.deep = true
	place := finding.Place{Page: p.number}
	if it != nil {
		place.Object, place.Offset = it.Origin.Object, it.Origin.Offset
	}
	p.sink.Add(finding.Finding{ID: "groups-too-deep", Severity: finding.Warning, Class: finding.OverLimit, Incomplete: true,
		What:   fmt.Sprintf("Transparency groups are nested more than %d deep; the inner ones are painted as if they were not groups.", limits.MaxGroupDepth),
		Why:    "Transparent objects in there may come out differently than drawn.",
		Remedy: "Flatten or ungroup the nested transparency in the design program.",
		Place:  place})
}

// box is the pixels an item can touch.
func (p *planner) box(it *displist.Item) raster.IntRect {
	b := p.pixels(it.Bounds, 1)
	if it.Kind == displist.Stroke {
		b = p.pixels(it.Bounds, 2) // thin lines are widened to a pixel
	}
	if it.Clip != nil {
		b = b.Intersect(p.pixels(it.Clip.Bounds, 1))
	}
	return b.Intersect(p.page)
}

// pixels is the pixels a list-space rectangle touches, and margin more on every side.
func (p *planner) pixels(r geom.Rect, margin int) raster.IntRect {
	const far = 1 << 24
	d := p.dev.Bounds(r)
	if !(d.X0 <= d.X1 && d.Y0 <= d.Y1) {
		return raster.IntRect{}
	}
	at := func(v float64) int { return int(max(-far, min(far, v))) }
	return raster.IntRect{X0: at(math.Floor(d.X0)) - margin, Y0: at(math.Floor(d.Y0)) - margin,
		X1: at(math.Ceil(d.X1)) + margin, Y1: at(math.Ceil(d.Y1)) + margin}
}

// clip registers every link of a chain.
func (p *planner) clip(c *displist.Clip) {
	for ; c != nil; c = c.Parent {
		if _, ok := p.clips[c]; ok {
			return
		}
		p.clips[c] = &clipShape{}
	}
}

// maskTarget is what soft-mask groups are separated for: process components alone, since no spot
// has a plate there (11.7.3).
func maskTarget(t *separate.Target) *separate.Target {
	m := &separate.Target{Set: colourant.NewSet(), Names: map[string]int{}, Converter: t.Converter}
	for i, name := range colourant.ProcessNames {
		m.Names[name] = i
		m.Mounted = append(m.Mounted, true)
	}
	return m
}

// processSpace is the device space whose colours a group of a context holds.
func processSpace(ctx separate.Context) colour.Space {
	switch ctx.Space {
	case separate.BlendRGB:
		return colour.RGB
	case separate.BlendGray:
		return colour.Gray
	}
	return colour.CMYK
}

package slowpaint

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// Levels paints a list pixel by pixel in the arithmetic of plates: 8 bits on the page, 16 in groups and
// masks, each step rounded as the package comment of plates/paint says. Where Canvas shows that the rules
// are those of the standard, Levels shows that nothing done for speed changes a byte of what they give.
type Levels struct {
	Place
	Target *separate.Target
	// Cover is the coverage 0..255 of an item that is no group on a grid, row by row, its clip left out. A Shade covers the pixels
	// its bounds touch, and one more on every side.
	Cover func(item *displist.Item, in Place) []uint8
	// Filled is the coverage of a shape filled as a clip.
	Filled func(shape *displist.Shape, in Place) []uint8
	// Shading gives the colours of a shading, those of a stencil left whole; what is not painted has no Effects. eight tells that they
	// go onto the page's plates with 8 bits. nil = found here, without tables.
	Shading func(item *displist.Item, in Place, target *separate.Target, ctx separate.Context, eight bool) func(x, y int) Sample
	// Read is where shadings are read found here, in pixels from the centre of one.
	Read geom.Point

	covers  map[*displist.Item][]uint8
	clips   map[chainKey]*levelClip
	masks   map[*displist.SoftMask][]uint16
	looks   map[lookKey]func(x, y int) Sample
	parts   map[*displist.Item]*samples // of stencils painted with patterns
	inks    map[lookKey]separate.Ink
	cells   map[cellKey]*levelCell
	tilesOf map[*displist.Item][]levelTile
	boxes   map[*displist.Item]*displist.Clip // of shadings
}

// Place is a grid of pixels: that of the page, or of a cell.
type Place struct {
	W, H   int
	Device geom.Matrix // list space, or that of a cell, to pixels; upright on the page
	Finer  float64     // pixels across a pixel of the page, in the cell of a tiling; 0 = 1, not in a cell
}

type lookKey struct {
	item  *displist.Item
	ctx   separate.Context
	eight bool
}

type cellKey struct {
	tiling *displist.Tiling
	ctx    separate.Context
	n      int
}

// begin forgets what was painted before.
func (l *Levels) begin() {
	l.covers, l.clips, l.masks = map[*displist.Item][]uint8{}, map[chainKey]*levelClip{}, map[*displist.SoftMask][]uint16{}
	l.boxes = map[*displist.Item]*displist.Clip{}
	l.retarget()
}

// retarget forgets what depends on the target.
func (l *Levels) retarget() {
	l.looks, l.inks = map[lookKey]func(x, y int) Sample{}, map[lookKey]separate.Ink{}
	l.cells, l.tilesOf = map[cellKey]*levelCell{}, map[*displist.Item][]levelTile{}
	l.parts = map[*displist.Item]*samples{}
}

// Sample is the colour of one pixel of an item whose colour varies: tints premultiplied by Alpha, which
// multiplies opacity; Shape multiplies shape. Effects are by component.
type Sample struct {
	Effects      []separate.Effect // nil = Paint all
	Premult      []uint16
	Alpha, Shape uint16
	// Flat is set for one colour under a varying alpha: Premult holds plain tints then.
	Flat bool
	// Eight is set when an opaque item goes onto the page's plates with 8 bits.
	Eight bool
	// Hold is the part of Alpha that keeps the backdrop, by component (tilings that overprint); nil = none.
	Hold []uint16
}

const top = 0xFFFF

// over is v/65535 rounded to nearest.
func over(v uint64) uint16 { return uint16(min((2*v+top)/(2*top), top)) }

func times(a, b uint16) uint16 { return over(uint64(a) * uint64(b)) }

// mix is (1-k) dst + m src.
func mix(dst, k, m, src uint16) uint16 {
	return over(uint64(dst)*uint64(top-k) + uint64(m)*uint64(src))
}

func plus(a, b uint16) uint16 { return uint16(min(uint32(a)+uint32(b), top)) }

func unite(a, b uint16) uint16 { return top - times(top-a, top-b) }

func level16(v float64) uint16 {
	if !(v > 0) {
		return 0
	}
	return uint16(float64(min(v, 1)*top) + 0.5)
}

func level8(v uint16) uint8 { return uint8((uint32(v) + 128) / 257) }

// spot is one pixel of a layer: the page's plates, or a group.
type spot struct {
	page               bool
	p                  []uint16 // premultiplied; on the page multiples of 257
	a, shape           uint16   // alpha and shape, the backdrop left out
	space              separate.BlendSpace
	isolated, knockout bool
	hasBackdrop        bool // of a group that is not isolated, or of a mask
	b                  []uint16
	ba                 uint16
	// clipped is the innermost clip that a group's result is narrowed by as a whole; members are by what lies within it only.
	clipped *displist.Clip
}

// Page paints a page: plate by plate, row by row. group is the page group when it composites as a whole before
// it is laid on paper: it is a knockout group or has another blending space than CMYK; nil otherwise.
func (l *Levels) Page(list *displist.List, ctx separate.Context, group *displist.Group) [][]byte {
	l.begin()
	plates := make([][]byte, l.Target.Set.Len())
	for c := range plates {
		plates[c] = make([]byte, l.W*l.H)
	}
	for y := range l.H {
		for x := range l.W {
			paper := &spot{page: true, p: make([]uint16, len(plates)), isolated: true}
			if group == nil {
				l.members(list.Items, 0, len(list.Items), ctx, x, y, paper)
			} else {
				g := &spot{p: make([]uint16, l.Target.Components(ctx)), space: ctx.Space, isolated: true, knockout: group.Knockout}
				l.members(list.Items, 0, len(list.Items), ctx, x, y, g)
				l.lay(paper, touch{cover: 255, alpha: top}, l.whole(g, paper.space, colour.RelativeColorimetric))
			}
			for c, v := range paper.p {
				plates[c][y*l.W+x] = level8(v)
			}
		}
	}
	return plates
}

// members paints items from <= i < to onto one pixel of a group.
func (l *Levels) members(items []displist.Item, from, to int, ctx separate.Context, x, y int, g *spot) {
	for i := from; i < to; {
		it := &items[i]
		next := i + 1
		if it.Kind == displist.BeginGroup {
			next = it.Group.End
		}
		switch {
		case it.Hidden:
		case it.Kind != displist.BeginGroup:
			l.object(it, ctx, x, y, g)
		case l.changesNothing(items, i, next, ctx, g.knockout):
			l.members(items, i+1, next, ctx, x, y, g)
		default:
			within := ctx.Within(it.Group)
			n := 0
			if len(g.p) > 0 {
				n = l.Target.Components(within)
			}
			in := &spot{p: make([]uint16, n), space: within.Space, isolated: it.Group.Isolated, knockout: it.Group.Knockout}
			if !in.isolated {
				in.hasBackdrop = true
				in.ba, in.b = l.backdrop(g)
			}
			clip, shared := sharedClip(items[i+1:next], it.Clip)
			in.clipped = g.clipped
			if shared {
				in.clipped = clip
			}
			l.members(items, i+1, next, within, x, y, in)
			cover := l.clip(clip, g.clipped).cover[y*l.W+x]
			l.lay(g, l.touchOf(it, cover, x, y), l.whole(in, g.space, it.Intent))
		}
		i = next
	}
}

// changesNothing reports whether a group composites like its members one by one, so that they are painted
// straight into its parent.
func (l *Levels) changesNothing(items []displist.Item, i, next int, ctx separate.Context, parentKnockout bool) bool {
	it := &items[i]
	clip, shared := sharedClip(items[i+1:next], it.Clip)
	if it.Alpha < 1 || it.Blend != displist.Normal || it.SoftMask != nil || it.Group.Knockout || parentKnockout ||
		ctx.Within(it.Group) != ctx || !shared {
		return false
	}
	return !it.Group.Isolated || !l.readsBackdrop(items, i+1, next, ctx, false) && l.cutInPart(items, i+1, next, clip) < 2
}

// readsBackdrop reports whether the backdrop of a group shows in what its members do.
func (l *Levels) readsBackdrop(items []displist.Item, from, to int, ctx separate.Context, knockout bool) bool {
	for i := from; i < to; {
		it := &items[i]
		next := i + 1
		if it.Kind == displist.BeginGroup {
			next = it.Group.End
		}
		if !it.Hidden {
			if it.Blend != displist.Normal || it.Overprint || it.Paint.Tiling != nil && asks(it.Paint.Tiling).backdrop {
				return true
			}
			if it.Kind == displist.BeginGroup && (!it.Group.Isolated || l.changesNothing(items, i, next, ctx, knockout)) &&
				l.readsBackdrop(items, i+1, next, ctx.Within(it.Group), it.Group.Knockout) {
				return true
			}
		}
		i = next
	}
	return false
}

// touch is what an item is laid on a pixel with.
type touch struct {
	cover  uint8
	alpha  uint16
	masked bool
	mask   uint16
	ais    bool
	blend  displist.Blend
}

func (t *touch) opaque() bool {
	return t.alpha == top && !t.masked && t.blend == displist.Normal
}

func (l *Levels) touchOf(it *displist.Item, cover uint8, x, y int) touch {
	t := touch{cover: cover, alpha: level16(it.Alpha), ais: it.AlphaIsShape, blend: it.Blend}
	if it.SoftMask != nil && (it.Kind != displist.Image || it.Image.SoftMask == nil) {
		t.masked, t.mask = true, l.mask(it.SoftMask)[y*l.W+x]
	}
	return t
}

// object paints an elementary object.
func (l *Levels) object(it *displist.Item, ctx separate.Context, x, y int, g *spot) {
	cover := l.cover(it)[y*l.W+x]
	if clip := l.clipOf(it); clip != nil {
		cover = times8(cover, l.clip(clip, g.clipped).cover[y*l.W+x])
	}
	if cover == 0 {
		return
	}
	t := l.touchOf(it, cover, x, y)
	shaded := shadingOf(it) != nil
	switch {
	case it.Paint.Tiling != nil && !shaded:
		l.tiled(it, ctx, x, y, g, t)
	case shaded || it.Kind == displist.Image:
		key := lookKey{it, ctx, shaded && it.Kind != displist.Image && g.page && t.opaque()}
		look := l.looks[key]
		if look == nil {
			if shaded && l.Shading == nil {
				look = l.shade(it, ctx, key.eight)
			} else if shaded {
				look = l.Shading(it, l.Place, l.Target, ctx, key.eight)
			} else {
				look = l.picture(it, ctx)
			}
			l.looks[key] = look
		}
		s := look(x, y)
		if s.Effects == nil {
			return
		}
		if shaded && it.Kind == displist.Image {
			s.narrow(l.stencil(it, x, y))
		}
		l.lay(g, t, s)
	default:
		if ink := l.ink(it, ctx); !ink.Nothing {
			l.lay(g, t, Sample{Effects: ink.Effects, Premult: ink.Values, Alpha: top, Shape: top, Flat: true, Eight: true})
		}
	}
}

// ink is the colour of a fill, stroke or stencil.
func (l *Levels) ink(it *displist.Item, ctx separate.Context) separate.Ink {
	key := lookKey{it, ctx, false}
	ink, ok := l.inks[key]
	if !ok {
		ink = l.Target.Colour(it.Paint, it.Overprint, it.OverprintMode, false, it.Intent, ctx)
		l.inks[key] = ink
	}
	return ink
}

// shadingOf is the shading an item is painted with.
func shadingOf(it *displist.Item) *displist.Shading {
	if it.Kind == displist.Shade {
		return it.Shading
	}
	return it.Paint.Shading
}

// clipOf is the clip of an item, the BBox of a shading without background one more.
func (l *Levels) clipOf(it *displist.Item) *displist.Clip {
	s := shadingOf(it)
	if s == nil || s.BBox == nil || s.Background != nil {
		return it.Clip
	}
	c := l.boxes[it]
	if c == nil {
		path := &geom.Path{}
		path.Rect(*s.BBox)
		c = &displist.Clip{Shape: displist.Shape{Path: path.Transform(s.M)}, Bounds: s.M.Bounds(*s.BBox), Parent: it.Clip}
		l.boxes[it] = c
	}
	return c
}

// whole is a group as one object for a parent of blending space to.
func (l *Levels) whole(g *spot, to separate.BlendSpace, intent colour.Intent) Sample {
	s := Sample{Premult: g.p, Alpha: g.a, Shape: g.shape}
	if len(g.p) == 0 || g.space == to {
		return s
	}
	from := g.space.ProcessComponents()
	var t [4]uint16
	for c := range from {
		t[c] = divided(g.p[c], g.a)
	}
	conv := l.Target.Converter
	comps, space := colourOf(g.space, t)
	var out []uint16
	switch to {
	case separate.BlendRGB:
		for _, v := range conv.RGB(space, comps, intent) {
			out = append(out, times(level16(1-v), g.a))
		}
	case separate.BlendGray:
		out = append(out, times(level16(1-conv.Gray(space, comps, intent)), g.a))
	default:
		for _, v := range conv.CMYK(space, comps, intent) {
			out = append(out, times(level16(v), g.a))
		}
	}
	s.Premult = append(out, g.p[from:]...)
	return s
}

func divided(p, a uint16) uint16 {
	if p >= a {
		return top
	}
	return uint16((uint32(p)*top + uint32(a)/2) / uint32(a))
}

// colourOf is process tints of a blending space as a colour of its device space.
func colourOf(s separate.BlendSpace, t [4]uint16) ([]float64, colour.Space) {
	comps := make([]float64, s.ProcessComponents())
	for c := range comps {
		comps[c] = float64(t[c]) / top
		if s != separate.BlendCMYK {
			comps[c] = 1 - comps[c]
		}
	}
	return comps, []colour.Space{separate.BlendCMYK: colour.CMYK, separate.BlendRGB: colour.RGB, separate.BlendGray: colour.Gray}[s]
}

// backdrop is what an object of g meets: alpha, and colour premultiplied.
func (l *Levels) backdrop(g *spot) (alpha uint16, p []uint16) {
	if g.page {
		return g.a, append([]uint16(nil), g.p...)
	}
	if g.knockout {
		p = make([]uint16, len(g.p))
		copy(p, g.b)
		return g.ba, p
	}
	p = append(p, g.p...)
	if !g.hasBackdrop {
		return g.a, p
	}
	for c := range p {
		p[c] = plus(p[c], times(top-g.a, g.b[c]))
	}
	return unite(g.a, g.ba), p
}

// lay composites a sample with a pixel of a group (11.4.8).
func (l *Levels) lay(g *spot, t touch, s Sample) {
	effect := func(c int) separate.Effect {
		if s.Effects == nil {
			return separate.Paint
		}
		return s.Effects[c]
	}
	if g.page && t.opaque() && s.Eight {
		cover := uint32(t.cover)
		for c, v := range g.p {
			if effect(c) != separate.Leave {
				src := uint32(level8(s.Premult[c])) // 0 where it is cleared
				g.p[c] = uint16((uint32(level8(v))*(255-cover)+src*cover+127)/255) * 257
			}
		}
		g.a = uint16((uint32(level8(g.a))*(255-cover)+255*cover+127)/255) * 257
		return
	}
	shape := uint16(t.cover) * 257
	m := times(shape, t.alpha)
	if t.masked {
		m = times(m, t.mask)
	}
	if t.ais {
		shape = m
	}
	as, fs := times(m, s.Alpha), times(shape, s.Shape)
	k := as
	if g.knockout {
		k = fs
	}
	leaves := false
	for c := range g.p {
		leaves = leaves || effect(c) == separate.Leave
	}
	reads := t.blend != displist.Normal || (leaves || s.Hold != nil) && !g.page && g.hasBackdrop
	ab, pb := uint16(0), make([]uint16, len(g.p))
	if reads {
		ab, pb = l.backdrop(g)
	}
	process := g.space.ProcessComponents()
	q := pixel{as: as, k: k, ab: ab, m: m, alpha: s.Alpha, pb: pb}
	if s.Flat {
		q.m, q.alpha = as, top
	}
	var joint []uint16
	if !t.blend.Separable() && len(g.p) >= process {
		joint = q.nonSeparable(t.blend, process, g.p, s, effect)
	}
	for c, v := range g.p {
		e := effect(c)
		switch {
		case t.blend != displist.Normal && c < process && joint != nil:
			v = joint[c]
		case t.blend != displist.Normal && t.blend.Separable() && (c < process || t.blend.WhitePreserving()):
			v = q.separable(t.blend, v, c, s.Premult[c], e)
		case e != separate.Leave && s.Hold != nil:
			b := pb[c] // of what is there, where nothing else lies below
			if !reads && !g.knockout {
				b = v
			}
			v = over(uint64(v)*uint64(top-k) + uint64(q.m)*uint64(s.Premult[c]) + uint64(times(q.m, s.Hold[c]))*uint64(b))
		case e != separate.Leave:
			v = mix(v, k, q.m, s.Premult[c])
		case g.page || !g.knockout && !reads:
		default:
			v = mix(v, k, as, pb[c])
		}
		if g.page {
			v = uint16(level8(v)) * 257
		}
		g.p[c] = v
	}
	g.a = mix(g.a, k, as, top)
	if g.page {
		g.a = uint16(level8(g.a)) * 257
	}
	g.shape = unite(g.shape, fs)
}

// pixel is what blending one pixel reads.
type pixel struct {
	as, k, ab uint16
	m, alpha  uint16 // m times what the sample holds, divided by alpha, is as times its colour
	pb        []uint16
}

// source is the source tint 0..1; what is left is the backdrop's.
func (q *pixel) source(c int, p uint16, e separate.Effect) float64 {
	if e == separate.Leave {
		return float64(q.pb[c]) / top
	}
	return share(p, q.alpha)
}

func share(p, a uint16) float64 {
	switch {
	case a == 0:
		return 0
	case p >= a:
		return 1
	}
	return float64(p) / float64(a)
}

// put is (1-k) v + as ((1-ab) cs + ab bt).
func (q *pixel) put(v uint16, cs, bt float64) uint16 {
	ab := float64(q.ab) / top
	x := float64((1-ab)*cs) + float64(ab*bt)
	sum := float64(float64(v)*float64(top-q.k)) + float64(float64(q.as)*float64(x*top))
	return uint16(min(sum/top, top) + 0.5)
}

// separable composites one component with a separable mode. Four modes are polynomials of what is
// premultiplied and are computed in whole numbers.
func (q *pixel) separable(mode displist.Blend, v uint16, c int, p uint16, e separate.Effect) uint16 {
	if q.as == 0 && q.k == 0 {
		return v
	}
	as, ab := uint64(q.as), uint64(q.ab)
	s, d := min(uint64(q.m)*uint64(p), as*top), min(uint64(q.pb[c]), ab)
	var add uint64
	switch {
	case e == separate.Leave:
		return q.blend(mode, v, c, p, e)
	case mode == displist.Multiply:
		add = s*top + d*(as*top-s)
	case mode == displist.Screen:
		add = s * (top - ab + d)
	case mode == displist.Darken:
		add = s*(top-ab) + max(as*d*top, ab*s)
	case mode == displist.Lighten:
		add = s*(top-ab) + min(as*d*top, ab*s)
	default:
		return q.blend(mode, v, c, p, e)
	}
	const square = top * top
	return uint16(min((uint64(v)*uint64(top-q.k)*top+add+square/2)/square, top))
}

func (q *pixel) blend(mode displist.Blend, v uint16, c int, p uint16, e separate.Effect) uint16 {
	cs := q.source(c, p, e)
	return q.put(v, cs, 1-Blend(mode, 1-share(q.pb[c], q.ab), 1-cs))
}

// nonSeparable composites the process components together.
func (q *pixel) nonSeparable(mode displist.Blend, process int, old []uint16, s Sample, effect func(int) separate.Effect) []uint16 {
	out := append([]uint16(nil), old[:process]...)
	if q.as == 0 && q.k == 0 {
		return out
	}
	cs, cb := make([]float64, process), make([]float64, process)
	additiveS, additiveB := make([]float64, process), make([]float64, process)
	for c := range process {
		cs[c], cb[c] = q.source(c, s.Premult[c], effect(c)), share(q.pb[c], q.ab)
		additiveS[c], additiveB[c] = 1-cs[c], 1-cb[c]
	}
	blended := BlendAll(mode, process, additiveB, additiveS)
	for c := range process {
		bt := 1 - max(0, min(1, blended[c]))
		if c == 3 { // black passes through as it is
			bt = cb[3]
			if mode == displist.Luminosity {
				bt = cs[3]
			}
		}
		out[c] = q.put(old[c], cs[c], bt)
	}
	return out
}

package interp

import (
	"strconv"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// cell is the content of a tiling pattern in one colour of use, as items in pattern space.
type cell struct {
	begin    state // what its content began with
	items    []displist.Item
	bounds   geom.Rect
	blending bool
}

// maxCellsCompared bounds the search for a cell that began alike: a page of forms that each begin
// otherwise does not get slower and slower.
const maxCellsCompared = 32

// itemSpace is the space items are made in: list space, or the pattern space of a cell.
type itemSpace struct {
	toList geom.Matrix
	unit   float64   // one point of list space, or a little more, in this space
	area   geom.Rect // of the page, or the box of the cell
	user   geom.Rect // of a cell: what it is first used to paint, list space; for findings
}

// tilingOf is the tiling of a pattern in a colour under a matrix; ok is false when its cell marks nothing.
func (m *machine) tilingOf(use *patternInk, k *ink, to geom.Matrix, at geom.Rect) (*displist.Tiling, bool) {
	def := use.def
	if !def.coloured && (k.space.Components() == 0 || len(k.comps) != k.space.Components()) {
		m.patternDamaged("it is used without a colour")
		return nil, false
	}
	c := m.cellOf(use, k, to, at)
	if c == nil || len(c.items) == 0 {
		return nil, false
	}
	key := placedPattern{def, c, to}
	t := m.tilings[key]
	if t == nil {
		t = &displist.Tiling{Items: c.items, BBox: def.tiling.bbox, XStep: def.xstep, YStep: def.ystep, M: to, Coloured: def.coloured,
			Bounds: c.bounds, Blending: c.blending, Ref: def.tiling.stream.Ref}
		m.tilings[key] = t
	}
	return t, true
}

// cellOf interprets a cell, once for each colour of use and each state it may begin with.
func (m *machine) cellOf(use *patternInk, k *ink, to geom.Matrix, at geom.Rect) *cell {
	def := use.def
	begin := cellState(use, k, to)
	var key cellColour
	if !def.coloured {
		key = cellColourOf(k)
	}
	known := def.cells[key]
	for i := len(known) - 1; i >= max(0, len(known)-maxCellsCompared); i-- {
		if sameBegin(&known[i].begin, &begin) {
			return known[i]
		}
	}
	c := m.readCell(def, begin, to, at)
	if c != nil {
		def.cells[key] = append(def.cells[key], c)
	}
	return c
}

// cellState is the graphics state a cell begins with: that of the stream that owns the pattern
// (8.7.3.1), in pattern space, inside the box, without transparency (11.6.7).
func cellState(use *patternInk, k *ink, to geom.Matrix) state {
	s := *use.begin
	s.resetTransparency()
	s.ctm, s.clip, s.area = geom.Identity, nil, use.def.tiling.bbox
	if !use.def.coloured {
		plain := ink{space: k.space.(*colour.Pattern).Under, comps: k.comps}
		s.fill, s.stroke = plain, plain
		return s
	}
	back, _ := to.Invert()
	for _, i := range []*ink{&s.fill, &s.stroke} {
		if p := i.pattern; p != nil { // the stream began with a pattern, whose matrix leads to other items
			i.pattern = &patternInk{def: p.def, base: p.base.Mul(back), begin: p.begin}
		}
	}
	return s
}

// readCell runs a pattern's content on a list of its own; nil when it cannot be run now.
func (m *machine) readCell(def *pattern, begin state, to geom.Matrix, at geom.Rect) *cell {
	fm := def.tiling
	if !m.enterStream(fm.stream, "pattern") {
		return nil
	}
	defer m.leaveStream(fm.stream)
	f := &frame{res: m.formResources(fm), source: keyOf(fm.stream), colourless: !def.coloured}
	f.origin = displist.Origin{Page: m.page.Number, Object: fm.stream.Ref.Num,
		Forms: &displist.FormPath{Name: def.name, Object: fm.stream.Ref.Num}}

	gs, items, depth, shown, space := m.gs, m.items, m.depth, m.shown, m.space
	m.gs, m.items, m.depth, m.shown = begin, nil, 0, procedureRun{}
	m.space = itemSpace{toList: to.Mul(space.toList), area: fm.bbox, user: space.user}
	m.space.unit = 1 / max(leastScale(m.space.toList), 1e-6)
	if m.space.user.Empty() {
		m.space.user = at
	}
	m.run(fm, f)
	c := &cell{begin: begin, items: m.items}
	m.gs, m.items, m.depth, m.shown, m.space = gs, items, depth, shown, space

	c.blending = needsBlending(c.items)
	for i := range c.items {
		c.bounds = c.bounds.Union(c.items[i].Bounds)
	}
	return c
}

// sameBegin reports whether two cells begin alike.
func sameBegin(a, b *state) bool {
	return a.intent == b.intent && sameStyle(&a.style, &b.style) && a.alphaIsShape == b.alphaIsShape &&
		a.fillOver == b.fillOver && a.strokeOver == b.strokeOver && a.overprintMode == b.overprintMode && a.textKnockout == b.textKnockout &&
		a.transferFunc == b.transferFunc && a.transferHT == b.transferHT && a.text == b.text &&
		sameInk(&a.fill, &b.fill) && sameInk(&a.stroke, &b.stroke)
}

func sameStyle(a, b *geom.StrokeStyle) bool {
	return a.Width == b.Width && a.Cap == b.Cap && a.Join == b.Join && a.MiterLimit == b.MiterLimit &&
		a.DashPhase == b.DashPhase && a.Adjust == b.Adjust && sameSlice(a.Dash, b.Dash)
}

func sameInk(a, b *ink) bool {
	if a.space != b.space || a.broken != b.broken || len(a.comps) != len(b.comps) || (a.pattern == nil) != (b.pattern == nil) {
		return false
	}
	for i, v := range a.comps {
		if v != b.comps[i] {
			return false
		}
	}
	return a.pattern == nil || a.pattern.def == b.pattern.def && a.pattern.base == b.pattern.base && a.pattern.begin == b.pattern.begin
}

// cellColour is the colour of use of an uncoloured pattern, as a key.
type cellColour struct {
	space colour.Space
	comps string
}

func cellColourOf(k *ink) cellColour {
	var b []byte
	for _, v := range k.comps {
		b = strconv.AppendFloat(append(b, ' '), v, 'g', -1, 64)
	}
	return cellColour{k.space.(*colour.Pattern).Under, string(b)}
}

package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// pattern is a pattern dictionary (8.7), read once for the page.
type pattern struct {
	name   string // of the resource that led to it first
	matrix geom.Matrix
	gs     *extGState // of a shading pattern

	tiling       *form // nil for a shading pattern
	coloured     bool
	xstep, ystep float64
	cells        map[cellColour][]*cell // by the colour of use

	shading *displist.Shading // without M; nil for a tiling pattern
}

// patternInk is a pattern as the current colour: where its matrix leads and what its content begins
// with were settled where it was selected (8.7.3.1), whatever forms it is inherited by.
type patternInk struct {
	def   *pattern // nil = nothing is painted
	base  geom.Matrix
	begin *state
}

// objectKey tells dictionaries and streams apart: by reference, and direct ones by their value. res is
// set where the resources have default colour spaces, which may change what they mean.
type objectKey struct {
	stream streamKey
	direct uintptr
	res    *resources
}

// placedPattern is a pattern with its matrix; cell is nil for shadings.
type placedPattern struct {
	def  *pattern
	cell *cell
	to   geom.Matrix
}

// setPattern selects a pattern by its name among the resources.
func (m *machine) setPattern(k *ink, n pdf.Name) {
	def, known := m.f.res.patterns[n]
	if !known {
		if o := m.f.res.entry("Pattern", n); m.r.Doc.Resolve(o) == nil {
			m.missing("pattern", string(n))
		} else {
			def = m.patternOf(o, string(n))
		}
		m.f.res.patterns[n] = def
	}
	k.pattern = &patternInk{def: def, base: m.f.begin.ctm, begin: &m.f.begin}
}

// patternOf reads a pattern; nil, with a finding, when it cannot be used.
func (m *machine) patternOf(o pdf.Object, name string) *pattern {
	key := m.objectKey(o)
	p, ok := m.patterns[key]
	if !ok {
		p = m.readPattern(o)
		if p != nil {
			p.name = name
		}
		m.patterns[key] = p
		m.keep(o)
	}
	return p
}

func (m *machine) objectKey(o pdf.Object) objectKey {
	var key objectKey
	if m.f.res.defaults {
		key.res = m.f.res
	}
	if ref, ok := o.(pdf.Ref); ok {
		key.stream.ref = ref
	} else if s, ok := m.r.Doc.Stream(o); ok {
		key.stream = keyOf(s)
	} else if d, ok := m.r.Doc.Dict(o); ok {
		key.direct = dictPointer(d)
	}
	return key
}

// keep holds what a key stands for, so that its address is not given to another.
func (m *machine) keep(o pdf.Object) {
	if d, ok := o.(pdf.Dict); ok {
		m.kept = append(m.kept, d)
	}
}

func (m *machine) readPattern(o pdf.Object) *pattern {
	doc := m.r.Doc
	d, ok := doc.Dict(o)
	if !ok {
		m.patternDamaged("it is not a dictionary")
		return nil
	}
	p := &pattern{matrix: geom.Identity}
	if v, ok := doc.Nums(d["Matrix"]); ok && len(v) == 6 {
		p.matrix = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
	} else if doc.Resolve(d["Matrix"]) != nil {
		m.patternDamaged("its matrix is damaged")
		return nil
	}
	switch kind, _ := doc.Int(d["PatternType"]); kind {
	case 1:
		s, ok := doc.Stream(o)
		if !ok {
			m.patternDamaged("it has no content")
			return nil
		}
		return m.readTiling(p, s)
	case 2:
		if g, ok := doc.Dict(d["ExtGState"]); ok {
			p.gs = m.readExtGState(g)
		}
		if p.shading = m.shadingOf(d["Shading"]); p.shading == nil {
			return nil // told already
		}
		return p
	}
	m.patternDamaged("its kind is unknown")
	return nil
}

// readTiling reads the entries of Table 74.
func (m *machine) readTiling(p *pattern, s *pdf.Stream) *pattern {
	doc := m.r.Doc
	box, okBox := doc.Nums(s.Dict["BBox"])
	xs, okX := doc.Num(s.Dict["XStep"])
	ys, okY := doc.Num(s.Dict["YStep"])
	xs, ys = min(max(xs, -xs), maxCoord), min(max(ys, -ys), maxCoord) // either sign makes the same lattice
	switch {
	case !okBox || len(box) != 4:
		m.patternDamaged("it has no box")
		return nil
	case !okX || !okY || !(xs > 0 && ys > 0):
		m.patternDamaged("its steps are missing or 0")
		return nil
	}
	p.xstep, p.ystep = xs, ys
	kind, _ := doc.Int(s.Dict["PaintType"])
	p.coloured = kind != 2
	if kind != 1 && kind != 2 {
		m.patternDamaged("it does not say whether it has colours of its own")
		return nil
	}
	fm := &form{stream: s, data: m.streamContent(s), bbox: clampRect(geom.RectOf(box[0], box[1], box[2], box[3]))}
	if fm.bbox.Empty() {
		m.patternDamaged("its box is empty")
		return nil
	}
	fm.dict, _ = doc.Dict(s.Dict["Resources"])
	p.tiling, p.cells = fm, map[cellColour][]*cell{}
	return p
}

func (m *machine) patternDamaged(why string) {
	m.report(finding.Finding{ID: "pattern-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
		What:   "A pattern cannot be read (" + why + "); what should be painted with it is missing.",
		Why:    "It is missing from the plates.",
		Remedy: "Expand the pattern to plain objects in the design program, or export the artwork again.", Place: m.here()})
}

// blends reports whether a paint is not opaque of itself.
func blends(p displist.Paint) bool { return p.Tiling != nil && p.Tiling.Blending }

// blends reports whether painting with a colour is not opaque because of the pattern it is.
func (m *machine) blends(k *ink) bool {
	if k.pattern == nil || m.gs.area.Empty() {
		return false
	}
	at := m.gs.area
	paint, ok := m.sourceOf(k, &at)
	return ok && blends(paint)
}

// sourceOf resolves what a colour paints with inside at, which it may narrow; ok is false when nothing is marked.
func (m *machine) sourceOf(k *ink, at *geom.Rect) (paint displist.Paint, ok bool) {
	use := k.pattern
	if use == nil {
		return displist.Paint{Space: k.space, Comps: k.comps}, true
	}
	if use.def == nil {
		return paint, false
	}
	to := use.def.matrix.Mul(use.base)
	if _, regular := to.Invert(); !regular || !usable(to) {
		m.patternDamaged("its matrix leads nowhere")
		return paint, false
	}
	if use.def.shading != nil {
		paint.Shading = m.placedShading(use.def, to)
		if paint.Shading.Background == nil {
			*at = at.Intersect(shadingBounds(paint.Shading))
		}
		return paint, !at.Empty()
	}
	paint.Tiling, ok = m.tilingOf(use, k, to, *at)
	if ok && !use.def.coloured {
		paint.Space, paint.Comps = k.space.(*colour.Pattern).Under, k.comps
	}
	return paint, ok
}

// placedShading is the shading of a pattern under a matrix, shared by all that is painted with it.
func (m *machine) placedShading(def *pattern, to geom.Matrix) *displist.Shading {
	key := placedPattern{def: def, to: to}
	s := m.shadingsPlaced[key]
	if s == nil {
		s = &displist.Shading{}
		*s = *def.shading
		s.M = to
		m.shadingsPlaced[key] = s
	}
	return s
}

// emitPainted puts an item on the list with what it is painted with. Of the graphics state a shading pattern
// begins with, that of the stream that owns it with its ExtGState, only the intent counts: transparency
// starts at its defaults, and the rest has no say in sh (11.6.7).
func (m *machine) emitPainted(it displist.Item, paint displist.Paint, use *patternInk) {
	it.Paint = paint
	if paint.Shading != nil {
		it.Intent = use.begin.intent
		if g := use.def.gs; g != nil {
			it.Intent = g.intentOn(it.Intent)
		}
	}
	m.emit(it)
}

// colouredInUncoloured reports colours of their own in what has to be a shape only (8.7.3.3, 9.6.4).
func (m *machine) colouredInUncoloured() {
	m.report(finding.Finding{ID: "colour-in-shape", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
		What:   "An image or gradient stands in a pattern or glyph that may only be a shape; it is not drawn.",
		Why:    "It is missing from the plates.",
		Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
}

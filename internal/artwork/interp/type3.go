package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/geom"
)

// procedureRun shows the Type 3 glyphs of one show operator (9.6.4). Those that are outlines gather
// in a run that is painted as one item; a glyph that must run its procedure ends it, so that paint
// order is that of the string.
type procedureRun struct {
	font   *font.Font
	text   *displist.Text
	toList geom.Matrix      // text space
	glyph  geom.Matrix      // glyph space to list space, but for the pen's place
	scale  float64          // least of glyph
	known  *[256]*procedure // of the font
	glyphs []displist.Glyph
	bounds geom.Rect
}

// begin prepares for a show operator; lin maps text space at size 1 to list space. The buffers are
// kept from the last one.
func (r *procedureRun) begin(f *font.Font, known *[256]*procedure, text *displist.Text, toList, lin geom.Matrix) {
	*r = procedureRun{font: f, known: known, text: text, toList: toList, glyph: f.Type3.Matrix.Mul(lin), glyphs: r.glyphs[:0]}
	r.scale = leastScale(r.glyph)
}

// showProcedure draws a Type 3 glyph with the pen at x, y of text space. The rendering mode has no
// say but for invisible text (9.3.6).
func (m *machine) showProcedure(g *font.Glyph, x, y float64) {
	p := m.procedureOf(&m.shown, g)
	if p == nil || p.stream == nil || m.gs.text.mode == 3 {
		return
	}
	r := &m.shown
	if o := p.outline; o != nil && (o.apart || !m.gs.transparent() && !m.blends(&m.gs.fill)) {
		if o.path == nil {
			return
		}
		gm := r.glyph
		at := r.toList.Apply(geom.Point{X: x, Y: y})
		gm.E, gm.F = gm.E+at.X, gm.F+at.Y
		b := gm.Bounds(o.bounds)
		if usable(gm) && b == clampRect(b) && float64(o.thin*r.scale) >= thinOutline*m.space.unit {
			if m.reaches(b, false) {
				r.glyphs = append(r.glyphs, displist.Glyph{Outline: o.path, M: gm})
				r.bounds = r.bounds.Union(b)
			}
			return
		}
	}
	m.paintProcedures()
	ts := &m.gs.text
	m.runProcedure(p, geom.Matrix{A: float64(ts.size * ts.scale), D: ts.size, E: x, F: y}.Mul(r.toList))
}

// paintProcedures paints the outlines gathered: at once, or one by one where that shows.
func (m *machine) paintProcedures() {
	r := &m.shown
	if len(r.glyphs) == 0 {
		return
	}
	glyphs := m.arena.glyphs.take(len(r.glyphs))
	copy(glyphs, r.glyphs)
	var boxes []geom.Rect
	if m.gs.transparent() || m.blends(&m.gs.fill) {
		boxes = make([]geom.Rect, len(glyphs))
		for i, g := range glyphs {
			boxes[i] = g.M.Bounds(m.glyphs.bounds(g.Outline))
		}
	}
	if anyOverlap(boxes, func(int) bool { return true }) {
		for i, b := range boxes {
			m.paintShape(displist.Shape{Glyphs: glyphs[i : i+1 : i+1]}, b, r.text, true, false)
		}
	} else {
		m.paintShape(displist.Shape{Glyphs: glyphs}, r.bounds, r.text, true, false)
	}
	r.glyphs, r.bounds = r.glyphs[:0], geom.Rect{}
}

// runProcedure runs a glyph's procedure on the current graphics state with text space at the glyph's
// origin mapped to list space.
func (m *machine) runProcedure(p *procedure, toList geom.Matrix) {
	f := m.shown.font
	ctm := f.Type3.Matrix.Mul(toList)
	if len(p.form.data) == 0 || !usable(ctm) || !m.enterStream(p.stream, "glyph") {
		return
	}
	defer m.leaveStream(p.stream)
	res := m.resourcesOf(m.page.Resources)
	if f.Type3.Resources != nil {
		res = m.resourcesOf(f.Type3.Resources)
	}
	nf := &frame{res: res, origin: m.f.origin, oc: m.f.oc, colourless: m.f.colourless, glyph: true, shown: m.shown.text, source: keyOf(p.stream)}
	nf.origin.Object = p.stream.Ref.Num
	// The procedure may show text itself.
	gs, shown := m.gs, m.shown
	m.gs.ctm, m.shown = ctm, procedureRun{}
	m.run(p.form, nf)
	m.gs, m.shown = gs, shown
}

// opd0 says that a glyph sets its own colours.
func opd0(*machine, []float64) {}

// opd1 says that a glyph is a shape in the current colour: colour operators in it are ignored, and
// all its marks take the filling colour in force when it was shown.
func opd1(m *machine, _ []float64) {
	if m.f.glyph {
		m.f.colourless = true
		m.gs.stroke = m.gs.fill
	}
}

package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/geom"
)

// showProcedure draws a Type 3 glyph: its procedure runs on the current graphics state with glyph
// space mapped to list space (9.6.4). The rendering mode has no say but for invisible text.
func (m *machine) showProcedure(f *font.Font, g *font.Glyph, toList geom.Matrix, text *displist.Text) {
	proc := f.Type3.Procs[g.Name]
	if proc == nil || m.gs.text.mode == 3 {
		return
	}
	fm, ok := m.forms[keyOf(proc)]
	if !ok {
		data, err := m.r.Doc.Data(proc)
		if err != nil {
			m.damaged("glyph procedure")
		}
		fm = &form{stream: proc, data: data}
		m.forms[keyOf(proc)] = fm
	}
	ctm := f.Type3.Matrix.Mul(toList)
	if len(fm.data) == 0 || !usable(ctm) || !m.enterStream(proc, "glyph") {
		return
	}
	defer m.leaveStream(proc)
	res := m.resourcesOf(m.page.Resources)
	if f.Type3.Resources != nil {
		res = m.resourcesOf(f.Type3.Resources)
	}
	nf := &frame{res: res, origin: m.f.origin, oc: m.f.oc, colourless: m.f.colourless, glyph: true, shown: text, source: keyOf(proc)}
	nf.origin.Object = proc.Ref.Num
	gs := m.gs
	m.gs.ctm = ctm
	m.run(fm, nf)
	m.gs = gs
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

package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

func opDo(m *machine, ops []pdf.Object) bool {
	name, ok := lastName(ops)
	if !ok {
		return false
	}
	entry := m.f.res.entry("XObject", name)
	s, ok := m.r.Doc.Stream(entry)
	if !ok {
		m.missing("object", string(name))
		return true
	}
	outer := m.f.oc
	if oc := s.Dict["OC"]; oc != nil {
		m.f.oc = m.enter(oc, outer)
	}
	kind, _ := m.r.Doc.Name(s.Dict["Subtype"])
	if second, _ := m.r.Doc.Name(s.Dict["Subtype2"]); second == "PS" { // Table 93
		kind = second
	}
	switch kind {
	case "Image":
		m.imageXObject(s)
	case "Form":
		m.formXObject(s, string(name))
	case "PS":
		m.report(finding.Finding{ID: "postscript-not-drawn", Severity: finding.Warning, Class: finding.Unsupported, Incomplete: true,
			What:   "A PostScript fragment is not drawn.",
			Remedy: "Export the artwork again without embedded PostScript.", Place: m.here()})
	default:
		m.missing("object", string(name))
	}
	m.f.oc = outer
	return true
}

// form is a form XObject (8.10) read once for the page.
type form struct {
	stream *pdf.Stream
	data   []byte
	dict   pdf.Dict // Resources; nil when the form has none
	matrix geom.Matrix
	bbox   geom.Rect
	group  pdf.Dict // transparency group attributes; nil = no group
	runs   int
	ops    []content.Op // the content split, once it has been run before and is small
}

// formOf reads a form; nil, with a finding, when nothing of it can be drawn.
func (m *machine) formOf(s *pdf.Stream) *form {
	if fm, ok := m.forms[keyOf(s)]; ok {
		return fm
	}
	fm := m.readForm(s)
	m.forms[keyOf(s)] = fm
	return fm
}

func (m *machine) readForm(s *pdf.Stream) *form {
	doc := m.r.Doc
	fm := &form{stream: s, data: m.streamContent(s), matrix: geom.Identity}
	if v, ok := doc.Nums(s.Dict["Matrix"]); ok && len(v) == 6 {
		fm.matrix = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
	} else if doc.Resolve(s.Dict["Matrix"]) != nil {
		m.damaged("Do, form Matrix")
	}
	v, ok := doc.Nums(s.Dict["BBox"])
	if !ok || len(v) != 4 {
		m.damaged("Do, form BBox")
		v = []float64{-maxCoord, -maxCoord, maxCoord, maxCoord}
	}
	fm.bbox = geom.RectOf(v[0], v[1], v[2], v[3])
	fm.dict, _ = doc.Dict(s.Dict["Resources"])
	if g, ok := doc.Dict(s.Dict["Group"]); ok {
		if kind, _ := doc.Name(g["S"]); kind == "Transparency" || kind == "" {
			fm.group = g
		}
	}
	return fm
}

// streamContent is the content of a form or a pattern, as far as it can be read.
func (m *machine) streamContent(s *pdf.Stream) []byte {
	data, err := m.r.Doc.Data(s)
	if err != nil {
		p := m.here()
		p.Object, p.Offset = s.Ref.Num, 0
		m.report(finding.Finding{ID: "content-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
			What:   "A part of the page's content cannot be read in full.",
			Why:    "What it draws is missing from the plates.",
			Remedy: "Export the artwork again from the program that made it.", Place: p, Notes: []string{err.Error()}})
	}
	return data
}

// formResources are a form's own resources, or those of the stream that draws it.
func (m *machine) formResources(fm *form) *resources {
	if fm.dict != nil {
		return m.resourcesOf(fm.dict)
	}
	if m.f == nil {
		return m.resourcesOf(m.page.Resources)
	}
	return m.f.res
}

// groupFrom reads group attributes (Table 145). The blending space counts only for isolated groups
// and the page's; others inherit (11.6.6).
func (m *machine) groupFrom(d pdf.Dict, res *resources, top bool) *displist.Group {
	doc, g := m.r.Doc, &displist.Group{}
	g.Isolated, _ = doc.Bool(d["I"])
	g.Knockout, _ = doc.Bool(d["K"])
	if doc.Resolve(d["CS"]) == nil || !g.Isolated && !top {
		return g
	}
	s, err := m.r.Spaces.Space(d["CS"], res.dict)
	if err == nil {
		switch s.Family() {
		case colour.FamilyLab, colour.FamilyIndexed, colour.FamilyPattern, colour.FamilySeparation, colour.FamilyDeviceN:
		default:
			g.Space = s
			return g
		}
	}
	m.report(finding.Finding{ID: "group-space-unusable", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
		What:   "A transparency group asks for a blending colour space that cannot be used; its surroundings' is taken.",
		Why:    "Blended colours may come out differently than its maker saw.",
		Remedy: "Set the document's blending space to CMYK where the artwork is exported.", Place: m.here()})
	return g
}

// formXObject draws a form; one with a Group dictionary as a transparency group.
func (m *machine) formXObject(s *pdf.Stream, name string) {
	fm := m.formOf(s)
	gs := m.gs
	origin := m.f.origin
	group := -1
	if fm.group != nil {
		g := m.groupFrom(fm.group, m.formResources(fm), false)
		g.Name = name
		group = m.openGroup(m.item(displist.BeginGroup, m.gs.area), g)
		m.gs.resetTransparency()
	}
	if name != "" { // an annotation's appearance is the origin itself
		m.f.origin.Forms = &displist.FormPath{Name: name, Object: s.Ref.Num, Offset: m.offset, Parent: origin.Forms}
	}
	m.runForm(fm, nil)
	m.f.origin = origin
	m.closeGroup(group)
	m.gs = gs
}

// runForm runs a form's content inside its matrix and BBox; begun, if not nil, is called with the
// clip set. The caller restores the graphics state.
func (m *machine) runForm(fm *form, begun func()) {
	if !m.enterStream(fm.stream, "form") {
		return
	}
	defer m.leaveStream(fm.stream)
	f := &frame{res: m.formResources(fm), source: keyOf(fm.stream)}
	if m.f != nil {
		f.origin, f.oc, f.colourless, f.glyph, f.shown = m.f.origin, m.f.oc, m.f.colourless, m.f.glyph, m.f.shown
	}
	f.origin.Page, f.origin.Object = m.page.Number, fm.stream.Ref.Num
	if fm.dict == nil {
		m.report(finding.Finding{ID: "form-without-resources", Severity: finding.Note, Class: finding.Malformed,
			What:  "A form has no resources of its own; those of the page are used.",
			Place: finding.Place{Object: fm.stream.Ref.Num}})
	}
	ctm := fm.matrix.Mul(m.gs.ctm)
	if !usable(ctm) {
		m.damaged("Do, form Matrix")
		return
	}
	m.gs.ctm = ctm
	box := &geom.Path{}
	box.Rect(fm.bbox)
	for i, p := range box.Points {
		box.Points[i] = clampPoint(ctm.Apply(p))
	}
	m.clipTo(displist.Shape{Path: box}, box.Bounds())
	if begun != nil {
		begun()
	}
	m.run(fm, f)
}

// enterStream counts a nested stream and refuses one that would recurse or pass a limit.
func (m *machine) enterStream(s *pdf.Stream, kind string) bool {
	if m.stopped {
		return false
	}
	if m.running[keyOf(s)] {
		m.report(finding.Finding{ID: "form-recursion", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
			What:   "A " + kind + " draws itself, which has no end; the inner one is skipped.",
			Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
		return false
	}
	if m.level >= limits.MaxFormDepth {
		m.overLimit("Forms are nested more than 28 deep.", false)
		return false
	}
	m.calls++
	if m.calls > limits.MaxFormCalls {
		m.overLimit("The page draws more than 200,000 nested forms and glyph procedures.", true)
		return false
	}
	m.level++
	m.running[keyOf(s)] = true
	return true
}

func (m *machine) leaveStream(s *pdf.Stream) {
	m.level--
	delete(m.running, keyOf(s))
}

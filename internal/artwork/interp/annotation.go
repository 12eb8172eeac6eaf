package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// Annotation flags (Table 167).
const (
	flagHidden = 1 << 1
	flagPrint  = 1 << 2
)

// maxAnnotations of a page; a form with a thousand fields is large.
const maxAnnotations = 50_000

// runAnnotations draws the appearances of the annotations that print (12.5.5).
func (m *machine) runAnnotations() {
	list, _ := m.r.Doc.Array(m.page.Dict["Annots"])
	if len(list) > maxAnnotations {
		m.overLimit("The page has more than fifty thousand annotations.", false)
		list = list[:maxAnnotations]
	}
	for _, o := range list {
		if m.stopped {
			return
		}
		if d, ok := m.r.Doc.Dict(o); ok {
			ref, _ := o.(pdf.Ref)
			m.annotation(d, ref.Num)
		}
	}
}

// annotationAppearance is the stream that shows a printing annotation; nil for none. An annotation
// without an appearance is never given one.
func (m *machine) annotationAppearance(d pdf.Dict) *pdf.Stream {
	doc := m.r.Doc
	flags, _ := doc.Int(d["F"])
	if kind, _ := doc.Name(d["Subtype"]); kind == "Popup" || flags&flagPrint == 0 || flags&flagHidden != 0 {
		return nil
	}
	ap, ok := doc.Dict(d["AP"])
	if !ok {
		return nil
	}
	if s, ok := doc.Stream(ap["N"]); ok {
		return s
	}
	states, ok := doc.Dict(ap["N"])
	if !ok {
		return nil
	}
	state, _ := doc.Name(d["AS"])
	s, _ := doc.Stream(states[state])
	return s
}

// annotation draws one appearance: its BBox, turned by Matrix, is boxed and the box is brought
// onto Rect (algorithm of 12.5.5).
func (m *machine) annotation(d pdf.Dict, object int) {
	s := m.annotationAppearance(d)
	if s == nil {
		return
	}
	doc := m.r.Doc
	f := &frame{res: m.resourcesOf(m.page.Resources), origin: displist.Origin{Page: m.page.Number, Object: s.Ref.Num, Annotation: object}}
	m.f, m.offset = f, 0
	defer func() { m.f = nil }()
	fm := m.formOf(s)
	m.annots = append(m.annots, fm)
	rect, ok := doc.Nums(d["Rect"])
	if !ok || len(rect) != 4 {
		m.report(finding.Finding{ID: "annotation-damaged", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
			What:   "An annotation that prints has no usable rectangle and is not drawn.",
			Remedy: "Remove the annotation, or make it part of the page.", Place: m.here()})
		return
	}
	to := geom.RectOf(rect[0], rect[1], rect[2], rect[3])
	from := fm.matrix.Bounds(fm.bbox)
	if to.Empty() || from.Empty() {
		return
	}
	place := geom.Matrix{A: to.W() / from.W(), D: to.H() / from.H()}
	place.E = to.X0 - float64(from.X0*place.A)
	place.F = to.Y0 - float64(from.Y0*place.D)
	if !usable(place) {
		return
	}
	m.gs = initialState(place.Mul(m.list.Page.ToList), m.list.Page.Media)
	if n, ok := doc.Name(d["BM"]); ok {
		m.gs.blend, _ = displist.BlendFromName(string(n))
	}
	if oc := d["OC"]; oc != nil {
		f.oc = m.enter(oc, nil)
	}
	if oc := s.Dict["OC"]; oc != nil {
		f.oc = m.enter(oc, f.oc)
	}
	// An appearance is composited as a whole with the annotation's blend mode.
	group := -1
	if m.gs.blend != displist.Normal && fm.group == nil {
		group = m.openGroup(m.item(displist.BeginGroup, m.gs.area), &displist.Group{Implicit: true})
		m.gs.resetTransparency()
	}
	m.formXObject(s, "")
	m.closeGroup(group)
}

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

// Appearance is the stream that shows a printing annotation of a document; nil for none. An annotation
// without an appearance is never given one.
func Appearance(doc *pdf.Document, d pdf.Dict) *pdf.Stream {
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

// AppearancePlace brings an appearance onto an annotation's Rect: its BBox, turned by Matrix, is boxed and the box is
// brought onto Rect (algorithm of 12.5.5). ok is false when nothing can be seen of it.
func AppearancePlace(rect, bbox geom.Rect, matrix geom.Matrix) (place geom.Matrix, ok bool) {
	from := matrix.Bounds(bbox)
	if rect.Empty() || from.Empty() {
		return geom.Identity, false
	}
	place = geom.Matrix{A: rect.W() / from.W(), D: rect.H() / from.H()}
	place.E = rect.X0 - float64(from.X0*place.A)
	place.F = rect.Y0 - float64(from.Y0*place.D)
	return place, usable(place)
}

// annotation draws one appearance.
func (m *machine) annotation(d pdf.Dict, object int) {
	s := Appearance(m.r.Doc, d)
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
	place, ok := AppearancePlace(geom.RectOf(rect[0], rect[1], rect[2], rect[3]), fm.bbox, fm.matrix)
	if !ok {
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

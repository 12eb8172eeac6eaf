package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// softMask runs the group of a soft mask dictionary (11.6.5.2) with the matrix in force. It starts
// from an initial graphics state, so masks alike are run once. A mask that cannot be read gives
// none, with a finding.
func (m *machine) softMask(g *extGState) *displist.SoftMask {
	key := maskKey{g, m.gs.ctm, m.space.area}
	if sm, ok := m.masks[key]; ok {
		return sm
	}
	sm := m.readSoftMask(g.mask)
	m.masks[key] = sm
	return sm
}

func (m *machine) readSoftMask(d pdf.Dict) *displist.SoftMask {
	doc := m.r.Doc
	stream, ok := doc.Stream(d["G"])
	var fm *form
	if ok {
		fm = m.formOf(stream)
	}
	kind, _ := doc.Name(d["S"])
	if fm == nil || kind != "Alpha" && kind != "Luminosity" {
		m.report(finding.Finding{ID: "soft-mask-unreadable", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
			What:   "A transparency mask cannot be read; what it should fade is drawn in full.",
			Why:    "The plates show more than was meant.",
			Remedy: "Export the artwork again, or flatten that object to an image.", Place: m.here()})
		return nil
	}
	sm := &displist.SoftMask{Luminosity: kind == "Luminosity", Ref: stream.Ref}
	if fm.group != nil {
		grp := m.groupFrom(fm.group, m.formResources(fm), true)
		sm.Space, sm.Isolated, sm.Knockout = grp.Space, grp.Isolated, grp.Knockout
	}
	if sm.Space != nil {
		if bc, ok := doc.Nums(d["BC"]); ok && len(bc) == sm.Space.Components() {
			sm.Backdrop = clampComps(sm.Space, bc)
		} else if doc.Resolve(d["BC"]) != nil {
			m.damaged("gs, soft mask BC")
		}
	}
	if n, isName := doc.Name(d["TR"]); doc.Resolve(d["TR"]) != nil && !(isName && n == "Identity") {
		if f, err := m.r.Spaces.Function(d["TR"]); err == nil && f.Inputs() == 1 && f.Outputs() >= 1 {
			sm.Transfer = f
		} else {
			m.damaged("gs, soft mask TR")
		}
	}

	items, gs, made := m.items, m.gs, m.depth
	m.items, m.depth = nil, 0
	m.gs = initialState(gs.ctm, m.space.area)
	m.runForm(fm, func() {
		sm.BBox, sm.Bounds = m.gs.clip, m.gs.area
		if sm.BBox == nil { // a box that holds the page clips nothing
			b := sm.Bounds
			p := &geom.Path{}
			p.Rect(b)
			sm.BBox = &displist.Clip{Shape: displist.Shape{Path: p}, Bounds: b}
		}
	})
	sm.Items = m.items
	m.items, m.gs, m.depth = items, gs, made
	return sm
}

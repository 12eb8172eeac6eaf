package interp

import (
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// opsh paints a shading over the clip (8.7.4.2).
func opsh(m *machine, ops []pdf.Object) bool {
	n, ok := lastName(ops)
	if !ok {
		return false
	}
	o := m.f.res.entry("Shading", n)
	if m.r.Doc.Resolve(o) == nil {
		m.missing("shading", string(n))
		return true
	}
	if m.f.colourless {
		m.colouredInUncoloured()
		return true
	}
	if m.gs.area.Empty() {
		return true
	}
	def := m.shadingOf(o)
	if _, regular := m.gs.ctm.Invert(); def == nil || !regular {
		return true
	}
	s := &displist.Shading{}
	*s = *def
	s.M, s.Background = m.gs.ctm, nil // a background is for patterns only (Table 77)
	area := m.gs.area.Intersect(shadingBounds(s))
	if area.Empty() {
		return true
	}
	it := m.item(displist.Shade, area)
	it.Shading = s
	m.emit(it)
	return true
}

// shadingBounds is what a shading without background can mark, in the space of its items.
func shadingBounds(s *displist.Shading) geom.Rect {
	b := geom.Rect{X0: -maxCoord, Y0: -maxCoord, X1: maxCoord, Y1: maxCoord}
	if s.BBox != nil {
		b = b.Intersect(s.M.Bounds(*s.BBox))
	}
	switch {
	case s.Mesh != nil:
		b = b.Intersect(fillBounds(s.M.Bounds(s.Mesh.Bounds), 1))
	case s.Type == 1:
		c, d := s.Coords, s.Domain
		m := geom.Matrix{A: c[0], B: c[1], C: c[2], D: c[3], E: c[4], F: c[5]}.Mul(s.M)
		b = b.Intersect(m.Bounds(geom.Rect{X0: d[0], Y0: d[2], X1: d[1], Y1: d[3]}))
	case s.Type == 2 && s.Coords[0] == s.Coords[2] && s.Coords[1] == s.Coords[3],
		s.Type == 3 && s.Coords[2] == 0 && s.Coords[5] == 0:
		return geom.Rect{} // paints nothing (8.7.4.5.3, 8.7.4.5.4)
	}
	return b
}

// shadingOf reads a shading, without M; nil, with a finding, when it cannot be used.
func (m *machine) shadingOf(o pdf.Object) *displist.Shading {
	key := m.objectKey(o)
	s, ok := m.shadings[key]
	if !ok {
		var err error
		if s, err = m.readShading(o); err != nil {
			m.shadingDamaged(err)
			s = nil
		}
		m.shadings[key] = s
		m.keep(o)
	}
	return s
}

func (m *machine) shadingDamaged(err error) {
	m.report(finding.Finding{ID: "shading-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
		What:   "A colour gradient cannot be read and is not drawn.",
		Why:    "It is missing from the plates.",
		Remedy: "Make the gradient again in the design program, or turn it into an image.", Place: m.here(), Notes: []string{err.Error()}})
}

// shadingCut reports a shading of which only a part is drawn.
func (m *machine) shadingCut(class finding.Class, err error) {
	m.report(finding.Finding{ID: "shading-cut", Severity: finding.Error, Class: class, Incomplete: true,
		What:   "A colour gradient is damaged or too large; only a part of it is drawn.",
		Why:    "The rest of it is missing from the plates.",
		Remedy: "Make the gradient again in the design program, or turn it into an image.", Place: m.here(), Notes: []string{err.Error()}})
}

// readShading reads the entries of Tables 77 to 84.
func (m *machine) readShading(o pdf.Object) (*displist.Shading, error) {
	doc := m.r.Doc
	d, ok := doc.Dict(o)
	if !ok {
		return nil, fmt.Errorf("it is not a dictionary")
	}
	s := &displist.Shading{}
	if ref, ok := o.(pdf.Ref); ok {
		s.Ref = ref
	}
	s.Type, _ = doc.Int(d["ShadingType"])
	if s.Type < 1 || s.Type > 7 {
		return nil, fmt.Errorf("its type is %d", s.Type)
	}
	space, err := m.r.Spaces.Space(d["ColorSpace"], m.f.res.dict)
	if err != nil {
		return nil, err
	}
	if space.Family() == colour.FamilyPattern {
		return nil, fmt.Errorf("its colours are patterns")
	}
	s.Space = space
	index, _ := space.(*colour.Indexed)
	if index != nil { // colours become those of the base at once (8.7.4.4)
		s.Space = index.Base
	}
	if bg, ok := doc.Nums(d["Background"]); ok && len(bg) == space.Components() {
		s.Background = shadingColour(space, bg)
	} else if doc.Resolve(d["Background"]) != nil {
		m.damaged("shading, entry Background")
	}
	if v, ok := doc.Nums(d["BBox"]); ok && len(v) == 4 {
		b := clampRect(geom.RectOf(v[0], v[1], v[2], v[3]))
		s.BBox = &b
	} else if doc.Resolve(d["BBox"]) != nil {
		m.damaged("shading, entry BBox")
	}
	if doc.Resolve(d["Function"]) != nil {
		if s.Function, err = m.r.Spaces.Function(d["Function"]); err != nil {
			return nil, err
		}
		inputs := 1
		if s.Type == 1 {
			inputs = 2
		}
		if index != nil {
			return nil, fmt.Errorf("it has a function and indexed colours")
		}
		if s.Function.Inputs() != inputs || s.Function.Outputs() != space.Components() {
			return nil, fmt.Errorf("its function takes %d values to %d, not %d to %d", s.Function.Inputs(), s.Function.Outputs(), inputs, space.Components())
		}
	} else if s.Type < 4 {
		return nil, fmt.Errorf("it has no function")
	}
	switch s.Type {
	case 1:
		err = m.readFunctionShading(s, d)
	case 2, 3:
		err = m.readGradient(s, d)
	default:
		stream, ok := doc.Stream(o)
		if !ok {
			return nil, fmt.Errorf("it has no data")
		}
		err = m.readMesh(s, stream, space)
	}
	if err != nil {
		return nil, err
	}
	return s, nil
}

// shadingColour brings a colour into the ranges of its space, and one of an indexed space to its base.
func shadingColour(s colour.Space, c []float64) []float64 {
	c = clampComps(s, append([]float64(nil), c...))
	if ix, ok := s.(*colour.Indexed); ok {
		out := make([]float64, ix.Base.Components())
		ix.Lookup(out, c[0])
		return clampComps(ix.Base, out)
	}
	return c
}

// entryNums reads n numbers; without the entry they are those given. Large ones are bounded.
func (m *machine) entryNums(d pdf.Dict, key pdf.Name, n int, otherwise ...float64) ([]float64, error) {
	if m.r.Doc.Resolve(d[key]) == nil && otherwise != nil {
		return otherwise, nil
	}
	v, ok := m.r.Doc.Nums(d[key])
	if !ok || len(v) != n {
		return nil, fmt.Errorf("its entry %s is missing or damaged", key)
	}
	out := make([]float64, n)
	for i, x := range v {
		if x != x {
			return nil, fmt.Errorf("its entry %s is damaged", key)
		}
		out[i] = min(max(x, -1e9), 1e9)
	}
	return out, nil
}

// readFunctionShading reads what type 1 has (Table 78).
func (m *machine) readFunctionShading(s *displist.Shading, d pdf.Dict) (err error) {
	if s.Domain, err = m.entryNums(d, "Domain", 4, 0, 1, 0, 1); err != nil {
		return err
	}
	if s.Coords, err = m.entryNums(d, "Matrix", 6, 1, 0, 0, 1, 0, 0); err != nil {
		return err
	}
	c := s.Coords
	if _, regular := (geom.Matrix{A: c[0], B: c[1], C: c[2], D: c[3], E: c[4], F: c[5]}).Invert(); !regular || !(s.Domain[0] < s.Domain[1] && s.Domain[2] < s.Domain[3]) {
		return fmt.Errorf("its domain has no area")
	}
	return nil
}

// readGradient reads what types 2 and 3 have (Tables 79 and 80).
func (m *machine) readGradient(s *displist.Shading, d pdf.Dict) (err error) {
	n := 4
	if s.Type == 3 {
		n = 6
	}
	if s.Coords, err = m.entryNums(d, "Coords", n); err != nil {
		return err
	}
	if s.Type == 3 && (s.Coords[2] < 0 || s.Coords[5] < 0) {
		return fmt.Errorf("a radius is negative")
	}
	if s.Domain, err = m.entryNums(d, "Domain", 2, 0, 1); err != nil {
		return err
	}
	if a, ok := m.r.Doc.Array(d["Extend"]); ok && len(a) == 2 {
		s.Extend[0], _ = m.r.Doc.Bool(a[0])
		s.Extend[1], _ = m.r.Doc.Bool(a[1])
	} else if m.r.Doc.Resolve(d["Extend"]) != nil {
		m.damaged("shading, entry Extend")
	}
	return nil
}

// pointBounds grows a box by a point; the first point makes it.
func pointBounds(b geom.Rect, p geom.Point, first bool) geom.Rect {
	if first {
		return geom.Rect{X0: p.X, Y0: p.Y, X1: p.X, Y1: p.Y}
	}
	return geom.Rect{X0: min(b.X0, p.X), Y0: min(b.Y0, p.Y), X1: max(b.X1, p.X), Y1: max(b.Y1, p.Y)}
}

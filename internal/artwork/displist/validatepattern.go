package displist

import (
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/geom"
)

// patterns checks the tilings and shadings of an item.
func (v *validator) patterns(it *Item, depth int) error {
	if (it.Shading != nil) != (it.Kind == Shade) {
		return fmt.Errorf("a shading stands on an item that is none")
	}
	if s := it.Shading; s != nil {
		if s.Background != nil {
			return fmt.Errorf("sh has a background")
		}
		if err := v.shading(s); err != nil {
			return err
		}
	}
	if s := it.Paint.Shading; s != nil {
		if err := v.shading(s); err != nil {
			return err
		}
	}
	if t := it.Paint.Tiling; t != nil && !v.tilings[t] {
		v.tilings[t] = true
		if err := v.tiling(t, depth); err != nil {
			return fmt.Errorf("tiling: %w", err)
		}
	}
	return nil
}

func (v *validator) tiling(t *Tiling, depth int) error {
	if t.BBox.Empty() || !finiteRect(t.BBox) {
		return fmt.Errorf("box %v", t.BBox)
	}
	if !(t.XStep > 0 && t.YStep > 0) || !finite(t.XStep) || !finite(t.YStep) {
		return fmt.Errorf("steps %v and %v", t.XStep, t.YStep)
	}
	if _, ok := t.M.Invert(); !ok {
		return fmt.Errorf("matrix %v is not regular", t.M)
	}
	if !finiteRect(t.Bounds) || !t.Bounds.Empty() && !within(t.Bounds, t.BBox) || t.Bounds.Empty() != (len(t.Items) == 0) {
		return fmt.Errorf("bounds %v of %d items in box %v", t.Bounds, len(t.Items), t.BBox)
	}
	for i := range t.Items {
		if !within(t.Items[i].Bounds, t.Bounds) {
			return fmt.Errorf("bounds %v of item %d leave the cell's %v", t.Items[i].Bounds, i, t.Bounds)
		}
	}
	return v.items(t.Items, depth+1)
}

func (v *validator) shading(s *Shading) error {
	if v.shadings[s] {
		return nil
	}
	v.shadings[s] = true
	if err := v.judgeShading(s); err != nil {
		return fmt.Errorf("shading of type %d: %w", s.Type, err)
	}
	return nil
}

// shadingShape is how many numbers each type of shading has.
var shadingShape = [...]struct{ coords, domain, inputs int }{1: {6, 4, 2}, 2: {4, 2, 1}, 3: {6, 2, 1}, 4: {0, 2, 1}, 5: {0, 2, 1}, 6: {0, 2, 1}, 7: {0, 2, 1}}

func (v *validator) judgeShading(s *Shading) error {
	if s.Type < 1 || s.Type > 7 {
		return fmt.Errorf("no such type")
	}
	if s.Space == nil || s.Space.Family() == colour.FamilyPattern {
		return fmt.Errorf("space %v", s.Space)
	}
	if _, ok := s.M.Invert(); !ok {
		return fmt.Errorf("matrix %v is not regular", s.M)
	}
	if s.BBox != nil && !finiteRect(*s.BBox) {
		return fmt.Errorf("box %v", *s.BBox)
	}
	if s.Background != nil {
		if err := validateColour(s.Space, s.Background); err != nil {
			return fmt.Errorf("background: %w", err)
		}
	}
	shape, n := shadingShape[s.Type], s.Space.Components()
	if (s.Mesh != nil) != (s.Type >= 4) || s.Mesh == nil && s.Function == nil {
		return fmt.Errorf("mesh %v and function %v", s.Mesh != nil, s.Function != nil)
	}
	if s.Function == nil {
		shape.domain = 0
	} else if s.Space.Family() == colour.FamilyIndexed || s.Function.Inputs() != shape.inputs || s.Function.Outputs() != n {
		return fmt.Errorf("function of %d to %d values in %s", s.Function.Inputs(), s.Function.Outputs(), s.Space)
	}
	if len(s.Coords) != shape.coords || len(s.Domain) != shape.domain {
		return fmt.Errorf("%d coordinates, domain of %d", len(s.Coords), len(s.Domain))
	}
	for _, x := range append(append([]float64{}, s.Coords...), s.Domain...) {
		if !finite(x) {
			return fmt.Errorf("coordinates %v, domain %v", s.Coords, s.Domain)
		}
	}
	if s.Type == 3 && !(s.Coords[2] >= 0 && s.Coords[5] >= 0) {
		return fmt.Errorf("radii %v and %v", s.Coords[2], s.Coords[5])
	}
	if m := s.Mesh; m != nil && !v.meshes[m] {
		v.meshes[m] = true
		return m.validate(s)
	}
	return nil
}

func (m *Mesh) validate(s *Shading) error {
	if patches := s.Type >= 6; patches != (m.Patches != nil) || patches == (m.Triangles != nil) || len(m.Triangles)%3 != 0 || len(m.Comps) != len(m.Vertices) {
		return fmt.Errorf("%d triangle corners, %d vertices of %d colours, %d patches", len(m.Triangles), len(m.Vertices), len(m.Comps), len(m.Patches))
	}
	point := func(p geom.Point) error {
		if !finite(p.X) || !finite(p.Y) || p.X < m.Bounds.X0 || p.X > m.Bounds.X1 || p.Y < m.Bounds.Y0 || p.Y > m.Bounds.Y1 {
			return fmt.Errorf("point %v outside bounds %v", p, m.Bounds)
		}
		return nil
	}
	comps := func(c []float64) error {
		if s.Function == nil {
			return validateColour(s.Space, c)
		}
		if len(c) != 1 || !(c[0] >= s.Domain[0] && c[0] <= s.Domain[1]) {
			return fmt.Errorf("parameter %v outside %v", c, s.Domain)
		}
		return nil
	}
	for i, p := range m.Vertices {
		if err := point(p); err != nil {
			return fmt.Errorf("vertex %d: %w", i, err)
		}
		if err := comps(m.Comps[i]); err != nil {
			return fmt.Errorf("vertex %d: %w", i, err)
		}
	}
	for _, t := range m.Triangles {
		if t < 0 || int(t) >= len(m.Vertices) {
			return fmt.Errorf("triangle corner %d of %d vertices", t, len(m.Vertices))
		}
	}
	for i := range m.Patches {
		for _, p := range m.Patches[i].P {
			if err := point(p); err != nil {
				return fmt.Errorf("patch %d: %w", i, err)
			}
		}
		for _, c := range m.Patches[i].C {
			if err := comps(c); err != nil {
				return fmt.Errorf("patch %d: %w", i, err)
			}
		}
	}
	return nil
}

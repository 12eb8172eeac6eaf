package displist

import (
	"fmt"
	"math"

	"laydown/internal/artwork/colour"
	"laydown/internal/geom"
)

// Validate checks what the package promises of a list: group nesting, colours, finite numbers,
// bounds. It is for tests of what makes lists, and for tests of what changes them.
func Validate(l *List) error {
	for _, r := range []geom.Rect{l.Page.Media, l.Page.Crop, l.Page.Bleed, l.Page.Trim, l.Page.Art} {
		if !finiteRect(r) {
			return fmt.Errorf("page box %v is not finite", r)
		}
	}
	if !l.Page.ToList.Finite() {
		return fmt.Errorf("page matrix %v is not finite", l.Page.ToList)
	}
	v := validator{masks: map[*SoftMask]bool{}, tilings: map[*Tiling]bool{}, shadings: map[*Shading]bool{}, meshes: map[*Mesh]bool{}}
	if err := v.items(l.Items, 0); err != nil {
		return err
	}
	for _, n := range l.Names {
		if n.Name == "All" || n.Name == "None" || len(n.Spaces) == 0 {
			return fmt.Errorf("colourant %q with %d spaces must not be listed", n.Name, len(n.Spaces))
		}
	}
	return nil
}

// validator remembers what it has judged: masks, cells and meshes are shared.
type validator struct {
	masks    map[*SoftMask]bool
	tilings  map[*Tiling]bool
	shadings map[*Shading]bool
	meshes   map[*Mesh]bool
}

func (v *validator) items(items []Item, depth int) error {
	if depth > 64 {
		return fmt.Errorf("soft masks and patterns nest more than 64 deep")
	}
	type open struct {
		end    int
		bounds geom.Rect
		hidden bool
	}
	var groups []open
	for i := range items {
		it := &items[i]
		for len(groups) > 0 && groups[len(groups)-1].end == i {
			groups = groups[:len(groups)-1]
		}
		fail := func(format string, args ...any) error {
			return fmt.Errorf("item %d (%s): %s", i, it.Kind, fmt.Sprintf(format, args...))
		}
		if err := it.validate(); err != nil {
			return fail("%v", err)
		}
		if err := v.patterns(it, depth); err != nil {
			return fail("%v", err)
		}
		if n := len(groups); n > 0 {
			g := groups[n-1]
			if !within(it.Bounds, g.bounds) {
				return fail("bounds %v leave the group's %v", it.Bounds, g.bounds)
			}
			if g.hidden && !it.Hidden {
				return fail("prints inside a hidden group")
			}
		}
		if it.Kind == BeginGroup {
			end := it.Group.End
			if end <= i+1 || end > len(items) {
				return fail("group ends at %d of %d", end, len(items))
			}
			if n := len(groups); n > 0 && end > groups[n-1].end {
				return fail("group ends at %d, after the one around it at %d", end, groups[n-1].end)
			}
			groups = append(groups, open{end, it.Bounds, it.Hidden})
		}
		if sm := it.SoftMask; sm != nil && !v.masks[sm] {
			v.masks[sm] = true
			if err := v.mask(sm, depth); err != nil {
				return fail("soft mask: %v", err)
			}
		}
	}
	return nil
}

func (it *Item) validate() error {
	if it.Bounds.Empty() || !finiteRect(it.Bounds) {
		return fmt.Errorf("bounds %v", it.Bounds)
	}
	if !(it.Alpha >= 0 && it.Alpha <= 1) {
		return fmt.Errorf("alpha %v", it.Alpha)
	}
	if int(it.Blend) >= len(blendNames) || it.OverprintMode < 0 || it.OverprintMode > 1 {
		return fmt.Errorf("blend %d, overprint mode %d", it.Blend, it.OverprintMode)
	}
	if it.Overprint && it.Blend != Normal && it.Kind != BeginGroup {
		return fmt.Errorf("overprint under %s outside a group of its own", it.Blend)
	}
	if err := it.Clip.validate(); err != nil {
		return err
	}
	for c := it.Clip; c != nil; c = c.Parent {
		if !within(it.Bounds, c.Bounds) {
			return fmt.Errorf("bounds %v leave the clip's %v", it.Bounds, c.Bounds)
		}
	}
	switch it.Kind {
	case Fill, Stroke:
		if err := it.Shape.validate(); err != nil {
			return err
		}
		if (it.Pen != nil) != (it.Kind == Stroke) {
			return fmt.Errorf("pen is %v", it.Pen)
		}
		if p := it.Pen; p != nil {
			st := &p.Style
			if !p.M.Finite() || !(st.Width >= 0) || math.IsInf(st.Width, 0) || !(st.MiterLimit >= 1) || st.Cap > geom.SquareCap || st.Join > geom.BevelJoin {
				return fmt.Errorf("pen %v", *p)
			}
			sum := 0.0
			for _, d := range st.Dash {
				if !(d >= 0) {
					return fmt.Errorf("dash %v", st.Dash)
				}
				sum += d
			}
			if st.Dash != nil && (sum == 0 || math.IsInf(sum, 0)) || math.IsNaN(st.DashPhase) || math.IsInf(st.DashPhase, 0) {
				return fmt.Errorf("dash %v phase %v", st.Dash, st.DashPhase)
			}
		}
		return it.Paint.validate()
	case Image:
		if it.Image == nil || it.Image.Image == nil || !it.Image.M.Finite() {
			return fmt.Errorf("no image or no finite matrix")
		}
		if len(it.Image.Data) != it.Image.Height*it.Image.Stride() {
			return fmt.Errorf("image has %d bytes, wants %d rows of %d", len(it.Image.Data), it.Image.Height, it.Image.Stride())
		}
		if it.Image.Stencil {
			return it.Paint.validate()
		}
		if it.Image.Space == nil {
			return fmt.Errorf("image without colour space")
		}
	case Shade:
		if it.Shading == nil {
			return fmt.Errorf("no shading")
		}
	case BeginGroup:
		if it.Group == nil {
			return fmt.Errorf("no group")
		}
	default:
		return fmt.Errorf("unknown kind")
	}
	return nil
}

// validate checks a whole chain; nil is one without links.
func (c *Clip) validate() error {
	for n := 0; c != nil; c, n = c.Parent, n+1 {
		if c.Bounds.Empty() || !finiteRect(c.Bounds) {
			return fmt.Errorf("clip bounds %v", c.Bounds)
		}
		if err := c.Shape.validate(); err != nil {
			return fmt.Errorf("clip: %w", err)
		}
		if n > 1_000_000 {
			return fmt.Errorf("clip chain has no end")
		}
	}
	return nil
}

func (s *Shape) validate() error {
	if (s.Path != nil) == (s.Glyphs != nil) {
		return fmt.Errorf("shape needs a path or glyphs, not both")
	}
	if s.Path != nil {
		return validatePath(s.Path)
	}
	for _, g := range s.Glyphs {
		if !g.M.Finite() {
			return fmt.Errorf("glyph matrix %v", g.M)
		}
		if g.Outline != nil {
			if err := validatePath(g.Outline); err != nil {
				return err
			}
		}
	}
	return nil
}

func validatePath(p *geom.Path) error {
	n := 0
	for i, v := range p.Verbs {
		if v != geom.MoveTo && i == 0 || v != geom.MoveTo && i > 0 && p.Verbs[i-1] == geom.Close {
			return fmt.Errorf("path segment %d has no start", i)
		}
		n += [...]int{geom.MoveTo: 1, geom.LineTo: 1, geom.CubicTo: 3, geom.Close: 0}[v]
	}
	if n != len(p.Points) {
		return fmt.Errorf("path wants %d points, has %d", n, len(p.Points))
	}
	for _, q := range p.Points {
		if !finite(q.X) || !finite(q.Y) {
			return fmt.Errorf("path point %v", q)
		}
	}
	return nil
}

func (p *Paint) validate() error {
	if p.Tiling != nil && p.Shading != nil {
		return fmt.Errorf("paint is a tiling and a shading")
	}
	if p.Shading != nil || p.Tiling != nil && p.Tiling.Coloured {
		if p.Space != nil {
			return fmt.Errorf("paint has a pattern and a colour")
		}
		return nil
	}
	if p.Space == nil {
		return fmt.Errorf("paint without colour space")
	}
	return validateColour(p.Space, p.Comps)
}

func validateColour(s colour.Space, comps []float64) error {
	if len(comps) != s.Components() {
		return fmt.Errorf("%s has %d components, wants %d", s, len(comps), s.Components())
	}
	for i, v := range comps {
		if lo, hi := s.Range(i); !(v >= lo && v <= hi) {
			return fmt.Errorf("%s component %d is %v, outside %v to %v", s, i, v, lo, hi)
		}
	}
	return nil
}

func (v *validator) mask(m *SoftMask, depth int) error {
	if !finiteRect(m.Bounds) {
		return fmt.Errorf("bounds %v", m.Bounds)
	}
	if err := m.BBox.validate(); err != nil {
		return err
	}
	if m.Backdrop != nil {
		if m.Space == nil {
			return fmt.Errorf("backdrop without colour space")
		}
		if err := validateColour(m.Space, m.Backdrop); err != nil {
			return err
		}
	}
	if m.Transfer != nil && m.Transfer.Inputs() != 1 {
		return fmt.Errorf("transfer function takes %d values", m.Transfer.Inputs())
	}
	return v.items(m.Items, depth+1)
}

// within allows for the rounding of unions.
func within(r, outer geom.Rect) bool {
	const slack = 1e-6
	return r.X0 >= outer.X0-slack && r.Y0 >= outer.Y0-slack && r.X1 <= outer.X1+slack && r.Y1 <= outer.Y1+slack
}

func finite(v float64) bool { return v-v == 0 }

func finiteRect(r geom.Rect) bool {
	return finite(r.X0) && finite(r.Y0) && finite(r.X1) && finite(r.Y1)
}

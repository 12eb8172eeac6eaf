package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// opCS and opcs select a colour space; the colour becomes its initial one (8.6.5.1 ff, Table 73).
func opCS(m *machine, ops []pdf.Object) bool { return m.selectSpace(&m.gs.stroke, ops) }
func opcs(m *machine, ops []pdf.Object) bool { return m.selectSpace(&m.gs.fill, ops) }

func (m *machine) selectSpace(k *ink, ops []pdf.Object) bool {
	n, ok := lastName(ops)
	if !ok || m.f.colourless {
		return ok
	}
	s, ok := m.spaceNamed(n)
	if !ok {
		*k = ink{space: colour.Gray, comps: []float64{0}, broken: true}
		return true
	}
	*k = ink{space: s, comps: m.initial(s)}
	if s.Family() == colour.FamilyPattern {
		k.pattern = emptyPattern
	}
	return true
}

// initial is a space's initial colour, within its ranges.
func (m *machine) initial(s colour.Space) []float64 {
	v := s.Initial()
	c := m.arena.floats.take(s.Components())
	copy(c, v)
	return clampComps(s, c)
}

// clampComps brings a colour into its space's ranges, in place.
func clampComps(s colour.Space, c []float64) []float64 {
	for i, v := range c {
		lo, hi := s.Range(i)
		if v != v {
			v = lo
		}
		c[i] = min(max(v, lo), hi)
	}
	return c
}

// spaceNamed finds a colour space operand: a device space, Pattern, or a resource.
func (m *machine) spaceNamed(n pdf.Name) (colour.Space, bool) {
	res := m.f.res
	if s, ok := res.spaces[n]; ok {
		return s, s != nil
	}
	s, err := m.r.Spaces.Space(n, res.dict)
	if err != nil || s == nil {
		s = nil
		f := finding.Finding{ID: "colour-space-unreadable", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
			What:   "The colour space " + printable(string(n)) + " cannot be read; what uses it is drawn in black.",
			Why:    "It comes out on the wrong plate.",
			Remedy: "Export the artwork again from the program that made it.", Place: m.here()}
		if err != nil {
			f.Notes = []string{err.Error()}
		}
		m.report(f)
	}
	res.spaces[n] = s
	return s, s != nil
}

func opSCN(m *machine, ops []pdf.Object) bool { return m.setColour(&m.gs.stroke, ops) }
func opscn(m *machine, ops []pdf.Object) bool { return m.setColour(&m.gs.fill, ops) }

// setColour takes the operands of SC, SCN, sc and scn: as many numbers as the space has components,
// or a pattern's name after those of its underlying space.
func (m *machine) setColour(k *ink, ops []pdf.Object) bool {
	if m.f.colourless || k.broken {
		return true
	}
	if n, ok := lastName(ops); ok {
		if k.space.Family() != colour.FamilyPattern {
			return false
		}
		k.comps = nil
		if c := k.space.Components(); c > 0 && len(ops) > c { // of an uncoloured pattern
			comps := m.arena.floats.take(c)
			if !lastNumbers(comps, ops[:len(ops)-1]) {
				return false
			}
			k.comps = clampComps(k.space, comps)
		}
		m.setPattern(k, n)
		return true
	}
	if k.space.Family() == colour.FamilyPattern {
		return false
	}
	n := k.space.Components()
	if len(ops) < n || n == 0 {
		return false
	}
	c := m.arena.floats.take(n)
	if !lastNumbers(c, ops) {
		return false
	}
	k.comps = clampComps(k.space, c)
	return true
}

// device selects a device space and its colour in one go; default spaces of the resources replace
// it (8.6.5.6).
func (m *machine) device(k *ink, n pdf.Name, v []float64) {
	if m.f.colourless {
		return
	}
	s, ok := m.spaceNamed(n)
	if !ok || s.Components() != len(v) {
		switch n { // a default space that does not fit is no default
		case "DeviceGray":
			s = colour.Gray
		case "DeviceRGB":
			s = colour.RGB
		default:
			s = colour.CMYK
		}
	}
	c := m.arena.floats.take(len(v))
	copy(c, v)
	*k = ink{space: s, comps: clampComps(s, c)}
}

func opG(m *machine, v []float64)  { m.device(&m.gs.stroke, "DeviceGray", v) }
func opg(m *machine, v []float64)  { m.device(&m.gs.fill, "DeviceGray", v) }
func opRG(m *machine, v []float64) { m.device(&m.gs.stroke, "DeviceRGB", v) }
func oprg(m *machine, v []float64) { m.device(&m.gs.fill, "DeviceRGB", v) }
func opK(m *machine, v []float64)  { m.device(&m.gs.stroke, "DeviceCMYK", v) }
func opk(m *machine, v []float64)  { m.device(&m.gs.fill, "DeviceCMYK", v) }

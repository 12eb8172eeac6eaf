package look

// Photographs are nearly all process toner over one ground, with sixteen primaries and hardly a colour twice. For them
// an evaluator keeps a copy of the primaries of the process set over that ground, one after the other in memory; it is
// the same sum as for any tints, in the same order, and comes out the same to the last bit.

// slab is the process set over one combination of the other groups.
type slab struct {
	base  int32 // its number without the process set
	used  bool
	ready []bool // cells, by their lowest node, of which all nodes are there
	roots [][mixBands]float32
}

// slabs kept by an evaluator: over stock, over white, over metal, or with a clear on each.
const slabs = 4

// mixSet is mix where only the process set lies between none and solid; ok is false where it does not.
func (e *evaluator) mixSet(k key) (ok bool) {
	m := e.m
	if m.set == nil {
		return false
	}
	base := int32(0)
	for i := range m.groups {
		g := &m.groups[i]
		if g == m.set {
			continue
		}
		switch k.tint(g.inputs[0]) {
		case 0:
		case 255:
			base += g.stride
		default:
			return false
		}
	}
	g := m.set
	low, corners := int32(0), 1
	var w [16]float32
	var at [16]int32
	w[0] = 1
	for j, in := range g.inputs {
		t := k.tint(in)
		low += int32(g.cells.cell[j][t]) * g.cells.stride[j]
		a := g.cells.share[j][t]
		if a <= 0 {
			continue
		}
		free, step := 1-a, g.cells.stride[j]
		for c := range corners {
			c &= 7
			at[c+corners&15] = at[c] + step
			w[c+corners&15] = w[c] * a
			w[c] *= free
		}
		corners *= 2
	}
	s := e.slabOf(base, g.nodes)
	if !s.ready[low] {
		for c := range corners {
			n := low + at[c]
			s.roots[n] = m.rowOf(base + n*g.stride).root
		}
		s.ready[low] = corners == 1<<len(g.inputs)
	}
	roots := s.roots[low:]
	var s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11 float32
	for c, v := range w[:corners] {
		p := &roots[at[c]]
		s0 += float32(v * p[0])
		s1 += float32(v * p[1])
		s2 += float32(v * p[2])
		s3 += float32(v * p[3])
		s4 += float32(v * p[4])
		s5 += float32(v * p[5])
		s6 += float32(v * p[6])
		s7 += float32(v * p[7])
		s8 += float32(v * p[8])
		s9 += float32(v * p[9])
		s10 += float32(v * p[10])
		s11 += float32(v * p[11])
	}
	e.sum = [mixBands]float32{s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11}
	return true
}

func (e *evaluator) slabOf(base int32, nodes int) *slab {
	for i := range e.slabs {
		if s := &e.slabs[i]; s.used && s.base == base {
			return s
		}
	}
	s := &e.slabs[e.oldest]
	e.oldest = (e.oldest + 1) % slabs
	s.base = base
	if s.used {
		clear(s.ready)
	} else {
		s.used, s.ready, s.roots = true, make([]bool, nodes), make([][mixBands]float32, nodes)
	}
	return s
}

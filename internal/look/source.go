package look

// surfaceSource gives the surface of every combination of tints. Model is one; tests make their own.
type surfaceSource interface {
	// inputPlates are the numbers of the plates that matter, at most limits.MaxLookToners.
	inputPlates() []int
	// surfaces is for one goroutine. Byte i of a key is the tint of plate inputPlates()[i].
	surfaces() func(key) Surface
}

func (m *Model) inputPlates() []int { return m.inputs }

// plainCoat is the width of the top surface's lobe where nothing else is known.
const plainCoat = 0.12

func (m *Model) surfaces() func(key) Surface {
	e := newEvaluator(m)
	return func(k key) Surface {
		s := Surface{CoatAlpha: plainCoat}
		for c, v := range e.linearAt(k) {
			s.R45[c] = float32(v)
		}
		return s
	}
}

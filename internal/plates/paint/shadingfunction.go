package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// functional is a shading of type 1 on the page: its function is called for the centre of each pixel.
type functional struct {
	inv     geom.Matrix // pixels of the page to the function's domain
	shading *displist.Shading
	ink     *separate.SpaceInk
}

// newFunctional returns nil when the matrix of the domain is singular. inv maps pixels of the page to
// shading space.
func newFunctional(s *displist.Shading, ink *separate.SpaceInk, inv geom.Matrix) shader {
	c := s.Coords
	m, ok := geom.Matrix{A: c[0], B: c[1], C: c[2], D: c[3], E: c[4], F: c[5]}.Invert()
	if !ok {
		return nil
	}
	return &functional{inv: inv.Mul(m), shading: s, ink: ink}
}

func (f *functional) open(w *worker, ps *patternStep) shadeReader {
	return &functionReader{functional: f, sample: f.ink.Sampler(f.shading.Function)}
}

type functionReader struct {
	*functional
	sample *separate.Sampler
	in     [2]float64
}

func (r *functionReader) level() bool { return false }

func (r *functionReader) read(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) bool {
	d, m := r.shading.Domain, &r.inv
	py := float64(y) + 0.5
	u0, v0 := float64(m.C*py)+m.E, float64(m.D*py)+m.F
	all := true
	for i := range painted {
		px := float64(x0+i) + 0.5
		u, v := float64(m.A*px)+u0, float64(m.B*px)+v0
		painted[i] = u >= d[0] && u <= d[1] && v >= d[2] && v <= d[3]
		if !painted[i] {
			all = false
			continue
		}
		r.in = [2]float64{u, v}
		store(r.sample.Tints(r.in[:]), i, wide, narrow)
	}
	return all
}

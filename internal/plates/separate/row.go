package separate

import (
	"laydown/internal/artwork/colour"
)

// Shadings are separated along their parameter: a Ramp has the tints for a function of one variable, a
// Sampler those of any colour of the space. Both speak of the components in SpaceInk.Painted. OPM 1
// does not act on them (8.6.7).

// Linear reports whether every tint is a linear function of the colour, so that tints may be
// interpolated instead of colours.
func (k *SpaceInk) Linear() bool {
	if k.process != nil || k.alternates != nil || k.index != nil {
		return false
	}
	sum := make([]float64, len(k.Effects))
	for _, t := range k.terms {
		if sum[t.to] += t.scale; sum[t.to] > 1 { // full tint would be cut off
			return false
		}
	}
	return true
}

// A Sampler finds tints of colours, or of parameters of a function. It serves one goroutine.
type Sampler struct {
	ink      *SpaceInk
	function colour.Function // nil = colours are given
	ranges   []float64       // of the space, 2 per component
	comps    []float64
	tints    []uint16
}

// Sampler returns a sampler of colours of the space, which f makes of its inputs when it is not nil.
func (k *SpaceInk) Sampler(f colour.Function) *Sampler {
	n := k.space.Components()
	if f != nil {
		n = max(n, f.Outputs())
	}
	s := &Sampler{ink: k, function: f, comps: make([]float64, n), tints: make([]uint16, len(k.Painted))}
	for i := range k.space.Components() {
		lo, hi := k.space.Range(i)
		s.ranges = append(s.ranges, lo, hi)
	}
	return s
}

// Tints are those of a colour, or of the function's inputs: in is not kept, the result is valid until the
// next call. What the function gives is clipped to the ranges of the space (8.7.4.5).
func (s *Sampler) Tints(in []float64) []uint16 {
	comps := in
	if s.function != nil {
		comps = s.comps
		s.function.Eval(comps[:s.function.Outputs()], in)
	} else {
		copy(s.comps, in)
		comps = s.comps
	}
	for i := range len(s.ranges) / 2 {
		lo, hi := s.ranges[2*i], s.ranges[2*i+1]
		if v := comps[i]; !(v >= lo) {
			comps[i] = lo
		} else if v > hi {
			comps[i] = hi
		}
	}
	s.ink.Tints(s.tints, comps)
	return s.tints
}

// Ramp holds tints at N+1 places evenly spread over the domain of a function of one variable.
type Ramp struct {
	N      int
	Tints  [][]uint16 // by painted component, N+1 each
	Tints8 [][]uint8  // the same as Tint8 gives them
}

// Bytes is the memory a ramp takes.
func (r *Ramp) Bytes() int { return 3 * len(r.Tints) * (r.N + 1) }

// rampTolerance is how far the tint in the middle of two samples may lie off the straight line
// between them, of 65535, for the line to be taken: an eighth of a step of 8 bits.
const rampTolerance = 32

// Ramp tabulates f between t0 and t1. It evaluates the function at samples+1 places and in the middle
// between them; where the middle is not on the straight line, at every place of the table. n is a
// multiple of twice samples.
func (k *SpaceInk) Ramp(f colour.Function, t0, t1 float64, samples, n int) *Ramp {
	r := &Ramp{N: n}
	for range k.Painted {
		r.Tints = append(r.Tints, make([]uint16, n+1))
		r.Tints8 = append(r.Tints8, make([]uint8, n+1))
	}
	s := k.Sampler(f)
	in := make([]float64, 1)
	at := func(i int) {
		part := float64(i) / float64(n)
		in[0] = float64(t0*(1-part)) + float64(t1*part)
		for c, v := range s.Tints(in) {
			r.Tints[c][i] = v
		}
	}
	step := n / samples
	at(0)
	for i := 0; i < n; i += step {
		at(i + step)
		at(i + step/2)
		if !r.straight(i, step) {
			for j := i + 1; j < i+step; j++ {
				at(j)
			}
			continue
		}
		for _, t := range r.Tints {
			a, d := int(t[i]), int(t[i+step])-int(t[i])
			for j := 1; j < step; j++ {
				t[i+j] = uint16(a + (d*j+step/2+step*full32)/step - full32)
			}
		}
	}
	for c, t := range r.Tints {
		for i, v := range t {
			r.Tints8[c][i] = Tint8(v)
		}
	}
	return r
}

// full32 keeps the numerator of a rounded division above 0.
const full32 = 1 << 17

// straight reports whether the middle of a stretch of the table lies on the line between its ends.
func (r *Ramp) straight(i, step int) bool {
	for _, t := range r.Tints {
		if d := int(t[i]) + int(t[i+step]) - 2*int(t[i+step/2]); d > 2*rampTolerance || d < -2*rampTolerance {
			return false
		}
	}
	return true
}

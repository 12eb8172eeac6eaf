package colour

import (
	"math"
	"slices"
	"sort"
)

// Function is a PDF function (7.10). Eval clips inputs to Domain and outputs to Range. It is safe
// for concurrent use; len(in) = Inputs, len(out) = Outputs; out must not alias in.
type Function interface {
	Inputs() int
	Outputs() int
	Eval(out, in []float64)
}

// definition is what every function of this package can do beyond Function.
type definition interface {
	Function
	equal(o Function) bool
}

// EqualFunctions reports whether two functions have the same definition.
func EqualFunctions(a, b Function) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	d, ok := a.(definition)
	return ok && d.equal(b)
}

// limits2 are pairs of bounds, as Domain and Range are written.
type limits2 []float64

func (l limits2) clip(i int, v float64) float64 {
	if 2*i+1 >= len(l) {
		return finite(v)
	}
	return clamp(finite(v), l[2*i], l[2*i+1])
}

func (l limits2) clipAll(v []float64) {
	for i := range v {
		v[i] = l.clip(i, v[i])
	}
}

// settle rounds a result of transcendental arithmetic to a grid of 2^-30 of its size class. Such
// results may differ in their last bits between processor levels; after settling they do not, but
// for values within rounding error of a grid limit, which are put off the round numbers on purpose.
func settle(v float64) float64 {
	const grid = 1 << 30
	if v > 1<<20 || v < -(1<<20) {
		return v
	}
	return math.Floor(float64(v*grid)+0.4142) / grid
}

// exponential is a type 2 function (7.10.3).
type exponential struct {
	domain, rng limits2
	c0, c1      []float64
	n           float64
}

func (f *exponential) Inputs() int  { return 1 }
func (f *exponential) Outputs() int { return len(f.c0) }

func (f *exponential) Eval(out, in []float64) { f.at(out, in[0]) }

func (f *exponential) at(out []float64, x float64) {
	x = f.domain.clip(0, x)
	if f.n != 1 {
		x = settle(finite(math.Pow(x, f.n)))
	}
	for i, c0 := range f.c0 {
		out[i] = f.rng.clip(i, c0+float64(x*(f.c1[i]-c0)))
	}
}

func (f *exponential) equal(o Function) bool {
	g, ok := o.(*exponential)
	return ok && f.n == g.n && slices.Equal(f.c0, g.c0) && slices.Equal(f.c1, g.c1) &&
		slices.Equal(f.domain, g.domain) && slices.Equal(f.rng, g.rng)
}

// stitching is a type 3 function (7.10.4).
type stitching struct {
	domain, rng    limits2
	parts          []Function
	bounds, encode []float64
	sorted         bool // bounds do not fall
}

func (f *stitching) Inputs() int  { return 1 }
func (f *stitching) Outputs() int { return f.parts[0].Outputs() }

func (f *stitching) Eval(out, in []float64) { f.at(out, in[0]) }

func (f *stitching) at(out []float64, x float64) {
	x = f.domain.clip(0, x)
	// Each part owns the half-open interval up to its bound, found by halving; the last one also its end.
	// Bounds that fall leave parts between them without an interval.
	k := 0
	if f.sorted {
		k = sort.Search(len(f.bounds), func(i int) bool { return x < f.bounds[i] })
	} else {
		for k < len(f.bounds) && x >= f.bounds[k] {
			k++
		}
	}
	// Where the last bound is the end of the domain, the last part has that end alone, and Encode's first
	// number as its input.
	lo, hi := f.domain[0], f.domain[1]
	if k > 0 {
		lo = f.bounds[k-1]
	}
	if k < len(f.bounds) {
		hi = f.bounds[k]
	}
	e0, e1 := f.encode[2*k], f.encode[2*k+1]
	v := e0
	if hi > lo {
		v = e0 + float64((x-lo)*(e1-e0))/(hi-lo)
	}
	at(f.parts[k], out, v)
	f.rng.clipAll(out[:f.Outputs()])
}

// at is Eval of a function of one input, without a slice that would have to live on the heap.
func at(f Function, out []float64, x float64) {
	switch f := f.(type) {
	case *exponential:
		f.at(out, x)
	case *stitching:
		f.at(out, x)
	case *sampled:
		in := [1]float64{x}
		f.Eval(out, in[:])
	case *calculator:
		in := [1]float64{x}
		f.Eval(out, in[:])
	case *joined:
		k := 0
		for _, p := range f.parts {
			at(p, out[k:k+p.Outputs()], x)
			k += p.Outputs()
		}
	case identity:
		out[0] = x
	default:
		f.Eval(out, []float64{x})
	}
}

func (f *stitching) equal(o Function) bool {
	g, ok := o.(*stitching)
	return ok && slices.Equal(f.domain, g.domain) && slices.Equal(f.rng, g.rng) && slices.Equal(f.bounds, g.bounds) &&
		slices.Equal(f.encode, g.encode) && slices.EqualFunc(f.parts, g.parts, EqualFunctions)
}

// joined is n functions of the same inputs, one or more outputs each, as shadings and some tint
// transforms give them.
type joined struct {
	parts   []Function
	outputs int
}

func (f *joined) Inputs() int  { return f.parts[0].Inputs() }
func (f *joined) Outputs() int { return f.outputs }

func (f *joined) Eval(out, in []float64) {
	k := 0
	for _, p := range f.parts {
		p.Eval(out[k:k+p.Outputs()], in)
		k += p.Outputs()
	}
}

func (f *joined) equal(o Function) bool {
	g, ok := o.(*joined)
	return ok && slices.EqualFunc(f.parts, g.parts, EqualFunctions)
}

// Identity is the function that copies n numbers.
func Identity(n int) Function { return identity(n) }

type identity int

func (f identity) Inputs() int            { return int(f) }
func (f identity) Outputs() int           { return int(f) }
func (f identity) Eval(out, in []float64) { copy(out, in[:f]) }
func (f identity) equal(o Function) bool {
	g, ok := o.(identity)
	return ok && f == g
}

// darkening stands in for a tint transform that cannot be read: from the white of the alternate at
// tint 0 to its black at full tint of the strongest component.
type darkening struct {
	inputs       int
	white, black []float64
}

func (f *darkening) Inputs() int  { return f.inputs }
func (f *darkening) Outputs() int { return len(f.white) }

func (f *darkening) Eval(out, in []float64) {
	t := 0.0
	for _, v := range in[:f.inputs] {
		t = max(t, clamp(finite(v), 0, 1))
	}
	for i := range f.white {
		out[i] = f.white[i] + float64(t*(f.black[i]-f.white[i]))
	}
}

func (f *darkening) equal(o Function) bool {
	g, ok := o.(*darkening)
	return ok && f.inputs == g.inputs && slices.Equal(f.white, g.white)
}

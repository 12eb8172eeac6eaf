package colour

import (
	"bytes"
	"slices"
)

// maxSampledInputs bounds the 2^m corners that one evaluation reads.
const maxSampledInputs = 12

// sampled is a type 0 function (7.10.2): a table over m inputs with n values at each node,
// interpolated linearly in each dimension. The data stays packed as in the file.
type sampled struct {
	domain, rng, encode, decode limits2
	size                        []int
	stride                      []int // nodes between neighbours in each dimension; the first varies fastest
	n                           int
	bits                        int
	data                        []byte    // padded with zeros to the full table
	flat                        []float64 // the same unpacked; nil for large tables
	scale                       float64
}

// maxFlatSamples of a table that is kept unpacked too: half a megabyte.
const maxFlatSamples = 1 << 16

func newSampled(domain, rng, encode, decode []float64, size []int, bits int, data []byte) *sampled {
	f := &sampled{domain: domain, rng: rng, encode: encode, decode: decode, size: size, n: len(rng) / 2, bits: bits}
	f.scale = float64(uint64(1)<<bits - 1)
	nodes := 1
	for _, s := range size {
		f.stride = append(f.stride, nodes)
		nodes *= s
	}
	need := (nodes*f.n*bits + 7) / 8
	f.data = data
	if len(data) < need {
		f.data = append(bytes.Clone(data), make([]byte, need-len(data))...)
	}
	if nodes*f.n <= maxFlatSamples {
		f.flat = make([]float64, nodes*f.n)
		for i := range f.flat {
			f.flat[i] = f.value(i)
		}
	}
	return f
}

func (f *sampled) Inputs() int  { return len(f.size) }
func (f *sampled) Outputs() int { return f.n }

// value is sample i of the table, 0..scale.
func (f *sampled) value(i int) float64 {
	switch f.bits {
	case 8:
		return float64(f.data[i])
	case 16:
		return float64(uint32(f.data[2*i])<<8 | uint32(f.data[2*i+1]))
	}
	at := i * f.bits
	v := uint64(0)
	for left := f.bits; left > 0; {
		b := f.data[at/8]
		have := 8 - at%8
		take := min(have, left)
		v = v<<take | uint64(b>>(have-take))&(1<<take-1)
		at += take
		left -= take
	}
	return float64(v)
}

func (f *sampled) Eval(out, in []float64) {
	if len(f.size) == 1 && f.flat != nil {
		f.line(out, in[0])
		return
	}
	f.corners(out, in)
}

// line is corners for one input.
func (f *sampled) line(out []float64, in float64) {
	d0, d1 := f.domain[0], f.domain[1]
	e := f.encode[0]
	if x := clamp(finite(in), d0, d1); d1 > d0 {
		e += float64((x-d0)*(f.encode[1]-e)) / (d1 - d0)
	}
	e = clamp(finite(e), 0, float64(f.size[0]-1))
	k := int(e)
	t := e - float64(k)
	n := f.n
	a := f.flat[k*n : k*n+n]
	b := a
	if t > 0 {
		b = f.flat[(k+1)*n : (k+2)*n]
	}
	for j := range out[:n] {
		v := float64((1-t)*a[j]) + float64(t*b[j])
		lo, hi := f.decode[2*j], f.decode[2*j+1]
		out[j] = clamp(finite(lo+float64(v*(hi-lo))/f.scale), f.rng[2*j], f.rng[2*j+1])
	}
}

// corners weighs the nodes round the input, 2 for each dimension in which it lies between nodes.
func (f *sampled) corners(out, in []float64) {
	var base [maxSampledInputs]int
	var frac [maxSampledInputs]float64
	m := len(f.size)
	low := 0
	live := 0 // dimensions that lie between nodes
	for i := range m {
		d0, d1 := f.domain[2*i], f.domain[2*i+1]
		x := f.domain.clip(i, in[i])
		e := f.encode[2*i]
		if d1 > d0 {
			e += float64((x-d0)*(f.encode[2*i+1]-e)) / (d1 - d0)
		}
		e = clamp(finite(e), 0, float64(f.size[i]-1))
		k := int(e)
		low += k * f.stride[i]
		if t := e - float64(k); t > 0 {
			base[live], frac[live] = f.stride[i], t
			live++
		}
	}
	for j := range f.n {
		out[j] = 0
	}
	for corner := range 1 << live {
		w, at := 1.0, low
		for i := range live {
			if corner>>i&1 == 1 {
				w *= frac[i]
				at += base[i]
			} else {
				w *= 1 - frac[i]
			}
		}
		if f.flat != nil {
			for j, v := range f.flat[at*f.n : at*f.n+f.n] {
				out[j] += float64(w * v)
			}
			continue
		}
		for j := range f.n {
			out[j] += float64(w * f.value(at*f.n+j))
		}
	}
	for j := range f.n {
		d0, d1 := f.decode[2*j], f.decode[2*j+1]
		out[j] = f.rng.clip(j, d0+float64(out[j]*(d1-d0))/f.scale)
	}
}

func (f *sampled) equal(o Function) bool {
	g, ok := o.(*sampled)
	return ok && f.bits == g.bits && slices.Equal(f.size, g.size) && slices.Equal(f.domain, g.domain) && slices.Equal(f.rng, g.rng) &&
		slices.Equal(f.encode, g.encode) && slices.Equal(f.decode, g.decode) && bytes.Equal(f.data, g.data)
}

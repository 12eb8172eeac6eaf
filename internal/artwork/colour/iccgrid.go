package colour

import (
	"encoding/binary"
	"fmt"

	"laydown/internal/limits"
)

// iccGrid is a table over 1, 3 or 4 inputs of up to four outputs of 16 bits; the last input varies
// fastest. Weights are whole 65536ths that add up to 65536 exactly, so that a node keeps its value and the sum
// of two outputs at a time fits the halves of one 64-bit number. An output is within a few
// 100,000ths of what real weights give.
type iccGrid struct {
	in     int
	points [4]int
	stride [4]int // nodes between neighbours
	scale  [4]float64
	nodes  []uint64 // output i in bits 16 i and up
	linear bool     // weigh all corners, instead of those of the simplex a colour lies in
}

const (
	gridOne   = 1 << 16
	gridLanes = 0x0000ffff_0000ffff
	gridUnit  = 1.0 / (gridOne * 65535)
)

// readICCGrid reads a table of entries of wide bytes, and tells how many bytes it takes.
func readICCGrid(d []byte, points []int, out, wide int) (*iccGrid, int, error) {
	g := &iccGrid{in: len(points)}
	n := 1
	for i := len(points) - 1; i >= 0; i-- {
		if points[i] < 2 {
			return nil, 0, errTable
		}
		g.points[i], g.stride[i], g.scale[i] = points[i], n, float64(points[i]-1)*gridOne
		if n *= points[i]; n*out > limits.MaxProfileBytes {
			return nil, 0, fmt.Errorf("%w: it is %w", errTable, errOverLimit)
		}
	}
	if n*out*wide > len(d) {
		return nil, 0, errTable
	}
	g.nodes = make([]uint64, n)
	for i := range g.nodes {
		for k := range out {
			at := (i*out + k) * wide
			v := uint64(d[at]) * 257
			if wide == 2 {
				v = uint64(binary.BigEndian.Uint16(d[at:]))
			}
			g.nodes[i] |= v << (16 * k)
		}
	}
	return g, n * out * wide, nil
}

// at replaces the inputs by the interpolated outputs. Three inputs are interpolated within the
// tetrahedron the colour lies in; the first of four, linearly between two such results.
func (g *iccGrid) at(v *[4]float64) {
	var f [4]uint64
	base := 0
	for i := range g.in & 7 {
		p := uint64(float64(unitOf(v[i&3])*g.scale[i&3]) + 0.5)
		k := int(p >> 16)
		f[i&3] = p & (gridOne - 1)
		if k >= g.points[i&3]-1 {
			k, f[i&3] = k-1, gridOne
		}
		base += k * g.stride[i&3]
	}
	var a, b uint64
	switch {
	case g.in == 1:
		a, b = add2(g.nodes[base], gridOne-f[0], g.nodes[base+1], f[0])
	case g.in == 3 && g.linear:
		a, b = g.cube(base, f[0], f[1], f[2])
	case g.in == 3:
		w, at := g.tetrahedron(base, [3]uint64{f[0], f[1], f[2]}, [3]int{g.stride[0], g.stride[1], g.stride[2]})
		a, b = add4(g.nodes, at, w)
	default:
		w, at := g.tetrahedron(base, [3]uint64{f[1], f[2], f[3]}, [3]int{g.stride[1], g.stride[2], g.stride[3]})
		var high [4]uint64
		for i := range w {
			high[i] = (w[i]*f[0] + gridOne/2) >> 16
			w[i] -= high[i]
		}
		a, b = add4(g.nodes, at, w)
		if f[0] > 0 {
			for i := range at {
				at[i] += g.stride[0]
			}
			a1, b1 := add4(g.nodes, at, high)
			a, b = a+a1, b+b1
		}
	}
	v[0], v[1] = float64(uint32(a))*gridUnit, float64(uint32(b))*gridUnit
	v[2], v[3] = float64(a>>32)*gridUnit, float64(b>>32)*gridUnit
}

func add2(n0, w0, n1, w1 uint64) (a, b uint64) {
	return n0&gridLanes*w0 + n1&gridLanes*w1, n0>>16&gridLanes*w0 + n1>>16&gridLanes*w1
}

func add4(nodes []uint64, at [4]int, w [4]uint64) (a, b uint64) {
	for i := range at {
		n := nodes[at[i]]
		a += n & gridLanes * w[i]
		b += n >> 16 & gridLanes * w[i]
	}
	return a, b
}

// cube weighs the eight corners.
func (g *iccGrid) cube(base int, x, y, z uint64) (a, b uint64) {
	xy := (x*y + gridOne/2) >> 16
	w := [4]uint64{gridOne - x - y + xy, y - xy, x - xy, xy}
	sx, sy := g.stride[0], g.stride[1]
	rows := [4]int{base, base + sy, base + sx, base + sx + sy}
	for i, at := range rows {
		n := g.nodes[at : at+2 : at+2]
		high := (w[i]*z + gridOne/2) >> 16
		low := w[i] - high
		a += n[0]&gridLanes*low + n[1]&gridLanes*high
		b += n[0]>>16&gridLanes*low + n[1]>>16&gridLanes*high
	}
	return a, b
}

// tetrahedron walks from the low corner to the high one along the axes in falling order of their fractions.
func (g *iccGrid) tetrahedron(base int, f [3]uint64, s [3]int) (w [4]uint64, at [4]int) {
	if f[0] < f[1] {
		f[0], f[1], s[0], s[1] = f[1], f[0], s[1], s[0]
	}
	if f[1] < f[2] {
		f[1], f[2], s[1], s[2] = f[2], f[1], s[2], s[1]
	}
	if f[0] < f[1] {
		f[0], f[1], s[0], s[1] = f[1], f[0], s[1], s[0]
	}
	at[0] = base
	at[1] = at[0] + s[0]
	at[2] = at[1] + s[1]
	at[3] = at[2] + s[2]
	return [4]uint64{gridOne - f[0], f[0] - f[1], f[1] - f[2], f[2]}, at
}

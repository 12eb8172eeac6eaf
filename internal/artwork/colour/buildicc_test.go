package colour

import (
	"encoding/binary"
	"maps"
	"math"
	"slices"
)

// Profiles made for tests, piece by piece (ICC.1).

func buildICC(version byte, class, space, pcs string, tags map[string][]byte) []byte {
	b := make([]byte, 128)
	b[8] = version
	copy(b[12:], class)
	copy(b[16:], space)
	copy(b[20:], pcs)
	copy(b[36:], "acsp")
	copy(b[68:], xyzTag(d50)[8:20])
	names := slices.Sorted(maps.Keys(tags))
	b = binary.BigEndian.AppendUint32(b, uint32(len(names)))
	at := len(b) + 12*len(names)
	for _, n := range names {
		b = append(b, n...)
		b = binary.BigEndian.AppendUint32(b, uint32(at))
		b = binary.BigEndian.AppendUint32(b, uint32(len(tags[n])))
		at += (len(tags[n]) + 3) &^ 3
	}
	for _, n := range names {
		b = padded(append(b, tags[n]...))
	}
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

func padded(b []byte) []byte {
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}

func fixed(v float64) []byte {
	return binary.BigEndian.AppendUint32(nil, uint32(int32(math.Round(v*65536))))
}

func xyzTag(v [3]float64) []byte {
	b := []byte("XYZ \x00\x00\x00\x00")
	for _, x := range v {
		b = append(b, fixed(x)...)
	}
	return b
}

// curveTag is a curve of n points through f; n = 0 is the identity.
func curveTag(n int, f func(float64) float64) []byte {
	b := binary.BigEndian.AppendUint32([]byte("curv\x00\x00\x00\x00"), uint32(n))
	for i := range n {
		b = binary.BigEndian.AppendUint16(b, uint16(math.Round(65535*settle(f(float64(i)/float64(max(n-1, 1)))))))
	}
	return b
}

func gammaTag(g float64) []byte {
	return []byte{'c', 'u', 'r', 'v', 0, 0, 0, 0, 0, 0, 0, 1, byte(g), byte(g * 256)}
}

func formulaTag(form int, p ...float64) []byte {
	b := []byte{'p', 'a', 'r', 'a', 0, 0, 0, 0, 0, byte(form), 0, 0}
	for _, v := range p {
		b = append(b, fixed(v)...)
	}
	return b
}

// gridData are the nodes of a table through f, of wide bytes each number, the same bytes on every processor.
func gridData(in, points, out, wide int, f func(in []float64) []float64) []byte {
	var b []byte
	for _, node := range grid(points, in) {
		for _, v := range f(node)[:out] {
			if wide == 1 {
				b = append(b, byte(math.Round(255*clamp(settle(v), 0, 1))))
			} else {
				b = binary.BigEndian.AppendUint16(b, uint16(math.Round(65535*clamp(settle(v), 0, 1))))
			}
		}
	}
	return b
}

// oldTable is a lut8Type (wide 1) or lut16Type (wide 2).
func oldTable(in, points, out, wide int, m [9]float64, before, after, f func(in []float64) []float64) []byte {
	b := []byte("mft2\x00\x00\x00\x00")
	entries := 33
	if wide == 1 {
		b[3], entries = '1', 256
	}
	b = append(b, byte(in), byte(out), byte(points), 0)
	for _, v := range m {
		b = append(b, fixed(v)...)
	}
	if wide == 2 {
		b = binary.BigEndian.AppendUint16(b, uint16(entries))
		b = binary.BigEndian.AppendUint16(b, uint16(entries))
	}
	curves := func(n int, f func(in []float64) []float64) {
		for k := range n {
			b = append(b, gridData(1, entries, 1, wide, func(v []float64) []float64 { return f([]float64{v[0], v[0], v[0], v[0]})[k:] })...)
		}
	}
	curves(in, before)
	b = append(b, gridData(in, points, out, wide, f)...)
	curves(out, after)
	return b
}

// newTable is a lutAToBType ("mAB ") or lutBToAType ("mBA "). Nil parts are left out.
func newTable(kind string, in, out int, a [][]byte, points, wide int, f func(in []float64) []float64, m [][]byte, matrix []float64, b [][]byte) []byte {
	t := append([]byte(kind), 0, 0, 0, 0, byte(in), byte(out), 0, 0)
	t = append(t, make([]byte, 20)...)
	part := func(slot int, data []byte) {
		if data != nil {
			binary.BigEndian.PutUint32(t[12+4*slot:], uint32(len(t)))
			t = padded(append(t, data...))
		}
	}
	curves := func(list [][]byte) (d []byte) {
		for _, c := range list {
			d = padded(append(d, c...))
		}
		return d
	}
	part(0, curves(b))
	if matrix != nil {
		var d []byte
		for _, v := range matrix {
			d = append(d, fixed(v)...)
		}
		part(1, d)
	}
	part(2, curves(m))
	if f != nil {
		head := make([]byte, 20)
		for i := range in {
			head[i] = byte(points)
		}
		head[16] = byte(wide)
		part(3, append(head, gridData(in, points, out, wide, f)...))
	}
	part(4, curves(a))
	return t
}

func same(v []float64) []float64 { return v }

func raised(by float64) func(v []float64) []float64 {
	return func(v []float64) []float64 {
		out := make([]float64, len(v))
		for i := range v {
			out[i] = math.Pow(v[i], by+.1*float64(i))
		}
		return out
	}
}

// toLab is a made-up press: encoded L*, a*, b* of C, M, Y, K.
func toLab(v []float64) []float64 {
	c, m, y, k := v[0], v[1], v[2], v[3]
	l := (1 - .45*c) * (1 - .5*m) * (1 - .1*y) * (1 - .85*k)
	return []float64{.06 + .9*l, .5 + (1-k)*(.28*m-.14*c+.02*y), .5 + (1-k)*(.34*y-.2*c-.05*m)}
}

// fromLab is no inverse of it, but as smooth.
func fromLab(v []float64) []float64 {
	l, a, b := v[0], 2*v[1]-1, 2*v[2]-1
	dark := 1 - l
	return []float64{dark - .6*a - .5*b, dark + .8*a, dark + .9*b, dark * dark * .9}
}

var unitMatrix = [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}

// madeCMYK is an output profile, version 2 with lut16Type or 4 with lutAToBType.
func madeCMYK(version byte) []byte {
	tags := map[string][]byte{"wtpt": xyzTag([3]float64{.85, .88, .74})}
	if version == 2 {
		tags["A2B0"] = oldTable(4, 7, 3, 2, unitMatrix, raised(.9), same, toLab)
		tags["A2B1"] = oldTable(4, 6, 3, 2, unitMatrix, raised(1.1), raised(1), toLab)
		tags["B2A0"] = oldTable(3, 9, 4, 2, unitMatrix, raised(1.2), same, fromLab)
		tags["B2A1"] = oldTable(3, 11, 4, 2, unitMatrix, same, raised(1.1), fromLab)
		return buildICC(2, "prtr", "CMYK", "Lab ", tags)
	}
	a := [][]byte{curveTag(33, math.Sqrt), gammaTag(1.5), formulaTag(0, 1.2), curveTag(0, nil)}
	m := [][]byte{formulaTag(3, 1.8, .9, .1, .5, .2), curveTag(0, nil), gammaTag(1)}
	b := [][]byte{gammaTag(1.1), formulaTag(4, 1.1, 1, 0, .9, .1, .01, .02), curveTag(5, same1)}
	matrix := []float64{.9, .05, 0, .02, .9, 0, 0, .1, .95, .01, .03, 0}
	tags["A2B1"] = newTable("mAB ", 4, 3, a, 7, 2, toLab, m, matrix, b)
	tags["A2B0"] = newTable("mAB ", 4, 3, a, 6, 1, toLab, nil, nil, b)
	tags["B2A1"] = newTable("mBA ", 3, 4, a, 9, 2, fromLab, m, matrix, b)
	tags["B2A0"] = newTable("mBA ", 3, 4, nil, 9, 1, fromLab, nil, nil, b)
	return buildICC(4, "prtr", "CMYK", "Lab ", tags)
}

func same1(v float64) float64 { return v }

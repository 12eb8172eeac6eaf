package colour

import "math"

// Arithmetic between CIE spaces: X, Y, Z with Y of white = 1.

// d50 is the white of the ICC connection space (ICC.1, 7.2.16).
var d50 = [3]float64{0.9642, 1, 0.8249}

type matrix3 [9]float64 // row by row

func (m *matrix3) mul(v [3]float64) [3]float64 {
	return [3]float64{
		float64(m[0]*v[0]) + float64(m[1]*v[1]) + float64(m[2]*v[2]),
		float64(m[3]*v[0]) + float64(m[4]*v[1]) + float64(m[5]*v[2]),
		float64(m[6]*v[0]) + float64(m[7]*v[1]) + float64(m[8]*v[2]),
	}
}

// Linear sRGB (IEC 61966-2-1) against X, Y, Z adapted to D50 by Bradford.
var (
	linearFromXYZ = matrix3{3.1338561, -1.6168667, -0.4906146, -0.9787684, 1.9161415, 0.0334540, 0.0719453, -0.2289914, 1.4052427}
	xyzFromLinear = matrix3{0.4360747, 0.3850649, 0.1430804, 0.2225045, 0.7168786, 0.0606169, 0.0139322, 0.0971045, 0.7141733}
)

// The Bradford cone response and its inverse (ICC.1, annex E).
var (
	bradford        = matrix3{0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296}
	bradfordInverse = matrix3{0.9869929, -0.1470543, 0.1599627, 0.4323053, 0.5183603, 0.0492912, -0.0085287, 0.0400428, 0.9684867}
)

// adapt carries a colour seen under white to D50.
func adapt(xyz, white [3]float64) [3]float64 {
	if white == d50 {
		return xyz
	}
	from, to, c := bradford.mul(white), bradford.mul(d50), bradford.mul(xyz)
	for i := range c {
		if from[i] > 0 {
			c[i] *= to[i] / from[i]
		}
	}
	return bradfordInverse.mul(c)
}

// adaptation is adapt as a matrix.
func adaptation(white [3]float64) matrix3 {
	x, y, z := adapt([3]float64{1, 0, 0}, white), adapt([3]float64{0, 1, 0}, white), adapt([3]float64{0, 0, 1}, white)
	return matrix3{x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2]}
}

func (m matrix3) times(o matrix3) (p matrix3) {
	for i := range 3 {
		v := m.mul([3]float64{o[i], o[3+i], o[6+i]})
		p[i], p[3+i], p[6+i] = v[0], v[1], v[2]
	}
	return p
}

// xyzFromLab is 8.6.5.4.
func xyzFromLab(lab, white [3]float64) [3]float64 {
	m := (lab[0] + 16) / 116
	g := func(x float64) float64 {
		if x >= 6.0/29 {
			return float64(x*x) * x
		}
		return 108.0 / 841 * (x - 4.0/29)
	}
	return [3]float64{
		settle(white[0] * g(m+lab[1]/500)),
		settle(white[1] * g(m)),
		settle(white[2] * g(m-lab[2]/200)),
	}
}

// labFromXYZ is CIE 1976 (CIE 15).
func labFromXYZ(xyz, white [3]float64) [3]float64 {
	x, y, z := labCurve(xyz[0]/white[0]), labCurve(xyz[1]/white[1]), labCurve(xyz[2]/white[2])
	return [3]float64{float64(116*y) - 16, float64(500 * (x - y)), float64(200 * (y - z))}
}

// srgbFromXYZ clips to the gamut component by component.
func srgbFromXYZ(xyz [3]float64) [3]float64 {
	v := linearFromXYZ.mul(xyz)
	for i, x := range v {
		x = unitOf(x)
		if x <= 0.0031308 {
			v[i] = 12.92 * x
		} else {
			v[i] = clamp(settle(float64(1.055*math.Pow(x, 1/2.4))-0.055), 0, 1)
		}
	}
	return v
}

// linearSRGB undoes the transfer curve of sRGB.
func linearSRGB(x float64) float64 {
	if x <= 0.04045 {
		return x / 12.92
	}
	return settle(math.Pow((x+0.055)/1.055, 2.4))
}

// xyz of a colour relative to D50 (8.6.5.2 to 8.6.5.4).

func (s *CalGray) xyz(v float64) [3]float64 {
	y := v
	if s.Gamma != 1 {
		y = settle(finite(math.Pow(v, s.Gamma)))
	}
	return [3]float64{d50[0] * y, d50[1] * y, d50[2] * y}
}

func (s *CalRGB) xyz(rgb [3]float64) [3]float64 {
	for i, v := range rgb {
		if s.Gamma[i] != 1 {
			rgb[i] = settle(finite(math.Pow(v, s.Gamma[i])))
		}
	}
	m := &s.Matrix
	columns := matrix3{m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]}
	return adapt(columns.mul(rgb), s.White)
}

func (s *Lab) xyz(lab [3]float64) [3]float64 { return adapt(xyzFromLab(lab, s.White), s.White) }

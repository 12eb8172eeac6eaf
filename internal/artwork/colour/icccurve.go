package colour

import (
	"encoding/binary"
	"errors"
	"math"
	"sync"
)

// iccCurve is a one-dimensional curve of a profile (ICC.1, 10.6 and 10.18): a table over 0..1, or a
// formula. Tables clip their input; formulas do not, as what follows them clips.
type iccCurve struct {
	table []float64 // 0..1
	form  int       // of a formula, -1 = none: the identity
	p     [7]float64
	once  sync.Once
	level [256]float64 // the formula at the 8-bit levels, which nearly all image samples are
}

var errCurve = errors.New("a curve of the ICC profile is damaged")

// curveParameters is how many numbers the formulas of a parametricCurveType have.
var curveParameters = [...]int{1, 3, 4, 5, 7}

// readICCCurve reads a curveType or a parametricCurveType and tells how many bytes it takes.
func readICCCurve(d []byte) (c *iccCurve, size int, err error) {
	if len(d) < 12 {
		return nil, 0, errCurve
	}
	c = &iccCurve{form: -1}
	switch string(d[:4]) {
	case "curv":
		n := uint64(binary.BigEndian.Uint32(d[8:]))
		if 12+2*n > uint64(len(d)) {
			return nil, 0, errCurve
		}
		switch n {
		case 0:
		case 1:
			c.form, c.p[0] = 0, float64(binary.BigEndian.Uint16(d[12:]))/256
		default:
			c.table = tableFrom16(d[12:], int(n))
		}
		return c, 12 + 2*int(n), nil
	case "para":
		form := int(binary.BigEndian.Uint16(d[8:]))
		if form >= len(curveParameters) || len(d) < 12+4*curveParameters[form] {
			return nil, 0, errCurve
		}
		c.form = form
		for i := range curveParameters[form] {
			c.p[i] = s15Fixed16(d[12+4*i:])
		}
		return c, 12 + 4*curveParameters[form], nil
	}
	return nil, 0, errCurve
}

func tableFrom16(d []byte, n int) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(binary.BigEndian.Uint16(d[2*i:])) / 65535
	}
	return t
}

func tableFrom8(d []byte, n int) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(d[i]) / 255
	}
	return t
}

func (c *iccCurve) identity() bool { return c.table == nil && c.form < 0 }

func (c *iccCurve) at(x float64) float64 {
	if c.table != nil {
		return lineThrough(c.table, x)
	}
	if c.form < 0 {
		return x
	}
	if l := int(float64(x*255) + 0.5); l >= 0 && l < 256 && float64(l)/255 == x {
		c.once.Do(func() {
			for i := range c.level {
				c.level[i] = c.formula(float64(i) / 255)
			}
		})
		return c.level[l]
	}
	return c.formula(x)
}

// lineThrough interpolates between neighbours of a table over 0..1.
func lineThrough(t []float64, x float64) float64 {
	last := len(t) - 1
	x = float64(unitOf(x) * float64(last))
	i := int(x)
	if i >= last {
		return t[last]
	}
	return t[i] + float64((x-float64(i))*(t[i+1]-t[i]))
}

// formula is one of the five of 10.18: g, then a b c d e f.
func (c *iccCurve) formula(x float64) float64 {
	p := &c.p
	power := func() float64 {
		base := float64(p[1]*x) + p[2]
		if c.form == 0 {
			base = x
		}
		if base <= 0 {
			return 0
		}
		return settle(finite(math.Pow(base, p[0])))
	}
	switch c.form {
	case 0:
		return power()
	case 1:
		return power() // 0 below -b/a
	case 2:
		return power() + p[3]
	case 3:
		if x >= p[4] {
			return power()
		}
		return float64(p[3] * x)
	default:
		if x >= p[4] {
			return power() + p[5]
		}
		return float64(p[3]*x) + p[6]
	}
}

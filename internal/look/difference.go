package look

import (
	"math"

	"laydown/internal/press"
)

// Difference is the colour difference CIEDE2000 with kL = kC = kH = 1 (ISO/CIE 11664-6; Sharma,
// Wu and Dalal 2005).
func Difference(p, q press.Lab) float64 {
	const pow7 = 25 * 25 * 25 * 25 * 25 * 25 * 25.0
	c1, c2 := math.Hypot(p[1], p[2]), math.Hypot(q[1], q[2])
	cm := math.Pow((c1+c2)/2, 7)
	g := 0.5 * (1 - math.Sqrt(cm/(cm+pow7)))
	a1, a2 := p[1]*(1+g), q[1]*(1+g)
	c1, c2 = math.Hypot(a1, p[2]), math.Hypot(a2, q[2])
	h1, h2 := hueDegrees(a1, p[2]), hueDegrees(a2, q[2])

	dL, dC := q[0]-p[0], c2-c1
	grey := c1*c2 == 0
	// Opposite hues are 180 apart but for rounding; the published pairs take them as not more.
	const slack = 1e-9
	dh, hm := h2-h1, h1+h2
	switch {
	case grey:
		dh = 0
	case math.Abs(h1-h2) <= 180+slack:
		hm /= 2
	default:
		if hm < 360 {
			hm += 360
		} else {
			hm -= 360
		}
		hm /= 2
		if dh > 0 {
			dh -= 360
		} else {
			dh += 360
		}
	}
	dH := 2 * math.Sqrt(c1*c2) * sinDeg(dh/2)

	lm, cMean := (p[0]+q[0])/2, (c1+c2)/2
	t := 1 - 0.17*cosDeg(hm-30) + 0.24*cosDeg(2*hm) + 0.32*cosDeg(3*hm+6) - 0.20*cosDeg(4*hm-63)
	turn := (hm - 275) / 25
	cm = math.Pow(cMean, 7)
	rc := 2 * math.Sqrt(cm/(cm+pow7))
	l50 := (lm - 50) * (lm - 50)
	sl := 1 + 0.015*l50/math.Sqrt(20+l50)
	sc := 1 + 0.045*cMean
	sh := 1 + 0.015*cMean*t
	rt := -sinDeg(60*math.Exp(-turn*turn)) * rc
	l, c, h := dL/sl, dC/sc, dH/sh
	return math.Sqrt(max(0, l*l+c*c+h*h+rt*c*h))
}

func hueDegrees(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

func sinDeg(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosDeg(d float64) float64 { return math.Cos(d * math.Pi / 180) }

package paint

import (
	"math"

	"laydown/internal/artwork/displist"
)

// separableBlend is B(cb, cs) of Table 134, additive.
func separableBlend(mode displist.Blend, cb, cs float64) float64 {
	switch mode {
	case displist.Multiply:
		return float64(cb * cs)
	case displist.Screen:
		return cb + cs - float64(cb*cs)
	case displist.Overlay:
		return hardLight(cs, cb)
	case displist.Darken:
		return min(cb, cs)
	case displist.Lighten:
		return max(cb, cs)
	case displist.ColorDodge:
		switch {
		case cb <= 0:
			return 0
		case cb >= 1-cs:
			return 1
		}
		return cb / (1 - cs)
	case displist.ColorBurn:
		switch {
		case cb >= 1:
			return 1
		case 1-cb >= cs:
			return 0
		}
		return 1 - (1-cb)/cs
	case displist.HardLight:
		return hardLight(cb, cs)
	case displist.SoftLight:
		return softLight(cb, cs)
	case displist.Difference:
		return math.Abs(cb - cs)
	case displist.Exclusion:
		return cb + cs - float64(2*float64(cb*cs))
	}
	return cs
}

func hardLight(cb, cs float64) float64 {
	if cs <= 0.5 {
		return float64(cb * float64(2*cs))
	}
	t := float64(2*cs) - 1
	return cb + t - float64(cb*t)
}

func softLight(cb, cs float64) float64 {
	t := float64(2*cs) - 1
	if cs <= 0.5 {
		return cb + float64(float64(t*cb)*(1-cb))
	}
	d := math.Sqrt(cb)
	if cb <= 0.25 {
		d = float64((float64((float64(16*cb)-12)*cb) + 4) * cb)
	}
	return cb + float64(t*(d-cb))
}

// colourTints replaces backdrop tints cb, three components, by B(cb, cs).
func colourTints(mode displist.Blend, cb, cs [][]float64) {
	b0, s0 := cb[0], cs[0][:len(cb[0])]
	b1, s1 := cb[1][:len(b0)], cs[1][:len(b0)]
	b2, s2 := cb[2][:len(b0)], cs[2][:len(b0)]
	for i := range b0 {
		v := nonSeparableBlend(mode, rgb{1 - b0[i], 1 - b1[i], 1 - b2[i]}, rgb{1 - s0[i], 1 - s1[i], 1 - s2[i]})
		b0[i], b1[i], b2[i] = 1-max(0, min(1, v.r)), 1-max(0, min(1, v.g)), 1-max(0, min(1, v.b))
	}
}

// grayTints is colourTints for gray, which counts as a colour of three equal components.
func grayTints(mode displist.Blend, cb, cs []float64) {
	for i, b := range cb {
		v := nonSeparableBlend(mode, rgb{1 - b, 1 - b, 1 - b}, rgb{1 - cs[i], 1 - cs[i], 1 - cs[i]})
		cb[i] = 1 - max(0, min(1, v.r))
	}
}

// rgb is an additive colour. It is no array, since the compiler keeps fields in registers.
type rgb struct{ r, g, b float64 }

func nonSeparableBlend(mode displist.Blend, cb, cs rgb) rgb {
	switch mode {
	case displist.Hue:
		return setLum(setSat(cs, sat(cb)), lum(cb))
	case displist.Saturation:
		return setLum(setSat(cb, sat(cs)), lum(cb))
	case displist.Color:
		return setLum(cs, lum(cb))
	}
	return setLum(cb, lum(cs))
}

func lum(c rgb) float64 {
	return float64(.3*c.r) + float64(.59*c.g) + float64(.11*c.b)
}

func sat(c rgb) float64 { return max(c.r, c.g, c.b) - min(c.r, c.g, c.b) }

func setLum(c rgb, l float64) rgb {
	d := l - lum(c)
	return clipColour(rgb{c.r + d, c.g + d, c.b + d})
}

func clipColour(c rgb) rgb {
	l, lo, hi := lum(c), min(c.r, c.g, c.b), max(c.r, c.g, c.b)
	if lo < 0 && l > lo {
		to := func(v float64) float64 { return l + float64((v-l)*l)/(l-lo) }
		c = rgb{to(c.r), to(c.g), to(c.b)}
	}
	if hi > 1 && hi > l {
		to := func(v float64) float64 { return l + float64((v-l)*(1-l))/(hi-l) }
		c = rgb{to(c.r), to(c.g), to(c.b)}
	}
	return c
}

func setSat(c rgb, s float64) rgb {
	lo, hi := min(c.r, c.g, c.b), max(c.r, c.g, c.b)
	if hi <= lo {
		return rgb{}
	}
	to := func(v float64) float64 { return float64((v-lo)*s) / (hi - lo) }
	return rgb{to(c.r), to(c.g), to(c.b)}
}

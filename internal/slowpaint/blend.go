package slowpaint

import (
	"math"

	"laydown/internal/artwork/displist"
)

// Blend is B(cb, cs) of a separable mode for one component, additive, 0..1 (ISO 32000-2, Table 134).
func Blend(mode displist.Blend, cb, cs float64) float64 {
	switch mode {
	case displist.Normal:
		return cs
	case displist.Multiply:
		return cb * cs
	case displist.Screen:
		return cb + cs - float64(cb*cs)
	case displist.Overlay:
		return Blend(displist.HardLight, cs, cb)
	case displist.Darken:
		return math.Min(cb, cs)
	case displist.Lighten:
		return math.Max(cb, cs)
	case displist.ColorDodge:
		switch {
		case cb == 0:
			return 0
		case cb >= 1-cs:
			return 1
		}
		return cb / (1 - cs)
	case displist.ColorBurn:
		switch {
		case cb == 1:
			return 1
		case 1-cb >= cs:
			return 0
		}
		return 1 - (1-cb)/cs
	case displist.HardLight:
		if cs <= 0.5 {
			return Blend(displist.Multiply, cb, 2*cs)
		}
		return Blend(displist.Screen, cb, float64(2*cs)-1)
	case displist.SoftLight:
		if cs <= 0.5 {
			return cb - float64(float64((1-float64(2*cs))*cb)*(1-cb))
		}
		d := math.Sqrt(cb)
		if cb <= 0.25 {
			d = float64((float64((float64(16*cb)-12)*cb) + 4) * cb)
		}
		return cb + float64((float64(2*cs)-1)*(d-cb))
	case displist.Difference:
		return math.Abs(cb - cs)
	case displist.Exclusion:
		return cb + cs - float64(2*cb*cs)
	}
	panic("not a separable mode: " + mode.String())
}

type rgb [3]float64

func lum(c rgb) float64 { return float64(0.30*c[0]) + float64(0.59*c[1]) + float64(0.11*c[2]) }

func sat(c rgb) float64 { return max(c[0], c[1], c[2]) - min(c[0], c[1], c[2]) }

func clipColour(c rgb) rgb {
	l, n, x := lum(c), min(c[0], c[1], c[2]), max(c[0], c[1], c[2])
	if n < 0 {
		for i := range c {
			c[i] = l + float64((c[i]-l)*l)/(l-n)
		}
	}
	if x > 1 {
		for i := range c {
			c[i] = l + float64((c[i]-l)*(1-l))/(x-l)
		}
	}
	return c
}

func setLum(c rgb, l float64) rgb {
	d := l - lum(c)
	return clipColour(rgb{c[0] + d, c[1] + d, c[2] + d})
}

func setSat(c rgb, s float64) rgb {
	n, x := min(c[0], c[1], c[2]), max(c[0], c[1], c[2])
	if x == n {
		return rgb{}
	}
	for i := range c {
		c[i] = (c[i] - n) * s / (x - n)
	}
	return c
}

// BlendRGB is B(cb, cs) of a non-separable mode, additive (Table 135 and 11.3.5.3).
func BlendRGB(mode displist.Blend, cb, cs [3]float64) [3]float64 {
	b, s := rgb(cb), rgb(cs)
	switch mode {
	case displist.Hue:
		return setLum(setSat(s, sat(b)), lum(b))
	case displist.Saturation:
		return setLum(setSat(b, sat(s)), lum(b))
	case displist.Color:
		return setLum(s, lum(b))
	case displist.Luminosity:
		return setLum(b, lum(s))
	}
	panic("a separable mode: " + mode.String())
}

// BlendAll is B for all components, additive: the first process of them are those of the blending
// space (1 gray, 3 RGB, 4 CMYK complemented), the rest are spots. Spots take part only in separable
// white-preserving modes and are composited with Normal otherwise (11.7.4.2).
func BlendAll(mode displist.Blend, process int, cb, cs []float64) []float64 {
	out := make([]float64, len(cb))
	for i := range out {
		switch {
		case i >= process && !mode.WhitePreserving():
			out[i] = cs[i]
		case mode.Separable():
			out[i] = Blend(mode, cb[i], cs[i])
		}
	}
	if mode.Separable() {
		return out
	}
	// Gray has neither hue nor saturation: as three equal components.
	three := func(c []float64) [3]float64 {
		if process == 1 {
			return [3]float64{c[0], c[0], c[0]}
		}
		return [3]float64{c[0], c[1], c[2]}
	}
	r := BlendRGB(mode, three(cb), three(cs))
	copy(out[:min(process, 3)], r[:])
	if process == 4 {
		// Black is the backdrop's, or the source's for Luminosity.
		out[3] = cb[3]
		if mode == displist.Luminosity {
			out[3] = cs[3]
		}
	}
	return out
}

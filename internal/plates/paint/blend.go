package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/plates/separate"
)

// colourAt is the source colour of component c at run pixel i as a tint 0..1. What an item leaves
// is the backdrop: with a blend mode the item counts as a group painted with CompatibleOverprint
// (11.7.4.3), whose colour there is the backdrop's.
func (r *rowWork) colourAt(c, i int) float64 {
	if r.effect(c) == separate.Leave {
		if r.pb[c] == nil {
			return 0
		}
		return float64(r.pb[c][i]) / full
	}
	if r.s == nil || r.s.px == nil {
		return float64(r.b.values[c]) / full
	}
	if r.s.px[c] == nil {
		return 0
	}
	if r.s.alpha == nil {
		return float64(r.s.px[c][i]) / full
	}
	return ratio(r.s.px[c][i], r.s.alpha[i])
}

// backdropAt is the backdrop colour as a tint; alpha 0 has none and gives 0.
func (r *rowWork) backdropAt(c, i int) float64 {
	if r.pb[c] == nil {
		return 0
	}
	return ratio(r.pb[c][i], r.ab[i])
}

func ratio(p, a uint16) float64 {
	if p >= a {
		if a == 0 {
			return 0
		}
		return 1
	}
	return float64(p) / float64(a)
}

// put composites one pixel whose blended tint is bt and source tint cs.
func (r *rowWork) put(v uint16, i int, cs, bt float64) uint16 {
	ab := float64(r.ab[i]) / full
	x := float64((1-ab)*cs) + float64(ab*bt)
	sum := float64(float64(v)*float64(full-r.k[i])) + float64(float64(r.as[i])*float64(x*full))
	return uint16(min(sum/full, full) + 0.5)
}

// exact composites component c with one of the modes that need no division when tints are
// premultiplied: what is added, as*X, is a polynomial in them. It is computed in integers and rounded once.
// With S = as*cs and D = ab*cb, as tints:
//
//	Multiply  S + D*(as - S)
//	Screen    S*(1 - ab + D)
//	Darken    S*(1-ab) + max(as*D, ab*S)
//	Lighten   S*(1-ab) + min(as*D, ab*S)
func (r *rowWork) exact(c int, row []uint16) {
	const none = 1 << 63
	n := len(row)
	rowAs, rowK, rowAb, rowM := r.as[:n], r.k[:n], r.ab[:n], r.m[:n]
	var px, pb []uint16
	flat := r.s == nil || r.s.px == nil
	if !flat {
		px = r.s.px[c]
	}
	value := uint64(0)
	if flat {
		value = uint64(r.b.values[c])
	}
	pb = r.pb[c]
	mode := r.b.blend
	// Neighbours are often alike: the last result is kept with all it was made of.
	key, key2, last := uint64(none), uint64(0), uint16(0)
	for i, v := range row {
		as, k, ab := uint64(rowAs[i]), uint64(rowK[i]), uint64(rowAb[i])
		if as|k == 0 {
			continue
		}
		var s, d uint64
		if flat {
			s = as * value
		} else if px != nil {
			s = min(uint64(rowM[i])*uint64(px[i]), as*full)
		}
		if pb != nil {
			d = min(uint64(pb[i]), ab)
		}
		if q, q2 := s<<16|d, uint64(v)<<48|as<<32|k<<16|ab; q == key && q2 == key2 {
			row[i] = last
			continue
		} else {
			key, key2 = q, q2
		}
		var add uint64
		switch mode {
		case displist.Multiply:
			add = s*full + d*(as*full-s)
		case displist.Screen:
			add = s * (full - ab + d)
		case displist.Darken:
			add = s*(full-ab) + max(as*d*full, ab*s)
		default:
			add = s*(full-ab) + min(as*d*full, ab*s)
		}
		last = uint16(min((uint64(v)*(full-k)*full+add+full*full/2)/(full*full), full))
		row[i] = last
	}
}

// separable composites component c with a separable mode.
func (r *rowWork) separable(c int) {
	mode := r.b.blend
	quiet := mode.WhitePreserving() && r.pb[c] == nil && r.noColour(c)
	row := r.row(c, !quiet)
	if row == nil {
		return
	}
	switch mode {
	case displist.Multiply, displist.Screen, displist.Darken, displist.Lighten:
		if r.effect(c) != separate.Leave {
			r.exact(c, row)
			r.store(c, row)
			return
		}
	}
	for i, v := range row {
		if r.as[i] == 0 && r.k[i] == 0 {
			continue
		}
		cs := r.colourAt(c, i)
		row[i] = r.put(v, i, cs, 1-separableBlend(mode, 1-r.backdropAt(c, i), 1-cs))
	}
	r.store(c, row)
}

// noColour reports whether the source has no toner of component c.
func (r *rowWork) noColour(c int) bool {
	if r.effect(c) == separate.Leave {
		return true // pb decides
	}
	if r.s != nil && r.s.px != nil {
		return r.s.px[c] == nil
	}
	return r.b.values[c] == 0
}

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

// nonSeparable composites the process components with one of the modes of Table 135. CMYK is
// complemented to RGB; its black comes from the backdrop, for Luminosity from the source (11.3.5.3).
func (r *rowWork) nonSeparable(process int) {
	rows := make([][]uint16, process)
	for c := range rows {
		rows[c] = r.row(c, true)
	}
	for i := range r.n {
		if r.as[i] == 0 && r.k[i] == 0 {
			continue
		}
		var cs, cb [4]float64
		for c := range rows {
			cs[c], cb[c] = r.colourAt(c, i), r.backdropAt(c, i)
		}
		out := nonSeparableTints(r.b.blend, process, cb, cs)
		for c, row := range rows {
			row[i] = r.put(row[i], i, cs[c], out[c])
		}
	}
	for c, row := range rows {
		r.store(c, row)
	}
}

// nonSeparableTints is B of tints cb, cs with 1, 3 or 4 components.
func nonSeparableTints(mode displist.Blend, n int, cb, cs [4]float64) (out [4]float64) {
	rgb := func(t [4]float64) [3]float64 {
		if n == 1 {
			return [3]float64{1 - t[0], 1 - t[0], 1 - t[0]}
		}
		return [3]float64{1 - t[0], 1 - t[1], 1 - t[2]}
	}
	v := nonSeparableBlend(mode, rgb(cb), rgb(cs))
	for c := range min(n, 3) {
		out[c] = 1 - max(0, min(1, v[c]))
	}
	if n == 4 {
		out[3] = cb[3]
		if mode == displist.Luminosity {
			out[3] = cs[3]
		}
	}
	return out
}

func nonSeparableBlend(mode displist.Blend, cb, cs [3]float64) [3]float64 {
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

func lum(c [3]float64) float64 {
	return float64(.3*c[0]) + float64(.59*c[1]) + float64(.11*c[2])
}

func sat(c [3]float64) float64 { return max(c[0], c[1], c[2]) - min(c[0], c[1], c[2]) }

func setLum(c [3]float64, l float64) [3]float64 {
	d := l - lum(c)
	for i := range c {
		c[i] += d
	}
	return clipColour(c)
}

func clipColour(c [3]float64) [3]float64 {
	l, lo, hi := lum(c), min(c[0], c[1], c[2]), max(c[0], c[1], c[2])
	if lo < 0 && l > lo {
		for i := range c {
			c[i] = l + float64((c[i]-l)*l)/(l-lo)
		}
	}
	if hi > 1 && hi > l {
		for i := range c {
			c[i] = l + float64((c[i]-l)*(1-l))/(hi-l)
		}
	}
	return c
}

func setSat(c [3]float64, s float64) [3]float64 {
	lo, hi := min(c[0], c[1], c[2]), max(c[0], c[1], c[2])
	if hi <= lo {
		return [3]float64{}
	}
	for i := range c {
		c[i] = float64((c[i]-lo)*s) / (hi - lo)
	}
	return c
}

package look

import "math"

// The lobe of a rough surface or of many small mirrors: microfacets after Trowbridge and Reitz (GGX), masked after
// Smith (height-correlated), Fresnel after Schlick. f_r = D V F, per steradian. Walter and others, Microfacet models
// for refraction through rough surfaces, EGSR 2007; Schlick, Computer Graphics Forum 13(3), 1994.

// ggx is D V for a lobe of width alpha: nl, nv, nh are the cosines from the normal to the lamp, to the viewer and to
// half-way between them. It is 0 where lamp or viewer are below the surface.
func ggx(alpha, nl, nv, nh float64) float64 {
	if nl <= 0 || nv <= 0 {
		return 0
	}
	a2 := alpha * alpha
	// 1 - (n.h)^2 + a2 (n.h)^2 as 1 - (n.h)^2 (1 - a2).
	q := 1 - float64(nh*nh*(1-a2))
	d := a2 / (math.Pi * q * q)
	v := float64(nl*math.Sqrt(float64(nv*nv*(1-a2))+a2)) + float64(nv*math.Sqrt(float64(nl*nl*(1-a2))+a2))
	return d * 0.5 / v
}

// schlick is the share reflected at the cosine vh between viewer and half-way, f0 being that at normal incidence.
func schlick(f0, vh float64) float64 {
	c := 1 - vh
	return f0 + float64((1-f0)*c*c*c*c*c)
}

// aspecularFactor is pi f_r (a radiance factor: 1 for a perfect diffuser) of a lobe of width alpha that reflects all,
// lamp at 45 degrees, viewer so many degrees from the mirror direction towards the lamp (ASTM E2194). 45 is straight
// above: what a 45/0 instrument sees.
func aspecularFactor(alpha, aspecular float64) float64 {
	const lamp = -math.Pi / 4
	view := (45 - aspecular) * math.Pi / 180
	return math.Pi * ggx(alpha, math.Cos(lamp), math.Cos(view), math.Cos((lamp+view)/2))
}

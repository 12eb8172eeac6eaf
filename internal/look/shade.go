package look

import "math"

// What a surface sends to the viewer: a diffuse part that is the same from everywhere, the lobe of the flakes and the
// lobe of the top surface. The reduction rule ties them to what was measured: the diffuse part is the 45/0 colour less
// what both lobes send there, so that under the measuring lamp the sum is the 45/0 colour again, whatever the widths.
// It may be below 0 in a primary where a colour is more vivid than the screen's.

// coatF0 is the reflection of the top surface at normal incidence (refractive index 1.5).
const coatF0 = 0.04

// coatMost is the largest share of the 45/0 luminance that the coat's lobe may be: a rough coat on a very dark colour
// would reflect more than was measured.
const coatMost = 0.9

// measuring is the geometry of 45/0.
var measuring = func() geometry {
	half := math.Sqrt((1 + cos45) / 2)
	return geometry{nl: cos45, nv: 1, nh: half, vh: half, fall: 1}
}()

// shine is a Surface ready for any lamp.
type shine struct {
	r45     [3]float64
	diffuse [3]float64
	metal   [3]float64
	share   float64 // of the area with flakes in sight
	flakes  float64 // width of their lobe
	coat    float64 // amplitude, 1 where coatMost does not limit it
	gloss   float64 // width of the coat's lobe
}

// The widths are kept off 0: a mirror has no lobe.
const leastAlpha = 0.01

func newShine(s *Surface) shine {
	h := shine{share: float64(s.MetalShare), flakes: max(float64(s.MetalAlpha), leastAlpha), coat: 1, gloss: max(float64(s.CoatAlpha), leastAlpha)}
	for c := range h.metal {
		h.r45[c], h.metal[c] = float64(s.R45[c]), max(float64(s.Metal[c]), 0)
	}
	left := h.r45
	if h.metal != [3]float64{} {
		lobe := h.flakeLobe(&measuring, 0)
		for c, v := range lobe {
			if most := max(h.r45[c], 0); v > most {
				h.metal[c] *= most / v
			}
		}
		for c, v := range h.flakeLobe(&measuring, 0) {
			left[c] -= v
		}
	}
	light := float64(0.2126*left[0]) + float64(0.7152*left[1]) + float64(0.0722*left[2])
	if lobe := h.coatLobe(&measuring, 0); lobe > coatMost*light {
		h.coat = max(0, coatMost*light/lobe)
	}
	lobe := h.coatLobe(&measuring, 0)
	for c := range h.diffuse {
		h.diffuse[c] = left[c] - lobe
	}
	return h
}

// widened is pi D V of a lobe under a lamp that fills some angle (widening is half its tangent).
func widened(alpha, widening float64, g *geometry) float64 {
	wide := min(1, alpha+widening)
	return math.Pi * ggx(wide, g.nl, g.nv, g.nh) * (alpha / wide) * (alpha / wide)
}

// flakeLobe is the radiance factor of the flakes. Towards grazing angles they reflect all colours.
func (h *shine) flakeLobe(g *geometry, widening float64) (v [3]float64) {
	lobe := widened(h.flakes, widening, g)
	c := 1 - g.vh
	grazing := c * c * c * c * c
	for i, m := range h.metal {
		if m > 0 {
			v[i] = lobe * (m + float64(max(h.share-m, 0)*grazing))
		}
	}
	return v
}

// coatLobe is the radiance factor of the top surface.
func (h *shine) coatLobe(g *geometry, widening float64) float64 {
	return h.coat * schlick(coatF0, g.vh) * widened(h.gloss, widening, g)
}

// sent is the light that a place sends to the viewer: without the flakes, from the flakes before glint, and the knee of
// the tone curve.
type sent struct {
	base, flakes [3]float64
	knee         float64
}

// albedo is about the share of even light that a lobe of amplitude 1 sends straight up; 1 - 1.3 alpha^2 is within 0.015
// of the integral of the lobe for widths up to 0.5.
func albedo(alpha float64) float64 { return max(0.35, 1-float64(1.3*alpha*alpha)) }

func (m *lamp) shade(h *shine, g *geometry) (s sent) {
	coat, flakes := 0.0, [3]float64{}
	if g.fall > 0 {
		coat = h.coatLobe(g, m.widening)
		if h.share > 0 {
			flakes = h.flakeLobe(g, m.widening)
		}
	}
	for c := range s.base {
		s.base[c] = float64((h.diffuse[c] + coat) * g.fall)
		s.flakes[c] = float64(flakes[c] * g.fall)
		if m.Ambient > 0 {
			all := h.diffuse[c] + float64(h.metal[c]*albedo(h.flakes)) + float64(coatF0*h.coat)
			s.base[c] += float64(m.Ambient * all)
		}
	}
	s.knee = max(toneKnee, max(h.r45[0], h.r45[1], h.r45[2])*(g.fall+m.Ambient))
	return s
}

// toneKnee is where highlights start to be compressed.
const toneKnee = 0.85

// tone compresses what shines above the knee towards 1, keeping the ratios of the primaries. The knee lies above what
// the sheet reflects without shine, so that colours as measured are never touched.
func tone(v [3]float64, knee float64) [3]float64 {
	x := max(v[0], v[1], v[2])
	room := 1 - knee
	if x <= knee || room <= 0 {
		return v
	}
	y := knee + float64(room*(1-math.Exp((knee-x)/room)))
	for c := range v {
		v[c] *= y / x
	}
	return v
}

package look

import (
	"math"
	"sync"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// The interface between air and a layer, after Saunderson: internal = below the surface.
//
//	R = k0 + (1-k1)(1-k2) Ri / (1 - k2 Ri)
//
// k1 follows from a refractive index of 1.5, k2 is what diffuse light loses on its way out. k0 is
// the part of the front reflection that a 45/0 instrument still catches: little from a glossy
// surface, more from a matte one.
const (
	k1 = 0.04
	k2 = 0.6
)

func measuredFromInternal(ri, k0 float64) float64 {
	return k0 + (1-k1)*(1-k2)*ri/(1-float64(k2*ri))
}

// internalFromMeasured stays within what a layer can be: some colours given are brighter than a
// diffuser or darker than the surface alone.
func internalFromMeasured(r, k0 float64) float64 {
	return min(max((r-k0)/((1-k1)*(1-k2)+float64(k2*(r-k0))), 1e-5), 0.9999)
}

// ground is a measured surface taken below its interface. k0 stays under the darkest band, or the ground would have to
// be darker than black.
func ground(r *spectrum, k0 float64) (g spectrum, k0Used float64) {
	k0 = min(k0, 0.9*r.least())
	for b := range g {
		g[b] = internalFromMeasured(r[b], k0)
	}
	return g, k0
}

// The grounds toners are measured on, below their surface: white of Lab 95 0 -2 (gloss), black of Lab 17 0 1 (matte).
// Made when first asked for: commands that show nothing need not wait for them.
var (
	referenceWhite = sync.OnceValue(func() *spectrum { g := groundOfLab(press.Lab{95, 0, -2}, 0.003); return &g })
	referenceBlack = sync.OnceValue(func() *spectrum { g := groundOfLab(press.Lab{17, 0, 1}, 0.010); return &g })
)

func groundOfLab(c press.Lab, k0 float64) spectrum {
	r, _ := lift(c)
	g, _ := ground(&r, k0)
	return g
}

// layerRT is a Kubelka-Munk layer of finite thickness: its reflectance over a perfect black and its
// transmittance.
func layerRT(k, s float64) (r0, t float64) {
	if s < 1e-9 {
		return 0, math.Exp(-k)
	}
	a := 1 + k/s
	b := math.Sqrt(max(float64(a*a)-1, 0))
	x := b * s
	if x < 1e-7 { // no absorption
		return s / (1 + s), 1 / (1 + s)
	}
	if x > 300 {
		return 1 / (a + b), 0
	}
	sh, ch := math.Sinh(x), math.Cosh(x)
	d := float64(a*sh) + float64(b*ch)
	return sh / d, b / d
}

// over is the reflectance of a layer on ground g.
func over(r0, t, g float64) float64 { return r0 + t*t*g/(1-float64(r0*g)) }

// layerKS inverts layerRT.
func layerKS(r0, t float64) (k, s float64) {
	t = max(t, 1e-6)
	if r0 < 1e-6 {
		return -math.Log(min(t, 1)), r0
	}
	a := max((1+float64(r0*r0)-float64(t*t))/(2*r0), 1)
	b := math.Sqrt(float64(a*a) - 1)
	if b < 1e-6 {
		return 0, r0 / (1 - r0)
	}
	// sinh and cosh of x = b s follow from r0 and t.
	s = math.Asinh(b*r0/t) / b
	return s * (a - 1), s
}

// film is one layer of toner, or a sheet light passes through. Absorption and scatter are those of the whole layer
// (K X and S X).
type film struct {
	k, s   spectrum
	r0, t  spectrum // reflectance on black and transmittance, at full thickness
	direct spectrum // transmittance for light that goes straight on
	k0     float64  // surface reflection caught at 45/0
	coat   float64  // width of the surface's lobe
	kind   colourant.Kind
	open   float64 // share of the area whose surface is that of what lies below: between the dots of a tint
	rigid  bool    // an opaque metal: r0 and t hold at any thickness
	flakes *flakes
	glow   *glow
}

// fill makes reflectance and transmittance of absorption and scatter. Light that stays straight is lost to both: a
// diffuse flux scattered backwards by S is scattered backwards and forwards by 2 S.
func (f *film) fill() {
	for b := range f.k {
		f.r0[b], f.t[b] = layerRT(f.k[b], f.s[b])
		f.direct[b] = math.Exp(-f.k[b] - float64(2*f.s[b]))
	}
}

// thinned is the film at share c of its thickness.
func (f *film) thinned(c float64) *film {
	if f.rigid || c == 1 {
		return f
	}
	g := *f
	for b := range g.k {
		g.k[b] *= c
		g.s[b] *= c
	}
	g.fill()
	return &g
}

// surface is that of the film on a surface below.
func (f *film) surface(below gloss) gloss {
	return gloss{f.k0 + float64(f.open*(below.k0-f.k0)), f.coat + float64(f.open*(below.alpha-f.coat))}
}

func (f *film) over(g *spectrum) (r spectrum) {
	for b := range r {
		r[b] = over(f.r0[b], f.t[b], g[b])
	}
	return r
}

func measured(ri *spectrum, k0 float64) (r spectrum) {
	for b := range r {
		r[b] = measuredFromInternal(ri[b], k0)
	}
	return r
}

// contrast is the contrast ratio of a film: Y over the reference black to Y over the white, glow left out.
func (f *film) contrast() float64 {
	on := func(g *spectrum) float64 {
		ri := f.over(g)
		r := measured(&ri, f.k0)
		return r.luminance()
	}
	return on(referenceBlack()) / on(referenceWhite())
}

// fromTwoGrounds takes reflectance and transmittance from the solid on white and on black, below the surface: the two
// layer equations are linear in r0.
func (f *film) fromTwoGrounds(rw, rb *spectrum) {
	for b := range rw {
		gw, gb := referenceWhite()[b], referenceBlack()[b]
		dark := min(rb[b], rw[b])
		r0 := (rw[b]/gw - dark/gb) / ((1/gw + rw[b]) - (1/gb + dark))
		r0 = min(max(r0, 0), 0.9999)
		t2 := (rw[b] - r0) * (1 - float64(r0*gw)) / gw
		t2 = min(max(t2, 0), (1-r0)*(1-r0))
		f.k[b], f.s[b] = layerKS(r0, math.Sqrt(t2))
	}
	f.fill()
}

// fromWhite finds the absorption that gives the solid's colour on white, scatter being known.
func (f *film) fromWhite(rw, shape *spectrum, scatter float64) {
	for b := range rw {
		f.s[b] = scatter * shape[b]
		f.k[b] = absorptionFor(rw[b], f.s[b], referenceWhite()[b])
	}
	f.fill()
}

// mostAbsorption a layer is given: nothing comes back through it.
const mostAbsorption = 60

// absorptionFor finds K X at which a layer of scatter s on ground g reflects r: false position, the end that stays
// halved in weight (Illinois method). Without absorption the layer may be darker than r already.
func absorptionFor(r, s, g float64) float64 {
	off := func(k float64) float64 {
		r0, t := layerRT(k, s)
		return over(r0, t, g) - r
	}
	lo, hi := 0.0, 1.0
	atLo := off(lo)
	if atLo <= 0 {
		return 0
	}
	atHi := off(hi)
	for atHi > 0 {
		if hi >= mostAbsorption {
			return mostAbsorption
		}
		lo, atLo = hi, atHi
		hi *= 3
		atHi = off(hi)
	}
	side := 0
	for range 100 {
		k := (float64(lo*atHi) - float64(hi*atLo)) / (atHi - atLo)
		at := off(k)
		switch {
		case at > 0:
			lo, atLo = k, at
			if side == 1 {
				atHi /= 2
			}
			side = 1
		case at < 0:
			hi, atHi = k, at
			if side == -1 {
				atLo /= 2
			}
			side = -1
		default:
			return k
		}
		if hi-lo < 1e-13*(1+hi) || math.Abs(at) < 1e-15 {
			return k
		}
	}
	return (lo + hi) / 2
}

// scatterFor finds the scatter at which the film has this contrast ratio.
func (f *film) scatterFor(rw, shape *spectrum, ratio float64) float64 {
	lo, hi := 0.0, 60.0
	for range 30 {
		s := (lo + hi) / 2
		g := *f
		g.fromWhite(rw, shape, s)
		if g.contrast() < ratio {
			lo = s
		} else {
			hi = s
		}
	}
	return (lo + hi) / 2
}

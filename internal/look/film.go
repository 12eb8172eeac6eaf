package look

import (
	"math"

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

// Surface reflection by gloss: of a toner, and of a bare stock.
func tonerK0(gloss string, kind colourant.Kind) float64 {
	switch gloss {
	case press.GlossMatte:
		return 0.010
	case press.GlossSatin:
		return 0.006
	case press.GlossHigh:
		return 0.002
	}
	switch kind {
	case colourant.Clear:
		return 0.002
	case colourant.Fluorescent:
		return 0.004
	}
	return 0.006
}

func stockK0(s *press.Stock) float64 {
	switch s.GlossWord() {
	case press.GlossHigh:
		return 0.003
	case press.GlossMatte:
		if s.Surface == press.SurfaceUncoated {
			return 0.020
		}
		return 0.010
	}
	return 0.006
}

// ground is a surface given as Lab, taken below its interface. k0 stays under the darkest band, or
// the ground would have to be darker than black.
func ground(c press.Lab, k0 float64) (g spectrum, k0Used, kept float64) {
	r, kept := lift(c)
	k0 = min(k0, 0.9*r.least())
	for b := range g {
		g[b] = internalFromMeasured(r[b], k0)
	}
	return g, k0, kept
}

// The grounds toners are measured on.
var (
	referenceWhite, _, _ = ground(press.Lab{95, 0, -2}, 0.003)
	referenceBlack, _, _ = ground(press.Lab{17, 0, 1}, 0.010)
)

// film is one layer of toner. Absorption and scatter are those of the whole layer (K X and S X).
type film struct {
	k, s  spectrum
	r0, t spectrum // reflectance on black and transmittance, at full thickness
	k0    float64
	kind  colourant.Kind
	rigid bool    // an opaque metal: r0 and t hold at any thickness
	kept  float64 // share of the given chroma a reflectance can have
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

func (f *film) fill() {
	for b := range f.k {
		f.r0[b], f.t[b] = layerRT(f.k[b], f.s[b])
	}
}

// thinned is the film at share c of its thickness.
func (f *film) thinned(c float64) film {
	if f.rigid || c == 1 {
		return *f
	}
	g := *f
	for b := range g.k {
		g.k[b] *= c
		g.s[b] *= c
	}
	g.fill()
	return g
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

// contrast is the contrast ratio of a film: Y over the reference black to Y over the white.
func (f *film) contrast() float64 {
	on := func(g *spectrum) float64 {
		ri := f.over(g)
		r := measured(&ri, f.k0)
		return r.xyz()[1]
	}
	return on(&referenceBlack) / on(&referenceWhite)
}

// Defaults by kind; invented figures that give usual looks. Process colours are rounded aims of
// coated printing.
var (
	whiteOnWhite  = press.Lab{94.5, -0.6, -0.3}
	silverOnWhite = press.Lab{58, 0, -1}
	pinkOnWhite   = press.Lab{67, 81, -2}
	processLook   = map[string]struct {
		onWhite press.Lab
		scatter float64
	}{
		colourant.Cyan:    {press.Lab{55, -37, -50}, 0.03},
		colourant.Magenta: {press.Lab{48, 74, -3}, 0.04},
		colourant.Yellow:  {press.Lab{89, -5, 93}, 0.08},
		colourant.Black:   {press.Lab{16, 0, 0}, 0.02},
	}
)

const (
	whiteScatter       = 3.2 // contrast ratio about 0.62
	fluorescentScatter = 0.25
	spotScatter        = 0.05
	clearAbsorption    = 0.004
	clearScatter       = 0.004
	metalTransmittance = 0.055 // flakes hide what is below
)

// scatterShape is how scatter falls with wavelength: white pigment scatters blue more.
func scatterShape(kind colourant.Kind) (shape spectrum) {
	for b := range shape {
		shape[b] = 1
		if kind == colourant.OpaqueWhite {
			shape[b] = math.Pow(550/wavelengths[b], 0.6)
		}
	}
	return shape
}

// filmOf derives the layer of a toner from what its definition tells, the rest by kind.
func filmOf(t *press.Toner) film {
	a := &t.Appearance
	f := film{kind: t.Kind, kept: 1, k0: tonerK0(a.Gloss, t.Kind)}
	if t.Kind == colourant.Clear {
		for b := range f.k {
			f.k[b], f.s[b] = clearAbsorption, clearScatter
		}
		f.fill()
		return f
	}
	onWhite, scatter := lookOf(t)
	rw, kept := lift(onWhite)
	f.kept = kept
	f.k0 = min(f.k0, 0.9*rw.least())
	for b := range rw {
		rw[b] = internalFromMeasured(rw[b], f.k0)
	}
	switch {
	case a.OnWhite != nil && a.OnBlack != nil:
		rb, _ := lift(*a.OnBlack)
		k0 := min(f.k0, 0.9*rb.least())
		for b := range rb {
			rb[b] = internalFromMeasured(rb[b], k0)
		}
		f.fromTwoGrounds(&rw, &rb)
	case t.Kind == colourant.Metallic && a.Opacity == 0:
		f.opaque(&rw)
	default:
		shape := scatterShape(t.Kind)
		if a.Opacity > 0 {
			scatter = f.scatterFor(&rw, &shape, float64(a.Opacity)/100)
		}
		f.fromWhite(&rw, &shape, scatter)
	}
	return f
}

// lookOf is the colour of the solid on white and its scatter, by kind where not given.
func lookOf(t *press.Toner) (press.Lab, float64) {
	c, scatter := silverOnWhite, spotScatter
	switch t.Kind {
	case colourant.OpaqueWhite:
		c, scatter = whiteOnWhite, whiteScatter
	case colourant.Fluorescent:
		c, scatter = pinkOnWhite, fluorescentScatter
	case colourant.Process:
		if l, ok := processLook[t.Name]; ok {
			c, scatter = l.onWhite, l.scatter
		}
	case colourant.Spot:
		c = standInLab(t.StandIn)
	}
	if t.Appearance.OnWhite != nil {
		c = *t.Appearance.OnWhite
	}
	return c, scatter
}

// fromTwoGrounds takes reflectance and transmittance from the solid on white and on black: the two
// layer equations are linear in r0.
func (f *film) fromTwoGrounds(rw, rb *spectrum) {
	for b := range rw {
		gw, gb := referenceWhite[b], referenceBlack[b]
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
		s := scatter * shape[b]
		lo, hi := 0.0, 60.0
		for range 60 {
			k := (lo + hi) / 2
			r0, t := layerRT(k, s)
			if over(r0, t, referenceWhite[b]) > rw[b] {
				lo = k
			} else {
				hi = k
			}
		}
		f.k[b], f.s[b] = (lo+hi)/2, s
	}
	f.fill()
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

// opaque makes a layer of metal flakes: it lets a fixed little through, and the rest of its colour
// is its own. On white: g r0^2 - (1 + Rw g) r0 + Rw - t^2 g = 0.
func (f *film) opaque(rw *spectrum) {
	f.rigid = true
	for b, r := range rw {
		g := referenceWhite[b]
		t2 := min(metalTransmittance*metalTransmittance, 0.9*r/g)
		p := 1 + float64(r*g)
		q := float64(p*p) - 4*g*(r-float64(t2*g))
		f.r0[b] = (p - math.Sqrt(max(q, 0))) / (2 * g)
		f.t[b] = math.Sqrt(t2)
	}
}

// standInLab is the colour a toner known by its stand-in alone would have on white.
func standInLab(cmyk [4]press.Percent) press.Lab {
	var layers []Layer
	var tints []uint8
	for i, name := range colourant.ProcessNames {
		layers = append(layers, Layer{&press.Toner{Name: name, Kind: colourant.Process}, i})
		tints = append(tints, uint8(math.Round(255*min(max(float64(cmyk[i])/100, 0), 1))))
	}
	m, err := NewModel(&press.Stock{Front: press.Lab{95, 0, -2}, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}, press.Front, layers)
	if err != nil {
		return press.Lab{50, 0, 0}
	}
	return m.Lab(tints)
}

package look

import (
	"math"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// Defaults by kind; invented figures that give usual looks. Process colours are rounded aims of
// coated printing.
var (
	whiteOnWhite  = press.Lab{94.5, -0.6, -0.3}
	silverOnWhite = press.Lab{58, 0, -1}
	goldOnWhite   = press.Lab{52, 5, 29}
	pinkOnWhite   = press.Lab{66.7, 80.9, -2.3} // glow included
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

// layerOf is the film of a toner and how it was come by.
type layerOf struct {
	film
	basis    Basis
	kept     float64 // share of the given chroma a layer can have
	flopFits bool    // the flop index given is that of the film
	missed   float64 // CIEDE2000 from the colour given on white to that of the film there

	characterised bool // shown by the characterisation of the process set
}

// filmOf derives the layer of a toner from what its definition tells, the rest by kind.
func filmOf(t *press.Toner) *layerOf {
	a := &t.Appearance
	surface := tonerGloss(a.Gloss, t.Kind)
	f := &layerOf{kept: 1, flopFits: true, basis: basisOf(a)}
	f.kind, f.k0, f.coat = t.Kind, surface.k0, surface.alpha
	white, black := f.aimsOf(t)
	switch {
	case t.Kind == colourant.Clear && white == nil:
		for b := range f.k {
			f.k[b], f.s[b] = clearAbsorption, clearScatter
		}
		f.fill()
	case t.Kind == colourant.OpaqueWhite && f.basis == KindOnly && a.Opacity == 0:
		for b := range f.k {
			nm := wavelengths[b]
			f.k[b] = 0.006 + 0.9/(1+math.Exp((nm-402)/6)) // the pigment's edge
			f.s[b] = whiteScatter * math.Pow(550/nm, 0.6)
		}
		f.fill()
	case t.Kind == colourant.Fluorescent:
		f.fluorescent(t, white, black)
	case t.Kind == colourant.Metallic:
		f.metallic(white, black, a.Metal)
	default:
		f.absorbing(t, white, black)
	}
	if white != nil || a.OnWhite != nil {
		aim := lookOf(t)
		if white != nil {
			aim = white.lab()
		}
		f.missed = Difference(aim, f.onWhite())
	}
	return f
}

// onWhite is the colour of the solid on the reference white, glow included.
func (f *film) onWhite() press.Lab {
	ri := f.over(referenceWhite())
	r := measured(&ri, f.k0)
	if f.glow != nil {
		e := f.glowOn(referenceWhite())
		for b := range r {
			r[b] += e[b]
		}
	}
	return r.lab()
}

// aimsOf are the reflectances of the solid on white and on black, as measured; black is nil when it is not known, white
// too for a clear.
func (f *layerOf) aimsOf(t *press.Toner) (white, black *spectrum) {
	a := &t.Appearance
	if sp := a.Spectra; sp != nil {
		return resampled(sp.From, sp.Step, sp.OnWhite), resampled(sp.From, sp.Step, sp.OnBlack)
	}
	if t.Kind == colourant.Fluorescent || t.Kind == colourant.Clear && a.OnWhite == nil {
		return nil, nil
	}
	rw, kept := lift(lookOf(t))
	f.kept = kept
	if a.OnWhite != nil && a.OnBlack != nil {
		rb, _ := lift(*a.OnBlack)
		return &rw, &rb
	}
	return &rw, nil
}

// resampled brings a list of reflectances to the fine bands: straight between values, level beyond the ends.
func resampled(from, step press.Wavelength, list []float64) *spectrum {
	if len(list) == 0 || !(step > 0) {
		return nil
	}
	var r spectrum
	for b := range r {
		at := (wavelengths[b] - float64(from)) / float64(step)
		at = min(max(at, 0), float64(len(list)-1))
		i := int(at)
		v := list[i]
		if i+1 < len(list) {
			v += float64((list[i+1] - v) * (at - float64(i)))
		}
		r[b] = v
	}
	return &r
}

// below takes both aims below the surface; k0 stays under the darkest band of each.
func (f *layerOf) below(white, black *spectrum) (rw, rb *spectrum) {
	f.k0 = min(f.k0, 0.9*white.least())
	if black != nil {
		f.k0 = min(f.k0, 0.9*black.least())
		r, _ := ground(black, f.k0)
		rb = &r
	}
	r, _ := ground(white, f.k0)
	return &r, rb
}

// absorbing fits absorption and scatter of a toner that neither shines nor glows.
func (f *layerOf) absorbing(t *press.Toner, white, black *spectrum) {
	rw, rb := f.below(white, black)
	if rb != nil {
		f.fromTwoGrounds(rw, rb)
		return
	}
	shape, scatter := scatterShape(t.Kind), usualScatter(t)
	if o := t.Appearance.Opacity; o > 0 {
		scatter = f.scatterFor(rw, &shape, float64(o)/100)
	}
	f.fromWhite(rw, &shape, scatter)
}

func (f *layerOf) metallic(white, black *spectrum, m *press.MetalLook) {
	rw, rb := f.below(white, black)
	if rb != nil {
		f.fromTwoGrounds(rw, rb)
		f.rigid = true
		f.direct = spectrum{}
	} else {
		f.opaque(rw)
	}
	alpha, diffuse, exact := lobeOf(m)
	f.flopFits = exact
	f.flakes = flakesOf(white, f.k0, alpha, diffuse)
}

func (f *layerOf) fluorescent(t *press.Toner, white, black *spectrum) {
	a := &t.Appearance
	aim := lookOf(t)
	if white != nil {
		aim = white.lab()
	}
	peak, yield := peakByHue(aim), defaultYield
	if g := a.Glow; g != nil && g.Peak > 0 {
		peak = float64(g.Peak)
	}
	given := a.Glow != nil && a.Glow.Yield > 0
	if given {
		yield = float64(a.Glow.Yield) / 100
	}
	f.glow = newGlow(peak, yield)
	scatter := scatterShape(f.kind)
	for b := range scatter {
		scatter[b] *= fluorescentScatter
	}
	if a.OnWhite == nil && white == nil && a.Glow == nil && a.Opacity == 0 {
		f.k, f.s = pinkAbsorption(), scatter
		f.fill()
		return
	}
	var shape *spectrum
	if looksPink(aim) {
		p := film{k: pinkAbsorption(), s: scatter}
		p.fill()
		ri := p.over(referenceWhite())
		r := measured(&ri, f.k0)
		shape = &r
	}
	goal := aims{white: white, black: black}
	if white == nil {
		xyz := xyzFromLab(aim)
		goal.whiteXYZ = &xyz
		if a.OnBlack != nil {
			xyz := xyzFromLab(*a.OnBlack)
			goal.blackXYZ = &xyz
		}
	}
	f.kept = f.glowing(goal, shape, &scatter, given)
	if a.Opacity > 0 && goal.black == nil && goal.blackXYZ == nil {
		f.glowingAtOpacity(goal, shape, float64(a.Opacity)/100)
	}
}

// usualScatter of a solid by kind and, for process toners, by name.
func usualScatter(t *press.Toner) float64 {
	switch t.Kind {
	case colourant.OpaqueWhite:
		return whiteScatter
	case colourant.Clear:
		return clearScatter
	case colourant.Fluorescent:
		return fluorescentScatter
	}
	if l, ok := processLook[t.Name]; ok && t.Kind == colourant.Process {
		return l.scatter
	}
	return spotScatter
}

// lookOf is the colour of the solid on white, by kind where not given.
func lookOf(t *press.Toner) press.Lab {
	if t.Appearance.OnWhite != nil {
		return *t.Appearance.OnWhite
	}
	switch t.Kind {
	case colourant.OpaqueWhite:
		return whiteOnWhite
	case colourant.Fluorescent:
		return pinkOnWhite
	case colourant.Process:
		if l, ok := processLook[t.Name]; ok {
			return l.onWhite
		}
	case colourant.Spot:
		return standInLab(t.StandIn)
	}
	if c := t.StandIn; c[2] > c[0]+30 { // a metal drawn in yellow
		return goldOnWhite
	}
	return silverOnWhite
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

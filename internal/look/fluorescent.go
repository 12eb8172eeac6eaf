package look

import (
	"math"

	"laydown/internal/press"
)

// A fluorescent toner reflects and, besides, glows: what it absorbs at shorter wavelengths comes back in one band, as a
// share of the light quanta. Both parts add up, and what lies above weakens the glow twice, on the way in and on the way
// out (Hersch, Appl. Opt. 47(36), 2008, for prints on paper that glows; own form of the equations, constants invented).

// glow is what a fluorescent layer gives off.
type glow struct {
	yield float64  // quanta given off of each taken up
	peak  float64  // nm
	shape spectrum // of the power given off, sum 1
}

// Widths of the emission below and above its peak (nm), and how far below the peak light still excites.
const (
	glowRise   = 14
	glowFall   = 26
	glowStokes = 10

	defaultYield = 0.4
	pinkPeak     = 600
)

func bell(nm, centre, width float64) float64 {
	d := (nm - centre) / width
	return math.Exp(-0.5 * float64(d*d))
}

func newGlow(peak, yield float64) *glow {
	g := &glow{yield: yield, peak: peak}
	sum := 0.0
	for b := range g.shape {
		nm, width := wavelengths[b], float64(glowRise)
		if nm >= peak {
			width = glowFall
		}
		g.shape[b] = bell(nm, peak, width)
		sum += g.shape[b]
	}
	for b := range g.shape {
		g.shape[b] /= sum
	}
	return g
}

// pinkAbsorption of the default fluorescent toner: K X of the solid.
func pinkAbsorption() (k spectrum) {
	for b := range k {
		nm := wavelengths[b]
		k[b] = float64(2*bell(nm, 545, 20)) + float64(0.3*bell(nm, 515, 22)) + float64(0.2*bell(nm, 440, 45)) + 0.02
	}
	return k
}

// emission is the light that leaves the top of the layer upwards, below the surface, in parts of the light that falls
// on the sheet: on ground g, above being the share of light that comes down to the layer. D50 shines.
func (f *film) emission(g, above *spectrum) (u spectrum) {
	quanta := 0.0
	for b := range u {
		nm := wavelengths[b]
		if nm > f.glow.peak-glowStokes {
			break
		}
		taken := (1 - f.r0[b] - f.t[b]) * (1 + f.t[b]*g[b]/(1-float64(f.r0[b]*g[b])))
		quanta += float64(daylight[b] * nm * max(taken, 0) * above[b])
	}
	for b := range u {
		off := 0.5 * f.glow.yield * quanta * f.glow.shape[b] / (daylight[b] * wavelengths[b])
		u[b] = off * (1 + f.t[b]*g[b]/(1-float64(f.r0[b]*g[b]))) * math.Exp(-f.k[b]/2)
	}
	return u
}

// leaving is the part of u that passes the surface from below, the sheet reflecting ri.
func leaving(u, ri float64) float64 { return (1 - k1) * (1 - k2) * u / (1 - float64(k2*ri)) }

var unhindered = func() (s spectrum) {
	for b := range s {
		s[b] = 1
	}
	return s
}()

// glowOn is the glow of the solid on ground g as measured: a radiance factor to be added to the reflectance.
func (f *film) glowOn(g *spectrum) (e spectrum) {
	ri, u := f.over(g), f.emission(g, &unhindered)
	for b := range e {
		e[b] = leaving(u[b], ri[b])
	}
	return e
}

// peakByHue is where a toner of this colour most likely glows, nm.
func peakByHue(c press.Lab) float64 {
	switch h := hueDegrees(c[1], c[2]); {
	case math.Hypot(c[1], c[2]) < 5:
		return 450
	case h < 75 || h >= 315:
		return pinkPeak
	case h < 105:
		return 545
	case h < 220:
		return 515
	}
	return 450
}

// looksPink tells the colours for which the default toner's absorption is a fair start.
func looksPink(c press.Lab) bool {
	h := hueDegrees(c[1], c[2])
	return math.Hypot(c[1], c[2]) > 30 && (h < 45 || h >= 315)
}

// aims are what a solid measures on white and, if known, on black, glow included; as spectra or as XYZ only.
type aims struct {
	white, black       *spectrum
	whiteXYZ, blackXYZ *[3]float64
}

// glowing fits absorption (and scatter, if the aim on black is known) so that reflectance and glow together are the
// aims. kept is below 1 when that is more vivid than possible.
func (f *film) glowing(a aims, shape, scatter *spectrum, yieldGiven bool) (kept float64) {
	if a.white != nil {
		f.fitGlowSpectra(a, scatter, yieldGiven)
		return 1
	}
	yields := []float64{f.glow.yield}
	if !yieldGiven {
		for d := 0.04; d < 0.5; d += 0.04 {
			yields = append(yields, max(f.glow.yield-d, 0), f.glow.yield+d)
		}
	}
	best := -1.0
	var fitted film
	for _, y := range yields {
		g := *f
		g.glow = newGlow(f.glow.peak, y)
		if kept := g.fitGlowXYZ(a, shape, scatter); kept > best {
			best, fitted = kept, g
		}
		if best == 1 {
			break
		}
	}
	*f = fitted
	return best
}

// glowingAtOpacity finds the scatter at which the solid, glow included, has this contrast ratio; the yield stays.
func (f *film) glowingAtOpacity(a aims, shape *spectrum, ratio float64) {
	total := func(g *film, on *spectrum) float64 {
		ri, e := g.over(on), g.glowOn(on)
		r := measured(&ri, g.k0)
		return r.luminance() + e.luminance()
	}
	lo, hi := 0.0, 12.0
	for range 14 {
		g := *f
		var scatter spectrum
		for b := range scatter {
			scatter[b] = (lo + hi) / 2
		}
		g.glowing(a, shape, &scatter, true)
		if total(&g, referenceBlack())/total(&g, referenceWhite()) < ratio {
			lo = (lo + hi) / 2
		} else {
			hi = (lo + hi) / 2
		}
		*f = g
	}
}

// glowRounds of taking the glow off, fitting the layer and reckoning the glow anew; each gains about a digit.
const glowRounds = 16

func (f *film) fitGlowXYZ(a aims, shape, scatter *spectrum) (kept float64) {
	k := pinkAbsorption()
	f.k, f.s = k, *scatter
	f.fill()
	rest := func(aim *[3]float64, g *spectrum) ([3]float64, bool) {
		e := f.glowOn(g)
		t, off := *aim, e.xyz()
		for c := range t {
			t[c] -= off[c]
		}
		return t, min(t[0], t[1], t[2]) > 0
	}
	var last [3]float64
	for range glowRounds {
		t, ok := rest(a.whiteXYZ, referenceWhite())
		if !ok {
			return 0
		}
		if moved := math.Abs(t[0]-last[0]) + math.Abs(t[1]-last[1]) + math.Abs(t[2]-last[2]); moved < 1e-8 {
			break
		}
		last = t
		var rw spectrum
		if rw, kept = liftTarget(t, shape); kept == 0 {
			return 0
		}
		var rwi spectrum
		rwi, f.k0 = ground(&rw, f.k0)
		if a.blackXYZ == nil {
			f.fromWhite(&rwi, scatter, 1)
			continue
		}
		rb := spectrum{}
		if t, ok := rest(a.blackXYZ, referenceBlack()); ok {
			rb, _ = liftTarget(t, nil)
		}
		var rbi spectrum
		rbi, f.k0 = ground(&rb, f.k0)
		f.fromTwoGrounds(&rwi, &rbi)
	}
	return kept
}

func (f *film) fitGlowSpectra(a aims, scatter *spectrum, yieldGiven bool) {
	f.k, f.s = pinkAbsorption(), *scatter
	f.fill()
	// Beyond its peak the glow stands alone on the plain level such toners reflect at long waves.
	at := int(math.Round((f.glow.peak + 20 - firstNM) / stepNM))
	beyond := min(at+7, bands-1)
	rest := func(aim, g *spectrum) (r spectrum) {
		e := f.glowOn(g)
		for b := range r {
			r[b] = min(max(aim[b]-e[b], f.k0+1e-4), 0.98)
		}
		ri, _ := ground(&r, f.k0)
		return ri
	}
	for range glowRounds {
		if e := f.glowOn(referenceWhite()); !yieldGiven && e[at] > 0 {
			y := f.glow.yield * max(a.white[at]-a.white[beyond], 0) / e[at]
			f.glow = newGlow(f.glow.peak, min(y, 1))
		}
		rw := rest(a.white, referenceWhite())
		if a.black == nil {
			f.fromWhite(&rw, scatter, 1)
			continue
		}
		rb := rest(a.black, referenceBlack())
		f.fromTwoGrounds(&rw, &rb)
	}
}

package look

import (
	"fmt"
	"math"

	"laydown/internal/press"
)

// reflectanceOf is the bare stock as measured; kept is below 1 when its colour is more vivid than a surface can be.
func reflectanceOf(s *press.Stock, side press.Side) (r *spectrum, kept float64) {
	if sp := s.Spectra; sp != nil {
		list := sp.Front
		if side == press.Back && (len(sp.Back) > 0 || s.Back != nil) {
			list = sp.Back
		}
		if r := resampled(sp.From, sp.Step, list); r != nil {
			return r, 1
		}
	}
	lifted, kept := lift(s.Colour(side))
	return &lifted, kept
}

// spectrumApart is how far the spectrum of a stock may be off the colour given for it before it is told.
const spectrumApart = 3

// lay sets what the toners lie on.
func (m *Model) lay(c Conditions) {
	r, kept := reflectanceOf(c.Stock, c.Side)
	m.note(c.Stock, kept)
	if d := Difference(r.lab(), m.stock); d > spectrumApart && kept == 1 {
		m.notes = append(m.notes, fmt.Sprintf("The spectrum of the %v of stock %s is %.1f CIEDE2000 off the colour given; the spectrum is shown.", c.Side, c.Stock.Name, d))
	}
	surface := stockGloss(c.Stock)
	foil := c.Stock.Surface == press.SurfaceMetallised
	if foil && c.Side == press.Back && c.Stock.Back != nil {
		foil, surface = false, gloss{0.006, 0.15} // the board's other side is none
	}
	m.base.ri, surface.k0 = ground(r, surface.k0)
	m.base.gloss = surface
	if foil {
		m.base.foil = flakesOf(r, surface.k0, foilRoughness, foilDiffuse)
	}
	m.usual = *referenceWhite()
	if c.Stock.Surface == press.SurfaceFilm {
		m.usual = *referenceBlack()
	}
	m.backing = m.usual
	if c.Backing != nil {
		m.backing = groundOfLab(*c.Backing, surface.k0)
	}
	if c.Backing == nil && !c.Through {
		return
	}
	sheet := m.sheetOf(c.Stock)
	switch {
	case sheet == nil:
		m.notes = append(m.notes, fmt.Sprintf("Stock %s is opaque: what it lies on does not show. Thin stock needs the key opacity.", c.Stock.Name))
	case c.Through:
		m.base.ri, m.base.front = m.backing, sheet
	default:
		m.base.ri = sheet.over(&m.backing)
	}
}

// usualFilmOpacity is that of clear film where the definition does not tell.
const usualFilmOpacity = 0.1

// sheetOf is the stock as a layer light passes; nil when it is opaque. Its colour is that on the usual backing, its opacity
// the ratio of Y on black to Y on white.
func (m *Model) sheetOf(s *press.Stock) *film {
	opacity := float64(s.Opacity) / 100
	f := &film{k0: m.base.gloss.k0, coat: m.base.gloss.alpha}
	if s.Surface == press.SurfaceFilm {
		if opacity <= 0 {
			opacity = usualFilmOpacity
		}
		f.clearSheet(&m.base.ri, opacity)
		return f
	}
	if opacity <= 0 || opacity >= 1 {
		return nil
	}
	flat := unhindered
	lo, hi := 0.0, 60.0
	for range 40 {
		scatter := (lo + hi) / 2
		f.fromWhite(&m.base.ri, &flat, scatter)
		black := measured(&f.r0, f.k0)
		white := measured(&m.base.ri, f.k0)
		if black.luminance()/white.luminance() < opacity {
			lo = scatter
		} else {
			hi = scatter
		}
	}
	f.direct = spectrum{}
	return f
}

// clearSheet is a film of the same transmittance at all wavelengths, with its colour on the dark ground. It is found so
// that the contrast ratio between the reference grounds comes out.
func (f *film) clearSheet(onDark *spectrum, opacity float64) {
	lo, hi := 0.0, 1.0
	for range 50 {
		t := (lo + hi) / 2
		for b, r := range onDark {
			g := referenceBlack()[b]
			t2 := min(t*t, 0.98*r/g)
			p := 1 + float64(r*g)
			q := float64(p*p) - float64(4*g*(r-float64(t2*g)))
			f.r0[b] = (p - math.Sqrt(max(q, 0))) / (2 * g)
			f.t[b] = min(math.Sqrt(t2), 1-f.r0[b])
			f.direct[b] = f.t[b]
		}
		if f.contrast() > opacity {
			lo = t
		} else {
			hi = t
		}
	}
}

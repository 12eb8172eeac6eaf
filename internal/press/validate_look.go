package press

import (
	"math"

	"laydown/internal/colourant"
)

// Validation of what tells how a toner or a stock looks.

// Highest radiance factors possible: of what only reflects, with room for the noise of a measurement, and of what glows.
const (
	reflecting = 1.05
	glowing    = 3
)

// light checks the keys of an appearance that belong to some kinds of toner.
func (s *source) light(t *Toner, path string) {
	a := &t.Appearance
	if sp := a.Spectra; sp != nil {
		most := float64(reflecting)
		if t.Kind == colourant.Fluorescent {
			most = glowing
		}
		s.spectrum(path+".spectra", sp.From, sp.Step, most, map[string][]float64{"on_white": sp.OnWhite, "on_black": sp.OnBlack}, "on_white")
		for _, lab := range []struct {
			key   string
			given bool
		}{{"on_white", a.OnWhite != nil}, {"on_black", a.OnBlack != nil}} {
			if lab.given {
				s.errorAt(path+"."+lab.key, "remove it", "spectra tell the colour already")
			}
		}
		if a.Opacity > 0 && len(sp.OnBlack) > 0 {
			s.errorAt(path+".opacity", "remove it", "spectra on black tell the opacity already")
		}
	}
	if m := a.Metal; m != nil {
		if t.Kind != colourant.Metallic {
			s.errorAt(path+".metal", "remove it or write kind: metallic", "%q is no metallic toner", t.Name)
		}
		s.within(path+".metal.flop", m.Flop, 0.5, 30, "8 is usual for toner, 15 a very strong metallic", "a flop index")
		s.within(path+".metal.roughness", m.Roughness, 0.05, 0.9, "0.3 is usual", "a roughness")
	}
	if g := a.Glow; g != nil {
		if t.Kind != colourant.Fluorescent {
			s.errorAt(path+".glow", "remove it or write kind: fluorescent", "%q is no fluorescent toner", t.Name)
		}
		s.within(path+".glow.peak", float64(g.Peak), 420, 700, "600nm is usual for pink, 515nm for green", "a peak (nm)")
		s.within(path+".glow.yield", float64(g.Yield), 1, 95, "40% is usual", "a yield (%)")
	}
}

// within checks a value that, if it is written, lies from lo to hi.
func (s *source) within(path string, v, lo, hi float64, remedy, what string) {
	_, written := s.at[path]
	if (written || v != 0) && !(v >= lo && v <= hi) {
		s.errorAt(path, remedy, "%s of %g is not between %g and %g", what, v, lo, hi)
	}
}

// spectrum checks lists of reflectances with one grid of wavelengths. Beyond 400 nm and 700 nm the observer sees so
// little that the last value may stand for the rest.
func (s *source) spectrum(path string, from, step Wavelength, most float64, lists map[string][]float64, needed string) {
	const longest = 501
	if step < 1 || step > 20 {
		s.errorAt(path+".step", "10nm and 20nm are usual", "a step of %v is not between 1nm and 20nm", step)
		return
	}
	if from < 200 || from > 400 {
		s.errorAt(path+".from", "measure from 380nm or 400nm", "the spectrum starts at %v, not between 200nm and 400nm", from)
	}
	for _, key := range sortedKeys(lists) {
		list, at := lists[key], path+"."+key
		if len(list) == 0 {
			if key == needed {
				s.errorAt(at, "list one reflectance for each wavelength", "%sis empty", keyOf(at))
			}
			continue
		}
		if last := from + step*Wavelength(len(list)-1); last < 700 || len(list) > longest {
			s.errorAt(at, "measure to 700nm or 730nm", "%d values from %v in steps of %v end at %v, not beyond 700nm with at most %d values", len(list), from, step, last, longest)
		}
		for i, v := range list {
			if !(v >= 0 && v <= most) || math.IsNaN(v) {
				s.errorAt(at, "a reflectance is written as 0.42, not in percent", "entry %d of %g is not between 0 and %g", i+1, v, most)
				break
			}
		}
	}
}

package look

import (
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// Basis is what the look of a toner was made of.
type Basis int

// From the least to the best.
const (
	KindOnly Basis = iota
	LabOnWhite
	LabAndOpacity
	LabOnBoth
	SpectrumOnWhite
	SpectrumAndOpacity
	SpectraOnBoth
	Characterised
)

func (b Basis) String() string {
	return [...]string{"kind only", "colour on white", "colour on white and opacity", "colour on white and on black",
		"spectrum on white", "spectrum on white and opacity", "spectra on white and on black", "characterisation of the process set"}[b]
}

// MarshalText writes the basis in words.
func (b Basis) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

func basisOf(a *press.Appearance) Basis {
	b := KindOnly
	switch {
	case a.Spectra != nil && len(a.Spectra.OnWhite) > 0:
		if b = SpectrumOnWhite; len(a.Spectra.OnBlack) > 0 {
			return SpectraOnBoth
		}
	case a.OnWhite != nil:
		if b = LabOnWhite; a.OnBlack != nil {
			return LabOnBoth
		}
	}
	if a.Opacity > 0 && b != KindOnly {
		b++
	}
	return b
}

// Knowledge tells how far the picture of one toner can be trusted.
type Knowledge struct {
	Toner    string  `json:"toner"`
	Basis    Basis   `json:"basis"`
	Expected float64 `json:"expected,omitempty"` // CIEDE2000 of its solid on this stock, on the average; 0 = no figure
	Worst    float64 `json:"worst,omitempty"`    // what 19 of 20 toners stay below; 0 = no figure
	Words    string  `json:"words"`
}

// Errors in CIEDE2000, mean and 95th percentile, measured with this package. For two grounds and for an opacity: 14
// paints measured over white and over black (of those of Geldof and others, Heritage Science 6:17, 2018), on seven other
// grounds, against the same layers from full spectra. For spectra: the same with Lab scattered by 0.4 each, which is what
// instruments differ by. For process toners known on white only: half and double of the scatter assumed, on three
// light, three middle and three dark stocks. For a characterisation: TR003 carried to the stock of TR005, TR006 to that
// of TR005, part of it another press aim; on dark stock the scatter again.
var (
	errorOfSpectra = [2]float64{0.4, 0.8}
	errorOfBoth    = [2]float64{0.7, 1.7}
	errorOfOpacity = [2]float64{3.0, 7.4}
	errorOfSet     = [3][2]float64{{0.7, 1.5}, {1.3, 3.3}, {2.1, 4.9}}
	errorOfProcess = [3][2]float64{{0.1, 0.1}, {0.6, 1.2}, {2.1, 4.9}}
	errorOnWhite   = [2]float64{0.1, 0.1}
)

func (f *layerOf) knowledge(t *press.Toner, stock press.Lab) Knowledge {
	k := Knowledge{Toner: t.Name, Basis: f.basis}
	set := func(e [2]float64) { k.Expected, k.Worst = e[0], e[1] }
	shade, where := 0, "a light stock"
	switch {
	case stock[0] < 50:
		shade, where = 2, "a dark stock"
	case stock[0] < 85:
		shade, where = 1, "a stock of middle lightness"
	}
	if f.characterised {
		k.Basis = Characterised
		set(errorOfSet[shade])
		k.Words = "Shown by the characterisation of the process set, overprints included."
		if shade > 0 {
			k.Words += fmt.Sprintf(" It holds for white stock; what its toners scatter, which matters on %s, is a guess.", where)
		}
		return k
	}
	switch f.basis {
	case SpectraOnBoth:
		set(errorOfSpectra)
		k.Words = "Measured as spectra on white and on black: as sure as the measurement."
	case LabOnBoth:
		set(errorOfBoth)
		k.Words = "Colours on white and on black are known: sure on any stock."
	case LabAndOpacity, SpectrumAndOpacity:
		set(errorOfOpacity)
		k.Words = "The colour on white and one figure of opacity are known: on coloured and dark stock the hue may be off. Measure the solid on black too."
	case LabOnWhite, SpectrumOnWhite:
		k.Words = fmt.Sprintf("Only the colour on white is known; how much shows through it is a guess by kind, which matters on %s. Measure the solid on black too.", where)
		if shade == 0 {
			k.Words = "Only the colour on white is known, which is enough on white stock; how much shows through it is a guess by kind."
		}
		switch {
		case t.Kind == colourant.Process:
			set(errorOfProcess[shade])
		case Difference(stock, press.Lab{95, 0, -2}) < 3:
			set(errorOnWhite)
		}
		if t.Kind == colourant.Metallic {
			k.Words = "The colour on white is known, and the flakes are taken to hide the stock."
		}
	default:
		k.Words = "Nothing is known but the kind of toner: the colour is made up. Give its colour on white and on black."
		if t.Kind == colourant.Process {
			k.Words = "A usual process colour stands for it. Give its colour on white and on black."
		} else if t.Kind == colourant.Spot {
			k.Words = "The stand-in colour of the artwork stands for it. Give its colour on white and on black."
		} else if t.Kind == colourant.Clear {
			k.Words = "A usual clear: it smooths the surface and has no colour."
		}
	}
	switch t.Kind {
	case colourant.Metallic:
		if m := t.Appearance.Metal; m == nil || m.Flop == 0 {
			k.Words += " How it shines is assumed (flop index about 8): give its flop index."
		} else if !f.flopFits {
			k.Words += " Its flop index goes with no lobe of this roughness; the nearest is shown."
		}
	case colourant.Fluorescent:
		k.Words += " Its glow is reckoned for daylight (D50); under lamps without ultraviolet and blue it is weaker."
	}
	return k
}

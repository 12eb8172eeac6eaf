package look

import (
	"math"

	"laydown/internal/colourant"

	"laydown/internal/press"
)

// A metallic toner is a layer of flakes: opaque, its 45/0 colour its own, part of that colour a lobe round the mirror
// direction (ggx.go) and the rest diffuse. The part is told by the flop index.

// flakes is how a metal shines: the lobe's amplitude, so that amplitude x aspecularFactor(alpha, 45) is its part of the
// colour at 45/0, and its width.
type flakes struct {
	amplitude spectrum
	alpha     float64
}

// Defaults, invented: a flop index of about 8.
const (
	metalRoughness = 0.30
	metalDiffuse   = 0.25

	metalTransmittance = 0.055 // flakes hide what is below

	// A metallised board is a foil below lacquer: hardly wider than a mirror, most of what it reflects in the lobe.
	foilRoughness = 0.15
	foilDiffuse   = 0.40
)

// flopLightness is the L* at 45 degrees for which flop indices are reckoned; between 45 and 65 the index of one lobe
// changes by 3 %.
const flopLightness = 55

// FlopIndex is 2.69 (L15 - L110)^1.11 / L45^0.86 of a metal with a lobe of width alpha (0..1) and the share diffuse
// (0..1) of its 45/0 luminance, L at so many degrees from the mirror direction, lamp at 45 degrees. (Formula from memory
// of the common definition; no standard at hand. It is for a metal of L* 55 at 45 degrees.)
func FlopIndex(alpha, diffuse float64) float64 {
	f := (flopLightness + 16.0) / 116
	y45 := f * f * f
	at45 := aspecularFactor(alpha, 45)
	lightness := func(angle float64) float64 {
		y := y45 * (diffuse + float64((1-diffuse)*aspecularFactor(alpha, angle)/at45))
		if y <= labEpsilon {
			return labKappa * y
		}
		return float64(116*math.Cbrt(y)) - 16
	}
	return 2.69 * math.Pow(max(lightness(15)-lightness(110), 0), 1.11) / math.Pow(flopLightness, 0.86)
}

// DiffuseForFlop is the diffuse share (0..1) at which a lobe of width alpha has this flop index; ok is false when no
// share reaches it, and the nearest is returned.
func DiffuseForFlop(flop, alpha float64) (diffuse float64, ok bool) {
	lo, hi := 0.0, 1.0 // the index falls as the diffuse share grows
	if flop > FlopIndex(alpha, lo) {
		return lo, false
	}
	if flop < FlopIndex(alpha, hi) {
		return hi, false
	}
	for range 50 {
		d := (lo + hi) / 2
		if FlopIndex(alpha, d) > flop {
			lo = d
		} else {
			hi = d
		}
	}
	return (lo + hi) / 2, true
}

// lobeOf finds width and diffuse share of a metallic toner. A flop that the width given or usual cannot have is reached
// with the nearest width that can.
func lobeOf(m *press.MetalLook) (alpha, diffuse float64, exact bool) {
	alpha, diffuse = metalRoughness, metalDiffuse
	if m == nil {
		return alpha, diffuse, true
	}
	if m.Roughness > 0 {
		alpha = m.Roughness
	}
	if m.Flop <= 0 {
		return alpha, diffuse, true
	}
	diffuse, exact = DiffuseForFlop(m.Flop, alpha)
	if !exact && m.Roughness <= 0 && m.Flop > FlopIndex(alpha, 0) {
		for !exact && alpha > 0.05 {
			alpha -= 0.01
			diffuse, exact = DiffuseForFlop(m.Flop, alpha)
		}
	}
	return alpha, diffuse, exact
}

// flakesOf splits the colour of a metal at 45/0 into lobe and diffuse part. r is the measured reflectance, k0 the share
// of it that is the surface's.
func flakesOf(r *spectrum, k0, alpha, diffuse float64) *flakes {
	f := &flakes{alpha: alpha}
	at45 := aspecularFactor(alpha, 45)
	for b, v := range r {
		f.amplitude[b] = (1 - diffuse) * max(v-k0, 0) / at45
	}
	return f
}

// opaque makes a layer of metal flakes: it lets a fixed little through, and the rest of its colour
// is its own. On white: g r0^2 - (1 + Rw g) r0 + Rw - t^2 g = 0.
func (f *film) opaque(rw *spectrum) {
	f.rigid = true
	for b, r := range rw {
		g := referenceWhite()[b]
		t2 := min(metalTransmittance*metalTransmittance, 0.9*r/g)
		p := 1 + float64(r*g)
		q := float64(p*p) - float64(4*g*(r-float64(t2*g)))
		f.r0[b] = (p - math.Sqrt(max(q, 0))) / (2 * g)
		f.t[b] = math.Sqrt(t2)
		f.direct[b] = 0
	}
}

// Flop is the flop index of a layer's solid; ok is false for toners that are no metals.
func (m *Model) Flop(layer int) (index float64, ok bool) {
	t := m.layers[layer].Toner
	if t.Kind != colourant.Metallic {
		return 0, false
	}
	alpha, diffuse, _ := lobeOf(t.Appearance.Metal)
	return FlopIndex(alpha, diffuse), true
}

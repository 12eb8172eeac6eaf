package look

import (
	"math"
	"testing"
)

// Computed once from the published formulas in another language, to three decimals.
func TestLobeAtTheAnglesOfMetallicInstruments(t *testing.T) {
	angles := [5]float64{15, 25, 45, 75, 110}
	for alpha, want := range map[float64][5]float64{
		.2: {5.075, 2.061, .429, .103, .068},
		.3: {3.206, 1.878, .625, .196, .137},
		.4: {2.044, 1.451, .680, .280, .214},
		.5: {1.369, 1.084, .645, .339, .285},
	} {
		for i, a := range angles {
			near(t, "radiance factor", aspecularFactor(alpha, a), want[i], 6e-4) // rounded to 1e-3
		}
	}
}

// A perfect mirror's lobe reflects all that is not shadowed: directional albedo at normal view, from the same source.
func TestLobeReflectsTheExpectedShare(t *testing.T) {
	for alpha, want := range map[float64]float64{.2: .948, .3: .877, .4: .787, .5: .688} {
		const n = 2000
		sum := 0.0
		for i := range n {
			nl := (float64(i) + .5) / n
			sum += ggx(alpha, nl, 1, math.Sqrt((1+nl)/2)) * nl * 2 * math.Pi / n
		}
		near(t, "albedo", sum, want, 1e-3)
	}
}

func TestFresnelRunsFromNormalToGrazing(t *testing.T) {
	near(t, "normal", schlick(.04, 1), .04, 0)
	near(t, "grazing", schlick(.04, 0), 1, 0)
	near(t, "60 degrees", schlick(.04, .5), .07, 1e-12)
}

func TestLobeIsDarkBelowTheSurface(t *testing.T) {
	if ggx(.3, -.1, .5, .9) != 0 || ggx(.3, .5, 0, .9) != 0 {
		t.Error("a lamp or viewer below the surface sees a lobe")
	}
}

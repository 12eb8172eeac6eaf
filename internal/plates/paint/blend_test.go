package paint

import (
	"math"
	"testing"

	"laydown/internal/artwork/displist"
)

// What does tint 0.7 over tint 0.4 give in each mode, on a process plate and on a spot's? Additive
// values are the complements; spots know only modes that leave white white (11.7.4.2).
func TestSeparableModes(t *testing.T) {
	cases := []struct {
		mode          displist.Blend
		process, spot float64
	}{
		{displist.Normal, .7, .7}, {displist.Multiply, .82, .82}, {displist.Screen, .28, .28}, {displist.Overlay, .56, .56},
		{displist.Darken, .7, .7}, {displist.Lighten, .4, .4}, {displist.ColorDodge, .142857, .142857}, {displist.ColorBurn, 1, 1},
		{displist.HardLight, .64, .64}, {displist.SoftLight, .496, .496}, {displist.Difference, .7, .7}, {displist.Exclusion, .46, .7},
	}
	for _, c := range cases {
		process := list(1, 1, rect(0, 0, 1, 1, cmyk(.4, .4, .4, .4)), rect(0, 0, 1, 1, cmyk(.7, .7, .7, .7), mode(c.mode)))
		spot := list(1, 1, rect(0, 0, 1, 1, paintOf(white, .4)), rect(0, 0, 1, 1, paintOf(white, .7), mode(c.mode)))
		got := append(tintsAt(render(t, jobOf(process)), 0, 0)[:4], tintsAt(render(t, jobOf(spot)), 0, 0)[4])
		for plate, v := range got {
			want := c.process
			if plate == 4 {
				want = c.spot
			}
			if math.Abs(float64(v)/255-want) > 1.5/255 { // the backdrop has 8 bits
				t.Errorf("%v on plate %d: %.4f, want %.4f", c.mode, plate, float64(v)/255, want)
			}
		}
	}
}

// Where do ColorDodge and ColorBurn end? The branches are those of ISO 32000-2, Table 134; additive values.
func TestDodgeAndBurnCorners(t *testing.T) {
	cases := []struct {
		mode         displist.Blend
		cb, cs, want float64
	}{
		{displist.ColorDodge, 0, 1, 0}, {displist.ColorDodge, 0, 0, 0}, {displist.ColorDodge, .5, .5, 1}, {displist.ColorDodge, .25, .5, .5},
		{displist.ColorDodge, 1, 0, 1}, {displist.ColorBurn, 1, 0, 1}, {displist.ColorBurn, 1, 1, 1}, {displist.ColorBurn, .5, .5, 0},
		{displist.ColorBurn, .75, .5, .5}, {displist.ColorBurn, 0, 1, 0}, {displist.ColorBurn, .5, 0, 0},
	}
	for _, c := range cases {
		if got := separableBlend(c.mode, c.cb, c.cs); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v of backdrop %g and source %g: %g, want %g", c.mode, c.cb, c.cs, got, c.want)
		}
	}
}

// Does every white-preserving mode give white for white, and do the others not?
func TestWhitePreserving(t *testing.T) {
	for b := displist.Normal; b.Separable(); b++ {
		if got := separableBlend(b, 1, 1); (got == 1) != b.WhitePreserving() {
			t.Errorf("%v of white and white is %g", b, got)
		}
	}
}

// What do the modes of Table 135 give? The wanted colours were worked out by hand from the formulas.
func TestNonSeparableModes(t *testing.T) {
	cases := []struct {
		name   string
		mode   displist.Blend
		cb, cs [3]float64 // additive
		want   [3]float64
	}{
		// Lum(cb) = .3*.6+.59*.4+.11*.2 = .438, Sat(cb) = .4; Lum(cs) = .3*.2+.59*.8+.11*.5 = .587, Sat(cs) = .6.
		// SetSat(cs,.4) = (0, .4, .2), its Lum .258, shift .18.
		{"Hue", displist.Hue, [3]float64{.6, .4, .2}, [3]float64{.2, .8, .5}, [3]float64{.18, .58, .38}},
		// SetSat(cb,.6) = (.6, .3, 0), its Lum .357, shift .081.
		{"Saturation", displist.Saturation, [3]float64{.6, .4, .2}, [3]float64{.2, .8, .5}, [3]float64{.681, .381, .081}},
		// cs shifted by .438-.587.
		{"Color", displist.Color, [3]float64{.6, .4, .2}, [3]float64{.2, .8, .5}, [3]float64{.051, .651, .351}},
		// cb shifted by .587-.438.
		{"Luminosity", displist.Luminosity, [3]float64{.6, .4, .2}, [3]float64{.2, .8, .5}, [3]float64{.749, .549, .349}},
		// cs has no hue: SetSat gives black, SetLum the gray of Lum(cb).
		{"Hue of a gray", displist.Hue, [3]float64{.6, .4, .2}, [3]float64{.5, .5, .5}, [3]float64{.438, .438, .438}},
		{"Saturation of a gray backdrop", displist.Saturation, [3]float64{.3, .3, .3}, [3]float64{1, 0, 0}, [3]float64{.3, .3, .3}},
		// cs = red, shifted by .11-.3 to (.81,-.19,-.19); below 0: L+(C-L)*L/(L-n) with L=.11, n=-.19.
		{"Color clipped below", displist.Color, [3]float64{0, 0, 1}, [3]float64{1, 0, 0}, [3]float64{.11 + .7*.11/.3, 0, 0}},
		// cs = blue, shifted by .89-.11 to (.78,.78,1.78); above 1: L+(C-L)*(1-L)/(x-L) with L=.89, x=1.78.
		{"Color clipped above", displist.Color, [3]float64{1, 1, 0}, [3]float64{0, 0, 1}, [3]float64{.89 - .11*.11/.89, .89 - .11*.11/.89, 1}},
	}
	for _, c := range cases {
		v := nonSeparableBlend(c.mode, rgb{c.cb[0], c.cb[1], c.cb[2]}, rgb{c.cs[0], c.cs[1], c.cs[2]})
		got := [3]float64{v.r, v.g, v.b}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-9 {
				t.Errorf("%s: %.6f, want %.6f", c.name, got, c.want)
				break
			}
		}
		// On the plates: tints are the complements; black is the backdrop's, for Luminosity the source's; the
		// spot, which the fill without overprint knocks out, is composited with Normal.
		l := list(1, 1, rect(0, 0, 1, 1, cmyk(1-c.cb[0], 1-c.cb[1], 1-c.cb[2], .2)), rect(0, 0, 1, 1, paintOf(white, 1), overprint(0)),
			rect(0, 0, 1, 1, cmyk(1-c.cs[0], 1-c.cs[1], 1-c.cs[2], .6), mode(c.mode)))
		black := .2
		if c.mode == displist.Luminosity {
			black = .6
		}
		tints := tintsAt(render(t, jobOf(l)), 0, 0)
		for i, want := range []float64{1 - c.want[0], 1 - c.want[1], 1 - c.want[2], black, 0} {
			if math.Abs(float64(tints[i])/255-want) > 2.0/255 {
				t.Errorf("%s: plate %d holds %.4f, want %.4f", c.name, i, float64(tints[i])/255, want)
			}
		}
	}
}

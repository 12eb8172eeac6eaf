package look

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.7f, want %.7f", what, got, want)
	}
}

func TestLayerOnGroundAgreesWithWorkedExample(t *testing.T) {
	const x = 0.5
	k, s, g := [3]float64{.2, .1, .22}, [3]float64{.124, .658, .123}, [3]float64{.65, .2, .2146}
	for i, want := range [3]float64{.541596, .343822, .206651} {
		r0, tr := layerRT(k[i]*x, s[i]*x)
		near(t, "reflectance", over(r0, tr, g[i]), want, 1e-6)
	}
	r0, tr := layerRT(.2*x, 0)
	near(t, "without scatter", over(r0, tr, .65), .532175, 1e-6)
}

// Pigments with known K and S at unit thickness (Curtis and others, 1997), on white and on black.
func TestLayerIsRecoveredFromTwoGrounds(t *testing.T) {
	for _, p := range []struct {
		name         string
		k, s, rw, rb [3]float64
	}{
		{"red earth", [3]float64{.46, 1.07, 1.50}, [3]float64{1.28, .38, .21}, [3]float64{.5120, .1927, .0950}, [3]float64{.4044, .1254, .0596}},
		{"yellow", [3]float64{.10, .36, 3.45}, [3]float64{.97, .65, .007}, [3]float64{.8286, .5360, .0020}, [3]float64{.4539, .2952, .0010}},
		{"lilac", [3]float64{.08, .11, .07}, [3]float64{1.25, .42, 1.43}, [3]float64{.8606, .8078, .8769}, [3]float64{.5213, .2684, .5570}},
		{"rose", [3]float64{.22, 1.47, .57}, [3]float64{.05, .003, .03}, [3]float64{.6461, .0536, .3242}, [3]float64{.0387, .0010, .0175}},
	} {
		for i := range 3 {
			r0, tr := layerRT(p.k[i], p.s[i])
			near(t, p.name+" on white", over(r0, tr, 1), p.rw[i], 6e-5)
			near(t, p.name+" on black", over(r0, tr, 0), p.rb[i], 6e-5)
			k, s := layerKS(r0, tr)
			near(t, p.name+" K", k, p.k[i], 1e-6)
			near(t, p.name+" S", s, p.s[i], 1e-6)
		}
	}
}

func TestThickLayerReachesItsLimit(t *testing.T) {
	for ratio, want := range map[float64]float64{.1: .641742, .5: .381966, 1: .267949} {
		r0, tr := layerRT(ratio*500, 500)
		near(t, "infinite layer", over(r0, tr, .5), want, 1e-6)
		r0, tr = layerRT(ratio*100, 100)
		near(t, "thick layer", over(r0, tr, .5), want, 1e-6)
	}
}

func TestTwoHitsEqualDoubleThickness(t *testing.T) {
	// Rinf .92, so K/S = .0032/.92 x ...: (1-Rinf)^2 / 2 Rinf.
	const ratio = (1 - .92) * (1 - .92) / (2 * .92)
	r0, tr := layerRT(ratio*2, 2)
	once := over(r0, tr, .04)
	near(t, "one hit", once, .66755, 1e-5)
	near(t, "two hits", over(r0, tr, once), .79351, 1e-5)
	r0, tr = layerRT(ratio*4, 4)
	near(t, "double thickness", over(r0, tr, .04), .79351, 1e-5)
}

func TestInterfaceRoundTrip(t *testing.T) {
	near(t, "worked example", measuredFromInternal(.5, .04), .314286, 1e-6)
	rapid.Check(t, func(t *rapid.T) {
		k0 := rapid.Float64Range(0, .03).Draw(t, "k0")
		ri := rapid.Float64Range(1e-4, .999).Draw(t, "internal")
		if back := internalFromMeasured(measuredFromInternal(ri, k0), k0); math.Abs(back-ri) > 1e-9 {
			t.Errorf("%g comes back as %g", ri, back)
		}
	})
}

func TestLiftedColourHasTheColour(t *testing.T) {
	for l := 5.0; l <= 95; l += 15 {
		for a := -40.0; a <= 40; a += 20 {
			for b := -40.0; b <= 40; b += 20 {
				c := press.Lab{l, a, b}
				r, kept := lift(c)
				for _, v := range r {
					if !(v >= 0 && v <= 1) {
						t.Fatalf("%v lifts to %v", c, r)
					}
				}
				if d := Difference(r.lab(), c); kept == 1 && d > 1e-3 {
					t.Errorf("%v lifts to %v, %.4f away", c, r.lab(), d)
				}
				if kept < 1 && l >= 20 && l <= 80 && math.Hypot(a, b) < l*0.5 {
					t.Errorf("%v was not lifted whole but to %.0f %%", c, 100*kept)
				}
			}
		}
	}
}

func TestImpossibleColourIsPulledTowardsGrey(t *testing.T) {
	r, kept := lift(press.Lab{95, 100, 0})
	if kept >= 1 || kept < 0 {
		t.Errorf("kept %g of the chroma of a colour no surface has", kept)
	}
	if r, kept := lift(press.Lab{5, 0, 40}); kept == 1 || r.lab()[2] >= 40 {
		t.Errorf("a black yellower than possible lifts to %v", r.lab())
	}
	if l := r.lab(); math.Abs(l[0]-95) > .1 {
		t.Errorf("lightness moved to %.2f", l[0])
	}
}

func TestSolidOnWhiteHasItsColour(t *testing.T) {
	s := &press.Stock{Front: press.Lab{95, 0, -2}, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
	for _, name := range press.PressNames() {
		p, err := press.FindPress(name)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.Toners {
			toner := &p.Toners[i]
			if toner.Appearance.OnWhite == nil {
				continue
			}
			limit := 0.5
			if toner.Kind == colourant.Fluorescent {
				limit = 4 // it glows, which this model leaves out
			}
			m := model(t, s, toner)
			if d := Difference(m.Solid(0), *toner.Appearance.OnWhite); d > limit {
				t.Errorf("%s %s: %.1f, want %.1f (%.2f apart)", name, toner.Name, m.Solid(0), *toner.Appearance.OnWhite, d)
			}
		}
	}
}

func TestFilmFromTwoGroundsKeepsBothColours(t *testing.T) {
	onWhite, onBlack := press.Lab{80, 10, 20}, press.Lab{55, 6, 4}
	toner := &press.Toner{Name: "Peach", Appearance: press.Appearance{OnWhite: &onWhite, OnBlack: &onBlack}}
	for _, c := range []struct{ stock, want press.Lab }{{press.Lab{95, 0, -2}, onWhite}, {press.Lab{17, 0, 1}, onBlack}} {
		s := &press.Stock{Front: c.stock, Surface: press.SurfaceCoated, Gloss: press.GlossMatte}
		if c.stock[0] > 50 {
			s.Gloss = press.GlossHigh
		}
		if got := model(t, s, toner).Solid(0); Difference(got, c.want) > .2 {
			t.Errorf("on %v: %.2f, want %.2f", c.stock, got, c.want)
		}
	}
}

func TestOpacityGivenIsTheHidingReached(t *testing.T) {
	for _, want := range []press.Percent{40, 62, 85} {
		m := model(t, stockOf(t, "black-board"), &press.Toner{Name: "White", Kind: colourant.OpaqueWhite,
			Appearance: press.Appearance{Opacity: want}})
		near(t, "hiding", m.Hiding(0), float64(want), .01)
	}
}

func TestSpotTonerTakesItsStandIn(t *testing.T) {
	orange := &press.Toner{Name: "Orange", StandIn: [4]press.Percent{0, 50, 100, 0}}
	got := model(t, stockOf(t, "white-gloss"), orange).Solid(0)
	if got[1] < 15 || got[2] < 40 {
		t.Errorf("half magenta and yellow show as %.1f", got)
	}
}

package look

import (
	"math"
	"math/rand/v2"
	"testing"
)

// someSurface is a random surface; every fourth is nearly black under a rough coat, every third has flakes that take
// up to all of its 45/0 light and now and then more.
func someSurface(r *rand.Rand) (s Surface) {
	bright := r.Float64()
	if r.IntN(4) == 0 {
		bright *= 0.02
	}
	for c := range s.R45 {
		s.R45[c] = float32(bright * (r.Float64() + .05))
	}
	s.CoatAlpha = float32(.02 + .6*r.Float64())
	if r.IntN(3) == 0 {
		s.MetalShare, s.MetalAlpha = float32(r.Float64()), float32(.1+.4*r.Float64())
		for c := range s.Metal {
			s.Metal[c] = float32(1.1 * r.Float64() * float64(s.R45[c]) / aspecularFactor(float64(s.MetalAlpha), 45))
		}
	}
	if r.IntN(8) == 0 {
		s.R45[0] = -.03 // more vivid than the screen's red
	}
	return s
}

// Float32 gives a surface seven digits; the way from R45 to the picture may cost no more than 1e-5.
func TestMeasuringLampShowsTheMeasuredColour(t *testing.T) {
	lamp, err := newLamp(MeasuredLight())
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(7, 8))
	for range 20000 {
		s := someSurface(r)
		h := newShine(&s)
		p := lamp.shade(&h, &lamp.far)
		for c := range p.base {
			p.base[c] += p.flakes[c]
		}
		got := tone(p.base, p.knee)
		for c, v := range got {
			if math.Abs(v-float64(s.R45[c])) > 1e-5 {
				t.Fatalf("%+v: %v", s, got)
			}
		}
	}
}

func TestRoughCoatOnBlackLeavesSomeDiffuseLight(t *testing.T) {
	s := Surface{R45: [3]float32{.0034, .0034, .0034}, CoatAlpha: .4}
	h := newShine(&s)
	if h.coat >= 1 || h.coat <= 0 {
		t.Errorf("amplitude %g", h.coat)
	}
	near(t, "diffuse", h.diffuse[1], .1*.0034, 1e-8)
}

// Fresnel adds 3e-6 to any amplitude at the angle of 45/0.
func TestFlakesReflectNoMoreThanWasMeasured(t *testing.T) {
	s := Surface{R45: [3]float32{.3, .2, .1}, Metal: [3]float32{.9, .9, .9}, MetalShare: 1, MetalAlpha: .3, CoatAlpha: .1}
	h := newShine(&s)
	for c, v := range h.flakeLobe(&measuring, 0) {
		if v > float64(s.R45[c])+1e-5 {
			t.Errorf("primary %d: %g of %g", c, v, s.R45[c])
		}
	}
}

// Lightness at 15, 45 and 110 degrees from the mirror direction and the flop index 2.69 (L15-L110)^1.11 / L45^0.86 (from
// memory; no source seen) of a lobe of width 0.3 above a quarter of diffuse light: 8.2, computed once in another language.
func TestFlopOfASilver(t *testing.T) {
	const y45 = .26
	s := Surface{R45: [3]float32{y45, y45, y45}, MetalShare: 1, MetalAlpha: .3}
	for c := range s.Metal {
		s.Metal[c] = float32(.75 * y45 / aspecularFactor(.3, 45))
	}
	h := newShine(&s)
	h.coat = 0
	lamp := &lamp{Light: Light{Strength: 1, Even: true}}
	lightness := func(aspecular float64) float64 {
		view := (45 - aspecular) * math.Pi / 180
		half := (view - math.Pi/4) / 2
		g := geometry{nl: cos45, nv: math.Cos(view), nh: math.Cos(half), vh: math.Cos(view - half), fall: 1}
		p := lamp.shade(&h, &g)
		return labFromLinear([3]float64{p.base[0] + p.flakes[0], p.base[1] + p.flakes[1], p.base[2] + p.flakes[2]})[0]
	}
	flop := 2.69 * math.Pow(lightness(15)-lightness(110), 1.11) / math.Pow(lightness(45), .86)
	near(t, "flop index", flop, 8.2, .05) // rounded to 0.1
}

// Gloss at 60 degrees (aperture of the receptor 4.4 x 11.7 degrees, against glass of index 1.567: ISO 2813, from memory)
// of a surface of index 1.5, computed once in another language.
func TestGlossOfACoat(t *testing.T) {
	exact := func(c, eta float64) float64 {
		ct := math.Sqrt(1 - (1-c*c)/(eta*eta))
		rs, rp := (c-eta*ct)/(c+eta*ct), (eta*c-ct)/(eta*c+ct)
		return (rs*rs + rp*rp) / 2
	}
	near(t, "the standard's glass", exact(.5, 1.567), .10006, 1e-5)
	for alpha, want := range map[float64]float64{.05: 30.8, .07: 21.6, .1: 13.8, .15: 7.5, .2: 4.6, .3: 2.1} {
		const n = 161
		rad := math.Pi / 180
		l := vector{-math.Sin(60 * rad), 0, math.Cos(60 * rad)}
		wide, high := 4.4*rad/(n-1), 11.7*rad/(n-1)
		sum := 0.0
		for i := range n {
			for j := range n {
				th := 60*rad + (float64(i)-(n-1)/2)*wide
				up := (float64(j) - (n-1)/2) * high
				v := vector{math.Sin(th) * math.Cos(up), math.Sin(up), math.Cos(th) * math.Cos(up)}
				h := vector{l[0] + v[0], l[1] + v[1], l[2] + v[2]}.unit()
				sum += ggx(alpha, l[2], v[2], h[2]) * exact(dot(v, h), 1.5) * v[2] * wide * high
			}
		}
		near(t, "gloss units", 100*sum/exact(.5, 1.567), want, .06) // rounded to 0.1
	}
}

func TestToneKeepsRatiosAndStaysBelowOne(t *testing.T) {
	last := 0.0
	for i := range 400 {
		x := float64(i) / 50
		v := tone([3]float64{x, x / 2, x / 4}, toneKnee)
		if x <= toneKnee && v[0] != x {
			t.Errorf("%g below the knee becomes %g", x, v[0])
		}
		if v[0] < last-1e-12 || v[0] > 1+1e-12 {
			t.Errorf("%g becomes %g after %g", x, v[0], last)
		}
		near(t, "ratio", v[1], v[0]/2, 1e-12)
		last = v[0]
	}
	near(t, "far above", tone([3]float64{1e6, 0, 0}, toneKnee)[0], 1, 1e-12)
}

func TestSheetFacingTheLampShinesMost(t *testing.T) {
	s := Surface{R45: [3]float32{.3, .3, .3}, Metal: [3]float32{.3, .3, .3}, MetalShare: 1, MetalAlpha: .3, CoatAlpha: .1}
	h := newShine(&s)
	best, at := 0.0, 0.0
	for tilt := -40.0; tilt <= 60; tilt += .5 {
		light := MeasuredLight()
		light.Azimuth = 130 // the lamp may stand anywhere
		light.Even = true
		lamp, err := newLamp(light.Tilted(tilt))
		if err != nil {
			t.Fatal(err)
		}
		if p := lamp.shade(&h, &lamp.far); p.flakes[1] > best {
			best, at = p.flakes[1], tilt
		}
	}
	near(t, "tilt", at, 22.5, 1.5) // half-way to the lamp; two angles are no turn about one axis, but nearly
}

func TestLampFarAwayIsParallel(t *testing.T) {
	l := MeasuredLight()
	l.Distance = 1e6
	lamp, err := newLamp(l)
	if err != nil {
		t.Fatal(err)
	}
	g := lamp.at(100, -80)
	near(t, "n.l", g.nl, cos45, 2e-4) // 0.1 m of 1 km
	near(t, "n.h", g.nh, measuring.nh, 2e-4)
	near(t, "light", g.fall, 1, 4e-4)
}

func TestLampBelowTheSheetLeavesTheRoomLight(t *testing.T) {
	l := Light{Elevation: 10, Strength: 1, Ambient: .25}
	lamp, err := newLamp(l.Tilted(-40))
	if err != nil {
		t.Fatal(err)
	}
	s := Surface{R45: [3]float32{.5, .5, .5}, CoatAlpha: .1}
	h := newShine(&s)
	p := lamp.shade(&h, &lamp.far)
	near(t, "light", p.base[0], .25*(h.diffuse[0]+coatF0), 1e-9)
}

func TestLightRefusesWhatNoLampHas(t *testing.T) {
	for _, l := range []Light{{Elevation: -1}, {Elevation: math.NaN()}, {Strength: math.Inf(1)}, {TiltTop: 90}, {Radius: 60}, {Distance: -2}, {Glint: Glint{Flake: -1}}} {
		if _, err := newLamp(l); err == nil {
			t.Errorf("%+v is taken", l)
		}
	}
}

func TestPathOfTheLampIsNearlyExact(t *testing.T) {
	light := LampLight(100) // nearer than anybody's
	lamp, err := newLamp(light.Tilted(20))
	if err != nil {
		t.Fatal(err)
	}
	const pixel = 25.4 / 150
	p := lampPath{lamp: lamp, up: 31, left: -50, step: lampStep * pixel, block: -1}
	for x := range 600 {
		got, want := p.at(x), lamp.at(-50+(float64(x)+.5)*pixel, 31)
		for i, c := range [][2]float64{{got.nl, want.nl}, {got.nh, want.nh}, {got.vh, want.vh}, {got.hx, want.hx}, {got.hy, want.hy}, {got.fall, want.fall}} {
			if d := c[0] - c[1]; d < -1e-4 || d > 1e-4 { // the square of a block over the distance, by eight
				t.Fatalf("pixel %d value %d: %g, want %g", x, i, c[0], c[1])
			}
		}
	}
}

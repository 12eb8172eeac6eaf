package look

import (
	"math"
	"testing"
)

// glintOf counts mean and spread of the factor over a square of pixels, with the lamp somewhere.
func glintOf(t *testing.T, l Light, dpi float64) (mean, spread, expected float64) {
	t.Helper()
	lamp, err := newLamp(l)
	if err != nil {
		t.Fatal(err)
	}
	s := Surface{R45: [3]float32{.3, .3, .3}, Metal: [3]float32{.3, .3, .3}, MetalShare: 1, MetalAlpha: .3}
	h := newShine(&s)
	area := 25400 / dpi * (25400 / dpi)
	expected = lamp.glint.expected(&h, &lamp.far, lamp.widening, area)
	p := newPoisson(expected)
	const side = 400
	var sum, square float64
	for y := range side {
		for x := range side {
			v := lamp.glint.factor(lamp.glint.place(x, y), &lamp.far, &p)
			if v < 0 {
				t.Fatalf("a factor of %g", v)
			}
			sum += v
			square += v * v
		}
	}
	mean = sum / (side * side)
	return mean, math.Sqrt(max(0, square/(side*side)-mean*mean)), expected
}

// The mean of 160,000 pixels is off by their spread over 400; four times that is allowed.
func TestGlintKeepsTheMean(t *testing.T) {
	for _, dpi := range []float64{1200, 600, 300, 150} {
		for _, elevation := range []float64{45, 60, 80, 20} {
			l := MeasuredLight()
			l.Elevation, l.Glint = elevation, DefaultGlint()
			mean, spread, _ := glintOf(t, l, dpi)
			if math.Abs(mean-1) > 4*spread/400 {
				t.Errorf("%g dpi, lamp at %g: mean %.4f, spread %.3f", dpi, elevation, mean, spread)
			}
		}
	}
}

// Between cells four numbers are blended, which leaves 0.55 of the spread on the mean (the mean over a cell of the sum of
// squared weights is 0.74 in each direction).
func TestGlintVanishesWithManyFlakes(t *testing.T) {
	last := math.Inf(1)
	for _, dpi := range []float64{600, 300, 150, 75, 37.5, 10, 1} {
		l := MeasuredLight()
		l.Glint = DefaultGlint()
		_, spread, expected := glintOf(t, l, dpi)
		if want := math.Sqrt(.743 * .743 / expected); expected > 2 && math.Abs(spread/want-1) > .05 {
			t.Errorf("%g dpi: spread %.3f, want %.3f", dpi, spread, want)
		}
		if spread >= last {
			t.Errorf("%g dpi: the spread grows from %.3f to %.3f", dpi, last, spread)
		}
		last = spread
	}
	if last > .01 {
		t.Errorf("a pixel of an inch still glints by %.3f", last)
	}
}

func TestPoissonTablesHaveTheMeanAndSpread(t *testing.T) {
	for i, table := range poissonTables() {
		want := float64(4+i%4) / 4 * math.Ldexp(1, poissonLow+i/4)
		var mean, square float64
		for _, v := range table {
			mean += float64(v) / poissonSlices
			square += float64(v) * float64(v) / poissonSlices
		}
		near(t, "mean", mean, 1, 1e-6)
		// Slices of a thousandth cut off the tails: the rarer the flakes, the more.
		if spread := math.Sqrt(square-1) * math.Sqrt(want); want > .1 && math.Abs(spread-1) > .03 {
			t.Errorf("mean %g: spread %.3f", want, spread)
		}
	}
}

func TestGlintMovesSmoothlyWithTheLamp(t *testing.T) {
	s := Surface{R45: [3]float32{.3, .3, .3}, Metal: [3]float32{.3, .3, .3}, MetalShare: 1, MetalAlpha: .3}
	h := newShine(&s)
	const n = 300
	var last [n]float64
	moved, jump := 0.0, 0.0
	for step := range 200 {
		l := MeasuredLight()
		l.Elevation, l.Azimuth, l.Glint = 40+.1*float64(step), .07*float64(step), DefaultGlint()
		lamp, err := newLamp(l)
		if err != nil {
			t.Fatal(err)
		}
		p := newPoisson(lamp.glint.expected(&h, &lamp.far, 0, 7174))
		for i := range last {
			v := lamp.glint.factor(lamp.glint.place(i, 3*i), &lamp.far, &p)
			if step > 0 {
				moved = max(moved, math.Abs(v-last[i]))
			}
			last[i] = v
			jump = max(jump, v)
		}
	}
	// A tenth of a degree is a hundredth of a cell or two.
	if moved > .15 || jump < 2 {
		t.Errorf("a tenth of a degree changes a pixel by %.3f, the brightest is %.2f", moved, jump)
	}
}

func TestFoilDoesNotGlint(t *testing.T) {
	l := MeasuredLight()
	l.Glint = DefaultGlint()
	lamp, err := newLamp(l)
	if err != nil {
		t.Fatal(err)
	}
	for alpha, want := range map[float32]float32{.10: 0, .15: 0, .20: 1, .30: 1} {
		h := newShine(&Surface{R45: [3]float32{.3, .3, .3}, Metal: [3]float32{.3, .3, .3}, MetalShare: 1, MetalAlpha: alpha})
		if p := lamp.glint.number(&h, &lamp.far, 0, 7174); p.spread < want-1e-4 || p.spread > want+1e-4 {
			t.Errorf("a lobe of width %g glints by %g of a flake's", alpha, p.spread)
		}
	}
}

package look

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/plates/plate"
)

// someLinear are linear sRGB colours from below lo to above hi, denser in the dark.
func someLinear(n int, lo, hi float64) [][3]float64 {
	r := rand.New(rand.NewPCG(5, 6))
	out := make([][3]float64, n)
	for i := range out {
		for c := range out[i] {
			x := r.Float64()
			out[i][c] = lo + (hi-lo)*x*x
		}
	}
	return out
}

func TestOKLabOfWhiteAndBack(t *testing.T) {
	w := okLabFromLinear([3]float64{1, 1, 1})
	for c, want := range (okLab{1, 0, 0}) {
		near(t, "white", w[c], want, 1e-7) // the published matrices have ten decimals
	}
	for _, v := range someLinear(1000, -.2, 1.3) {
		back := linearFromOKLab(okLabFromLinear(v))
		for c := range v {
			near(t, "back", back[c], v[c], 1e-6)
		}
	}
}

func TestLabOfLinearAgreesWithTheWayBack(t *testing.T) {
	for _, v := range someLinear(1000, 0, 1) {
		xyz := xyzFromLab(labFromLinear(v))
		for c := range v {
			got := 0.0
			for k := range xyz {
				got += linearFromXYZ[c][k] * xyz[k] * whiteD50[k] / white[k]
			}
			near(t, "linear", got, v[c], 1e-9)
		}
	}
}

// Half an 8-bit step is about 0.2; 0.9 is what the soft knee costs on the very edge.
func TestColoursInsideTheGamutHardlyMove(t *testing.T) {
	for _, v := range someLinear(100000, 0, 1) {
		if f := fit(v); f.outside || f.shift > 0.9 {
			t.Fatalf("%v becomes %v, %.2f away", v, f.linear, f.shift)
		}
	}
}

func TestColoursWellInsideDoNotMove(t *testing.T) {
	for _, v := range someLinear(10000, .05, .75) {
		if max(v[0], v[1], v[2]) > 4*min(v[0], v[1], v[2]) {
			continue
		}
		if f := fit(v); f.linear != v || f.shift != 0 {
			t.Fatalf("%v becomes %v", v, f.linear)
		}
	}
}

func TestFittedColoursAreInsideAndKeepTheirHue(t *testing.T) {
	seen := 0
	for _, v := range someLinear(50000, -.05, 1.4) {
		if .2126*v[0]+.7152*v[1]+.0722*v[2] < .01 {
			continue // no light, or less
		}
		f := fit(v)
		if !inGamut(f.linear, 0) {
			t.Fatalf("%v becomes %v", v, f.linear)
		}
		p, q := okLabFromLinear(v), okLabFromLinear(f.linear)
		if max(v[0], v[1], v[2]) < .2 || math.Hypot(q[1], q[2]) < .03 {
			continue // hue says little: dark colours are clipped
		}
		seen++
		// The edge may be overstepped by gamutHollow and is clipped there.
		if d := math.Abs(math.Remainder(hueDegrees(p[1], p[2])-hueDegrees(q[1], q[2]), 360)); d > 4 {
			t.Fatalf("%v becomes %v: hue turns by %.1f degrees", v, f.linear, d)
		}
	}
	if seen < 10000 {
		t.Errorf("only %d colours were looked at", seen)
	}
}

// A fluorescent pink (radiance factor above 1) and its neighbours stay apart, where clipping would make them one.
func TestNeighboursOutsideStayApart(t *testing.T) {
	last := fit([3]float64{1.00, .07, .40}).linear
	for i := 1; i <= 6; i++ {
		next := fit([3]float64{1 + .05*float64(i), .07, .40}).linear
		if d := Difference(labFromLinear(last), labFromLinear(next)); d < .1 {
			t.Errorf("step %d is %.3f", i, d)
		}
		last = next
	}
}

func TestFittingIsSmooth(t *testing.T) {
	// No jump where a colour leaves the gamut, through the knee and the dark, across every hue.
	for h := range 72 {
		a, b := sinDeg(5*float64(h)), cosDeg(5*float64(h))
		for _, l := range []float64{.2, .5, .8} {
			last := fit(linearFromOKLab(okLab{l, 0, 0})).linear
			for i := 1; i <= 400; i++ {
				c := .4 * l * float64(i) / 400 // toners and lamps give no more
				next := fit(linearFromOKLab(okLab{l, c * a, c * b})).linear
				if d := Difference(labFromLinear(last), labFromLinear(next)); d > 3 {
					t.Fatalf("hue %d lightness %.1f chroma %.3f: jumps by %.2f", 5*h, l, c, d)
				}
				last = next
			}
		}
	}
}

func TestPictureCountsWhatAScreenCannotShow(t *testing.T) {
	m := model(t, stockOf(t, "white-gloss"), toners(t, "Cyan", "Yellow")...)
	const w, h = 40, 10
	cyan := make([]byte, w*h)
	for i := range cyan[:w] {
		cyan[i] = 255
	}
	if f := fit(newEvaluator(m).linearAt(key{255})); !f.outside {
		t.Skip("the cyan of this press is inside")
	}
	for _, reduce := range []int{1, 2} {
		s := NewPictureSink(m, 2)
		s.Reduce = reduce
		if err := s.Begin(plate.Header{Width: w, Height: h}); err != nil {
			t.Fatal(err)
		}
		if err := s.Band(&plate.Band{Rows: h, Planes: [][]byte{cyan, nil}}); err != nil {
			t.Fatal(err)
		}
		g := s.Gamut()
		if g.Pixels != w*h || g.Outside != w || g.Worst <= 0 {
			t.Errorf("reduced by %d: %+v", reduce, g)
		}
	}
}

// Of all colours of a screen, found by trying them in steps of 1/40 of the linear primaries, none is nearer by more than
// 0.7 (0.6 was found; the grid itself is 0.2 off): a cyan, a fluorescent pink, a magenta, a yellow as toners have them.
func TestFittedColoursAreNearlyTheNearest(t *testing.T) {
	for _, v := range [][3]float64{{-.159, .310, .701}, {1.28, .07, .4}, {.8, -.03, .23}, {.95, .76, -.05}, {-.08, .39, .74}} {
		want := labFromLinear(v)
		best := math.Inf(1)
		const n = 40
		for i := range (n + 1) * (n + 1) * (n + 1) {
			x := [3]float64{float64(i%(n+1)) / n, float64(i/(n+1)%(n+1)) / n, float64(i/(n+1)/(n+1)) / n}
			best = min(best, Difference(want, labFromLinear(x)))
		}
		if f := fit(v); f.shift > best+.7 {
			t.Errorf("%v is shown %.2f away, %.2f is possible", v, f.shift, best)
		}
	}
}

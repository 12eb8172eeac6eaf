package colour

import (
	"fmt"
	"math"
	"testing"
)

// deltaE00 is CIEDE2000 (CIE 142).
func deltaE00(a, b [3]float64) float64 {
	c1, c2 := math.Hypot(a[1], a[2]), math.Hypot(b[1], b[2])
	m7 := math.Pow((c1+c2)/2, 7)
	g := .5 * (1 - math.Sqrt(m7/(m7+math.Pow(25, 7))))
	a1, a2 := a[1]*(1+g), b[1]*(1+g)
	c1, c2 = math.Hypot(a1, a[2]), math.Hypot(a2, b[2])
	hue := func(b, a float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		return math.Mod(math.Atan2(b, a)*180/math.Pi+360, 360)
	}
	h1, h2 := hue(a[2], a1), hue(b[2], a2)
	dh, mean := 0.0, h1+h2
	if c1*c2 != 0 {
		dh = h2 - h1
		if math.Abs(dh) > 180 {
			dh -= math.Copysign(360, dh)
			if mean < 360 {
				mean += 360
			} else {
				mean -= 360
			}
		}
		mean /= 2
	}
	rad := func(d float64) float64 { return d * math.Pi / 180 }
	dL, dC, dH := b[0]-a[0], c2-c1, 2*math.Sqrt(c1*c2)*math.Sin(rad(dh)/2)
	l, c := (a[0]+b[0])/2, (c1+c2)/2
	t := 1 - .17*math.Cos(rad(mean-30)) + .24*math.Cos(rad(2*mean)) + .32*math.Cos(rad(3*mean+6)) - .2*math.Cos(rad(4*mean-63))
	sL := 1 + .015*(l-50)*(l-50)/math.Sqrt(20+(l-50)*(l-50))
	sC, sH := 1+.045*c, 1+.015*c*t
	c7 := math.Pow(c, 7)
	rT := -2 * math.Sqrt(c7/(c7+math.Pow(25, 7))) * math.Sin(rad(60*math.Exp(-math.Pow((mean-275)/25, 2))))
	x, y, z := dL/sL, dC/sC, dH/sH
	return math.Sqrt(x*x + y*y + z*z + rT*y*z)
}

// The first pairs of the table published with the formula.
func TestColourDifferenceOfPublishedPairs(t *testing.T) {
	for _, tt := range []struct {
		a, b [3]float64
		want float64
	}{
		{[3]float64{50, 2.6772, -79.7751}, [3]float64{50, 0, -82.7485}, 2.0425},
		{[3]float64{50, 2.5, 0}, [3]float64{73, 25, -18}, 27.1492},
		{[3]float64{2.0776, .0795, -1.135}, [3]float64{.9033, -.0636, -.5514}, .9082},
	} {
		if got := deltaE00(tt.a, tt.b); math.Abs(got-tt.want) > .0001 {
			t.Errorf("%v %v: %.4f, want %.4f", tt.a, tt.b, got, tt.want)
		}
	}
}

// source is something to convert from, known to both engines.
type source struct {
	name  string
	space Space
	arg   string
	scale float64
	rows  [][]float64
}

func sourcesFrom(all []realProfile) []source {
	lab := &Lab{White: d50, Limits: [4]float64{-128, 127, -128, 127}}
	list := []source{{"sRGB", RGB, "*sRGB", 255, grid(5, 3)}}
	var labs [][]float64
	for _, r := range grid(6, 3) {
		labs = append(labs, []float64{r[0] * 100, r[1]*160 - 80, r[2]*160 - 80})
	}
	list = append(list, source{"Lab", lab, "*Lab2", 1, labs})
	for _, r := range all {
		if r.err != nil {
			continue
		}
		s := source{name: r.name, space: &ICCBased{N: r.p.n, Profile: r.p, Alternate: RGB, Limits: []float64{0, 1, 0, 1, 0, 1, 0, 1}[:2*r.p.n]}, arg: r.path, scale: 255}
		switch r.p.n {
		case 1:
			s.rows = grid(17, 1)
		case 3:
			s.rows = grid(5, 3)
		case 4:
			s.scale = 100
			s.rows = grid(4, 4)
		}
		list = append(list, s)
	}
	return list
}

// All intents, with and without black point compensation, from every source to every output profile,
// against the independent engine. Differences are of the printed colours as the output profile tells
// them: mean CIEDE2000 at most 0.1, and at most 1 anywhere. Both engines interpolate the same tables;
// what is left is the 16-bit and single precision arithmetic of the other one, which a steep table raises.
func TestIntentsAgreeWithIndependentEngine(t *testing.T) {
	all := realProfiles(t)
	numbers := map[Intent]string{Perceptual: "0", RelativeColorimetric: "1", Saturation: "2", AbsoluteColorimetric: "3"}
	ways, largestMean, largest := 0, 0.0, 0.0
	for k, out := range all {
		if out.err != nil || out.p.n != 4 || !out.p.CanPrint() {
			continue
		}
		c := NewConverter(out.p)
		for i, s := range sourcesFrom(all) {
			if s.arg == out.path || i > 1 && (i+k)%3 != 0 {
				continue // passes unchanged; or its turn is at another output profile: each starts a process
			}
			for intent, number := range numbers {
				for _, bpc := range []Intent{KeepBlack, CompensateBlack} {
					if base := intent.Base(); bpc == KeepBlack && out.p.Version() >= 4 && (base == Perceptual || base == Saturation) {
						continue // the other engine compensates even when told not to
					}
					args := []string{"-i", s.arg, "-o", out.path, "-t" + number}
					if bpc == CompensateBlack {
						if intent == AbsoluteColorimetric {
							continue
						}
						args = append(args, "-b")
					}
					want := transicc(t, scaled(s.rows, s.scale), args...)
					mean, worst, where := 0.0, 0.0, ""
					for i, row := range s.rows {
						got := c.CMYK(s.space, row, intent|bpc)
						theirs := [4]float64{}
						for k := range theirs {
							theirs[k] = clamp(want[i][k]/100, 0, 1)
						}
						d := deltaE00(labFromXYZ(out.p.XYZ(got[:], RelativeColorimetric), d50), labFromXYZ(out.p.XYZ(theirs[:], RelativeColorimetric), d50))
						mean += d / float64(len(s.rows))
						if d > worst {
							worst, where = d, fmt.Sprintf("%.3g: %.4f, want %.4f", row, got, theirs)
						}
					}
					ways, largestMean, largest = ways+1, max(largestMean, mean), max(largest, worst)
					if mean > .1 || worst > 1 {
						t.Errorf("%s to %s, %v: mean %.3f, worst %.3f at %s", s.name, out.name, intent|bpc, mean, worst, where)
					}
				}
			}
		}
	}
	t.Logf("%d ways: mean at most %.4f, anywhere at most %.3f", ways, largestMean, largest)
}

package paint

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// formula is a function of tests.
type formula struct {
	in, out int
	eval    func(out, in []float64)
}

func (f *formula) Inputs() int            { return f.in }
func (f *formula) Outputs() int           { return f.out }
func (f *formula) Eval(out, in []float64) { f.eval(out, in) }

// ramp goes in a straight line from one colour to another.
func ramp(from, to []float64) colour.Function {
	return &formula{1, len(from), func(out, in []float64) {
		for i := range out {
			out[i] = from[i] + float64(in[0]*(to[i]-from[i]))
		}
	}}
}

var cyanRamp = ramp([]float64{0, 0, 0, 0}, []float64{1, 0, 0, 0})

// axialOf is an axial shading in list space, extended both ways.
func axialOf(s colour.Space, f colour.Function, x0, y0, x1, y1 float64, change ...func(*displist.Shading)) *displist.Shading {
	sh := &displist.Shading{Type: 2, Space: s, M: geom.Identity, Coords: []float64{x0, y0, x1, y1}, Domain: []float64{0, 1},
		Extend: [2]bool{true, true}, Function: f}
	for _, c := range change {
		c(sh)
	}
	return sh
}

func radialOf(s colour.Space, f colour.Function, coords []float64, change ...func(*displist.Shading)) *displist.Shading {
	return axialOf(s, f, 0, 0, 0, 0, append([]func(*displist.Shading){func(sh *displist.Shading) {
		sh.Type, sh.Coords = 3, coords
	}}, change...)...)
}

func extend(start, end bool) func(*displist.Shading) {
	return func(s *displist.Shading) { s.Extend = [2]bool{start, end} }
}

// shaded is a rectangle filled with a shading.
func shaded(x0, y0, x1, y1 float64, sh *displist.Shading, change ...func(*displist.Item)) displist.Item {
	return rect(x0, y0, x1, y1, displist.Paint{Shading: sh}, change...)
}

// painted is a shading laid over the page (sh).
func paintedWith(w, h float64, sh *displist.Shading, change ...func(*displist.Item)) displist.Item {
	it := displist.Item{Kind: displist.Shade, Shading: sh, Alpha: 1, Bounds: geom.Rect{X1: w, Y1: h}}
	for _, f := range change {
		f(&it)
	}
	return it
}

// Is the tint of every pixel that of its centre, to less than half a step of 8 bits, or of a place less than an
// eighth of a pixel off?
func TestAxialIsItsFunctionAtTheCentre(t *testing.T) {
	curves := map[string]func(x float64) float64{
		"straight": func(x float64) float64 { return x },
		"power":    func(x float64) float64 { return math.Pow(x, 2.7) },
		"root":     math.Sqrt, // rises without end at the start
		"wave":     func(x float64) float64 { return 0.5 + 0.5*math.Sin(9*x) },
		"jump":     func(x float64) float64 { return math.Floor(3*x) / 3 },
	}
	for name, f := range curves {
		for _, turn := range []float64{0, 0.3, 1.2, math.Pi / 2, 4} {
			const w, h, scale = 150, 110, 72.0 / 300
			sin, cos := math.Sincos(turn)
			x0, y0 := 75-60*cos, 55-60*sin
			x1, y1 := 75+60*cos, 55+60*sin
			sh := axialOf(white, &formula{1, 1, func(out, in []float64) { out[0] = f(in[0]) }}, x0, y0, x1, y1)
			j := jobOf(list(w, h, paintedWith(w, h, sh)))
			j.DPI = 300
			s := render(t, j)
			worst := 0.0
			for y := range s.Height {
				for x := range s.Width {
					px, py := (float64(x)+0.5)*scale, (float64(y)+0.5)*scale
					u := ((px-x0)*(x1-x0) + (py-y0)*(y1-y0)) / (120 * 120)
					got, lo, hi := float64(s.At(4, x, y))/255, 1.0, 0.0
					for _, d := range []float64{0, -scale / 8 / 120, scale / 8 / 120} {
						v := f(max(0, min(1, u+d)))
						lo, hi = min(lo, v), max(hi, v)
					}
					worst = max(worst, 255*max(lo-got, got-hi)-0.5)
				}
			}
			t.Logf("%s turned %.1f: %.3f steps beyond rounding", name, turn, worst)
			if worst > 0.5 {
				t.Errorf("%s turned %.1f: off by %.3f steps beyond rounding", name, turn, worst)
			}
		}
	}
}

// Where does a shading end that is not extended, and what do a background and a box do?
func TestShadingsEnd(t *testing.T) {
	box := func(x0, y0, x1, y1 float64) func(*displist.Shading) {
		return func(s *displist.Shading) { s.BBox = &geom.Rect{X0: x0, Y0: y0, X1: x1, Y1: y1} }
	}
	back := func(v float64) func(*displist.Shading) {
		return func(s *displist.Shading) { s.Background = []float64{v} }
	}
	f := ramp([]float64{0.2}, []float64{1})
	for _, c := range []struct {
		name string
		item displist.Item
		want string
	}{
		{"extended", paintedWith(8, 2, axialOf(white, f, 2, 0, 6, 0)), "22356899\n22356899"},
		{"not extended", paintedWith(8, 2, axialOf(white, f, 2, 0, 6, 0, extend(false, false))), "00356800\n00356800"},
		{"extended at the start", paintedWith(8, 2, axialOf(white, f, 2, 0, 6, 0, extend(true, false))), "22356800\n22356800"},
		{"leftwards, extended at the end", paintedWith(8, 2, axialOf(white, f, 6, 0, 2, 0, extend(false, true))), "99865300\n99865300"},
		{"over a background", shaded(0, 0, 8, 2, axialOf(white, f, 2, 0, 6, 0, extend(false, false), back(0.5))), "55356855\n55356855"},
		{"in a box", paintedWith(8, 2, axialOf(white, f, 2, 0, 6, 0, box(1, 0, 5, 1))), "02356000\n00000000"},
		{"in a box that halves a pixel", paintedWith(8, 2, axialOf(white, f, 2, 0, 6, 0, box(1.5, 0, 5, 1))), "01356000\n00000000"},
		{"in a box over a background", shaded(0, 0, 8, 2, axialOf(white, f, 2, 0, 6, 0, box(1.5, 0, 5, 1), back(0.5))), "53356555\n55555555"},
		{"from a point to itself", paintedWith(8, 2, axialOf(white, f, 2, 1, 2, 1)), ""},
		{"from a point to itself over a background", shaded(0, 0, 4, 2, axialOf(white, f, 2, 1, 2, 1, back(0.5))), "55550000\n55550000"},
		{"downwards", paintedWith(8, 2, axialOf(white, f, 0, 0, 0, 2)), "44444444\n77777777"},
		{"circles", paintedWith(8, 2, radialOf(white, f, []float64{4, 1, 0, 4, 1, 3}, extend(true, false))), "08633680\n08633680"},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := "Cyan -\nMagenta -\nYellow -\nBlack -\nWhite -\nGold -"
			if c.want != "" {
				want = strings.Replace(want, "White -", "White\n"+c.want, 1)
			}
			sameGrid(t, plate.TextGrid(render(t, jobOf(list(8, 2, c.item)))), want)
		})
	}
}

// Is the circle on top the last one through a point, for circles inside and beside each other, extended or not?
func TestRadialIsTheLastCircleThroughAPoint(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	const side, steps = 24, 2000
	for k := range 30 {
		c := []float64{r.Float64() * side, r.Float64() * side, r.Float64() * 12, r.Float64() * side, r.Float64() * side, r.Float64() * 12}
		switch k % 5 {
		case 1: // one centre
			c[3], c[4] = c[0], c[1]
		case 2: // one radius
			c[5] = c[2]
		case 3: // touching from inside
			c[5] = c[2] + math.Hypot(c[3]-c[0], c[4]-c[1])
		case 4:
			c[2] = 0
		}
		ext := [2]bool{k&1 != 0, k&2 != 0}
		sh := radialOf(white, ramp([]float64{0.1}, []float64{1}), c, extend(ext[0], ext[1]))
		s := render(t, jobOf(list(side, side, paintedWith(side, side, sh))))
		bad := 0
		for y := range side {
			for x := range side {
				want, lo, hi := 0.0, -30.0, 30.0
				if !ext[0] {
					lo = 0
				}
				if !ext[1] {
					hi = 1
				}
				// Walk the family from its end; a circle passes the point where the sign of the distance changes.
				last := math.NaN()
				edge := false
				for i := range steps + 1 {
					u := hi - float64(i)/steps*(hi-lo)
					rad := c[2] + u*(c[5]-c[2])
					d := math.Hypot(float64(x)+0.5-c[0]-u*(c[3]-c[0]), float64(y)+0.5-c[1]-u*(c[4]-c[1])) - rad
					if rad >= 0 && !math.IsNaN(last) && (d <= 0) != (last <= 0) {
						want = 0.1 + 0.9*max(0, min(1, u))
						break
					}
					edge = edge || math.Abs(d) < 0.05 || math.Abs(rad) < 0.05
					last = d
					if rad < 0 {
						last = math.NaN()
					}
				}
				if got := float64(s.At(4, x, y)) / 255; math.Abs(got-want) > 0.03 && !edge {
					bad++
				}
			}
		}
		if bad > side*side/200 {
			t.Errorf("circles %v extended %v: %d pixels differ", c, ext, bad)
		}
	}
}

// What does a shading do to plates it does not name, with and without overprint, and is OPM 1 without effect on it?
func TestShadingsOverprint(t *testing.T) {
	under := rect(0, 0, 4, 1, paintOf(white, 1))
	zero := ramp([]float64{0, 0, 0, 0}, []float64{0, 1, 0, 0})
	for _, c := range []struct {
		name string
		item displist.Item
		want string
	}{
		{"knockout", shaded(0, 0, 4, 1, axialOf(colour.CMYK, zero, 0, 0, 4, 0)), "Cyan -\nMagenta\n1368\nYellow -\nBlack -\nWhite -\nGold -"},
		{"overprint", shaded(0, 0, 4, 1, axialOf(colour.CMYK, zero, 0, 0, 4, 0), overprint(1)), "Cyan -\nMagenta\n1368\nYellow -\nBlack -\nWhite\n9999\nGold -"},
		{"spot", shaded(0, 0, 4, 1, axialOf(gold, ramp([]float64{0}, []float64{1}), 0, 0, 4, 0), overprint(0)), "Cyan\n9999\nMagenta -\nYellow -\nBlack -\nWhite\n9999\nGold\n1368"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := plate.TextGrid(render(t, jobOf(list(4, 1, under, rect(0, 0, 4, 1, cmyk(1, 0, 0, 0), overprint(1)), c.item))))
			sameGrid(t, got, c.want)
		})
	}
}

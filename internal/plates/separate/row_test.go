package separate

import (
	"math"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/press"
)

// curve is a function of tests.
type curve struct {
	out  int
	eval func(out []float64, x float64)
}

func (c *curve) Inputs() int            { return 1 }
func (c *curve) Outputs() int           { return c.out }
func (c *curve) Eval(out, in []float64) { c.eval(out, in[0]) }

func rampTarget(t *testing.T) *Target {
	t.Helper()
	target, err := NewTarget(&press.Press{Name: "p", Toners: []press.Toner{{Name: "White"}}, Sets: []press.Set{{Stations: []string{"Cyan", "Magenta", "Yellow", "Black", "White"}}}}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return target
}

// Is every entry of a ramp the tint of its place, to an eighth of a step of 8 bits where the function is smooth and
// exactly where it is not?
func TestRampIsItsFunction(t *testing.T) {
	target := rampTarget(t)
	white := &colour.Separation{Name: "White", Alternate: colour.CMYK, Tint: &curve{4, func(out []float64, x float64) { clear(out) }}}
	for name, c := range map[string]struct {
		space colour.Space
		f     *curve
	}{
		"power":  {white, &curve{1, func(out []float64, x float64) { out[0] = math.Pow(x, 2.2) }}},
		"jumps":  {white, &curve{1, func(out []float64, x float64) { out[0] = math.Floor(x*7) / 7 }}},
		"beyond": {white, &curve{1, func(out []float64, x float64) { out[0] = 3*x - 1 }}},
		"CMYK":   {colour.CMYK, &curve{4, func(out []float64, x float64) { out[0], out[1], out[2], out[3] = x, 1-x, x*x, 0 }}},
		"RGB":    {colour.RGB, &curve{3, func(out []float64, x float64) { out[0], out[1], out[2] = x, 0.3, 1-x }}},
	} {
		t.Run(name, func(t *testing.T) {
			k := target.Space(c.space, false, 0, Context{})
			const n = 1024
			r := k.Ramp(c.f, 0, 1, 64, n)
			s := k.Sampler(c.f)
			for i := range n + 1 {
				for comp, want := range s.Tints([]float64{float64(i) / n}) {
					got := r.Tints[comp][i]
					if d := int(got) - int(want); d > rampTolerance+2 || d < -rampTolerance-2 {
						if name != "jumps" { // a jump between two samples is found when the middle shows it
							t.Fatalf("entry %d of component %d is %d, the function gives %d", i, comp, got, want)
						}
						if math.Abs(float64(d)) > 65535/7+1 {
							t.Fatalf("entry %d is %d, the function gives %d", i, got, want)
						}
					}
					if r.Tints8[comp][i] != Tint8(got) {
						t.Fatalf("entry %d has %d with 8 bits, %d with 16", i, r.Tints8[comp][i], got)
					}
				}
			}
		})
	}
}

// Is a space linear exactly where the tints of a mean of two colours are the means of their tints?
func TestLinearSpacesInterpolate(t *testing.T) {
	target := rampTarget(t)
	white := &colour.Separation{Name: "White", Alternate: colour.CMYK, Tint: &curve{4, func(out []float64, x float64) { clear(out) }}}
	other := &colour.Separation{Name: "Other", Alternate: colour.CMYK, Tint: &curve{4, func(out []float64, x float64) { out[0], out[1], out[2], out[3] = x*x, 0, 0, 0 }}}
	for _, c := range []struct {
		space  colour.Space
		linear bool
	}{{colour.CMYK, true}, {colour.Gray, true}, {white, true}, {other, false}, {colour.RGB, false},
		{&colour.Indexed{Base: colour.Gray, HiVal: 1, Table: []byte{0, 255}}, false}} {
		k := target.Space(c.space, false, 0, Context{})
		if k.Linear() != c.linear {
			t.Errorf("%s: linear is %v", c.space, k.Linear())
		}
		if !c.linear {
			continue
		}
		n := c.space.Components()
		a, b, mean := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			a[i], b[i] = float64(i)/5, 1-float64(i)/9
			mean[i] = (a[i] + b[i]) / 2
		}
		s := k.Sampler(nil)
		ta := append([]uint16(nil), s.Tints(a)...)
		tb := append([]uint16(nil), s.Tints(b)...)
		for i, v := range s.Tints(mean) {
			if d := 2*int(v) - int(ta[i]) - int(tb[i]); d > 2 || d < -2 {
				t.Errorf("%s: component %d of the mean is %d, of %d and %d", c.space, i, v, ta[i], tb[i])
			}
		}
	}
}

package look

import (
	"fmt"
	"math"
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// inkCurve tells how far along its nodes a tint of one ink lies, by effective coverage: 0 at no ink, 1 at the solid.
type inkCurve struct {
	tints []float64     // of the nodes
	at    []float64     // effective coverage of the nodes
	ramp  [groups]pchip // tint -> effective coverage, for short, middle and long waves
}

// Coverage differs a little over the spectrum, as paper and dots scatter it differently. Three numbers for a patch are
// what three numbers of a measured colour can tell.
const groups = 3

// groupShare blends the groups over the bands, straight between 450, 545 and 610 nm, where the eye's three
// responses are centred.
var groupShare = func() (s [bands][groups]float64) {
	centre := [groups]float64{450, 545, 610}
	for b, w := range wavelengths {
		switch {
		case w <= centre[0]:
			s[b][0] = 1
		case w >= centre[2]:
			s[b][2] = 1
		default:
			g := 0
			if w > centre[1] {
				g = 1
			}
			f := (w - centre[g]) / (centre[g+1] - centre[g])
			s[b][g], s[b][g+1] = 1-f, f
		}
	}
	return s
}()

// steps are the weights of up to four nodes from number from on.
type steps struct {
	from, n int
	w       [4]spectrum
}

func (c *inkCurve) cell(t float64) int {
	k := 0
	for k+2 < len(c.tints) && t >= c.tints[k+1] {
		k++
	}
	return k
}

// steps weighs the nodes for tint t.
func (c *inkCurve) steps(t float64) (s steps) {
	for k, v := range c.tints {
		if t == v {
			s.from, s.n = k, 1
			for b := range s.w[0] {
				s.w[0][b] = 1
			}
			return s
		}
	}
	var x [groups]float64
	for g := range x {
		x[g] = c.ramp[g].value(t)
	}
	k := c.cell(t)
	for b := range bands {
		at := 0.0
		for g, v := range groupShare[b] {
			at += float64(v * x[g])
		}
		var w [4]float64
		s.from, s.n, w = c.weights(k, at)
		for i, v := range w {
			s.w[i][b] = v
		}
	}
	return s
}

// weights of the nodes around cell k at coverage x: the parabolas through the nodes k-1, k, k+1 and k, k+1, k+2, blended
// over the cell (Overhauser 1968), so that the slope has no step at a node; at the ends one parabola, with two nodes a line.
func (c *inkCurve) weights(k int, x float64) (from, n int, w [4]float64) {
	a := c.at
	if len(a) == 2 {
		return 0, 2, [4]float64{1 - x, x}
	}
	parabola := func(i int) [3]float64 {
		p, q, r := a[i], a[i+1], a[i+2]
		return [3]float64{
			(x - q) * (x - r) / ((p - q) * (p - r)),
			(x - p) * (x - r) / ((q - p) * (q - r)),
			(x - p) * (x - q) / ((r - p) * (r - q)),
		}
	}
	first, last := k == 0, k == len(a)-2
	switch {
	case first:
		l := parabola(0)
		return 0, 3, [4]float64{l[0], l[1], l[2]}
	case last:
		l := parabola(k - 1)
		return k - 1, 3, [4]float64{l[0], l[1], l[2]}
	}
	l, r := parabola(k-1), parabola(k)
	f := min(max((x-a[k])/(a[k+1]-a[k]), 0), 1)
	for i := range 3 {
		w[i] += float64((1 - f) * l[i])
		w[i+1] += float64(f * r[i])
	}
	return k - 1, 4, w
}

// fitInk finds the curve of an ink from the patches that have no other.
func (p *Process) fitInk(ink int, samples []sample) error {
	c := &p.inks[ink]
	c.tints = p.levels[ink]
	stride := 1
	for i := ink + 1; i < 4; i++ {
		stride *= len(p.levels[i])
	}
	along := make([]spectrum, len(c.tints))
	for k := range along {
		along[k] = p.nodes[k*stride]
	}
	alone := map[float64]*sample{}
	var tints []float64
	for i := range samples {
		s := &samples[i]
		only := true
		for j, v := range s.tints {
			only = only && (j == ink || v == 0)
		}
		if only {
			alone[s.tints[ink]] = s
			tints = append(tints, s.tints[ink])
		}
	}
	slices.Sort(tints)
	for _, t := range c.tints {
		x := t
		if t > 0 && t < 1 {
			x = fitCoverage(alone[t].lab, [groups]float64{t, t, t}, math.Inf(1), func(x *[groups]float64) (r spectrum) {
				for b, v := range along[0] {
					r[b] = v + float64(x[0]*(along[len(along)-1][b]-v))
				}
				return r
			})[0]
		}
		if n := len(c.at); n > 0 && x-c.at[n-1] < leastStep {
			return fmt.Errorf("the ramp of %s does not go on from %.4g %% to %.4g %%", colourant.ProcessNames[ink], 100*c.tints[n-1], 100*t)
		}
		c.at = append(c.at, x)
	}
	var at [groups][]float64
	for _, t := range tints {
		var x [groups]float64
		k := c.cell(t)
		low, high := c.tints[k], c.tints[k+1]
		switch f := (t - low) / (high - low); f {
		case 0, 1:
			x[0] = c.at[k] + float64(f*(c.at[k+1]-c.at[k]))
			x[1], x[2] = x[0], x[0]
		default:
			start := c.at[k] + float64(f*(c.at[k+1]-c.at[k]))
			mix := func(x *[groups]float64) (r spectrum) {
				for b := range r {
					at := 0.0
					for g, v := range groupShare[b] {
						at += float64(v * x[g])
					}
					from, n, w := c.weights(k, at)
					for i := range n {
						r[b] += float64(w[i] * along[from+i][b])
					}
				}
				return r
			}
			x = fitCoverage(alone[t].lab, [groups]float64{start, start, start}, math.Inf(1), mix)
			x = fitCoverage(alone[t].lab, x, togetherness, mix)
		}
		for g, v := range x {
			at[g] = append(at[g], v)
		}
	}
	for g := range at {
		c.ramp[g] = newPchip(tints, at[g])
	}
	return nil
}

const (
	// leastStep of effective coverage between nodes: a shorter one is noise, and parabolas through it run wild.
	leastStep = 0.005
	// togetherness holds the coverages of the groups together, in squared colour differences for a coverage of 1 apart: it
	// decides where a group hardly changes the colour, as long waves with yellow.
	togetherness = 5
)

// fitCoverage finds the coverages at which mix, a root of reflectance, comes nearest to a colour, in the
// differences of CIE94, by Gauss and Newton's method. Apart = infinite keeps the groups the same; otherwise they are held
// together at start with that strength.
func fitCoverage(want press.Lab, start [groups]float64, apart float64, mix func(*[groups]float64) spectrum) [groups]float64 {
	x := start
	chroma := math.Hypot(want[1], want[2])
	ca, cb := 1.0, 0.0
	if chroma > 1e-6 {
		ca, cb = want[1]/chroma, want[2]/chroma
	}
	off := func(x *[groups]float64) [3]float64 {
		r := unrooted(mix(x))
		l := r.lab()
		da, db := l[1]-want[1], l[2]-want[2]
		return [3]float64{
			l[0] - want[0],
			(float64(ca*da) + float64(cb*db)) / (1 + float64(0.045*chroma)),
			(float64(ca*db) - float64(cb*da)) / (1 + float64(0.015*chroma)),
		}
	}
	together := math.IsInf(apart, 1)
	for range 30 {
		const step = 1e-5
		e := off(&x)
		var slope [groups][3]float64
		for g := range x {
			y := x
			if y[g] += step; together {
				y = [groups]float64{x[0] + step, x[0] + step, x[0] + step}
			}
			for k, v := range off(&y) {
				slope[g][k] = (v - e[k]) / step
			}
		}
		var d [groups]float64
		if together {
			num, den := 0.0, 1e-12
			for k, v := range slope[0] {
				num -= float64(v * e[k])
				den += float64(v * v)
			}
			for g := range d {
				d[g] = num / den
			}
		} else {
			var m [groups][groups + 1]float64
			for g := range m {
				for h := range groups {
					for k := range 3 {
						m[g][h] += float64(slope[g][k] * slope[h][k])
					}
				}
				m[g][g] += apart
				for k := range 3 {
					m[g][groups] -= float64(slope[g][k] * e[k])
				}
				m[g][groups] -= float64(apart * (x[g] - start[g]))
			}
			d = solve3(m)
		}
		far := 0.0
		for g := range x {
			d[g] = min(max(d[g], -0.1), 0.1)
			x[g] += d[g]
			far = max(far, math.Abs(d[g]))
		}
		if far < 1e-10 {
			break
		}
	}
	// Coverages are kept to 1/65536, so that the last bit of the mathematics library does not reach a pixel.
	for g := range x {
		x[g] = math.Round(min(max(x[g], -0.1), 1.1)*65536) / 65536
	}
	return x
}

// solve3 solves symmetric positive equations, whose pivots are never 0.
func solve3(m [groups][groups + 1]float64) (x [groups]float64) {
	for c := range groups {
		for r := range groups {
			if r == c {
				continue
			}
			f := m[r][c] / m[c][c]
			for k := c; k <= groups; k++ {
				m[r][k] -= float64(f * m[c][k])
			}
		}
	}
	for g := range x {
		x[g] = m[g][groups] / m[g][g]
	}
	return x
}

// pchip is a curve through points that neither overshoots nor has a step in slope (Fritsch and Butland 1984).
type pchip struct{ x, y, slope []float64 }

func newPchip(x, y []float64) pchip {
	n := len(x)
	p := pchip{x, y, make([]float64, n)}
	h := func(i int) float64 { return x[i+1] - x[i] }
	d := func(i int) float64 { return (y[i+1] - y[i]) / h(i) }
	if n == 2 {
		p.slope[0], p.slope[1] = d(0), d(0)
		return p
	}
	for i := 1; i+1 < n; i++ {
		if d0, d1 := d(i-1), d(i); d0*d1 > 0 {
			a := (h(i-1) + float64(2*h(i))) / (3 * (h(i-1) + h(i)))
			p.slope[i] = d0 * d1 / (float64(a*d1) + float64((1-a)*d0))
		}
	}
	end := func(h0, h1, d0, d1 float64) float64 {
		s := (float64((2*h0+h1)*d0) - float64(h0*d1)) / (h0 + h1)
		switch {
		case s*d0 <= 0:
			return 0
		case d0*d1 <= 0 && math.Abs(s) > math.Abs(3*d0):
			return 3 * d0
		}
		return s
	}
	p.slope[0] = end(h(0), h(1), d(0), d(1))
	p.slope[n-1] = end(h(n-2), h(n-3), d(n-2), d(n-3))
	return p
}

func (p *pchip) value(x float64) float64 {
	i := 0
	for i+2 < len(p.x) && x >= p.x[i+1] {
		i++
	}
	h := p.x[i+1] - p.x[i]
	t := (x - p.x[i]) / h
	u := 1 - t
	return float64(u*u*(1+2*t)*p.y[i]) + float64(t*t*(3-2*t)*p.y[i+1]) + float64(h*t*u*(float64(u*p.slope[i])-float64(t*p.slope[i+1])))
}

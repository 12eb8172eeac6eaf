package look

import (
	"math"

	"laydown/internal/press"
)

// Lifting finds a reflectance for a Lab colour: r = (tanh z + 1)/2 with the least sum of squared
// slopes of z that integrates to the colour's XYZ, solved by Newton's method on the Lagrangian
// (Scott Burns, arXiv:1710.05732). Slopes are per wavelength, as the bands lie unevenly.

const liftUnknowns = bands + 3

// lift returns a reflectance of colour c. A colour no surface can have is pulled towards the grey
// of its lightness in steps of 5 % until it lifts; kept is the share of its chroma that remains.
func lift(c press.Lab) (r spectrum, kept float64) {
	target := xyzFromLab(c)
	y := target[1]
	for step := range 20 {
		kept = 1 - float64(step)*0.05
		var t [3]float64
		for k := range t {
			t[k] = float64(kept*target[k]) + float64((1-kept)*white[k]*y)
		}
		if min(t[0], t[1], t[2]) <= 0 {
			continue
		}
		if r, ok := liftXYZ(t); ok {
			return r, kept
		}
	}
	for b := range r {
		r[b] = min(max(y, 0), 1)
	}
	return r, 0
}

func liftXYZ(target [3]float64) (r spectrum, ok bool) {
	const (
		tolerance = 1e-10
		rounds    = 200
		longest   = 2 // of a Newton step in z
	)
	var slope [bands - 1]float64
	for i := range slope {
		slope[i] = 20 / (wavelengths[i+1] - wavelengths[i])
	}
	var z spectrum
	var lambda [3]float64
	start := math.Atanh(2*min(max(target[1], 1e-4), 0.999) - 1)
	for b := range z {
		z[b] = start
	}
	for range rounds {
		var f [liftUnknowns]float64
		var j [liftUnknowns][liftUnknowns + 1]float64
		for c := range 3 {
			f[bands+c] = -target[c]
		}
		for b := range bands {
			th := math.Tanh(z[b])
			r[b] = (th + 1) / 2
			d1 := (1 - float64(th*th)) / 2
			d2 := -2 * d1 * th
			pull := 0.0
			for c := range 3 {
				pull += float64(bandWeights[c][b] * lambda[c])
				f[bands+c] += float64(bandWeights[c][b] * r[b])
				j[b][bands+c] = d1 * bandWeights[c][b]
				j[bands+c][b] = j[b][bands+c]
			}
			f[b] += float64(d1 * pull)
			j[b][b] += float64(d2 * pull)
			if b+1 < bands {
				d := 2 * slope[b]
				f[b] += float64(d * (z[b] - z[b+1]))
				f[b+1] += float64(d * (z[b+1] - z[b]))
				j[b][b] += d
				j[b+1][b+1] += d
				j[b][b+1] -= d
				j[b+1][b] -= d
			}
		}
		worst := 0.0
		for i, v := range f {
			worst = max(worst, math.Abs(v))
			j[i][liftUnknowns] = -v
		}
		if worst < tolerance {
			return r, true
		}
		if !solve(&j) {
			return r, false
		}
		far := 0.0
		for b := range bands {
			far = max(far, math.Abs(j[b][liftUnknowns]))
		}
		scale := 1.0
		if far > longest {
			scale = longest / far
		}
		for b := range bands {
			z[b] += float64(scale * j[b][liftUnknowns])
		}
		for c := range 3 {
			lambda[c] += float64(scale * j[bands+c][liftUnknowns])
		}
	}
	return r, false
}

// solve leaves the solution of the linear system in the last column; false if it is singular.
func solve(m *[liftUnknowns][liftUnknowns + 1]float64) bool {
	for col := range liftUnknowns {
		p := col
		for row := col + 1; row < liftUnknowns; row++ {
			if math.Abs(m[row][col]) > math.Abs(m[p][col]) {
				p = row
			}
		}
		if !(math.Abs(m[p][col]) > 1e-300) || math.IsInf(m[p][col], 0) {
			return false
		}
		m[col], m[p] = m[p], m[col]
		for row := range liftUnknowns {
			if row == col || m[row][col] == 0 {
				continue
			}
			q := m[row][col] / m[col][col]
			for k := col; k <= liftUnknowns; k++ {
				m[row][k] -= float64(q * m[col][k])
			}
		}
	}
	for i := range m {
		m[i][liftUnknowns] /= m[i][i]
	}
	return true
}

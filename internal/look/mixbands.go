package look

import "laydown/internal/press"

// Twelve working bands stand for the spectrum in pictures: single wavelengths whose weights integrate to XYZ. Halftones
// are not linear in the reflectances they mix, so real wavelengths are needed where a basis of smooth functions would
// not do. A reflectance is sampled at them and then moved the least that gives it the XYZ it has at all 36 bands, so that
// solids and overprints keep their colour exactly and only their mixtures are approximate.
const mixBands = 12

// coarse is a reflectance at the working bands.
type coarse [mixBands]float64

// mixNM are the wavelengths; each is one of the 36.
var mixNM = [mixBands]float64{420, 450, 480, 490, 510, 530, 550, 570, 590, 610, 640, 680}

// mixBand is the fine band of each.
var mixBand = func() (at [mixBands]int) {
	for b, nm := range mixNM {
		at[b] = int((nm - firstNM) / stepNM)
	}
	return at
}()

// mixWeights integrate to X, Y, Z; fitted to spectra of stacks, paints and prints, with the sums of the 36.
var mixWeights = [3]coarse{
	{.025392, .079253, .032677, -.003892, .001906, .032066, .084560, .142640, .181643, .214594, .152574, .020784},
	{-.001184, .013984, .019069, .029616, .093554, .161047, .199431, .170565, .140701, .104025, .061940, .007251},
	{.116324, .426236, .252010, -.021037, .046613, .000403, .002102, .004413, -.004731, .004172, -.001112, -.000269},
}

var mixWhite = func() (w [3]float64) {
	for c := range w {
		for _, v := range mixWeights[c] {
			w[c] += v
		}
	}
	return w
}()

func (s *coarse) xyz() (v [3]float64) {
	for c := range v {
		for b, r := range s {
			v[c] += float64(mixWeights[c][b] * r)
		}
		v[c] *= white[c] / mixWhite[c]
	}
	return v
}

func (s *coarse) lab() press.Lab { return labFromXYZ(s.xyz()) }

// nudge is W' (W W')^-1: the least change at the working bands, in the sum of squares, that changes XYZ by one unit of
// each.
var nudge = func() (g [mixBands][3]float64) {
	var m [3][6]float64 // W W' beside the unit matrix
	for i := range 3 {
		for j := range 3 {
			for b := range mixBands {
				m[i][j] += float64(mixWeights[i][b] * mixWeights[j][b])
			}
		}
		m[i][3+i] = 1
	}
	for i := range 3 { // symmetric and well conditioned: no pivoting
		p := m[i][i]
		for k := range m[i] {
			m[i][k] /= p
		}
		for j := range 3 {
			if q := m[j][i]; j != i {
				for k := range m[j] {
					m[j][k] -= float64(q * m[i][k])
				}
			}
		}
	}
	for b := range g {
		for c := range 3 {
			for k := range 3 {
				g[b][c] += float64(mixWeights[k][b] * m[k][3+c])
			}
		}
	}
	return g
}()

// sampled is the reflectance at the working bands, with the same colour.
func (s *spectrum) sampled() (r coarse) {
	for b, at := range mixBand {
		r[b] = s[at]
	}
	want, have := s.xyz(), r.xyz()
	for c := range want {
		want[c] = float64((want[c] - have[c]) * mixWhite[c] / white[c])
	}
	for b := range r {
		for c := range 3 {
			r[b] += float64(nudge[b][c] * want[c])
		}
		r[b] = max(r[b], 0)
	}
	return r
}

// linearWeights integrate the working bands to linear sRGB.
var linearWeights = func() (w [3]coarse) {
	for b := range mixBands {
		var one [3]float64
		for k := range 3 {
			one[k] = mixWeights[k][b] * white[k] / mixWhite[k]
		}
		for c, v := range screenLinear(one) {
			w[c][b] = v
		}
	}
	return w
}()

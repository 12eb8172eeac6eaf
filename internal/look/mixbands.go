package look

import "laydown/internal/press"

// Twelve working bands stand for the spectrum in pictures: single wavelengths whose weights integrate to XYZ. Halftones
// are not linear in the reflectances they mix, so real wavelengths are needed where a basis of smooth functions would
// not do. A reflectance is sampled at them and then changed a little, so that it has the XYZ it has at all 36 bands, and
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

// sampled is the reflectance at the working bands, with the same colour: each band is changed in proportion to what it
// reflects, so that dark bands stay where they are.
func (s *spectrum) sampled() (r coarse) {
	for b, at := range mixBand {
		r[b] = s[at]
	}
	want := s.xyz()
	// One round but for colours at the rim of what surfaces have, where a band would go below 0.
	for range 8 {
		have := r.xyz()
		var m [3][4]float64
		for i := range 3 {
			for k := range 3 {
				for b, v := range r {
					m[i][k] += float64(mixWeights[i][b] * mixWeights[k][b] * (v + 1e-6))
				}
			}
			m[i][3] = float64((want[i] - have[i]) * mixWhite[i] / white[i])
		}
		if !eliminate(m[:]) {
			return r
		}
		low := false
		for b, v := range r {
			change := 0.0
			for c := range 3 {
				change += float64(mixWeights[c][b] * m[c][3])
			}
			r[b] += float64(change * (v + 1e-6))
			if r[b] < 0 {
				r[b], low = 0, true
			}
		}
		if !low {
			break
		}
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

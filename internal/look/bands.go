package look

import (
	"math"
	"sync"

	"laydown/internal/press"
)

// Twelve bands stand for the spectrum: single wavelengths whose weights integrate to CIE XYZ (2
// degrees, D50). Layer stacks are not linear, so real wavelengths are needed where a basis of
// smooth functions would not do; against 36 bands the error is below 0.4 CIEDE2000 on stacks of
// toners, paints and prints, 0.03 to 0.08 in the mean.
const bands = 12

// spectrum is a reflectance, or a property of a layer, at each band.
type spectrum [bands]float64

var wavelengths = spectrum{420, 450, 480, 490, 510, 530, 550, 570, 590, 610, 640, 680} // nm

// bandWeights integrate a spectrum to X, Y, Z.
var bandWeights = [3]spectrum{
	{.025392, .079253, .032677, -.003892, .001906, .032066, .084560, .142640, .181643, .214594, .152574, .020784},
	{-.001184, .013984, .019069, .029616, .093554, .161047, .199431, .170565, .140701, .104025, .061940, .007251},
	{.116324, .426236, .252010, -.021037, .046613, .000403, .002102, .004413, -.004731, .004172, -.001112, -.000269},
}

// white is the XYZ of the perfect diffuser by these weights; Lab is reckoned against it, so that a
// reflectance of 1 is exactly 100, 0, 0.
var white = func() (w [3]float64) {
	for c := range w {
		for _, v := range bandWeights[c] {
			w[c] += v
		}
	}
	return w
}()

func (s *spectrum) xyz() (v [3]float64) {
	for c := range v {
		for b, r := range s {
			v[c] += float64(bandWeights[c][b] * r)
		}
	}
	return v
}

func (s *spectrum) lab() press.Lab { return labFromXYZ(s.xyz()) }

func (s *spectrum) least() float64 {
	m := s[0]
	for _, v := range s[1:] {
		m = min(m, v)
	}
	return m
}

// Constants of ISO/CIE 11664-4.
const (
	labEpsilon = 216.0 / 24389
	labKappa   = 24389.0 / 27
)

func labFromXYZ(xyz [3]float64) press.Lab {
	var f [3]float64
	for c, v := range xyz {
		t := v / white[c]
		if t > labEpsilon {
			f[c] = math.Cbrt(t)
		} else {
			f[c] = (float64(labKappa*t) + 16) / 116
		}
	}
	return press.Lab{float64(116*f[1]) - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// xyzFromLab may give values below 0 for colours that do not exist.
func xyzFromLab(l press.Lab) (xyz [3]float64) {
	fy := (l[0] + 16) / 116
	for c, f := range [3]float64{fy + l[1]/500, fy, fy - l[2]/200} {
		t := f * f * f
		if t <= labEpsilon {
			t = (float64(116*f) - 16) / labKappa
		}
		xyz[c] = t * white[c]
	}
	return xyz
}

// linearFromXYZ turns XYZ relative to D50 into linear sRGB (IEC 61966-2-1), adapted to D65 by the
// Bradford transform; both matrices in one.
var linearFromXYZ = [3][3]float64{
	{3.1338561, -1.6168667, -0.4906146},
	{-0.9787684, 1.9161415, 0.0334540},
	{0.0719453, -0.2289914, 1.4052427},
}

// whiteD50 is the white point that matrix was made for.
var whiteD50 = [3]float64{0.96422, 1, 0.82521}

// linearWeights integrate a spectrum to linear sRGB.
var linearWeights = func() (w [3]spectrum) {
	for c := range w {
		for b := range bands {
			for k := range 3 {
				scaled := bandWeights[k][b] * whiteD50[k] / white[k]
				w[c][b] += float64(linearFromXYZ[c][k] * scaled)
			}
		}
	}
	return w
}()

// linearScale is the whole number that stands for linear 1.
const linearScale = 65535

// encoded holds the 8-bit sRGB value of each linear value 0..linearScale. NewModel makes it: no other
// command should wait for it.
var (
	encoded     [linearScale + 1]uint8
	encodedOnce sync.Once
)

func makeEncoded() {
	for i := range encoded {
		encoded[i] = uint8(math.Round(255 * encode(float64(i)/linearScale)))
	}
}

// encode is the sRGB transfer function (IEC 61966-2-1).
func encode(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return float64(1.055*math.Pow(v, 1/2.4)) - 0.055
}

package look

import (
	"math"
	"sync"

	"laydown/internal/press"
)

// Whatever is prepared once (lifting, layers, overprints) is reckoned at 36 bands; pictures are mixed from twelve of
// their wavelengths, see mixbands.go.

// bands from 380 nm in steps of 10 nm.
const bands = 36

// spectrum is a reflectance, or a property of a layer, at each band.
type spectrum [bands]float64

const (
	firstNM = 380.0
	stepNM  = 10.0
)

// wavelengths of the bands, nm.
var wavelengths = func() (s spectrum) {
	for b := range s {
		s[b] = firstNM + float64(stepNM*float64(b))
	}
	return s
}()

// bandWeights integrate a reflectance at the bands to X, Y, Z: CIE 1931 standard observer (2 degrees, ISO/CIE
// 11664-1) times illuminant D50, summed at 5 nm from 380 to 780 nm, the reflectance taken as running straight between
// bands and staying level beyond 730 nm; Y of the perfect diffuser is 1. Computed from the observer and daylight
// tables of Debian's colord-data 1.4.6; a test does it again.
var bandWeights = [3]spectrum{
	{
		.00003041, .00014687, .00069997, .00253909, .00792866, .01601035, .02430250, .02742037, .02472558, .01708738, .00877308, .00301957,
		.00060651, .00115352, .00619447, .01609099, .02806905, .04213034, .05658891, .07113290, .08526699, .09212417, .09793892, .09402630,
		.07984185, .05923241, .04197573, .02630688, .01565402, .00871676, .00446699, .00201176, .00101074, .00051710, .00022891, .00022706,
	},
	{
		.00000087, .00000416, .00001940, .00007084, .00024691, .00068743, .00165972, .00316878, .00520414, .00805581, .01256113, .01865043,
		.02981523, .04647624, .06565289, .08278142, .09152617, .09622158, .09446408, .08873713, .08107668, .06819133, .05843517, .04746397,
		.03581319, .02453858, .01645843, .00995400, .00580077, .00319432, .00162480, .00072794, .00036506, .00018673, .00008266, .00008199,
	},
	{
		.00014342, .00069450, .00332136, .01211630, .03817003, .07832230, .12222150, .14488889, .14200047, .11221289, .07364119, .04197102,
		.02514338, .01470963, .00755029, .00412653, .00201770, .00088840, .00038878, .00020453, .00015187, .00010376, .00007401, .00003579,
		.00001694, .00000529, .00000187, .00000023, .00000000, .00000000, .00000000, .00000000, .00000000, .00000000, .00000000, .00000000,
	},
}

// daylight is the relative spectral power of D50 at the bands (CIE 15: S0 - 1.039 S1 + 0.363 S2), from the same
// tables.
var daylight = spectrum{
	24.487, 29.871, 49.308, 56.513, 60.034, 57.817, 74.825, 87.247, 90.612, 91.368, 95.109, 91.963,
	95.724, 96.613, 97.129, 102.099, 100.755, 102.317, 100.000, 97.735, 98.918, 93.499, 97.688, 99.269,
	99.042, 95.722, 98.857, 95.667, 98.190, 103.003, 99.133, 87.381, 91.603, 92.889, 76.854, 86.511,
}

// white is the XYZ of the perfect diffuser; Lab is reckoned against it, so that a reflectance of 1 is exactly
// 100, 0, 0.
var white = sums(&bandWeights)

func sums(w *[3]spectrum) (white [3]float64) {
	for c := range white {
		for _, v := range w[c] {
			white[c] += v
		}
	}
	return white
}

func (s *spectrum) xyz() (v [3]float64) {
	for c := range v {
		for b, r := range s {
			v[c] += float64(bandWeights[c][b] * r)
		}
	}
	return v
}

// luminance is Y.
func (s *spectrum) luminance() (y float64) {
	for b, r := range s {
		y += float64(bandWeights[1][b] * r)
	}
	return y
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

// linear is linear sRGB, 1 for the perfect diffuser.
func (s *spectrum) linear() [3]float64 { return screenLinear(s.xyz()) }

func screenLinear(xyz [3]float64) (rgb [3]float64) {
	for c := range rgb {
		for k, v := range xyz {
			rgb[c] += float64(linearFromXYZ[c][k] * float64(v*whiteD50[k]/white[k]))
		}
	}
	return rgb
}

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

package colour

import (
	"math"
	"sync"
)

// Black point compensation (ISO 18619; ISO 32000-2, 8.6.5.9): the connection space is stretched along
// the line from white so that the darkest colour of the source becomes the darkest the destination
// can print. Without it, all source colours darker than the toner's black print as that black, and
// shadows lose their drawing.

// blackResult is a black point, found when first asked for.
type blackResult struct {
	once sync.Once
	xyz  [3]float64
}

// perceptualBlack is the black of the reference medium of version 4's perceptual intent (ICC.1, 6.3.3).
var perceptualBlack = [3]float64{0.00336, 0.0034731, 0.00287}

// sourceBlack is the darkest colour of a source profile, neutral (ISO 18619, 6.2).
func (p *Profile) sourceBlack(intent Intent) [3]float64 {
	b := &p.sources[intent.Base()]
	b.once.Do(func() { b.xyz = p.findSourceBlack(intent.Base()) })
	return b.xyz
}

func (p *Profile) findSourceBlack(intent Intent) [3]float64 {
	if intent == Perceptual || intent == Saturation {
		if p.file.version() >= 4 {
			if p.usesTables() {
				return perceptualBlack
			}
			intent = RelativeColorimetric
		}
	}
	var lab [3]float64
	switch {
	case p.n == 4 && intent == RelativeColorimetric && p.file.class() == "prtr" && p.device(Perceptual) != nil:
		// Four solids on top of each other are more than a press lays down; its own black is what the
		// perceptual table makes of the black of that intent.
		var darkest [3]float64
		if p.file.version() >= 4 {
			darkest = perceptualBlack
		}
		black := p.Device(darkest, Perceptual)
		lab = labFromXYZ(p.XYZ(black[:], RelativeColorimetric), d50)
	case p.n == 4:
		lab = labFromXYZ(p.XYZ([]float64{1, 1, 1, 1}, intent), d50)
	default:
		lab = labFromXYZ(p.XYZ(make([]float64, p.n), intent), d50)
	}
	return xyzFromLab([3]float64{clamp(lab[0], 0, 50), 0, 0}, d50)
}

// targetBlack is the darkest colour a destination profile prints for an intent (ISO 18619, 6.3).
func (p *Profile) targetBlack(intent Intent) [3]float64 {
	b := &p.targets[intent.Base()]
	b.once.Do(func() { b.xyz = p.findTargetBlack(intent.Base()) })
	return b.xyz
}

func (p *Profile) findTargetBlack(intent Intent) [3]float64 {
	if (intent == Perceptual || intent == Saturation) && p.file.version() >= 4 && p.usesTables() {
		return perceptualBlack
	}
	var first [3]float64 // neutral black as the source side sees it
	if intent == RelativeColorimetric {
		first = labFromXYZ(p.findSourceBlack(intent), d50)
	}
	// L* 0 to 100 through the device and back.
	var in, out [256]float64
	for i := range in {
		in[i] = float64(float64(i) * (100.0 / 255))
		device := p.Device(xyzFromLab([3]float64{in[i], first[1], first[2]}, d50), intent)
		out[i] = labFromXYZ(p.XYZ(device[:], RelativeColorimetric), d50)[0]
	}
	for i := len(out) - 2; i >= 0; i-- {
		out[i] = min(out[i], out[i+1])
	}
	low, high := out[0], out[len(out)-1]
	if !(low < high) {
		return [3]float64{}
	}
	if intent == RelativeColorimetric && straight(in[:], out[:], low, high) {
		return xyzFromLab(first, d50)
	}
	// The way back is flat at the black point and then rises: a parabola through the shadows tells where
	// the rise begins.
	lo, hi := 0.03, 0.25
	if intent == RelativeColorimetric {
		lo, hi = 0.1, 0.5
	}
	var x, y []float64
	for i := range in {
		if r := (out[i] - low) / (high - low); r >= lo && r < hi {
			x, y = append(x, in[i]), append(y, r)
		}
	}
	l, ok := parabolaFoot(x, y)
	if !ok {
		return [3]float64{}
	}
	return xyzFromLab([3]float64{clamp(l, 0, 50), first[1], first[2]}, d50)
}

// straight reports whether the way back is true to within 4 L* above the darkest fifth.
func straight(in, out []float64, low, high float64) bool {
	for i, l := range in {
		if d := l - out[i]; l > low+float64(0.2*(high-low)) && (d >= 4 || d <= -4) {
			return false
		}
	}
	return true
}

// parabolaFoot fits y = a x2 + b x + c by least squares and tells where it rises through zero, or where
// it comes nearest to it.
func parabolaFoot(x, y []float64) (foot float64, ok bool) {
	if len(x) < 3 {
		return 0, false
	}
	var s [5]float64 // sums of powers of x
	var t [3]float64 // sums of y times powers of x
	for i, v := range x {
		p := 1.0
		for k := range s {
			s[k] += p
			if k < len(t) {
				t[k] += float64(p * y[i])
			}
			p = float64(p * v)
		}
	}
	// Cramer's rule on the normal equations, c b a.
	det := func(a, b, c [3]float64) float64 {
		return float64(a[0]*(float64(b[1]*c[2])-float64(b[2]*c[1]))) - float64(b[0]*(float64(a[1]*c[2])-float64(a[2]*c[1]))) +
			float64(c[0]*(float64(a[1]*b[2])-float64(a[2]*b[1])))
	}
	k0, k1, k2 := [3]float64{s[0], s[1], s[2]}, [3]float64{s[1], s[2], s[3]}, [3]float64{s[2], s[3], s[4]}
	d := det(k0, k1, k2)
	if d == 0 {
		return 0, false
	}
	c, b, a := det(t, k1, k2)/d, det(k0, t, k2)/d, det(k0, k1, t)/d
	if a > -1e-10 && a < 1e-10 {
		if b == 0 {
			return 0, false
		}
		return settle(finite(-c / b)), true
	}
	root := max(0, float64(b*b)-float64(float64(4*a)*c))
	return settle(finite((math.Sqrt(root) - b) / (2 * a))), true
}

// stretch is x -> m x + o for each of X, Y, Z.
type stretch struct {
	m, o [3]float64
	on   bool
}

func (s *stretch) apply(xyz [3]float64) [3]float64 {
	for i := range xyz {
		xyz[i] = float64(s.m[i]*xyz[i]) + s.o[i]
	}
	return xyz
}

// stretchBlack leaves D50 where it is and takes the black from to the black to.
func stretchBlack(from, to [3]float64) (s stretch) {
	if from == to {
		return s
	}
	s.on = true
	for i, w := range d50 {
		d := from[i] - w
		s.m[i] = (to[i] - w) / d
		s.o[i] = -float64(w*(to[i]-from[i])) / d
	}
	return s
}

// stretchWhite is for absolute colorimetry: colours relative to the source's medium become relative to the
// destination's (ICC.1, 6.3.2.2).
func stretchWhite(from, to [3]float64) (s stretch) {
	if from == to {
		return s
	}
	s.on = true
	for i := range from {
		s.m[i] = from[i] / to[i]
	}
	return s
}

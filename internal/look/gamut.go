package look

import (
	"math"
	"sync"

	"laydown/internal/press"
)

// Colours a screen cannot show are brought into its gamut along constant hue in OkLab (Ottosson 2020). In a plane
// of constant hue the gamut is nearly a triangle of black, white and the most vivid colour; a colour outside goes
// to about the nearest point of it, where lightness counts more than chroma (gamutWeight). Constant lightness would
// turn vivid light colours pale. The last twentieth of the way is a soft knee, so that what lies outside keeps its
// differences; colours below it are left alone.
const (
	gamutKnee   = 0.95
	gamutWeight = 2.0
	gamutMargin = 1e-6  // of a colour, for rounding
	gamutHollow = 0.006 // by how much of the brightest primary a colour of the edge may be outside and is clipped
	gamutDark   = 0.05  // below this much of the brightest primary clipping shows less than a change of chroma
)

// okLab is lightness 0..1 and two opponent coordinates.
type okLab [3]float64

func okLabFromLinear(v [3]float64) okLab {
	l := math.Cbrt(float64(0.4122214708*v[0]) + float64(0.5363325363*v[1]) + float64(0.0514459929*v[2]))
	m := math.Cbrt(float64(0.2119034982*v[0]) + float64(0.6806995451*v[1]) + float64(0.1073969566*v[2]))
	s := math.Cbrt(float64(0.0883024619*v[0]) + float64(0.2817188376*v[1]) + float64(0.6299787005*v[2]))
	return okLab{
		float64(0.2104542553*l) + float64(0.7936177850*m) - float64(0.0040720468*s),
		float64(1.9779984951*l) - float64(2.4285922050*m) + float64(0.4505937099*s),
		float64(0.0259040371*l) + float64(0.7827717662*m) - float64(0.8086757660*s),
	}
}

func linearFromOKLab(c okLab) [3]float64 {
	l := c[0] + float64(0.3963377774*c[1]) + float64(0.2158037573*c[2])
	m := c[0] - float64(0.1055613458*c[1]) - float64(0.0638541728*c[2])
	s := c[0] - float64(0.0894841775*c[1]) - float64(1.2914855480*c[2])
	l, m, s = l*l*l, m*m*m, s*s*s
	return [3]float64{
		float64(4.0767416621*l) - float64(3.3077115913*m) + float64(0.2309699292*s),
		float64(-1.2684380046*l) + float64(2.6097574011*m) - float64(0.3413193965*s),
		float64(-0.0041960863*l) - float64(0.7034186147*m) + float64(1.7076147010*s),
	}
}

func inGamut(v [3]float64, margin float64) bool {
	return min(v[0], v[1], v[2]) >= -margin && max(v[0], v[1], v[2]) <= 1+gamutMargin
}

// vivid holds OkLab lightness and chroma of the most vivid sRGB colour of each degree of hue.
var vivid = sync.OnceValue(func() *[361][2]float64 {
	const steps = 2000
	t := new([361][2]float64)
	for edge := range 6 {
		// Red, yellow, green, cyan, blue, magenta and back: one primary full, one empty, one between.
		full, other := (edge+1)/2%3, [6]int{1, 0, 2, 1, 0, 2}[edge]
		for i := range steps {
			x := float64(i) / steps
			var v [3]float64
			v[full], v[other] = 1, x
			if edge%2 != 0 {
				v[other] = 1 - x
			}
			c := okLabFromLinear(v)
			chroma, h := math.Hypot(c[1], c[2]), int(math.Round(hueDegrees(c[1], c[2])))
			if chroma > t[h][1] {
				t[h] = [2]float64{c[0], chroma}
			}
		}
	}
	if t[360][1] > t[0][1] {
		t[0] = t[360]
	}
	t[360] = t[0]
	return t
})

// fitted is a colour brought into the gamut.
type fitted struct {
	linear  [3]float64 // 0..1
	outside bool       // the colour asked for was outside
	shift   float64    // CIEDE2000 between the two, 0 where nothing was changed
}

// well tells the colours well inside: a twentieth more chroma stays inside, as no lobe of the cube root is steeper than
// that.
func well(v [3]float64) bool {
	lo, hi := min(v[0], v[1], v[2]), max(v[0], v[1], v[2])
	return lo >= 0.16*hi && hi <= 0.8
}

// fit brings a linear sRGB colour into the gamut.
func fit(v [3]float64) fitted {
	if well(v) {
		return fitted{linear: v}
	}
	lo, hi := min(v[0], v[1], v[2]), max(v[0], v[1], v[2])
	if hi <= 0 {
		return fitted{outside: lo < -gamutMargin, shift: Difference(labFromLinear(v), press.Lab{})}
	}
	p := okLabFromLinear(v)
	chroma := math.Hypot(p[1], p[2])
	focus := okLab{min(max(p[0]-float64(chroma*slope(p, chroma)), 0.001), 0.999)}
	along := func(t float64) [3]float64 {
		return linearFromOKLab(okLab{focus[0] + float64(t*(p[0]-focus[0])), t * p[1], t * p[2]})
	}
	inside := func(t float64) bool { return inGamut(along(t), gamutHollow*hi) }
	if inside(1/gamutKnee) && inGamut(v, gamutMargin) {
		return fitted{linear: clamped(v)}
	}
	// The edge lies between the grey and there; near blue the gamut is hollow, so it is looked for from outside
	// and a little beyond.
	const steps = 48
	edge, b := 0.0, 1/gamutKnee
	for i := range steps {
		if edge = float64(steps-1-i) / (steps * gamutKnee); inside(edge) {
			break
		}
		b = edge
	}
	for range 20 {
		if m := (edge + b) / 2; inside(m) {
			edge = m
		} else {
			b = m
		}
	}
	f := fitted{outside: !inGamut(v, gamutMargin)}
	if edge > 0 && chroma > 0 {
		reach := 1 / edge // how far out the colour is, where the edge is 1
		knee := gamutKnee + float64((1-gamutKnee)*(1-math.Exp((gamutKnee-reach)/(1-gamutKnee))))
		// Near-neutrals have no hue to keep: white stays white.
		soft := min(1, chroma/0.02)
		edge *= min(reach, 1) + float64(soft*(knee-min(reach, 1)))
	}
	f.linear = clamped(along(edge))
	if dark := hi / gamutDark; dark < 1 {
		for c, clip := range clamped(v) {
			f.linear[c] = clip + float64(dark*(f.linear[c]-clip))
		}
	}
	f.shift = Difference(labFromLinear(v), labFromLinear(f.linear))
	return f
}

// slope is how much lightness to give up for a unit of chroma on the way into the gamut: square to the nearer side of
// the triangle, or straight to its tip.
func slope(p okLab, chroma float64) float64 {
	turn := hueDegrees(p[1], p[2])
	at := int(turn)
	near := turn - float64(at)
	a, b := vivid()[at], vivid()[min(at+1, 360)]
	tip := float64(a[0]*(1-near)) + float64(b[0]*near)
	reach := float64(a[1]*(1-near)) + float64(b[1]*near)
	upper, lower := reach/(gamutWeight*(1-tip)), -reach/(gamutWeight*tip)
	if chroma > reach {
		return min(max((p[0]-tip)/(chroma-reach), lower), upper)
	}
	if p[0] > tip {
		return upper
	}
	return lower
}

func clamped(v [3]float64) [3]float64 {
	for c := range v {
		v[c] = min(max(v[c], 0), 1)
	}
	return v
}

// xyzFromLinear inverts linearFromXYZ.
var xyzFromLinear = func() (inv [3][3]float64) {
	m := &linearFromXYZ
	det := 0.0
	for i := range 3 {
		det += m[0][i] * (m[1][(i+1)%3]*m[2][(i+2)%3] - m[1][(i+2)%3]*m[2][(i+1)%3])
	}
	for i := range 3 {
		for j := range 3 {
			inv[j][i] = (m[(i+1)%3][(j+1)%3]*m[(i+2)%3][(j+2)%3] - m[(i+1)%3][(j+2)%3]*m[(i+2)%3][(j+1)%3]) / det
		}
	}
	return inv
}()

// labFromLinear is the CIELAB (D50) of a linear sRGB colour, which may lie outside the gamut.
func labFromLinear(v [3]float64) press.Lab {
	var xyz [3]float64
	for c := range xyz {
		for k := range v {
			xyz[c] += float64(xyzFromLinear[c][k] * v[k])
		}
		xyz[c] *= white[c] / whiteD50[c]
	}
	return labFromXYZ(xyz)
}

// GamutCount tells what a picture lost to the screen: how many of its pixels lay outside sRGB, and the largest
// colour difference (CIEDE2000) between what was asked for and what is shown, the soft knee included.
type GamutCount struct {
	Pixels, Outside int64
	Worst           float64
}

func (g *GamutCount) add(o GamutCount) {
	g.Pixels += o.Pixels
	g.Outside += o.Outside
	g.Worst = max(g.Worst, o.Worst)
}

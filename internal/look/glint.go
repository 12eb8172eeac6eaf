package look

import (
	"math"
	"sync"
)

// Glint: few enough flakes lie under a pixel that one sees whether a mirror or two, or none, throw the lamp's light at
// the viewer. The flakes' lobe is multiplied by a random number of flakes in the right position over its mean, a
// Poisson number X / (N p): N flakes lie under the pixel and a share p of them stands within the cap of half-way
// vectors that the lamp and the scatter of one flake fill. The mean is 1, so that glint changes no colour, and the
// spread is 1/sqrt(N p), so that it vanishes where many flakes are seen at once. Discrete models of glint have the same
// limit (Jakob and others, ACM Trans. Graph. 33(4), 2014; Deliot and Belcour, HPG 2023); the Poisson number per pixel
// is our shortcut.
//
// A pixel's number belongs to its place on the page and to a cell of half-way vectors; between four cells it is
// blended, and each pixel has the grid of cells shifted by its own amount, so that a lamp that moves makes flakes light
// up and go out one after the other.

// Glint describes the flakes of metal toners. Without a Flake there is no glint.
type Glint struct {
	Flake  float64 // µm: one flake covers a square of this side
	Spread float64 // degrees: how far one flake, which is bent and rough, scatters around its mirror direction
	Seed   uint64  // another seed, another sheet
}

// DefaultGlint has flakes as large as those of toners may be, 20 to 30 µm (no source; toner particles are smaller than
// those of inks), and a scatter that leaves glint visible at 300 dpi without turning metal into sand.
func DefaultGlint() Glint { return Glint{Flake: 25, Spread: 15, Seed: 1} }

// glint is Glint under a lamp.
type glint struct {
	on      bool
	density float64 // flakes per square micrometre of metal
	cap     float64 // steradians of half-way vectors
	cells   float64 // cells per unit of slope
	seed    uint64
}

func newGlint(l Light) glint {
	if l.Glint.Flake <= 0 {
		return glint{}
	}
	// Half-way vectors move half as far as the lamp. A lamp and a flake that scatters nothing would need no cap.
	rad := math.Pi / 180
	angle := max(math.Hypot(l.Radius/2, l.Glint.Spread), 0.5) * rad
	v := vector{math.Pi * math.Tan(angle) * math.Tan(angle), 1 / (1.5 * math.Tan(angle))}.steady()
	return glint{on: true, density: 1 / (l.Glint.Flake * l.Glint.Flake), cap: v[0], cells: v[1], seed: l.Glint.Seed}
}

// expected is N p: how many flakes of a pixel of so many square micrometres send light to the viewer.
func (t *glint) expected(h *shine, g *geometry, widening, area float64) float64 {
	wide := min(1, h.flakes+widening)
	a2 := wide * wide
	q := 1 - float64(g.nh*g.nh*(1-a2))
	p := min(1, a2/(math.Pi*q*q)*g.nh*t.cap)
	return h.share * t.density * area * p * fineness(h.flakes)
}

// Lobes narrower than flakes have are those of a foil: its facets are too fine to be told apart.
const (
	flakesFrom = 0.20
	foilFrom   = foilRoughness + 0.005
)

// fineness is how many facets there are for each flake of a usual metal.
func fineness(alpha float64) float64 {
	if alpha >= flakesFrom {
		return 1
	}
	return math.Pow(1e6, min((flakesFrom-alpha)/(flakesFrom-foilFrom), 1))
}

// A lobe as narrow as foilAlpha is a foil's, which has no flakes; from flakeAlpha on it is that of flakes.
const (
	foilAlpha  = 0.15
	flakeAlpha = 0.20
)

// number is the distribution of the flakes of a pixel of so many square micrometres.
func (t *glint) number(h *shine, g *geometry, widening, area float64) poisson {
	p := newPoisson(t.expected(h, g, widening, area))
	p.spread *= float32(min(max((h.flakes-foilAlpha)/(flakeAlpha-foilAlpha), 0), 1))
	return p
}

// Tables of Poisson numbers over their mean: for a mean, poissonSlices means over equal shares of the probability, so
// that a table's mean is 1 however coarse it is. Four means an octave.
const (
	poissonLow    = -6 // the least mean is 2^poissonLow
	poissonHigh   = 10
	poissonSlices = 1024
)

type poissonTable [poissonSlices]float32

var poissonTables = sync.OnceValue(func() []poissonTable {
	t := make([]poissonTable, 4*(poissonHigh-poissonLow)+1)
	for i := range t {
		t[i] = newPoissonTable(float64(4+i%4) / 4 * math.Ldexp(1, poissonLow+i/4))
	}
	return t
})

// newPoissonTable walks through the probabilities from 0 flakes upwards, which are built from the likeliest number so
// that none is too small to begin with.
func newPoissonTable(mean float64) (t poissonTable) {
	mode := int(mean)
	p := make([]float64, mode+1, mode+64)
	p[mode] = 1
	sum := 1.0
	for k := mode; k > 0; k-- {
		p[k-1] = p[k] * float64(k) / mean
		sum += p[k-1]
	}
	for k := mode; ; k++ {
		next := p[k] * mean / float64(k+1)
		if next < 1e-12 {
			break
		}
		p = append(p, next)
		sum += next
	}
	k, left := 0, p[0]/sum
	var exact [poissonSlices]float64
	total := 0.0
	for i := range exact {
		for need := 1.0 / poissonSlices; need > 0; {
			part := min(need, left)
			if k == len(p)-1 {
				part = need // what rounding left over
			}
			exact[i] += float64(part * float64(k))
			need, left = need-part, left-part
			if left <= 0 && k < len(p)-1 {
				k++
				left = p[k] / sum
			}
		}
		total += exact[i]
	}
	for i, v := range exact {
		t[i] = float32(v * poissonSlices / total)
	}
	return t
}

// poisson is the distribution of a mean: two tables and how far between them it lies.
type poisson struct {
	a, b   *poissonTable
	t      float32
	spread float32 // 1, less for means beyond the tables and for foils
}

func newPoisson(mean float64) poisson {
	tables := poissonTables()
	p := poisson{spread: 1}
	if limit := math.Ldexp(1, poissonHigh); mean >= limit {
		p.a = &tables[len(tables)-1]
		p.b = p.a
		p.spread = float32(math.Sqrt(limit / mean))
		return p
	}
	mean = max(mean, math.Ldexp(1, poissonLow))
	frac, exp := math.Frexp(mean) // 0.5 to 1
	at := float64(float64(exp-1-poissonLow)*4) + float64((frac*2-1)*4)
	i := int(at)
	p.a, p.b, p.t = &tables[i], &tables[i+1], float32(at-float64(i))
	return p
}

func (p *poisson) at(slice uint64) float32 {
	v := p.a[slice]
	v += float32(p.t * (p.b[slice] - v))
	return 1 + float32(p.spread*(v-1))
}

const (
	hashA = 0x9E3779B97F4A7C15
	hashB = 0xC2B2AE3D27D4EB4F
	hashC = 0xD6E8FEB86659FD93
)

func mixed(v uint64) uint64 {
	v = (v ^ v>>32) * hashC
	v = (v ^ v>>32) * hashC
	return v ^ v>>32
}

// place is a pixel's own random number.
func (t *glint) place(x, y int) uint64 {
	return mixed(uint64(uint32(x))*hashA ^ uint64(uint32(y))*hashB ^ t.seed*hashC)
}

// factor is what the flakes' light of a pixel is multiplied by.
func (t *glint) factor(place uint64, g *geometry, p *poisson) float64 {
	const origin = 1 << 12 // keeps cells above 0
	u := float64(g.hx*t.cells) + origin + float64(uint16(place))/65536
	v := float64(g.hy*t.cells) + origin + float64(uint16(place>>16))/65536
	cx, cy := uint64(u), uint64(v)
	fx, fy := float32(u-float64(cx)), float32(v-float64(cy))
	fx, fy = fx*fx*(3-float32(2*fx)), fy*fy*(3-float32(2*fy))
	at := func(i, j uint64) float32 {
		return p.at(mixed(place^(cx+i)*hashA^(cy+j)*hashB) >> 54)
	}
	top := at(0, 0)
	top += float32(fx * (at(1, 0) - top))
	low := at(0, 1)
	low += float32(fx * (at(1, 1) - low))
	return float64(top + float32(fy*(low-top)))
}

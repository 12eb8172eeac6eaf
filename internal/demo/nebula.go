package demo

import "math"

// nebula draws a picture of a glowing cloud with stars, w x h pixels of CMYK bytes (255 = full
// toner). The sum of the four stays under 230 %, so that it can lie on a solid white.
func nebula(w, h int, seed uint32) []byte {
	out := make([]byte, 0, w*h*4)
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(h), float64(y)/float64(h)
			warp := fbm(u*3, v*3, seed+17)
			cloud := fbm(u*2.6+warp*1.3, v*2.6-warp, seed)
			veil := fbm(u*5-warp, v*5+cloud*1.5, seed+91)
			d := math.Hypot(u-.48, v-.5)
			glow := math.Exp(-d*d*5) * (.35 + 1.1*cloud*cloud)
			glow = math.Min(1, glow*1.25)
			star := starlight(x, y, seed)
			light := math.Min(1, glow+star)
			// Deep blue-violet sky, magenta gas, warm core.
			c := .92 - .75*light - .25*veil*glow
			m := .78 - .55*light + .35*veil*(1-glow)
			ye := .12 + .45*glow*(1-veil) - .3*star
			k := .38 - .6*light
			out = append(out, level(c), level(m), level(ye), level(k))
		}
	}
	return out
}

// level rounds to steps of 2: smooth enough for the eye, and the file packs better.
func level(v float64) byte {
	return byte(math.Round(math.Max(0, math.Min(1, v))*127) * 2)
}

// starlight is a sparse field of round stars.
func starlight(x, y int, seed uint32) float64 {
	const cell = 23
	sum := 0.0
	for j := y/cell - 1; j <= y/cell+1; j++ {
		for i := x/cell - 1; i <= x/cell+1; i++ {
			r := hash(i, j, seed+7)
			if r > .22 {
				continue
			}
			px := (float64(i) + hash(i, j, seed+8)) * cell
			py := (float64(j) + hash(i, j, seed+9)) * cell
			size := .7 + 1.6*hash(i, j, seed+10)
			d := math.Hypot(float64(x)-px, float64(y)-py) / size
			sum += math.Exp(-d * d)
		}
	}
	return math.Min(1, sum)
}

// fbm is five octaves of value noise, about 0..1.
func fbm(x, y float64, seed uint32) float64 {
	sum, amp := 0.0, .5
	for o := range 5 {
		sum += amp * noise(x, y, seed+uint32(o)*131)
		x, y, amp = x*2.03, y*2.03, amp/2
	}
	return sum
}

func noise(x, y float64, seed uint32) float64 {
	x0, y0 := math.Floor(x), math.Floor(y)
	fx, fy := ease(x-x0), ease(y-y0)
	i, j := int(x0), int(y0)
	a := hash(i, j, seed) + (hash(i+1, j, seed)-hash(i, j, seed))*fx
	b := hash(i, j+1, seed) + (hash(i+1, j+1, seed)-hash(i, j+1, seed))*fx
	return a + (b-a)*fy
}

func ease(t float64) float64 { return t * t * (3 - 2*t) }

// hash is a number in 0..1 for a lattice point.
func hash(x, y int, seed uint32) float64 {
	h := uint32(x)*374761393 + uint32(y)*668265263 + seed*2246822519
	h = (h ^ h>>13) * 1274126177
	h ^= h >> 16
	return float64(h&0xffffff) / 0x1000000
}

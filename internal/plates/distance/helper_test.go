package distance

import (
	"math"
	"math/rand/v2"

	"laydown/internal/geom"
	"laydown/internal/plates/raster"
)

// drawn rasterises a path given in pixels.
func drawn(p *geom.Path, w, h int, dpi float64) Plane {
	pl := Plane{Pix: make([]uint8, w*h), W: w, H: h, DPI: dpi}
	var b raster.Builder
	b.Fill(p, geom.Identity)
	var s raster.Scanner
	s.Scan(b.Edges(geom.NonZero), raster.IntRect{X1: w, Y1: h}, func(y int, spans []raster.Span) {
		for _, sp := range spans {
			for x := sp.X0; x < sp.X1; x++ {
				pl.Pix[y*w+int(x)] = sp.Cover
			}
		}
	})
	return pl
}

func disc(path *geom.Path, cx, cy, r float64) *geom.Path {
	const n = 720
	for i := range n {
		a := 2 * math.Pi * float64(i) / n
		// The polygon has the area of the circle.
		q := geom.Point{X: cx + r*1.0000127*math.Cos(a), Y: cy + r*1.0000127*math.Sin(a)}
		if i == 0 {
			path.Move(q)
		} else {
			path.Line(q)
		}
	}
	path.ClosePath()
	return path
}

// bar adds a rectangle of a length and width about (cx, cy), turned by angle.
func bar(path *geom.Path, cx, cy, length, width, angle float64) *geom.Path {
	c, s := math.Cos(angle), math.Sin(angle)
	for i, q := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		u, v := q[0]*length/2, q[1]*width/2
		p := geom.Point{X: cx + u*c - v*s, Y: cy + u*s + v*c}
		if i == 0 {
			path.Move(p)
		} else {
			path.Line(p)
		}
	}
	path.ClosePath()
	return path
}

func polygon(pts ...geom.Point) *geom.Path {
	p := &geom.Path{}
	p.Move(pts[0])
	for _, q := range pts[1:] {
		p.Line(q)
	}
	p.ClosePath()
	return p
}

func sum(p Plane) (s float64) {
	for _, v := range p.Pix {
		s += float64(v)
	}
	return s / 255
}

// tones is a made photograph: waves of all directions about a mean.
type tones struct{ waves [][4]float64 }

func newTones(seed uint64, longest, shortest float64) tones {
	r := rand.New(rand.NewPCG(seed, 7))
	var t tones
	for range 12 {
		length := shortest * math.Pow(longest/shortest, r.Float64())
		a := 2 * math.Pi * r.Float64()
		k := 2 * math.Pi / length
		t.waves = append(t.waves, [4]float64{k * math.Cos(a), k * math.Sin(a), 2 * math.Pi * r.Float64(), 50 * (length/longest + 0.5)})
	}
	return t
}

// at returns the tone, 0..255 and beyond, at a place in millimetres.
func (t tones) at(x, y float64) float64 {
	s := 127.5
	for _, w := range t.waves {
		s += w[3] * math.Sin(w[0]*x+w[1]*y+w[2])
	}
	return s
}

func (t tones) plane(w, h int, dpi float64) Plane {
	p := Plane{Pix: make([]uint8, w*h), W: w, H: h, DPI: dpi}
	for i := range p.Pix {
		v := t.at((float64(i%w)+0.5)/p.PerMM(), (float64(i/w)+0.5)/p.PerMM())
		p.Pix[i] = uint8(min(max(math.Round(v), 0), 255))
	}
	return p
}

// outlineOf returns points of the outline at coverage 1/2 between pixel centres, in pixels from the corner of the plane, linear
// interpolation only.
func outlineOf(p Plane) (pts []geom.Point) {
	for y := range p.H {
		for x := range p.W {
			a := float64(p.Pix[y*p.W+x]) - 127.5
			if x+1 < p.W {
				if b := float64(p.Pix[y*p.W+x+1]) - 127.5; (a > 0) != (b > 0) {
					pts = append(pts, geom.Point{X: float64(x) + 0.5 + a/(a-b), Y: float64(y) + 0.5})
				}
			}
			if y+1 < p.H {
				if b := float64(p.Pix[(y+1)*p.W+x]) - 127.5; (a > 0) != (b > 0) {
					pts = append(pts, geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5 + a/(a-b)})
				}
			}
		}
	}
	return pts
}

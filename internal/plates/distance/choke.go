package distance

import (
	"math"

	"laydown/internal/geom"
)

// Choke returns the shape without what is nearer than mm to its outline: every outline moves inwards by mm, at reflex
// corners on a circle. The result is coverage of 8 bits whose outline Options{} finds again. Memory: the result, one byte a
// pixel, and for each goroutine 1.5 MB up to 16 pixels, 4 MB at 64, 60 MB at 300.
func Choke(p Plane, mm float64, o Options) (Plane, error) { return move(p, mm, o, false) }

// Spread returns the shape with all that is nearer than mm to its outline: every outline moves outwards by mm, at corners on
// a circle. It is the complement of the choked complement.
func Spread(p Plane, mm float64, o Options) (Plane, error) { return move(p, mm, o, true) }

func move(p Plane, mm float64, o Options, out bool) (Plane, error) {
	d, err := p.pixels(mm)
	if err != nil {
		return Plane{}, err
	}
	res := Plane{Pix: make([]uint8, p.W*p.H), W: p.W, H: p.H, DPI: p.DPI}
	if d == 0 && !(o.Threshold != 0) {
		copy(res.Pix, p.Pix)
		return res, nil
	}
	p.eachTile(o, d+3, func(t *tile) {
		t.find(1)
		for y := t.ty0; y < t.ty1; y++ {
			src, dst := p.Pix[y*p.W:(y+1)*p.W], res.Pix[y*p.W:(y+1)*p.W]
			for x := t.tx0; x < t.tx1; x++ {
				in := (src[x] >= t.level) != out
				v := uint8(0)
				switch {
				case t.empty:
					if in {
						v = 255
					}
				default:
					v = t.cover(x-t.x0, y-t.y0, d, in, out)
				}
				if out {
					v = 255 - v
				}
				dst[x] = v
			}
		}
	})
	return res, nil
}

// A pixel reaches 0.71 from its centre, and a segment 0.71 to each side of its middle.
const reachOfPixel = 0.7072

// cover returns the coverage of a pixel by the choked shape; in says whether its centre is inside of what is choked,
// which is the complement when flip.
func (t *tile) cover(x, y int, d float64, in, flip bool) uint8 {
	sq := t.square256(x, y)
	if sq == math.MaxInt64 {
		if in {
			return 255
		}
		return 0
	}
	v2 := float64(sq) / 65536 // not less than the square of the distance, nor more than it and 1/2
	if in {
		if v2-0.5 >= square(d+reachOfPixel) {
			return 255
		}
		if d > reachOfPixel && v2 <= square(d-reachOfPixel) {
			return 0
		}
	} else if d > reachOfPixel || v2-0.5 >= square(reachOfPixel-d) {
		return 0
	}
	feet := t.feet(x, y)
	f, _ := nearestOf(feet)
	px, py := float64(x), float64(y)
	h := t.half(f, px, py, d, in, flip)
	if !in {
		return tone(geom.HalfPlaneCoverage(h.s, h.nx, h.ny))
	}
	// At corners of the choked shape several parts of the outline are as near; what they leave is what all of them leave.
	halves := [12]half{h}
	n := 1
next:
	for _, g := range feet {
		if !g.interior || n == len(halves) || g.d-d >= reachOfPixel {
			continue
		}
		e := t.half(g, px, py, d, in, flip)
		for _, o := range halves[:n] {
			if float64(o.nx*e.nx)+float64(o.ny*e.ny) > 0.999 {
				continue next
			}
		}
		halves[n] = e
		n++
	}
	if n == 1 {
		return tone(geom.HalfPlaneCoverage(h.s, h.nx, h.ny))
	}
	return tone(t.common(halves[:n]))
}

// half is the half-plane n . x >= -s of a pixel's own coordinates, whose origin is its centre.
type half struct{ s, nx, ny float64 }

// half returns what the part of the outline at f leaves of the plane near a pixel.
func (t *tile) half(f foot, px, py, d float64, in, flip bool) half {
	if f.d < 1e-6 {
		h := half{-d, f.nx, f.ny}
		if flip {
			h.nx, h.ny = -f.nx, -f.ny
		}
		return h
	}
	h := half{f.d - d, (px - f.q.x) / f.d, (py - f.q.y) / f.d}
	if !in {
		h = half{-f.d - d, -h.nx, -h.ny}
	}
	return h
}

// common returns the area of the unit square that lies in all half-planes.
func (t *tile) common(hs []half) float64 {
	poly := append(t.poly[0][:0], point{-0.5, -0.5}, point{0.5, -0.5}, point{0.5, 0.5}, point{-0.5, 0.5})
	other := t.poly[1][:0]
	for _, h := range hs {
		other = other[:0]
		for i, a := range poly {
			b := poly[(i+1)%len(poly)]
			da := float64(h.nx*a.x) + float64(h.ny*a.y) + h.s
			db := float64(h.nx*b.x) + float64(h.ny*b.y) + h.s
			if da >= 0 {
				other = append(other, a)
			}
			if (da >= 0) != (db >= 0) {
				u := da / (da - db)
				other = append(other, point{a.x + float64(u*(b.x-a.x)), a.y + float64(u*(b.y-a.y))})
			}
		}
		poly, other = other, poly
	}
	t.poly = [2][]point{poly, other}
	area := 0.0
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		area += float64(a.x*b.y) - float64(a.y*b.x)
	}
	return area / 2
}

func tone(area float64) uint8 { return uint8(min(max(math.Round(area*255), 0), 255)) }

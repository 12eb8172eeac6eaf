package distance

import (
	"math"

	"laydown/internal/geom"
)

// crossing returns where between the centres of two neighbours, one inside and one outside, the outline passes: 1..255 in
// 1/256 pixel from the first, which is left of the second or above it. Coverage goes by the area model, tones are interpolated.
func (t *tile) crossing(x, y int, down bool) uint8 {
	p := t.p
	if !t.tone {
		if p.ramps != nil {
			x2, y2 := x+1, y
			if down {
				x2, y2 = x, y+1
			}
			if a, b := p.ramps.at(p, x, y), p.ramps.at(p, x2, y2); a != 0 && b != 0 {
				return step(a / (a - b))
			}
		}
		return step(geom.CoverageCrossing(p.Pix, p.W, p.H, x, y, down))
	}
	a, b := float64(p.Pix[y*p.W+x]), 0.0
	if down {
		b = float64(p.Pix[(y+1)*p.W+x])
	} else {
		b = float64(p.Pix[y*p.W+x+1])
	}
	return step((float64(t.level) - 0.5 - a) / (b - a))
}

func step(t float64) uint8 { return uint8(min(max(math.Round(t*256), 1), 255)) }

// ramps keep of a plane of tones where they run as those of a photograph do: there the outline is where they pass the threshold,
// which coverage, made of them pixel by pixel, tells only to a pixel.
type ramps struct {
	tone  []uint8
	level uint8  // the least tone inside
	marks []byte // a bit a pixel, rows begin with a byte
}

func (r *ramps) stride(w int) int { return (w + 7) / 8 }

func (r *ramps) mark(w, x, y int) { r.marks[y*r.stride(w)+x/8] |= 1 << (x % 8) }

// at returns by how much a pixel's tone is above the outline's, 0 where the pixel is not one of a ramp or was changed since.
func (r *ramps) at(p Plane, x, y int) float64 {
	i := y*p.W + x
	if r.marks[y*r.stride(p.W)+x/8]>>(x%8)&1 == 0 || (r.tone[i] >= r.level) != (p.Pix[i] >= 128) {
		return 0
	}
	return float64(r.tone[i]) - float64(r.level) + 0.5
}

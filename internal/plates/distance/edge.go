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

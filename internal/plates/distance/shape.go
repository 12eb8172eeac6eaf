package distance

import (
	"math"

	"laydown/internal/geom"
)

// Shape returns the coverage of what has a tone of threshold and more, for Options{}: where a shape of any one tone was drawn with
// soft edge pixels, the coverage it was drawn with. Options.Threshold puts the outline of a light tint outside of the shape instead, by up
// to half a pixel, since its edge pixels pass a low threshold almost to their end. In ramps of tone, as photographs have, the
// outline lies where the tone passes threshold - 1/2, as there. A threshold of 0 takes everything. Memory: the result.
func Shape(p Plane, threshold uint8, o Options) (Plane, error) {
	if err := p.check(); err != nil {
		return Plane{}, err
	}
	out := Plane{Pix: make([]uint8, len(p.Pix)), W: p.W, H: p.H, DPI: p.DPI}
	m := &measurer{p: p}
	out.ramps = &ramps{tone: p.Pix, level: threshold}
	out.ramps.marks = make([]byte, out.ramps.stride(p.W)*p.H)
	p.eachBand(o, func(_, y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range p.W {
				v, ramp := m.shape(x, y, threshold)
				out.Pix[y*p.W+x] = v
				if ramp {
					out.ramps.mark(p.W, x, y)
				}
			}
		}
	})
	return out, nil
}

// shape returns the coverage of one pixel, and whether tones about it are those of a ramp.
func (m *measurer) shape(x, y int, threshold uint8) (cover uint8, isRamp bool) {
	p := m.p
	v := p.Pix[y*p.W+x]
	lo, hi := v, v
	for _, a := range around {
		i := min(max(x+a[0], 0), p.W-1)
		j := min(max(y+a[1], 0), p.H-1)
		w := p.Pix[j*p.W+i]
		lo, hi = min(lo, w), max(hi, w)
	}
	if hi < threshold {
		return 0, false
	}
	if lo >= threshold {
		// The edge pixels of a slanted edge lie two deep; the outer ones may pass the threshold too.
		for j := max(y-2, 0); j <= min(y+2, p.H-1) && lo >= threshold && lo < hi; j++ {
			for i := max(x-2, 0); i <= min(x+2, p.W-1); i++ {
				lo = min(lo, p.Pix[j*p.W+i])
			}
		}
		if lo >= threshold {
			return 255, false
		}
	}
	gx, gy := geom.CoverageGradient(p.Pix, p.W, p.H, x, y)
	if gx == 0 && gy == 0 {
		if v >= threshold {
			return 255, true
		}
		return 0, true
	}
	n := hypot(float64(gx), float64(gy))
	nx, ny := float64(gx)/n, float64(gy)/n
	at := func(s float64) float64 {
		return float64(255 * m.coverage(float64(x)+float64(s*nx), float64(y)+float64(s*ny)))
	}
	tint := float64(v)
	// Up the slope and down it: what lies on both sides of an edge, and how much of the step between them one pixel takes.
	var tones [11]float64 // from -2.5 to 2.5
	up, down, steep := tint, tint, 0.0
	for i := range tones {
		tones[i] = at(float64(i-5) / 2)
		up, down = max(up, tones[i]), min(down, tones[i])
		if i >= 4 && i <= 8 {
			steep = max(steep, tones[i]-tones[i-2])
		}
	}
	if up == down {
		return 0, false
	}
	edge := (tint - down) / (up - down)
	ramp := min(max(0.5+(tint-float64(threshold)+0.5)/max((up-down)/5, 1), 0), 1)
	// A drawn edge takes half of the step and more within a pixel, a ramp a fifth, the side of a crest a third.
	w := 10*(steep/(up-down)-0.35) - grain(tones[:], up, down, threshold)
	isRamp = w <= 0
	// Beside an edge, at the foot or the top of the step, the threshold does not matter.
	if v < threshold {
		w = max(w, 1-float64(20*edge))
	} else {
		w = max(w, 1-float64(20*(1-edge)))
	}
	w = min(max(w, 0), 1)
	return uint8(math.Round(255 * (float64(w*edge) + float64((1-w)*ramp)))), isRamp
}

// grain is 0 beside an edge that was drawn and up to 10 where tones are those of a photograph, whose steps from pixel to pixel
// are no edges: the outline would get dents there, which a choke makes wide. A drawn edge rises from next to nothing, and tones
// across it rise, fall, or do each once. Steps of 100 levels and more are drawn ones, of fine detail or over another tint.
func grain(tones []float64, up, down float64, threshold uint8) float64 {
	way := 0.0
	for i := 1; i < len(tones); i++ {
		way += math.Abs(tones[i] - tones[i-1])
	}
	ends := tones[0] + tones[len(tones)-1]
	extra := (way - min(2*up-ends, ends-2*down)) / (up - down)
	ground := 4*down/float64(threshold) - 1
	return 10 * min(max(4*(extra-0.1), ground, 0), 1) * min(max((100-(up-down))/50, 0), 1)
}

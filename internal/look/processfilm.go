package look

import (
	"fmt"
	"math"
)

// To be laid on any ground, the process set becomes a table of layers: the colours of a finer grid, each taken as one
// layer on the characterised stock. The grid is fine enough that between its nodes the sixteen around a tint, averaged
// as square roots like all else in the model, give what the characterisation gives.

// processTable holds the layers of a grid of tints.
type processTable struct {
	inks   [4]tableInk
	films  []nodeFilm // black running fastest
	stride [4]int32
	notes  []string
}

// tableInk tells for each 8-bit tint the node below and the share of the way to the next.
type tableInk struct {
	tints []float64
	cell  [256]uint8
	share [256]float32
}

// nodeFilm is a layer below the surface: over(g) = r0 + t2 g/(1 - r0 g).
type nodeFilm struct {
	r0, t2 spectrum
	k0     float64
}

// table makes layers of the colours. scatter is the reflectance on perfect black of each ink's solid, which
// measurements on a white stock cannot give; k0 the reflection of the surface of the prints. cells is how many steps of
// each ink the grid should have; it has all nodes of the characterisation.
//
// A node's R and the stock's W below the surface give, with the scatter R0 of the inks in it,
//
//	R0 = 1 - prod (1-R0i)^coverage    T² = (R-R0)(1-R0 W)/W
//
// so that on W the colour comes out exactly, whatever the scatter.
func (p *Process) table(scatter [4]spectrum, k0 float64, cells int) *processTable {
	t := &processTable{}
	for i := range t.inks {
		t.inks[i] = p.tableInk(i, max(1, cells/(len(p.levels[i])-1)))
	}
	n := int32(1)
	for i := 3; i >= 0; i-- {
		t.stride[i] = n
		n *= int32(len(t.inks[i].tints))
	}
	w, bright := p.white, 0
	k0 = min(k0, 0.9*w.least())
	for b, v := range w {
		if brightest := measuredFromInternal(1, k0); v > brightest+0.0005 {
			bright++
		}
		w[b] = internalFromMeasured(v, k0)
	}
	if bright > 0 {
		t.notes = append(t.notes, fmt.Sprintf("The stock of the characterisation is brighter than a surface without brightener can be, in %d of %d bands; there it counts as perfectly white.", bright, bands))
	}
	var levels [4][]float64
	var clears [4]map[float64]spectrum
	for i := range levels {
		levels[i] = t.inks[i].tints
		clears[i] = map[float64]spectrum{}
		for _, v := range levels[i] {
			coverage := min(max(p.inks[i].ramp[1].value(v), 0), 1)
			var c spectrum
			for b := range c {
				c[b] = math.Pow(1-scatter[i][b], coverage)
			}
			clears[i][v] = c
		}
	}
	colours := p.resampled(levels)
	eachNode(levels, func(tints [4]float64) {
		r := unrooted(colours[len(t.films)])
		f := nodeFilm{k0: min(k0, 0.9*r.least())}
		var c [4]spectrum
		for i, v := range tints {
			c[i] = clears[i][v]
		}
		for b := range r {
			ri := internalFromMeasured(r[b], f.k0)
			clear := c[0][b] * c[1][b] * c[2][b] * c[3][b]
			// No more scatter than the layer shows; at R0 = R nothing of the ground would come through.
			r0 := min(1-clear, 0.9*ri)
			f.r0[b] = r0
			f.t2[b] = (ri - r0) * (1 - float64(r0*w[b])) / w[b]
		}
		t.films = append(t.films, f)
	})
	return t
}

// resampled gives the roots of the reflectances at all combinations of levels, black running fastest, as reflectance
// would one by one; ink after ink, which takes a tenth of the time.
func (p *Process) resampled(levels [4][]float64) []spectrum {
	from := p.nodes
	before, after := 1, len(p.nodes) // nodes of the inks before, and of those after
	for ink, tints := range levels {
		old := len(p.levels[ink])
		after /= old
		to := make([]spectrum, before*len(tints)*after)
		for l, t := range tints {
			s := p.inks[ink].steps(t)
			for i := range before {
				for k := range s.n {
					for j := range after {
						out, in := &to[(i*len(tints)+l)*after+j], &from[(i*old+s.from+k)*after+j]
						for b, w := range s.w[k] {
							out[b] += float64(w * in[b])
						}
					}
				}
			}
		}
		from = to
		before *= len(tints)
	}
	return from
}

// tableInk divides the way between the nodes of an ink into parts of the same coverage.
func (p *Process) tableInk(ink, parts int) (out tableInk) {
	c := &p.inks[ink]
	for k := 0; k+1 < len(c.tints); k++ {
		out.tints = append(out.tints, c.tints[k])
		for j := 1; j < parts; j++ {
			f := float64(j) / float64(parts)
			out.tints = append(out.tints, c.tintAt(c.at[k]+float64(f*(c.at[k+1]-c.at[k])), c.tints[k], c.tints[k+1]))
		}
	}
	out.tints = append(out.tints, 1)
	at := func(t float64) spectrum {
		var tints [4]float64
		tints[ink] = t
		r := p.reflectance(tints)
		for b, v := range r {
			r[b] = math.Sqrt(v)
		}
		return r
	}
	// The share that suits the ink alone: a projection on the way, bands counting as to the eye.
	k := 0
	low, high := at(out.tints[0]), at(out.tints[1])
	for v := range out.cell {
		t := float64(v) / 255
		for k+2 < len(out.tints) && t >= out.tints[k+1] {
			k++
			low, high = high, at(out.tints[k+1])
		}
		out.cell[v] = uint8(k)
		switch t {
		case out.tints[k]:
		case out.tints[k+1]:
			out.share[v] = 1
		default:
			r := at(t)
			num, den := 0.0, 1e-12
			for b := range r {
				weight := (math.Abs(bandWeights[0][b]) + math.Abs(bandWeights[1][b]) + math.Abs(bandWeights[2][b])) * r[b] * r[b]
				d := high[b] - low[b]
				num += float64(weight * d * (r[b] - low[b]))
				den += float64(weight * d * d)
			}
			out.share[v] = float32(math.Round(min(max(num/den, 0), 1)*65536) / 65536)
		}
	}
	return out
}

// tintAt finds the tint between low and high whose coverage in the middle of the spectrum is x, to 1/65536.
func (c *inkCurve) tintAt(x, low, high float64) float64 {
	lo, hi := low, high
	for range 16 {
		mid := (lo + hi) / 2
		if c.ramp[1].value(mid) < x {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// over is the reflectance of the layer on ground g, below the surface.
func (f *nodeFilm) over(g *spectrum) (r spectrum) {
	for b := range r {
		r[b] = f.r0[b] + float64(f.t2[b]*g[b]/(1-float64(f.r0[b]*g[b])))
	}
	return r
}

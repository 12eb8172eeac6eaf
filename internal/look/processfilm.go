package look

import (
	"fmt"
	"math"

	"laydown/internal/colourant"
)

// To be laid on any ground, the process set becomes a table of layers: the colours of a finer grid, each taken as one
// layer on the characterised stock. The grid is fine enough that between its nodes the sixteen around a tint, averaged
// as square roots like all else in the model, give what the characterisation gives.

// processTable holds the layers of a grid of tints.
type processTable struct {
	inks   [4]tableInk
	films  []*film // black running fastest; nil = nothing is laid
	stride [4]int32
	notes  []string
}

// tableInk tells for each 8-bit tint the node below and the share of the way to the next.
type tableInk struct {
	tints []float64
	cell  [256]uint8
	share [256]float32
}

// tableOptions say what the characterisation does not know.
type tableOptions struct {
	scatter [4]spectrum // reflectance on perfect black of each ink's solid, which measurements on a white stock cannot give
	print   gloss       // of the surface of prints
	stockK0 float64     // of the surface of the bare stock
	inks    [4]bool     // that are there
	cells   int         // steps of each ink, about
}

// maxTables of one characterisation remembered; fronts and backs of a job need one or two, of some 20 MB.
const maxTables = 2

// tableFor is table with a memory.
func (p *Process) tableFor(o tableOptions) *processTable {
	p.mu.Lock()
	defer p.mu.Unlock()
	t := p.tables[o]
	if t == nil {
		if len(p.tables) >= maxTables || p.tables == nil {
			p.tables = map[tableOptions]*processTable{}
		}
		t = p.table(o)
		p.tables[o] = t
	}
	return t
}

// table makes layers of the colours. A node's R and the stock's W below the surface give, with the scatter R0 of the inks
// in it,
//
//	1 - R0 = prod (1 - coverage ai R0i)    T² = (R-R0)(1-R0 W)/W
//
// so that on W the colour comes out exactly, whatever the scatter. ai is what the other inks leave of an ink's scatter: half of
// them lie above it in the mean, and light passes those twice, so it is the root of R by the R of the ink alone.
func (p *Process) table(o tableOptions) *processTable {
	t := &processTable{}
	var levels [4][]float64
	n := int32(1)
	for i := 3; i >= 0; i-- {
		t.inks[i] = tableInk{tints: []float64{0}}
		if o.inks[i] {
			t.inks[i] = p.tableInk(i, o.cells)
		}
		levels[i] = t.inks[i].tints
		t.stride[i] = n
		n *= int32(len(levels[i]))
	}
	w, bright := p.white, 0
	stockK0 := min(o.stockK0, 0.9*w.least())
	for b, v := range w {
		if brightest := measuredFromInternal(1, stockK0); v > brightest+0.0005 {
			bright++
		}
		w[b] = internalFromMeasured(v, stockK0)
	}
	if bright > 0 {
		t.notes = append(t.notes, fmt.Sprintf("The stock of the characterisation is brighter than a surface without brightener can be, in %d of %d bands; there it counts as perfectly white.", bright, bands))
	}
	colours := p.resampled(levels)
	internal := func(node int32, k0 float64) (r spectrum, k0Used float64) {
		c := unrooted(colours[node])
		return ground(&c, k0)
	}
	type own struct { // of an ink alone
		coverage float64
		r        spectrum
		scatter  *spectrum
	}
	var alone [4][]own
	for i, list := range levels {
		for k, v := range list {
			r, _ := internal(int32(k)*t.stride[i], o.print.k0)
			alone[i] = append(alone[i], own{p.coverage(i, v), r, &o.scatter[i]})
		}
	}
	t.films = make([]*film, 1, n)
	for i := int32(1); i < n; i++ {
		f := &film{kind: colourant.Process, coat: o.print.alpha, open: 1}
		for k := range alone {
			f.open *= 1 - alone[k][i/t.stride[k]%int32(len(levels[k]))].coverage
		}
		// Between the dots is the surface of the stock.
		r, k0 := internal(i, o.print.k0+float64(f.open*(stockK0-o.print.k0)))
		if f.k0 = k0; f.open < 1 {
			f.k0 = max(0, (k0-float64(f.open*stockK0))/(1-f.open))
		}
		for b, ri := range r {
			through := 1.0
			for k := range alone {
				if a := &alone[k][i/t.stride[k]%int32(len(levels[k]))]; a.coverage > 0 {
					left := math.Sqrt(min(ri/a.r[b], 1))
					through *= 1 - float64(a.coverage*left*a.scatter[b])
				}
			}
			// No more scatter than the layer shows; at R0 = R nothing of the ground would come through.
			r0 := min(1-through, 0.9*ri)
			f.r0[b] = r0
			f.t[b] = math.Sqrt((ri - r0) * (1 - float64(r0*w[b])) / w[b])
			f.k[b], f.s[b] = layerKS(r0, min(f.t[b], 1-r0))
			f.direct[b] = math.Exp(-f.k[b] - float64(2*f.s[b]))
		}
		// Black is not thinned on other toners, as it would become lighter on them than alone.
		f.rigid = p.coverage(3, levels[3][i%int32(len(levels[3]))]) > 0.5
		t.films = append(t.films, f)
	}
	return t
}

// coverage of an ink in the middle of the spectrum.
func (p *Process) coverage(ink int, tint float64) float64 {
	return min(max(p.inks[ink].ramp[1].value(tint), 0), 1)
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
	if p.rest != nil {
		i := 0
		eachNode(levels, func(t [4]float64) {
			u := p.place(t)
			x := p.rest.factors(&u)
			from[i] = factored(from[i], &x)
			i++
		})
	}
	return from
}

// tableInk divides the way between the nodes of an ink into parts of the same coverage, so that about so many cells are
// made. Where the nodes are too many for that, it divides the whole way and does not meet them: a sampled profile is as
// good between its nodes as at them.
func (p *Process) tableInk(ink, cells int) (out tableInk) {
	c := &p.inks[ink]
	n := len(c.tints) - 1
	if parts := (cells + n/2) / n; parts > 1 || n <= min(cells, 5) {
		for k := range n {
			out.tints = append(out.tints, c.tints[k])
			for j := 1; j < parts; j++ {
				f := float64(j) / float64(parts)
				out.tints = append(out.tints, c.tintAt(c.at[k]+float64(f*(c.at[k+1]-c.at[k])), c.tints[k], c.tints[k+1]))
			}
		}
	} else {
		cells += cells / 4
		out.tints = append(out.tints, 0)
		for k := 1; k < cells; k++ {
			out.tints = append(out.tints, c.tintAt(float64(k)/float64(cells), 0, 1))
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
		case out.tints[k+1]: // the solid
			out.cell[v]++
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

package look

import (
	"math"
	"sync"
	"sync/atomic"

	"laydown/internal/colourant"
)

// A laydown is an ordered list of steps. What a step lays depends on the node its group is at: for a toner of its own
// the nodes are bare and covered; plates that are known only together, as the process set of a characterisation, form
// one group whose nodes are the overprints of a grid of tints. Every combination of nodes is a primary of the halftone;
// it is computed when first asked for.

// group is the plates that move one choice of node.
type group struct {
	inputs []int // numbers of Model.inputs
	cells  *cells
	nodes  int
	stride int32 // of its node in the number of a combination
}

// cells tell where the tints of four plates lie in a grid of nodes; the node of tints in cells c is the sum of c x
// stride.
type cells struct {
	cell   [4][256]uint8   // tint -> node below
	share  [4][256]float32 // tint -> share of the way to the next node
	stride [4]int32
}

// step is one layer of the laydown: the film of each node of its group, nil where nothing is laid.
type step struct {
	group int
	films []*film
	traps bool // goes down thinner on other toners
}

// row is one combination as the evaluator mixes it.
type row struct {
	root  [mixBands]float32 // square root of reflectance
	shine [shineParts]float32
}

// Parts of row.shine; they are averaged by area.
const (
	shineMetal = 0 // amplitude of the flakes' lobe, linear sRGB
	shineShare = 3 // area where flakes are in sight
	shineAlpha = 4 // share x width of their lobe
	shineCoat  = 5 // width of the top surface's lobe
	shineParts = 6
)

// base is what the toners lie on, or, seen through a film, what lies behind them.
type base struct {
	ri    spectrum // reflectance below the surface
	gloss gloss    // of the bare surface
	foil  *flakes  // of a metallised stock
	front *film    // a film between the toners and the viewer
}

// stacks holds the combinations computed so far.
type stacks struct {
	rows []atomic.Pointer[row]
	mu   sync.Mutex
	thin map[thickness]*film
}

type thickness struct {
	film  *film
	below int
	metal bool
}

// Trapping: a toner laid on another transparent one goes down thinner, and again on metal.
const (
	trapOnToner = 0.85
	trapOnMetal = 0.75
)

// rowOf is a combination of nodes, computed once.
func (m *Model) rowOf(combination int32) *row {
	if r := m.stacks.rows[combination].Load(); r != nil {
		return r
	}
	m.stacks.mu.Lock()
	defer m.stacks.mu.Unlock()
	if r := m.stacks.rows[combination].Load(); r != nil {
		return r
	}
	var r *row
	if m.beneath != nil {
		r = m.levelRow(combination)
	} else {
		p := m.primary(combination)
		r = p.row()
	}
	m.stacks.rows[combination].Store(r)
	return r
}

// primary is a combination as measured.
type primary struct {
	r     spectrum // radiance factor at 45/0, glow included
	lobe  spectrum // amplitude of the flakes in sight
	share float64
	alpha float64
	coat  float64
}

// laid lists the films of a combination in laydown order, thinned where they trap.
func (m *Model) laid(combination int32, films []*film) []*film {
	below, metal := 0, m.base.foil != nil
	for i := range m.steps {
		s := &m.steps[i]
		g := &m.groups[s.group]
		f := s.films[int(combination/g.stride)%g.nodes]
		if f == nil {
			continue
		}
		if s.traps && (below > 0 || metal) {
			f = m.thinned(thickness{f, below, metal})
		}
		films = append(films, f)
		switch {
		case f.kind == colourant.OpaqueWhite:
			below, metal = 0, false
		case f.kind == colourant.Metallic:
			below, metal = 0, true
		case layered(f.kind):
			below++
		}
	}
	return films
}

func (m *Model) thinned(at thickness) *film {
	if f := m.stacks.thin[at]; f != nil {
		return f
	}
	c := math.Pow(trapOnToner, float64(at.below))
	if at.metal {
		c *= trapOnMetal
	}
	f := at.film.thinned(c)
	m.stacks.thin[at] = f
	return f
}

// layered tells the toners others go down thinner on. An opaque white starts afresh; whites, metals and clears are laid
// thick.
func layered(k colourant.Kind) bool {
	return k == colourant.Process || k == colourant.Fluorescent || k == colourant.Spot
}

// primary computes a combination from the base upwards.
func (m *Model) primary(combination int32) (p primary) {
	var room [24]*film
	films := m.laid(combination, room[:0])
	b := &m.base
	if m.through {
		for i, j := 0, len(films)-1; i < j; i, j = i+1, j-1 {
			films[i], films[j] = films[j], films[i]
		}
	}
	if b.front != nil {
		films = append(films, b.front)
	}
	top := b.gloss
	for _, f := range films {
		top = f.surface(top)
	}
	ri, dark := b.ri, b.ri // dark: the same with the flakes in sight black
	var up spectrum        // glow on its way up
	if b.foil != nil {
		p.lobe, p.alpha, p.share = b.foil.amplitude, b.foil.alpha, 1
		dark = spectrum{}
	}
	glows := false
	for i, f := range films {
		before := ri
		if f.glow != nil {
			glows = true
			down := unhindered
			for _, above := range films[i+1:] {
				for b := range down {
					down[b] *= above.t[b]
				}
			}
			own := f.emission(&before, &down)
			f.pass(&up, &before)
			for b := range up {
				up[b] += own[b]
			}
		} else if glows {
			f.pass(&up, &before)
		}
		ri, dark = f.over(&before), f.over(&dark)
		switch {
		case f.flakes != nil:
			p.lobe, p.alpha, p.share = f.flakes.amplitude, f.flakes.alpha, 1
			for b := range dark {
				dark[b] = f.t[b] * f.t[b] * before[b]
			}
		case p.share > 0:
			for b := range p.lobe {
				p.lobe[b] *= f.direct[b] * f.direct[b]
			}
			p.share *= math.Exp(-4 * f.s[middleBand])
		}
	}
	p.r = measured(&ri, top.k0)
	p.coat = top.alpha
	if p.share > 0 {
		// The lobe's part of the colour is at most what the flakes add to it.
		at45 := aspecularFactor(p.alpha, 45)
		for b := range p.lobe {
			most := (p.r[b] - measuredFromInternal(dark[b], top.k0)) / at45
			p.lobe[b] = min(p.lobe[b], max(most, 0))
		}
	}
	if glows {
		for b := range p.r {
			p.r[b] += leaving(up[b], ri[b])
		}
	}
	return p
}

// middleBand is at 550 nm, where the eye is keenest.
const middleBand = 17

// pass takes the glow up through the layer, the ground below it reflecting g.
func (f *film) pass(up, g *spectrum) {
	for b := range up {
		up[b] *= f.t[b] / (1 - float64(f.r0[b]*g[b]))
	}
}

// row rounds to single precision: coarse enough that the last bit of the mathematics library does not reach a pixel.
func (p *primary) row() *row {
	r := &row{}
	for b, v := range p.r.sampled() {
		r.root[b] = float32(math.Sqrt(v))
	}
	if p.share > 0 {
		for c, v := range p.lobe.linear() {
			r.shine[shineMetal+c] = float32(v)
		}
	}
	r.shine[shineShare] = float32(p.share)
	r.shine[shineAlpha] = float32(p.share * p.alpha)
	r.shine[shineCoat] = float32(p.coat)
	return r
}

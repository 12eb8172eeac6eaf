package look

import (
	"laydown/internal/limits"
	"laydown/internal/press"
)

// key holds the tints of all plates in use, one byte each: a pixel's colour depends on nothing else.
type key [2]uint64

// evaluator computes colours for one goroutine. Pictures repeat colours a lot, so it keeps the last
// ones in a table; an entry is used only when its whole key matches, so the result never depends on
// what came before.
type evaluator struct {
	m       *Model
	share   [256]float32 // tint -> covered share of the area
	weights []float32    // of the primaries last mixed
	numbers []int32      // of those primaries
	sum     [mixBands]float32
	cache   []entry
	slabs   [slabs]slab
	oldest  int // of them
}

type entry struct {
	key     key
	linear  [3]uint16
	used    bool
	outside bool    // of sRGB, before it was fitted
	shift   float32 // CIEDE2000 from what was asked for
}

const (
	cacheBits = 12 // what photographs need anew fits the second cache of a core beside the primaries
	cacheSize = 1 << cacheBits
)

func newEvaluator(m *Model) *evaluator {
	e := &evaluator{m: m}
	for t := range e.share {
		e.share[t] = float32(t) / 255
	}
	return e
}

// load packs tints given by plate.
func (e *evaluator) load(tints []uint8) (k key) {
	for i, plate := range e.m.inputs {
		if plate < len(tints) {
			k.set(i, tints[plate])
		}
	}
	return k
}

func (k *key) set(input int, t uint8) { k[input>>3] |= uint64(t) << (8 * (input & 7)) }

func (k *key) tint(input int) uint8 { return uint8(k[input>>3] >> (8 * (input & 7))) }

// weigh finds the primaries that share the area at tints k, and their shares (Demichel). Plates at full tint are in
// every primary and absent ones in none, so only the plates between take part.
func (e *evaluator) weigh(k key) (w []float32, numbers []int32) {
	base := int32(0)
	var partial [limits.MaxLookToners]int
	n, corners := 0, 1
	for i := range e.m.groups {
		g := &e.m.groups[i]
		if g.cells != nil {
			partial[n] = i
			n++
			corners *= 16
			continue
		}
		switch k.tint(g.inputs[0]) {
		case 0:
		case 255:
			base += g.stride
		default:
			partial[n] = i
			n++
			corners *= 2
		}
	}
	if len(e.weights) < corners {
		e.weights = make([]float32, corners)
		e.numbers = make([]int32, corners)
	}
	w, numbers = e.weights, e.numbers
	w[0], numbers[0] = 1, base
	count := 1
	for _, i := range partial[:n] {
		g := &e.m.groups[i]
		if g.cells == nil {
			count = split(w, numbers, count, e.share[k.tint(g.inputs[0])], g.stride)
			continue
		}
		for j, in := range g.inputs {
			t := k.tint(in)
			low := int32(g.cells.cell[j][t]) * g.cells.stride[j] * g.stride
			for c := range count {
				numbers[c] += low
			}
			if a := g.cells.share[j][t]; a > 0 {
				count = split(w, numbers, count, a, g.cells.stride[j]*g.stride)
			}
		}
	}
	return w[:count], numbers[:count]
}

// split parts each of count primaries in two: without and with what share a of the area has.
func split(w []float32, numbers []int32, count int, a float32, stride int32) int {
	free := 1 - a
	low, high := w[:count], w[count:2*count]
	from, to := numbers[:len(low)], numbers[count:2*count]
	high, to = high[:len(low)], to[:len(low)]
	for j, v := range low {
		high[j], to[j] = v*a, from[j]+stride
		low[j] = v * free
	}
	return 2 * count
}

// mix leaves the averaged root reflectance in e.sum.
func (e *evaluator) mix(k key) {
	if !e.mixSet(k) && !e.mixFew(k) {
		e.mixAny(k)
	}
}

// few is the most plates between none and solid for which mix takes the short way; more than the four of a photograph
// are rare.
const few = 4

// mixFew is mixAny for toners of their own, few of them between none and solid: the same sums in the same order, kept off
// the heap. ok is false where there are more.
func (e *evaluator) mixFew(k key) (ok bool) {
	var w [1 << few]float32
	var at [1 << few]int32
	base, corners := e.weighFew(k, &w, &at)
	if corners == 0 {
		return false
	}
	e.sumFew(base, w[:corners], at[:corners])
	return true
}

// sumFew mixes primaries.
func (e *evaluator) sumFew(base int32, w []float32, at []int32) {
	at = at[:len(w)]
	rows := e.m.stacks.rows[base:]
	var s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11 float32
	for c, v := range w {
		r := rows[at[c]].Load()
		if r == nil {
			r = e.m.rowOf(base + at[c])
		}
		p := &r.root
		s0 += float32(v * p[0])
		s1 += float32(v * p[1])
		s2 += float32(v * p[2])
		s3 += float32(v * p[3])
		s4 += float32(v * p[4])
		s5 += float32(v * p[5])
		s6 += float32(v * p[6])
		s7 += float32(v * p[7])
		s8 += float32(v * p[8])
		s9 += float32(v * p[9])
		s10 += float32(v * p[10])
		s11 += float32(v * p[11])
	}
	e.sum = [mixBands]float32{s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11}
}

// weighFew is weigh for toners of their own, few of them between none and solid: the shares of the primaries and their numbers less
// base. There are none where there are more toners.
func (e *evaluator) weighFew(k key, w *[1 << few]float32, at *[1 << few]int32) (base int32, corners int) {
	if e.m.set != nil {
		return 0, 0
	}
	corners = 1
	w[0] = 1
	lo, hi := k[0], k[1]
	for i := range e.m.groups {
		t := uint8(lo)
		if lo >>= 8; i&7 == 7 {
			lo = hi
		}
		switch t {
		case 0:
			continue
		case 255:
			base += e.m.groups[i].stride
			continue
		}
		if corners == 1<<few {
			return 0, 0
		}
		a, stride := e.share[t], e.m.groups[i].stride
		free := 1 - a
		for c := range corners {
			c &= 1<<(few-1) - 1
			at[c+corners&(1<<few-1)] = at[c] + stride
			w[c+corners&(1<<few-1)] = w[c] * a
			w[c] *= free
		}
		corners *= 2
	}
	return base, corners
}

// shineFew is the part of surface that mixes, where mixFew would: one way through the primaries instead of two.
func (e *evaluator) shineFew(k key, sum *[shineParts]float32) (ok bool) {
	var w [1 << few]float32
	var at [1 << few]int32
	base, corners := e.weighFew(k, &w, &at)
	if corners == 0 {
		return false
	}
	e.sumFew(base, w[:corners], at[:corners])
	rows := e.m.stacks.rows[base:]
	var s0, s1, s2, s3, s4, s5 float32
	for c, v := range w[:corners] {
		p := &rows[at[c]].Load().shine // made by sumFew
		s0 += float32(v * p[0])
		s1 += float32(v * p[1])
		s2 += float32(v * p[2])
		s3 += float32(v * p[3])
		s4 += float32(v * p[4])
		s5 += float32(v * p[5])
	}
	*sum = [shineParts]float32{s0, s1, s2, s3, s4, s5}
	return true
}

func (e *evaluator) mixAny(k key) {
	w, numbers := e.weigh(k)
	if len(w) == 1 {
		e.sum = e.m.rowOf(numbers[0]).root
		return
	}
	w = w[:len(numbers)]
	rows := e.m.stacks.rows
	var s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11 float32
	for j, n := range numbers {
		r := rows[n].Load()
		if r == nil {
			r = e.m.rowOf(n)
		}
		p, v := &r.root, w[j]
		s0 += float32(v * p[0])
		s1 += float32(v * p[1])
		s2 += float32(v * p[2])
		s3 += float32(v * p[3])
		s4 += float32(v * p[4])
		s5 += float32(v * p[5])
		s6 += float32(v * p[6])
		s7 += float32(v * p[7])
		s8 += float32(v * p[8])
		s9 += float32(v * p[9])
		s10 += float32(v * p[10])
		s11 += float32(v * p[11])
	}
	e.sum = [mixBands]float32{s0, s1, s2, s3, s4, s5, s6, s7, s8, s9, s10, s11}
}

// lab is the colour last mixed.
func (e *evaluator) lab() press.Lab {
	r := squared(&e.sum)
	return r.lab()
}

// linearAt is the linear sRGB colour; a perfect diffuser is 1, 1, 1. It may lie outside the gamut.
func (e *evaluator) linearAt(k key) (out [3]float64) {
	e.mix(k)
	for c, v := range e.linear() {
		out[c] = float64(v)
	}
	return out
}

// linear is the linear sRGB colour last mixed.
func (e *evaluator) linear() [3]float32 {
	l := &e.m.linear
	var r, g, b float32
	for i, s := range &e.sum {
		v := float32(s * s)
		r += float32(v * l[0][i])
		g += float32(v * l[1][i])
		b += float32(v * l[2][i])
	}
	return [3]float32{r, g, b}
}

// surface is what a place with tints k is to a lamp. What shines is averaged by area, without the gain of tints: a
// mirror image does not wander sideways in the stock. Its part of the colour at 45/0 stays within that colour.
func (e *evaluator) surface(k key) (s Surface) {
	var sum [shineParts]float32
	if !e.shineFew(k, &sum) {
		e.mix(k)
		w, numbers := e.weigh(k)
		for j, n := range numbers {
			r, v := e.m.rowOf(n), w[j]
			for i, x := range r.shine {
				sum[i] += float32(v * x)
			}
		}
	}
	s.R45 = e.linear()
	s.CoatAlpha = sum[shineCoat]
	if sum[shineShare] <= 0 {
		return s
	}
	s.MetalShare = sum[shineShare]
	s.MetalAlpha = sum[shineAlpha] / sum[shineShare]
	at45 := float32(aspecularFactor(float64(s.MetalAlpha), 45))
	part := float32(1)
	for c, r := range s.R45 {
		if lobe := sum[shineMetal+c] * at45; r > 0 && lobe > r {
			part = min(part, r/lobe)
		}
	}
	for c := range s.Metal {
		s.Metal[c] = sum[shineMetal+c] * part
	}
	return s
}

// shownAt is the colour as a screen can show it, 0..linearScale.
func (e *evaluator) shownAt(k key) (s entry) {
	e.mix(k)
	v := e.linear()
	s.show(k, [3]float64{float64(v[0]), float64(v[1]), float64(v[2])})
	return s
}

func shown(k key, linear [3]float64) (s entry) {
	s.show(k, linear)
	return s
}

// show fits a linear colour into what a screen can show.
func (s *entry) show(k key, v [3]float64) {
	s.key, s.used, s.outside, s.shift = k, true, false, 0
	if !well(v) {
		f := fit(v)
		v, s.outside, s.shift = f.linear, f.outside, float32(f.shift)
	}
	for c := range v {
		s.linear[c] = uint16(float64(v[c]*linearScale) + 0.5)
	}
}

// cached is shownAt with a memory.
func (e *evaluator) cached(k key) *entry {
	if e.cache == nil {
		e.cache = make([]entry, cacheSize)
	}
	const spread = 0x9E3779B97F4A7C15
	h := (k[0]^k[1]*0xC2B2AE3D27D4EB4F)*spread ^ k[0]>>29
	c := &e.cache[h*spread>>(64-cacheBits)]
	if !c.used || c.key != k {
		e.mix(k)
		v := e.linear()
		c.show(k, [3]float64{float64(v[0]), float64(v[1]), float64(v[2])})
	}
	return c
}

func srgb8(linear [3]uint16) [3]uint8 {
	return [3]uint8{encoded[linear[0]], encoded[linear[1]], encoded[linear[2]]}
}

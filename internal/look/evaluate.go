package look

import "laydown/internal/limits"

// key holds the tints of all plates in use, one byte each: a pixel's colour depends on nothing else.
type key [2]uint64

// evaluator computes colours for one goroutine. Pictures repeat colours a lot, so it keeps the last
// ones in a table; an entry is used only when its whole key matches, so the result never depends on
// what came before.
type evaluator struct {
	m       *Model
	share   [256]float32 // tint -> covered share of the area
	weights []float32
	masks   []int32
	sum     [bands]float32
	cache   []entry
}

type entry struct {
	key     key
	linear  [3]uint16
	used    bool
	outside bool    // of sRGB, before it was fitted
	shift   float32 // CIEDE2000 from what was asked for
}

const (
	cacheBits = 14
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

// mix leaves the averaged root reflectance in e.sum. Plates at full tint are in every primary and
// absent ones in none, so only the k plates between take part: 2^k primaries.
func (e *evaluator) mix(k key) {
	base := int32(0)
	var partial [limits.MaxLookToners]int
	n := 0
	for i := range e.m.inputs {
		switch t := uint8(k[i>>3] >> (8 * (i & 7))); t {
		case 0:
		case 255:
			base |= 1 << i
		default:
			partial[n] = i
			n++
		}
	}
	if n == 0 {
		e.sum = e.m.primary[base]
		return
	}
	if len(e.weights) < 1<<n {
		e.weights = make([]float32, 1<<n)
		e.masks = make([]int32, 1<<n)
	}
	w, masks := e.weights[:1<<n], e.masks[:1<<n]
	w[0], masks[0] = 1, base
	for p, i := range partial[:n] {
		a := e.share[uint8(k[i>>3]>>(8*(i&7)))]
		free := 1 - a
		half := 1 << p
		for j := range half {
			w[half+j], masks[half+j] = w[j]*a, masks[j]|1<<i
			w[j] *= free
		}
	}
	var sum [bands]float32
	for j, mask := range masks {
		p, v := &e.m.primary[mask], w[j]
		for b := range sum {
			sum[b] += float32(v * p[b])
		}
	}
	e.sum = sum
}

// linearAt is the linear sRGB colour; a perfect diffuser is 1, 1, 1. It may lie outside the gamut.
func (e *evaluator) linearAt(k key) (out [3]float64) {
	e.mix(k)
	var v [3]float32
	for b, s := range e.sum {
		r := float32(s * s)
		v[0] += float32(r * e.m.linear[0][b])
		v[1] += float32(r * e.m.linear[1][b])
		v[2] += float32(r * e.m.linear[2][b])
	}
	for c := range v {
		out[c] = float64(v[c]) / linearScale
	}
	return out
}

// shownAt is the colour as a screen can show it, 0..linearScale.
func (e *evaluator) shownAt(k key) entry {
	f := fit(e.linearAt(k))
	s := entry{key: k, used: true, outside: f.outside, shift: float32(f.shift)}
	for c, v := range f.linear {
		s.linear[c] = uint16(float64(v*linearScale) + 0.5)
	}
	return s
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
		*c = e.shownAt(k)
	}
	return c
}

func srgb8(linear [3]uint16) [3]uint8 {
	return [3]uint8{encoded[linear[0]], encoded[linear[1]], encoded[linear[2]]}
}

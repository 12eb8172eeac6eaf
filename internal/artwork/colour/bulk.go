package colour

import (
	"math"
	"slices"
	"sync"
)

// ImageConverter converts rows of packed image samples to process tints, 4 bytes a pixel in the order
// C M Y K, 0 none to 255 full. Every path gives the bytes that Converter.CMYK gives rounded by
// TintFromUnit, pixel by pixel. It is safe for concurrent use; what a pixel becomes does not depend on
// others, nor on what was converted before.
type ImageConverter struct {
	conv   *Converter
	space  Space
	intent Intent
	bits   int
	comps  int
	decode []float64

	table [][4]byte   // one component of up to 8 bits: by sample
	pass  [][]byte    // four components that are tints: per component, by sample
	plain bool        // 8-bit samples that are tints as they stand
	level [][]byte    // three components of exact 8-bit levels: per component, by sample
	pool  *sync.Pool  // of *pixelCache, for all other spaces
	value [][]float64 // per component, by sample; nil at 16 bits

	link   *link       // straight through profiles; nil = colour by colour
	linear [][]float64 // with link: value after the link's curves
	unit   bool        // with link: components are clipped to 0..1 of a profile
}

// TintFromUnit rounds a tint 0..1 to 0..255, half up. NaN is 0.
func TintFromUnit(v float64) uint8 {
	v = float64(v*255) + 0.5
	switch {
	case v >= 255:
		return 255
	case v >= 0:
		return uint8(v)
	}
	return 0
}

// TintTable holds the tint 0..255 of each of the 2^bits sample values of a component whose samples
// are tints (Separation, DeviceN, DeviceCMYK), by its two Decode numbers.
func TintTable(decode0, decode1 float64, bits int) []uint8 {
	t := make([]uint8, 1<<bits)
	for raw := range t {
		t[raw] = TintFromUnit(clamp(sampleValue(decode0, decode1, raw, bits), 0, 1))
	}
	return t
}

// sampleValue maps a raw sample through Decode (8.9.5.2).
func sampleValue(d0, d1 float64, raw, bits int) float64 {
	return finite(d0 + float64(float64(raw)*(d1-d0))/float64(uint64(1)<<bits-1))
}

// PrepareImage readies the conversion of an image's samples: space, Decode array (2 numbers per
// component, nil = DefaultDecode) and bits per sample (1, 2, 4, 8 or 16).
func (c *Converter) PrepareImage(space Space, decode []float64, bits int, intent Intent) *ImageConverter {
	n := space.Components()
	if len(decode) < 2*n {
		decode = DefaultDecode(space, bits)
	}
	p := &ImageConverter{conv: c, space: space, intent: intent, bits: bits, comps: n, decode: decode}
	if n == 1 && bits < 16 {
		p.table = make([][4]byte, 1<<bits)
		for raw := range p.table {
			p.table[raw] = p.colour([]float64{sampleValue(decode[0], decode[1], raw, bits)})
		}
		return p
	}
	if bits < 16 {
		p.value = make([][]float64, n)
		for i := range p.value {
			p.value[i] = make([]float64, 1<<bits)
			for raw := range p.value[i] {
				lo, hi := space.Range(i)
				p.value[i][raw] = clamp(sampleValue(decode[2*i], decode[2*i+1], raw, bits), lo, hi)
			}
		}
	}
	switch {
	case n == 4 && c.passesCMYK(space):
		for i := range 4 {
			p.pass = append(p.pass, TintTable(decode[2*i], decode[2*i+1], bits))
		}
		p.plain = bits == 8 && slices.Equal(decode[:8], []float64{0, 1, 0, 1, 0, 1, 0, 1})
	case n == 3 && c.takesRGB(space) && p.exactLevels():
		for i := range 3 {
			p.level = append(p.level, TintTable(decode[2*i], decode[2*i+1], bits))
		}
	default:
		p.pool = &sync.Pool{New: func() any { return &pixelCache{comps: make([]float64, n)} }}
		p.prepareLink()
	}
	return p
}

// passesCMYK reports whether components of s are process tints as they are.
func (c *Converter) passesCMYK(s Space) bool {
	switch x := s.(type) {
	case *DeviceCMYK:
		return true
	case *ICCBased:
		if x.Profile == nil {
			return x.Alternate.Family() == FamilyCMYK
		}
		return unitRange(x) && (c.dest() == nil || x.Profile.equal(c.dest()))
	}
	return false
}

// takesRGB reports whether components of s are device RGB for the complement.
func (c *Converter) takesRGB(s Space) bool {
	switch x := s.(type) {
	case *DeviceRGB, *CalRGB:
		return c.dest() == nil
	case *ICCBased:
		return (x.Profile != nil && unitRange(x) || x.Alternate.Family() == FamilyRGB) && c.dest() == nil
	}
	return false
}

// prepareLink finds the straight way of colours that go through profiles as they are. The components a
// link gets are those of Converter.CMYK, bit for bit.
func (p *ImageConverter) prepareLink() {
	s := p.space
	if x, ok := s.(*ICCBased); ok && x.Profile == nil {
		return
	}
	switch s.Family() {
	case FamilyRGB, FamilyCalGray, FamilyCalRGB, FamilyLab, FamilyICC:
	default:
		return
	}
	if p.conv.dest() == nil {
		return
	}
	p.link = p.conv.link(s, p.intent)
	p.pool = &sync.Pool{New: func() any { return p.newLinkCache() }}
	p.unit = s.Family() == FamilyICC
	for k, values := range p.value {
		for raw, v := range values {
			if p.unit {
				values[raw] = unitOf(v)
			}
		}
		if p.link.curves == nil {
			continue
		}
		linear := make([]float64, len(values))
		for raw, v := range values {
			linear[raw] = p.link.curves[k].at(v)
		}
		p.linear = append(p.linear, linear)
	}
}

func unitRange(s Space) bool {
	for i := range s.Components() {
		if lo, hi := s.Range(i); lo != 0 || hi != 1 {
			return false
		}
	}
	return true
}

// exactLevels reports whether all sample values are whole 255ths, so that the complement can be
// computed in bytes without a second rounding.
func (p *ImageConverter) exactLevels() bool {
	if p.value == nil {
		return false
	}
	for _, values := range p.value {
		for _, v := range values {
			if l := v * 255; math.Abs(l-math.Round(l)) > 1e-9 {
				return false
			}
		}
	}
	return true
}

func (p *ImageConverter) colour(comps []float64) [4]byte {
	v := p.conv.CMYK(p.space, comps, p.intent)
	return [4]byte{TintFromUnit(v[0]), TintFromUnit(v[1]), TintFromUnit(v[2]), TintFromUnit(v[3])}
}

// Row converts the first n pixels of a row: src holds packed samples from a byte boundary, dst takes
// 4 n bytes. Pixels that src does not hold become no toner.
func (p *ImageConverter) Row(dst, src []byte, n int) {
	if have := len(src) * 8 / (p.comps * p.bits); have < n {
		clear(dst[4*have : 4*n])
		n = have
	}
	switch {
	case p.bits == 8 && p.table != nil:
		for i, s := range src[:n] {
			*(*[4]byte)(dst[4*i:]) = p.table[s]
		}
	case p.plain:
		copy(dst, src[:4*n])
	case p.bits == 8 && p.pass != nil:
		p.rowPass(dst, src, n)
	case p.bits == 8 && p.level != nil:
		p.rowLevels(dst, src, n)
	case p.link != nil:
		p.rowLink(dst, src, n)
	default:
		p.rowSamples(dst, src, n)
	}
}

func (p *ImageConverter) rowPass(dst, src []byte, n int) {
	c, m, y, k := (*[256]byte)(p.pass[0]), (*[256]byte)(p.pass[1]), (*[256]byte)(p.pass[2]), (*[256]byte)(p.pass[3])
	for i := range n {
		s, d := src[4*i:4*i+4:4*i+4], dst[4*i:4*i+4:4*i+4]
		d[0], d[1], d[2], d[3] = c[s[0]], m[s[1]], y[s[2]], k[s[3]]
	}
}

func (p *ImageConverter) rowLevels(dst, src []byte, n int) {
	rt, gt, bt := (*[256]byte)(p.level[0]), (*[256]byte)(p.level[1]), (*[256]byte)(p.level[2])
	for i := range n {
		s := src[3*i : 3*i+3 : 3*i+3]
		*(*[4]byte)(dst[4*i:]) = complementBytes(rt[s[0]], gt[s[1]], bt[s[2]])
	}
}

func complementBytes(r, g, b byte) [4]byte {
	c, m, y := 255-r, 255-g, 255-b
	k := min(c, m, y)
	return [4]byte{c - k, m - k, y - k, k}
}

// rowSamples is Row for other depths and for spaces without a table.
func (p *ImageConverter) rowSamples(dst, src []byte, n int) {
	var cache *pixelCache
	if p.pool != nil {
		cache = p.pool.Get().(*pixelCache)
		defer p.pool.Put(cache)
	}
	r := sampleReader{src: src, bits: p.bits}
	for i := range n {
		d := (*[4]byte)(dst[4*i:])
		switch {
		case p.table != nil:
			*d = p.table[r.next()]
		case p.pass != nil:
			*d = [4]byte{p.pass[0][r.next()], p.pass[1][r.next()], p.pass[2][r.next()], p.pass[3][r.next()]}
		case p.level != nil:
			*d = complementBytes(p.level[0][r.next()], p.level[1][r.next()], p.level[2][r.next()])
		default:
			*d = p.cached(cache, &r)
		}
	}
}

// cached converts one pixel, remembering colours of up to 64 bits.
func (p *ImageConverter) cached(cache *pixelCache, r *sampleReader) [4]byte {
	key := uint64(0)
	for k := range p.comps {
		raw := r.next()
		key = key<<p.bits | uint64(raw)
		if p.value != nil {
			cache.comps[k] = p.value[k][raw]
		} else {
			cache.comps[k] = sampleValue(p.decode[2*k], p.decode[2*k+1], raw, p.bits)
		}
	}
	if p.comps*p.bits > 64 {
		return p.colour(cache.comps)
	}
	e := &cache.entries[key*0x9e3779b97f4a7c15>>(64-cacheBits)]
	if !e.set || e.key != key {
		*e = cacheEntry{key: key, tints: p.colour(cache.comps), set: true}
	}
	return e.tints
}

const cacheBits = 14

type cacheEntry struct {
	key   uint64
	tints [4]byte
	set   bool
}

// pixelCache is the memory of one goroutine's conversion.
type pixelCache struct {
	comps   []float64
	entries [1 << cacheBits]cacheEntry
}

// sampleReader reads samples of 1, 2, 4, 8 or 16 bits, most significant first (8.9.3).
type sampleReader struct {
	src  []byte
	bits int
	at   int // in bits
}

func (r *sampleReader) next() int {
	i := r.at >> 3
	v := 0
	switch r.bits {
	case 8:
		v = int(r.src[i])
	case 16:
		v = int(r.src[i])<<8 | int(r.src[i+1])
	default:
		v = int(r.src[i]) >> (8 - r.bits - r.at&7) & (1<<r.bits - 1)
	}
	r.at += r.bits
	return v
}

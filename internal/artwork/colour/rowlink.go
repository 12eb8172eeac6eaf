package colour

import "encoding/binary"

// linkCache remembers converted colours of one goroutine: samples, most significant first, and their
// tints. Every entry is true at all times, the unused ones for the samples 0.
type linkCache struct {
	entries [1 << linkCacheBits]linkCacheEntry
}

type linkCacheEntry struct {
	key   uint64
	tints uint32
}

// linkCacheBits: 256 kB, as much as fits beside a profile's table in a processor's second cache.
const linkCacheBits = 14

func (p *ImageConverter) newLinkCache() *linkCache {
	c := &linkCache{}
	none := p.linked(0)
	for i := range c.entries {
		c.entries[i].tints = none
	}
	return c
}

// rowLink is Row for spaces that go straight through profiles.
func (p *ImageConverter) rowLink(dst, src []byte, n int) {
	cache := p.pool.Get().(*linkCache)
	defer p.pool.Put(cache)
	r := sampleReader{src: src, bits: p.bits}
	eight3 := p.bits == 8 && p.comps == 3
	last, tints := uint64(0), cache.entries[0].tints
	known := false
	for i := range n {
		var key uint64
		if eight3 {
			s := src[3*i : 3*i+3 : 3*i+3]
			key = uint64(s[0])<<16 | uint64(s[1])<<8 | uint64(s[2])
		} else {
			for range p.comps {
				key = key<<p.bits | uint64(r.next())
			}
		}
		if key != last || !known {
			e := &cache.entries[key*0x9e3779b97f4a7c15>>(64-linkCacheBits)]
			if e.key != key {
				e.key, e.tints = key, p.linked(key)
			}
			last, tints, known = key, e.tints, true
		}
		binary.LittleEndian.PutUint32(dst[4*i:], tints)
	}
}

// linked converts the colour of packed samples to tints, C in the lowest byte.
func (p *ImageConverter) linked(key uint64) uint32 {
	var v [4]float64
	mask := uint64(1)<<p.bits - 1
	for k := p.comps - 1; k >= 0; k-- {
		raw := int(key & mask)
		key >>= p.bits
		switch {
		case p.linear != nil:
			v[k] = p.linear[k][raw]
		case p.value != nil:
			v[k] = p.value[k][raw]
		default:
			lo, hi := p.space.Range(k)
			v[k] = clamp(sampleValue(p.decode[2*k], p.decode[2*k+1], raw, p.bits), lo, hi)
			if p.unit {
				v[k] = unitOf(v[k])
			}
		}
	}
	if p.linear != nil {
		p.link.linear(&v)
	} else {
		p.link.tints(&v)
	}
	return uint32(TintFromUnit(v[0])) | uint32(TintFromUnit(v[1]))<<8 | uint32(TintFromUnit(v[2]))<<16 | uint32(TintFromUnit(v[3]))<<24
}

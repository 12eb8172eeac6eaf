package jpx

import (
	"sync"

	"laydown/internal/artwork/image/mq"
)

// The bit planes of a code-block (Annex D). Every sample has a word of flags in an array with a
// border of one: which of its eight neighbours are significant, the signs of four of them, and
// where it stands itself. A sample that becomes significant tells its neighbours, so that a
// context is one look into a table.

const (
	nearN = 1 << iota // a neighbour is significant
	nearS
	nearW
	nearE
	nearNW
	nearNE
	nearSW
	nearSE
	negN // and negative
	negS
	negW
	negE
	negative // the sample itself
	significant
	visited // in this bit plane
	refined
)

const anyNear = 0xff

// Contexts (Table D.1 to D.4): 0-8 significance, 9-13 sign, 14-16 refinement, run length, uniform.
const (
	ctxSign    = 9
	ctxRefine  = 14
	ctxRun     = 17
	ctxUniform = 18
	contexts   = 19
)

// Made when first needed.
var (
	contextsOnce sync.Once
	zeroContexts [4][256]uint8 // significance contexts by orientation of the band and neighbours
	signContexts [256]uint8    // sign contexts by the four near and four neg bits; the flip is in bit 7 (Tables D.2 and D.3)
)

func makeContexts() {
	makeZeroContexts(&zeroContexts)
	makeSignContexts(&signContexts)
}

func makeZeroContexts(t *[4][256]uint8) {
	for o := range t {
		for f := range t[o] {
			n := func(mask int) int {
				c := 0
				for m := f & mask; m != 0; m &= m - 1 {
					c++
				}
				return c
			}
			h, v, d := n(nearW|nearE), n(nearN|nearS), n(nearNW|nearNE|nearSW|nearSE)
			if o == 1 {
				h, v = v, h
			}
			t[o][f] = zeroContext(o == 3, h, v, d)
		}
	}
}

// zeroContext is Table D.1.
func zeroContext(diagonal bool, h, v, d int) uint8 {
	if diagonal {
		switch hv := min(h+v, 2); {
		case d >= 3:
			return 8
		case d == 2:
			return uint8(6 + min(hv, 1))
		case d == 1:
			return uint8(3 + hv)
		default:
			return uint8(hv)
		}
	}
	switch {
	case h == 2:
		return 8
	case h == 1 && v >= 1:
		return 7
	case h == 1 && d >= 1:
		return 6
	case h == 1:
		return 5
	case v == 2:
		return 4
	case v == 1:
		return 3
	}
	return uint8(min(d, 2))
}

func makeSignContexts(t *[256]uint8) {
	for i := range t {
		part := func(near, neg int) int {
			switch {
			case i&near == 0:
				return 0
			case i&(neg>>4) != 0:
				return -1
			}
			return 1
		}
		h := max(-1, min(1, part(nearW, negW)+part(nearE, negE)))
		v := max(-1, min(1, part(nearN, negN)+part(nearS, negS)))
		flip := uint8(0)
		if h < 0 || h == 0 && v < 0 {
			h, v, flip = -h, -v, 0x80
		}
		c := uint8(ctxSign)
		switch {
		case h == 1:
			c += uint8(3 + v)
		case v == 1:
			c++
		}
		t[i] = c | flip
	}
}

// coder decodes code-blocks; each goroutine has its own.
type coder struct {
	w, h   int
	stride int // of flags
	flags  []uint16
	mags   []uint32 // doubled, with half a step added: 3<<p for a sample found in plane p
	mq     mq.Decoder
	raw    bits
	cx     [contexts]mq.Context
	zero   *[256]uint8
	causal bool
}

func (c *coder) resetContexts() {
	c.cx = [contexts]mq.Context{}
	c.cx[0] = mq.NewContext(4)
	c.cx[ctxRun] = mq.NewContext(3)
	c.cx[ctxUniform] = mq.NewContext(46)
}

// maxOverrun is how many bytes beyond the end of a segment are taken for an encoder's thrift.
const maxOverrun = 8

// decode decodes what there is of block b, whose band has planes bit planes; ok is false when
// something does not fit. The result lies in mags and flags.
func (c *coder) decode(b *block, bd *band, style byte) (ok bool) {
	c.w, c.h = int(b.w), int(b.h)
	c.stride = c.w + 2
	n := c.stride * (c.h + 2)
	if cap(c.flags) < n {
		c.flags = make([]uint16, n)
	}
	c.flags = c.flags[:n]
	clear(c.flags)
	if cap(c.mags) < c.w*c.h {
		c.mags = make([]uint32, c.w*c.h)
	}
	c.mags = c.mags[:c.w*c.h]
	clear(c.mags)
	contextsOnce.Do(makeContexts)
	c.zero = &zeroContexts[bd.orient]
	c.causal = style&styleCausal != 0
	c.resetContexts()
	top := bd.planes - int(b.zeroPlanes)
	if top > 30 || top < 0 {
		return false
	}
	pass := 2 // 0 significance, 1 refinement, 2 cleanup; the first plane has only the last
	plane := top - 1
	done := 0
	ok = true
	for _, s := range b.segs {
		raw := style&styleBypass != 0 && done >= 10 && pass != 2
		if raw {
			c.raw = bits{data: s.data}
		} else {
			c.mq.Init(s.data)
		}
		for range s.passes {
			if plane < 0 {
				return false
			}
			if raw && c.raw.over || !raw && c.mq.Overrun() > maxOverrun {
				return false
			}
			switch {
			case pass == 0 && raw:
				c.significanceRaw(uint(plane))
			case pass == 0:
				c.significance(uint(plane))
			case pass == 1 && raw:
				c.refinementRaw(uint(plane))
			case pass == 1:
				c.refinement(uint(plane))
			default:
				c.cleanup(uint(plane))
				if style&styleSegment != 0 {
					v := 0
					for range 4 {
						v = v<<1 | c.mq.Bit(&c.cx[ctxUniform])
					}
					ok = ok && v == 10
				}
			}
			if style&styleReset != 0 {
				c.resetContexts()
			}
			done++
			if pass++; pass == 3 {
				pass = 0
				plane--
			}
		}
	}
	return ok
}

// found makes a sample significant in a plane and tells its neighbours; up is false when those of
// the row above must not know (vertically causal contexts, D.7).
func (c *coder) found(f, m int, plane uint, neg uint16, up bool) {
	c.mags[m] = 3 << plane
	fl, s := c.flags, c.stride
	if up {
		fl[f-s-1] |= nearSE
		fl[f-s] |= nearS | neg*negS
		fl[f-s+1] |= nearSW
	}
	fl[f-1] |= nearE | neg*negE
	fl[f] |= significant | neg*negative
	fl[f+1] |= nearW | neg*negW
	fl[f+s-1] |= nearNE
	fl[f+s] |= nearN | neg*negN
	fl[f+s+1] |= nearNW
}

func (c *coder) sign(f uint16) uint16 {
	k := signContexts[f&0x0f|f>>4&0xf0]
	return uint16(c.mq.Bit(&c.cx[k&0x1f])) ^ uint16(k>>7)
}

func (c *coder) significance(plane uint) {
	for y0 := 0; y0 < c.h; y0 += 4 {
		y1 := min(y0+4, c.h)
		for x := range c.w {
			f := (y0+1)*c.stride + x + 1
			for y := y0; y < y1; y, f = y+1, f+c.stride {
				v := c.flags[f]
				if v&significant != 0 || v&anyNear == 0 {
					continue
				}
				if c.mq.Bit(&c.cx[c.zero[v&anyNear]]) == 1 {
					c.found(f, y*c.w+x, plane, c.sign(v), y > y0 || !c.causal)
				}
				c.flags[f] |= visited
			}
		}
	}
}

func (c *coder) significanceRaw(plane uint) {
	for y0 := 0; y0 < c.h; y0 += 4 {
		y1 := min(y0+4, c.h)
		for x := range c.w {
			f := (y0+1)*c.stride + x + 1
			for y := y0; y < y1; y, f = y+1, f+c.stride {
				v := c.flags[f]
				if v&significant != 0 || v&anyNear == 0 {
					continue
				}
				if c.raw.bit() == 1 {
					c.found(f, y*c.w+x, plane, uint16(c.raw.bit()), y > y0 || !c.causal)
				}
				c.flags[f] |= visited
			}
		}
	}
}

func (c *coder) refinement(plane uint) {
	for y0 := 0; y0 < c.h; y0 += 4 {
		y1 := min(y0+4, c.h)
		for x := range c.w {
			f := (y0+1)*c.stride + x + 1
			for y := y0; y < y1; y, f = y+1, f+c.stride {
				v := c.flags[f]
				if v&(significant|visited) != significant {
					continue
				}
				k := ctxRefine
				if v&refined != 0 {
					k += 2
				} else if v&anyNear != 0 {
					k++
				}
				c.refine(y*c.w+x, plane, c.mq.Bit(&c.cx[k]))
				c.flags[f] = v | refined
			}
		}
	}
}

func (c *coder) refinementRaw(plane uint) {
	for y0 := 0; y0 < c.h; y0 += 4 {
		y1 := min(y0+4, c.h)
		for x := range c.w {
			f := (y0+1)*c.stride + x + 1
			for y := y0; y < y1; y, f = y+1, f+c.stride {
				if v := c.flags[f]; v&(significant|visited) == significant {
					c.refine(y*c.w+x, plane, c.raw.bit())
					c.flags[f] = v | refined
				}
			}
		}
	}
}

// refine puts the bit of a plane where the half step of the plane above was, and half a step below it.
func (c *coder) refine(m int, plane uint, bit int) {
	c.mags[m] = c.mags[m] - 2<<plane + uint32(bit)*2<<plane + 1<<plane
}

func (c *coder) cleanup(plane uint) {
	for y0 := 0; y0 < c.h; y0 += 4 {
		y1 := min(y0+4, c.h)
		for x := range c.w {
			f := (y0+1)*c.stride + x + 1
			y := y0
			if y1-y0 == 4 {
				s := c.stride
				if (c.flags[f]|c.flags[f+s]|c.flags[f+2*s]|c.flags[f+3*s])&(significant|visited|anyNear) == 0 {
					if c.mq.Bit(&c.cx[ctxRun]) == 0 {
						continue
					}
					run := c.mq.Bit(&c.cx[ctxUniform])<<1 | c.mq.Bit(&c.cx[ctxUniform])
					y += run
					f += run * s
					c.found(f, y*c.w+x, plane, c.sign(c.flags[f]), y > y0 || !c.causal)
					y, f = y+1, f+s
				}
			}
			for ; y < y1; y, f = y+1, f+c.stride {
				v := c.flags[f]
				if v&(significant|visited) == 0 {
					if c.mq.Bit(&c.cx[c.zero[v&anyNear]]) == 1 {
						c.found(f, y*c.w+x, plane, c.sign(v), y > y0 || !c.causal)
					}
				}
			}
			for y, f := y0, (y0+1)*c.stride+x+1; y < y1; y, f = y+1, f+c.stride {
				c.flags[f] &^= visited
			}
		}
	}
}

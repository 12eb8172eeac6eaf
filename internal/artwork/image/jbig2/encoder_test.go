package jbig2

import (
	"encoding/binary"
)

// An encoder by the book, for tests: contexts are made pixel by pixel from the figures of the
// standard, so that it shares nothing with the decoder's windows.

// qe is Table E.1: value, next state after the more and the less probable symbol, switch.
var qe = [47][4]uint32{
	{0x5601, 1, 1, 1}, {0x3401, 2, 6, 0}, {0x1801, 3, 9, 0}, {0x0ac1, 4, 12, 0}, {0x0521, 5, 29, 0}, {0x0221, 38, 33, 0},
	{0x5601, 7, 6, 1}, {0x5401, 8, 14, 0}, {0x4801, 9, 14, 0}, {0x3801, 10, 14, 0}, {0x3001, 11, 17, 0}, {0x2401, 12, 18, 0},
	{0x1c01, 13, 20, 0}, {0x1601, 29, 21, 0}, {0x5601, 15, 14, 1}, {0x5401, 16, 14, 0}, {0x5101, 17, 15, 0}, {0x4801, 18, 16, 0},
	{0x3801, 19, 17, 0}, {0x3401, 20, 18, 0}, {0x3001, 21, 19, 0}, {0x2801, 22, 19, 0}, {0x2401, 23, 20, 0}, {0x2201, 24, 21, 0},
	{0x1c01, 25, 22, 0}, {0x1801, 26, 23, 0}, {0x1601, 27, 24, 0}, {0x1401, 28, 25, 0}, {0x1201, 29, 26, 0}, {0x1101, 30, 27, 0},
	{0x0ac1, 31, 28, 0}, {0x09c1, 32, 29, 0}, {0x08a1, 33, 30, 0}, {0x0521, 34, 31, 0}, {0x0441, 35, 32, 0}, {0x02a1, 36, 33, 0},
	{0x0221, 37, 34, 0}, {0x0141, 38, 35, 0}, {0x0111, 39, 36, 0}, {0x0085, 40, 37, 0}, {0x0049, 41, 38, 0}, {0x0025, 42, 39, 0},
	{0x0015, 43, 40, 0}, {0x0009, 44, 41, 0}, {0x0005, 45, 42, 0}, {0x0001, 45, 43, 0}, {0x5601, 46, 46, 0},
}

type state struct{ index, mps uint32 }

type arith struct {
	out  []byte // the first byte is not written
	a, c uint32
	ct   int
}

func newArith() *arith { return &arith{out: []byte{0}, a: 0x8000, ct: 12} }

func (e *arith) bit(s *state, v int) {
	q := qe[s.index]
	e.a -= q[0]
	if uint32(v) == s.mps {
		if e.a&0x8000 != 0 {
			e.c += q[0]
			return
		}
		if e.a < q[0] {
			e.a = q[0]
		} else {
			e.c += q[0]
		}
		s.index = q[1]
	} else {
		if e.a < q[0] {
			e.c += q[0]
		} else {
			e.a = q[0]
		}
		s.mps ^= q[3]
		s.index = q[2]
	}
	for {
		e.a <<= 1
		e.c <<= 1
		if e.ct--; e.ct == 0 {
			e.byteOut()
		}
		if e.a&0x8000 != 0 {
			return
		}
	}
}

func (e *arith) byteOut() {
	last := &e.out[len(e.out)-1]
	if *last != 0xff && e.c >= 0x8000000 {
		*last++
		if *last == 0xff {
			e.c &= 0x7ffffff
		}
	}
	if *last == 0xff {
		e.out = append(e.out, byte(e.c>>20))
		e.c &= 0xfffff
		e.ct = 7
		return
	}
	e.out = append(e.out, byte(e.c>>19))
	e.c &= 0x7ffff
	e.ct = 8
}

func (e *arith) bytes() []byte {
	temp := e.c + e.a
	if e.c |= 0xffff; e.c >= temp {
		e.c -= 0x8000
	}
	e.c <<= e.ct
	e.byteOut()
	e.c <<= e.ct
	e.byteOut()
	if e.out[len(e.out)-1] == 0xff {
		e.out = e.out[:len(e.out)-1]
	}
	return append(e.out[1:], 0xff, 0xac)
}

// neighbours of each template, the bit of the context they make, lowest first; {100, i} is adaptive pixel i.
var neighbours = [4][][2]int{
	{{-1, 0}, {-2, 0}, {-3, 0}, {-4, 0}, {100, 0}, {2, -1}, {1, -1}, {0, -1}, {-1, -1}, {-2, -1}, {100, 1}, {100, 2}, {1, -2}, {0, -2}, {-1, -2}, {100, 3}},
	{{-1, 0}, {-2, 0}, {-3, 0}, {100, 0}, {2, -1}, {1, -1}, {0, -1}, {-1, -1}, {-2, -1}, {2, -2}, {1, -2}, {0, -2}, {-1, -2}},
	{{-1, 0}, {-2, 0}, {100, 0}, {1, -1}, {0, -1}, {-1, -1}, {-2, -1}, {1, -2}, {0, -2}, {-1, -2}},
	{{-1, 0}, {-2, 0}, {-3, 0}, {-4, 0}, {100, 0}, {1, -1}, {0, -1}, {-1, -1}, {-2, -1}, {-3, -1}},
}

func (e *arith) generic(b *Bitmap, p *genericParams, cx []state) {
	same := 0
	for y := range b.H {
		if p.typical {
			like := 1
			for x := range b.W {
				if b.at(x, y) != b.at(x, y-1) {
					like = 0
				}
			}
			e.bit(&cx[templates[p.template].typical], like^same)
			if same = like; like == 1 {
				continue
			}
		}
		for x := range b.W {
			if p.skip != nil && p.skip.at(x, y) == 1 {
				continue
			}
			c := 0
			for i, n := range neighbours[p.template] {
				if n[0] == 100 {
					n = p.at[n[1]]
				}
				c |= b.at(x+n[0], y+n[1]) << i
			}
			e.bit(&cx[c], b.at(x, y))
		}
	}
}

// refinement neighbours: of the bitmap (third number 0) and of the reference (1); {100, i} is adaptive pixel i.
var refineNeighbours = [2][][3]int{
	{{-1, 0, 0}, {1, -1, 0}, {0, -1, 0}, {100, 0, 0}, {1, 1, 1}, {0, 1, 1}, {-1, 1, 1}, {1, 0, 1}, {0, 0, 1}, {-1, 0, 1}, {1, -1, 1}, {0, -1, 1}, {100, 1, 1}},
	{{-1, 0, 0}, {1, -1, 0}, {0, -1, 0}, {-1, -1, 0}, {1, 1, 1}, {0, 1, 1}, {1, 0, 1}, {0, 0, 1}, {-1, 0, 1}, {0, -1, 1}},
}

func (e *arith) refine(b *Bitmap, p *refineParams, cx []state) {
	same := 0
	flat := func(x, y int) bool {
		for i := range 9 {
			if p.ref.at(x-p.dx+i%3-1, y-p.dy+i/3-1) != p.ref.at(x-p.dx, y-p.dy) {
				return false
			}
		}
		return true
	}
	for y := range b.H {
		if p.typical {
			like := 1
			for x := range b.W {
				if flat(x, y) && b.at(x, y) != p.ref.at(x-p.dx, y-p.dy) {
					like = 0
				}
			}
			e.bit(&cx[[2]int{0x100, 0x80}[p.template]], like^same)
			same = like
		}
		for x := range b.W {
			if same == 1 && flat(x, y) {
				continue
			}
			c := 0
			for i, n := range refineNeighbours[p.template] {
				if n[0] == 100 {
					a := p.at[n[1]]
					n[0], n[1] = a[0], a[1]
				}
				if n[2] == 0 {
					c |= b.at(x+n[0], y+n[1]) << i
				} else {
					c |= p.ref.at(x-p.dx+n[0], y-p.dy+n[1]) << i
				}
			}
			e.bit(&cx[c], b.at(x, y))
		}
	}
}

const oob = 1 << 40

type integers map[string]*[512]state

func (e *arith) integer(all integers, name string, v int) {
	if all[name] == nil {
		all[name] = new([512]state)
	}
	cx, prev := all[name], 1
	bit := func(b int) {
		e.bit(&cx[prev], b)
		if prev < 256 {
			prev = prev<<1 | b
		} else {
			prev = (prev<<1|b)&511 | 256
		}
	}
	sign, n := 0, v
	if v == oob {
		sign, n = 1, 0
	} else if v < 0 {
		sign, n = 1, -v
	}
	bit(sign)
	k := 0
	for k < 5 && n >= integerRanges[k+1][1] {
		bit(1)
		k++
	}
	if k < 5 {
		bit(0)
	}
	for i := integerRanges[k][0] - 1; i >= 0; i-- {
		bit((n - integerRanges[k][1]) >> i & 1)
	}
}

func (e *arith) identifier(cx []state, bits, v int) {
	prev := 1
	for i := bits - 1; i >= 0; i-- {
		b := v >> i & 1
		e.bit(&cx[prev], b)
		prev = prev<<1 | b
	}
}

// file puts segments together.
type file struct {
	b    []byte
	next uint32
}

func (f *file) segment(kind byte, refers []byte, data []byte) byte {
	n := f.next
	f.next++
	f.b = binary.BigEndian.AppendUint32(f.b, n)
	f.b = append(f.b, kind, byte(len(refers)<<5))
	f.b = append(f.b, refers...)
	f.b = append(f.b, 1)
	f.b = binary.BigEndian.AppendUint32(f.b, uint32(len(data)))
	f.b = append(f.b, data...)
	return byte(n)
}

func words(v ...int) (b []byte) {
	for _, v := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(v))
	}
	return b
}

func (f *file) page(w, h int) {
	f.segment(kindPage, nil, append(words(w, h, 0, 0), 0, 0, 0))
}

func regionBytes(w, h, x, y, op int) []byte { return append(words(w, h, x, y), byte(op)) }

func offsets(at [][2]int) (b []byte) {
	for _, a := range at {
		b = append(b, byte(a[0]), byte(a[1]))
	}
	return b
}

package jbig2

import (
	mathbits "math/bits"

	"laydown/internal/artwork/image/mq"
)

// textParams are the parameters of the text region procedure (Table 9).
type textParams struct {
	w, h       int
	huffman    bool
	refine     bool
	instances  int
	logStrips  int
	symbols    []*Bitmap
	codeBits   int           // of a symbol identifier
	codes      *huffmanTable // of symbol identifiers; nil = of codeBits bits
	pixel      int
	op         int
	transposed bool
	corner     int
	offset     int // SBDSOFFSET
	template   int // of refinements
	at         [2][2]int

	fs, ds, dt, rdw, rdh, rdx, rdy, rsize *huffmanTable
}

// Reference corners.
const (
	bottomLeft = iota
	topLeft
	bottomRight
	topRight
)

// textContexts are the contexts of arithmetic coding; a symbol dictionary keeps them from symbol to symbol.
type textContexts struct {
	dt, fs, ds, it, ri, rdw, rdh, rdx, rdy intContext

	id     []mq.Context
	refine []mq.Context
}

func newTextContexts(codeBits, template int) *textContexts {
	return &textContexts{id: make([]mq.Context, 1<<codeBits), refine: refineContexts(template)}
}

// codeLength is the number of bits that tell n symbols apart.
func codeLength(n int) int {
	if n <= 1 {
		return 0
	}
	return mathbits.Len(uint(n - 1))
}

// textCoder reads the numbers of a text region, coded one way or the other.
type textCoder struct {
	p    *textParams
	dec  *mq.Decoder // nil with Huffman coding
	cx   *textContexts
	bits *bitReader
}

func (c *textCoder) number(t *huffmanTable, cx *intContext) (int, bool) {
	if c.dec == nil {
		return t.number(c.bits)
	}
	return cx.integer(c.dec)
}

func (c *textCoder) exhausted() bool {
	if c.dec == nil {
		return c.bits.over
	}
	return c.dec.Overrun() > maxOverrun
}

func (c *textCoder) identifier() int {
	switch {
	case c.dec != nil:
		return identifier(c.dec, c.cx.id, c.p.codeBits)
	case c.p.codes != nil:
		if l := c.p.codes.lookup(c.bits); l != nil {
			return l.low
		}
		return -1
	}
	return c.bits.bits(c.p.codeBits)
}

// text decodes a text region (6.4.5). With an error what was placed is returned.
func (d *decoder) text(c *textCoder) (*Bitmap, error) {
	p := c.p
	b, err := d.newBitmap(p.w, p.h)
	if err != nil {
		return nil, err
	}
	if p.pixel == 1 {
		b.fill(0xff)
	}
	bad := damaged("a text region")
	strips := 1 << p.logStrips
	v, ok := c.number(p.dt, &c.cx.dt)
	if !ok {
		return b, bad
	}
	t := -v * strips
	firstS, done := 0, 0
	for done < p.instances {
		dt, ok := c.number(p.dt, &c.cx.dt)
		if !ok {
			return b, bad
		}
		t += dt * strips
		dfs, ok := c.number(p.fs, &c.cx.fs)
		if !ok {
			return b, bad
		}
		firstS += dfs
		s := firstS
		for first := true; ; first = false {
			if !first {
				ds, ok := c.number(p.ds, &c.cx.ds)
				if !ok {
					break
				}
				s += ds + p.offset
			}
			if c.exhausted() || done >= p.instances {
				break
			}
			at := t
			if strips > 1 {
				if c.dec == nil {
					at += c.bits.bits(p.logStrips)
				} else {
					v, _ := c.cx.it.integer(c.dec)
					at += v
				}
			}
			symbol, err := d.instance(c)
			if err != nil {
				return b, err
			}
			if err := d.spend(64 + symbol.H*symbol.Stride); err != nil {
				return b, err
			}
			s = place(b, symbol, p, s, at)
			done++
		}
		if c.exhausted() {
			return b, errShort
		}
		if err := d.spend(16); err != nil {
			return b, err
		}
	}
	return b, nil
}

// place draws a symbol and moves the pen over it (6.4.5, steps vi to x).
func place(b, symbol *Bitmap, p *textParams, s, t int) int {
	along, before := symbol.W-1, p.corner == bottomRight || p.corner == topRight
	if p.transposed {
		along, before = symbol.H-1, p.corner == bottomLeft || p.corner == bottomRight
	}
	if before {
		s += along
	}
	x, y := s, t
	if p.transposed {
		x, y = t, s
	}
	if p.corner == topRight || p.corner == bottomRight {
		x -= symbol.W - 1
	}
	if p.corner == bottomLeft || p.corner == bottomRight {
		y -= symbol.H - 1
	}
	b.combine(symbol, x, y, p.op)
	if !before {
		s += along
	}
	return s
}

// instance reads one symbol, refined or not (6.4.11).
func (d *decoder) instance(c *textCoder) (*Bitmap, error) {
	p := c.p
	id := c.identifier()
	if id < 0 || id >= len(p.symbols) || p.symbols[id] == nil {
		return nil, damaged("a symbol is missing")
	}
	symbol := p.symbols[id]
	if !p.refine {
		return symbol, nil
	}
	if c.dec == nil {
		if c.bits.bit() == 0 {
			return symbol, nil
		}
	} else if v, _ := c.cx.ri.integer(c.dec); v == 0 {
		return symbol, nil
	}
	var v [4]int
	tables := [4]*huffmanTable{p.rdw, p.rdh, p.rdx, p.rdy}
	contexts := [4]*intContext{&c.cx.rdw, &c.cx.rdh, &c.cx.rdx, &c.cx.rdy}
	for i := range v {
		var ok bool
		if v[i], ok = c.number(tables[i], contexts[i]); !ok {
			return nil, damaged("a refined symbol")
		}
	}
	w, h := symbol.W+v[0], symbol.H+v[1]
	if w < 0 || h < 0 {
		return nil, damaged("a refined symbol")
	}
	return d.refined(c, &refineParams{w: w, h: h, template: p.template, at: p.at, ref: symbol, dx: v[0]>>1 + v[2], dy: v[1]>>1 + v[3]}, p.rsize)
}

// refined decodes a refinement inside a text region or a symbol dictionary. With Huffman coding it has bytes of its own.
func (d *decoder) refined(c *textCoder, p *refineParams, sizes *huffmanTable) (*Bitmap, error) {
	if c.dec != nil {
		return d.refine(p, c.dec, c.cx.refine)
	}
	size, ok := sizes.number(c.bits)
	if !ok {
		return nil, damaged("a refined symbol")
	}
	data := c.bits.rest()
	if size > 0 {
		data = data[:min(size, len(data))]
	}
	var dec mq.Decoder
	dec.Init(data)
	b, err := d.refine(p, &dec, c.cx.refine)
	c.bits.skip(size)
	return b, err
}

// textRegion decodes a text region segment (7.4.3).
func (d *decoder) textRegion(s *segment, info *regionInfo, r *input) (*Bitmap, error) {
	flags := r.u16()
	p := &textParams{w: info.w, h: info.h, huffman: flags&1 != 0, refine: flags&2 != 0, logStrips: flags >> 2 & 3, corner: flags >> 4 & 3,
		transposed: flags&64 != 0, op: flags >> 7 & 3, pixel: flags >> 9 & 1, offset: int(int8(flags>>10&31<<3)) >> 3, template: flags >> 15 & 1}
	if p.huffman {
		c := d.chooser(s)
		f := r.u16()
		p.fs = c.pick([4]int{6, 7, 6, 0}[f&3])
		p.ds = c.pick([4]int{8, 9, 10, 0}[f>>2&3])
		p.dt = c.pick([4]int{11, 12, 13, 0}[f>>4&3])
		for i, t := range []**huffmanTable{&p.rdw, &p.rdh, &p.rdx, &p.rdy} {
			*t = c.pick([4]int{14, 15, 14, 0}[f>>(6+2*i)&3])
		}
		p.rsize = c.pick([2]int{1, 0}[f>>14&1])
		if c.err != nil {
			return nil, c.err
		}
	}
	if p.refine && p.template == 0 {
		for i := range p.at {
			p.at[i] = [2]int{r.i8(), r.i8()}
		}
	}
	p.instances = r.u32()
	if r.short {
		return nil, errShort
	}
	d.referred(s, func(t *segment) { p.symbols = append(p.symbols, t.symbols...) })
	p.codeBits = codeLength(len(p.symbols))
	c := &textCoder{p: p, cx: newTextContexts(p.codeBits, p.template)}
	if p.huffman {
		c.bits = &bitReader{b: r.b}
		var err error
		if p.codes, err = symbolCodes(c.bits, len(p.symbols)); err != nil {
			return nil, err
		}
	} else {
		c.dec = &mq.Decoder{}
		c.dec.Init(r.b)
	}
	return d.text(c)
}

// symbolCodes reads the Huffman codes of symbol identifiers (7.4.3.1.7).
func symbolCodes(r *bitReader, n int) (*huffmanTable, error) {
	runs := make([]line, 35)
	for i := range runs {
		runs[i] = line{prefix: r.bits(4), low: i}
	}
	t, err := newTable(runs)
	if err != nil {
		return nil, err
	}
	codes := make([]line, 0, n)
	for len(codes) < n {
		l := t.lookup(r)
		if l == nil || r.over {
			return nil, errShort
		}
		length, repeat := l.low, 1
		switch l.low {
		case 32:
			if len(codes) == 0 {
				return nil, damaged("the codes of symbols")
			}
			length, repeat = codes[len(codes)-1].prefix, 3+r.bits(2)
		case 33:
			length, repeat = 0, 3+r.bits(3)
		case 34:
			length, repeat = 0, 11+r.bits(7)
		}
		for range min(repeat, n-len(codes)) {
			codes = append(codes, line{prefix: length, low: len(codes)})
		}
	}
	r.align()
	return newTable(codes)
}

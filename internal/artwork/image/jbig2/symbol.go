package jbig2

import (
	"laydown/internal/artwork/image/mq"
	"laydown/internal/limits"
)

// retained are contexts that a symbol dictionary hands to the next (7.4.2.2).
type retained struct {
	template, refineTemplate int
	generic, refine          []mq.Context
}

// symbolParams are the parameters of the symbol dictionary procedure (Table 13).
type symbolParams struct {
	huffman, aggregate       bool
	in                       []*Bitmap
	exported, made           int
	dh, dw, size, instances  *huffmanTable
	template, refineTemplate int
	at                       [4][2]int
	refineAt                 [2][2]int
}

// symbolDictionary decodes a symbol dictionary segment (7.4.2).
func (d *decoder) symbolDictionary(s *segment, r *input) error {
	flags := r.u16()
	p := &symbolParams{huffman: flags&1 != 0, aggregate: flags&2 != 0, template: flags >> 10 & 3, refineTemplate: flags >> 12 & 1}
	if p.huffman {
		c := d.chooser(s)
		p.dh = c.pick([4]int{4, 5, 4, 0}[flags>>2&3])
		p.dw = c.pick([4]int{2, 3, 2, 0}[flags>>4&3])
		p.size = c.pick([2]int{1, 0}[flags>>6&1])
		p.instances = c.pick([2]int{1, 0}[flags>>7&1])
		if c.err != nil {
			return c.err
		}
	} else {
		g := genericParams{template: p.template}
		g.readAdaptive(r)
		p.at = g.at
	}
	if p.aggregate && p.refineTemplate == 0 {
		for i := range p.refineAt {
			p.refineAt[i] = [2]int{r.i8(), r.i8()}
		}
	}
	p.exported, p.made = r.u32(), r.u32()
	if r.short {
		return errShort
	}
	var last *segment
	d.referred(s, func(t *segment) {
		p.in = append(p.in, t.symbols...)
		if t.kind == kindSymbols {
			last = t
		}
	})
	if len(p.in)+p.made > limits.MaxSymbols {
		return unsupportedSize(len(p.in) + p.made)
	}
	k := &retained{p.template, p.refineTemplate, contextsOf(p.template), refineContexts(p.refineTemplate)}
	if flags&256 != 0 && last != nil && last.retained != nil {
		old := last.retained
		if old.template == p.template {
			copy(k.generic, old.generic)
		}
		if old.refineTemplate == p.refineTemplate {
			copy(k.refine, old.refine)
		}
	}
	var err error
	s.symbols, err = d.symbols(p, k, r.b)
	if flags&512 != 0 {
		s.retained = k
	}
	return err
}

// symbolCoder is the state of one dictionary.
type symbolCoder struct {
	p       *symbolParams
	text    *textCoder
	all     []*Bitmap // SDINSYMS, then the new ones
	generic []mq.Context

	dh, dw, ex, ai intContext
}

// symbols decodes a dictionary (6.5.5) and returns what it exports; with an error what of it is there.
func (d *decoder) symbols(p *symbolParams, k *retained, data []byte) ([]*Bitmap, error) {
	n := len(p.in) + p.made
	c := &symbolCoder{p: p, all: append(make([]*Bitmap, 0, n), p.in...), generic: k.generic}
	bits := codeLength(n)
	if p.huffman {
		bits = max(bits, 1)
	}
	// The parameters of symbols made of several (Table 17).
	tp := &textParams{huffman: p.huffman, refine: true, corner: topLeft, codeBits: bits, template: p.refineTemplate, at: p.refineAt,
		fs: standardTable(6), ds: standardTable(8), dt: standardTable(11), rdw: standardTable(15), rdh: standardTable(15),
		rdx: standardTable(15), rdy: standardTable(15), rsize: standardTable(1)}
	c.text = &textCoder{p: tp, cx: newTextContexts(bits, p.refineTemplate)}
	c.text.cx.refine = k.refine
	if p.huffman {
		c.text.bits = &bitReader{b: data}
	} else {
		c.text.dec = &mq.Decoder{}
		c.text.dec.Init(data)
	}
	err := d.classes(c)
	for len(c.all) < n {
		c.all = append(c.all, nil)
	}
	if err != nil {
		return c.all, err
	}
	return c.export()
}

// classes decodes the height classes.
func (d *decoder) classes(c *symbolCoder) error {
	p, n := c.p, len(c.p.in)+c.p.made
	bad := damaged("a symbol dictionary")
	height := 0
	for len(c.all) < n {
		dh, ok := c.text.number(p.dh, &c.dh)
		if height += dh; !ok || height < 0 || height > limits.MaxImageSide {
			return bad
		}
		width, total := 0, 0
		var widths []int
		for {
			dw, ok := c.text.number(p.dw, &c.dw)
			if c.text.exhausted() {
				return errShort
			}
			if !ok {
				break
			}
			if width += dw; width < 0 || width > limits.MaxImageSide || len(c.all)+len(widths) >= n {
				return bad
			}
			total += width
			if p.huffman && !p.aggregate {
				widths = append(widths, width)
				continue
			}
			b, err := d.symbol(c, width, height)
			if err != nil {
				return err
			}
			c.all = append(c.all, b)
		}
		if p.huffman && !p.aggregate {
			if err := d.collective(c, widths, total, height); err != nil {
				return err
			}
		}
		if err := d.spend(16); err != nil {
			return err
		}
	}
	return nil
}

// symbol decodes one symbol (6.5.8).
func (d *decoder) symbol(c *symbolCoder, w, h int) (*Bitmap, error) {
	p := c.p
	if !p.aggregate {
		return d.generic(&genericParams{w: w, h: h, template: p.template, at: p.at}, c.text.dec, c.generic)
	}
	count, ok := c.text.number(p.instances, &c.ai)
	if !ok || count < 1 {
		return nil, damaged("a symbol dictionary")
	}
	t := c.text
	t.p.symbols = c.all
	if count > 1 {
		t.p.w, t.p.h, t.p.instances = w, h, count
		return d.text(t)
	}
	id := t.identifier()
	if id < 0 || id >= len(c.all) || c.all[id] == nil {
		return nil, damaged("a symbol is missing")
	}
	dx, ok1 := t.number(t.p.rdx, &t.cx.rdx)
	dy, ok2 := t.number(t.p.rdy, &t.cx.rdy)
	if !ok1 || !ok2 {
		return nil, damaged("a refined symbol")
	}
	return d.refined(t, &refineParams{w: w, h: h, template: p.refineTemplate, at: p.refineAt, ref: c.all[id], dx: dx, dy: dy}, t.p.rsize)
}

// collective decodes a height class that is one bitmap (6.5.9).
func (d *decoder) collective(c *symbolCoder, widths []int, total, height int) error {
	r := c.text.bits
	size, ok := c.p.size.number(r)
	if !ok || r.over {
		return damaged("a symbol dictionary")
	}
	data := r.rest()
	var b *Bitmap
	var err error
	if size == 0 {
		if b, err = d.newBitmap(total, height); err != nil {
			return err
		}
		size = len(b.Pix)
		copy(b.Pix, data)
	} else if b, _, err = d.mmr(data[:min(size, len(data))], total, height); err != nil {
		return err
	}
	r.skip(size)
	x := 0
	for _, w := range widths {
		s, err := d.cut(b, x, w)
		if err != nil {
			return err
		}
		c.all = append(c.all, s)
		x += w
	}
	d.bytes += len(b.Pix) + 64
	return nil
}

// export picks the symbols others may use (6.5.10).
func (c *symbolCoder) export() ([]*Bitmap, error) {
	var out []*Bitmap
	for i, on, empty := 0, false, 0; i < len(c.all); on = !on {
		n, ok := c.text.number(standardTable(1), &c.ex)
		if n == 0 {
			empty++
		} else {
			empty = 0
		}
		if !ok || n < 0 || n > len(c.all)-i || empty > 4 {
			return c.all, damaged("a symbol dictionary does not tell its symbols")
		}
		if on {
			out = append(out, c.all[i:i+n]...)
		}
		i += n
	}
	if len(out) != c.p.exported {
		return out, damaged("a symbol dictionary has %d symbols instead of %d", len(out), c.p.exported)
	}
	return out, nil
}

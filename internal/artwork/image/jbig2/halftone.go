package jbig2

import (
	"fmt"

	"laydown/internal/artwork/image/mq"
	"laydown/internal/limits"
)

func unsupportedSize(n int) error {
	return fmt.Errorf("%w: %d symbols or patterns", ErrTooLarge, n)
}

// patternDictionary decodes a pattern dictionary segment (7.4.4): patterns side by side in one bitmap.
func (d *decoder) patternDictionary(s *segment, r *input) error {
	flags := r.u8()
	w, h, n := r.u8(), r.u8(), r.u32()+1
	switch {
	case r.short:
		return errShort
	case w == 0 || h == 0:
		return damaged("patterns without size")
	case n > limits.MaxSymbols:
		return unsupportedSize(n)
	}
	var b *Bitmap
	var err error
	if flags&1 != 0 {
		b, _, err = d.mmr(r.b, n*w, h)
	} else {
		p := &genericParams{w: n * w, h: h, template: flags >> 1 & 3}
		p.nominal()
		p.at[0] = [2]int{-w, 0}
		var dec mq.Decoder
		dec.Init(r.b)
		b, err = d.generic(p, &dec, contextsOf(p.template))
	}
	if b == nil {
		return err
	}
	for i := range n {
		one, e := d.cut(b, i*w, w)
		if e != nil {
			return e
		}
		s.patterns = append(s.patterns, one)
	}
	return err
}

// halftoneRegion decodes a halftone region segment (7.4.5, 6.6.5): a grid of gray values, each of
// which is the number of a pattern.
func (d *decoder) halftoneRegion(s *segment, info *regionInfo, r *input) (*Bitmap, error) {
	flags := r.u8()
	gw, gh := r.u32(), r.u32()
	gx, gy := r.i32(), r.i32()
	rx, ry := r.u16(), r.u16()
	if r.short {
		return nil, errShort
	}
	var patterns []*Bitmap
	d.referred(s, func(t *segment) {
		if t.patterns != nil {
			patterns = t.patterns
		}
	})
	if patterns == nil {
		return nil, damaged("the patterns of a halftone are missing")
	}
	op := flags >> 4 & 7
	if op > opReplace {
		return nil, damaged("an unknown combination of patterns")
	}
	b, err := d.newBitmap(info.w, info.h)
	if err != nil {
		return nil, err
	}
	if flags&128 != 0 {
		b.fill(0xff)
	}
	if gw > limits.MaxImageSide || gh > limits.MaxImageSide || gw*gh > limits.MaxImagePixels {
		return nil, fmt.Errorf("%w: a halftone of %d x %d patterns", ErrTooLarge, gw, gh)
	}
	pw, ph := patterns[0].W, patterns[0].H
	position := func(m, n int) (x, y int) {
		return (gx + m*ry + n*rx) >> 8, (gy + m*rx - n*ry) >> 8
	}
	p := &genericParams{w: gw, h: gh, template: flags >> 1 & 3}
	p.nominal()
	if p.template <= 1 {
		p.at[0] = [2]int{3, -1}
	} else {
		p.at[0] = [2]int{2, -1}
	}
	if flags&8 != 0 {
		if p.skip, err = d.newBitmap(gw, gh); err != nil {
			return nil, err
		}
		if err := d.spend(gw * gh); err != nil {
			return nil, err
		}
		for m := range gh {
			for n := range gw {
				if x, y := position(m, n); x+pw <= 0 || x >= b.W || y+ph <= 0 || y >= b.H {
					p.skip.Pix[m*p.skip.Stride+n>>3] |= 0x80 >> (n & 7)
				}
			}
		}
	}
	planes, err := d.grayPlanes(p, flags&1 != 0, codeLength(len(patterns)), r.b)
	if planes == nil && err != nil {
		return b, err
	}
	if e := d.spend(gw * gh * (1 + len(planes) + ph*(pw/8+2))); e != nil {
		return b, e
	}
	for m := range gh {
		for n := range gw {
			v := 0
			for _, plane := range planes {
				v = v<<1 | plane.at(n, m)
			}
			x, y := position(m, n)
			b.combine(patterns[min(v, len(patterns)-1)], x, y, op)
		}
	}
	return b, err
}

// grayPlanes decodes the bit planes of a gray-scale image (Annex C), the most significant first.
func (d *decoder) grayPlanes(p *genericParams, mmr bool, bits int, data []byte) (planes []*Bitmap, err error) {
	var dec mq.Decoder
	dec.Init(data)
	cx := contextsOf(p.template)
	for i := range bits {
		var plane *Bitmap
		if mmr {
			var used int
			plane, used, err = d.mmr(data, p.w, p.h)
			data = data[used:]
		} else {
			plane, err = d.generic(p, &dec, cx)
		}
		if err != nil {
			return nil, err
		}
		if i > 0 { // Gray code
			for k, v := range planes[i-1].Pix {
				plane.Pix[k] ^= v
			}
		}
		planes = append(planes, plane)
	}
	return planes, nil
}

package jbig2

import (
	"fmt"

	"laydown/internal/artwork/image/mq"
)

func unsupported(what string) error { return fmt.Errorf("%w: %s", ErrUnsupported, what) }

// refineParams are the parameters of the refinement procedure (Table 6).
type refineParams struct {
	w, h     int
	template int
	ref      *Bitmap
	dx, dy   int // of the reference
	typical  bool
	at       [2][2]int
}

func (p *refineParams) readAdaptive(r *input) {
	if p.template == 0 {
		for i := range p.at {
			p.at[i] = [2]int{r.i8(), r.i8()}
		}
	}
}

func refineContexts(template int) []mq.Context {
	return make([]mq.Context, 1<<[2]int{13, 10}[template])
}

// refine decodes a bitmap as changes to another (6.3.5).
func (d *decoder) refine(p *refineParams, dec *mq.Decoder, cx []mq.Context) (*Bitmap, error) {
	b, err := d.newBitmap(p.w, p.h)
	if err != nil {
		return nil, err
	}
	for i, a := range p.at {
		if i == 0 && p.template == 0 && (a[1] > 0 || a[1] == 0 && a[0] >= 0) {
			return nil, damaged("a pixel is predicted from one that follows it")
		}
	}
	n := p.w + 2*margin
	lines := make([]byte, 5*n)
	up, cur := lines[:n], lines[n:2*n]
	var ref [3][]byte // rows y-dy-1 to y-dy+1 of the reference, moved by dx
	for i := range ref {
		ref[i] = lines[(2+i)*n : (3+i)*n]
	}
	same := 0
	typical := [2]int{0x100, 0x80}[p.template]
	moved := p.template == 0 && (p.at[0] != [2]int{-1, -1} || p.at[1] != [2]int{-1, -1})
	for y := range p.h {
		if err := d.spend(4 * p.w); err != nil {
			return b, err
		}
		if dec.Overrun() > maxOverrun {
			return b, errShort
		}
		up, cur = cur, up
		clear(cur)
		for i := range ref {
			for x := range ref[i] {
				ref[i][x] = byte(p.ref.at(x-margin-p.dx, y-p.dy-1+i))
			}
		}
		if p.typical {
			same ^= dec.Bit(&cx[typical])
		}
		now := cur[margin:]
		for x := range p.w {
			i := x + margin
			u, r0, r1, r2 := up[i-1:i+2], ref[0][i-1:i+2], ref[1][i-1:i+2], ref[2][i-1:i+2]
			if same == 1 {
				sum := r0[0] + r0[1] + r0[2] + r1[0] + r1[1] + r1[2] + r2[0] + r2[1] + r2[2]
				if sum == 0 || sum == 9 {
					now[x] = sum / 9
					continue
				}
			}
			c := int(cur[i-1]) | int(u[2])<<1 | int(u[1])<<2
			if p.template == 0 {
				c |= int(u[0])<<3 | int(r2[2])<<4 | int(r2[1])<<5 | int(r2[0])<<6 | int(r1[2])<<7 | int(r1[1])<<8 | int(r1[0])<<9 |
					int(r0[2])<<10 | int(r0[1])<<11 | int(r0[0])<<12
				if moved {
					c &^= 1<<3 | 1<<12
					c |= d.near(b, now, x, y, p.at[0][0], p.at[0][1])<<3 | p.ref.at(x-p.dx+p.at[1][0], y-p.dy+p.at[1][1])<<12
				}
			} else {
				c |= int(u[0])<<3 | int(r2[2])<<4 | int(r2[1])<<5 | int(r1[2])<<6 | int(r1[1])<<7 | int(r1[0])<<8 | int(r0[1])<<9
			}
			now[x] = byte(dec.Bit(&cx[c]))
		}
		b.pack(now, y)
	}
	return b, nil
}

// refinementRegion decodes a generic refinement region segment (7.4.7): it refines the region it
// refers to, or the page below it.
func (d *decoder) refinementRegion(s *segment, info *regionInfo, r *input) (*Bitmap, error) {
	flags := r.u8()
	p := &refineParams{w: info.w, h: info.h, template: flags & 1, typical: flags&2 != 0}
	p.readAdaptive(r)
	if r.short {
		return nil, errShort
	}
	d.referred(s, func(t *segment) {
		if t.bitmap != nil {
			p.ref = t.bitmap
		}
	})
	if p.ref == nil {
		var err error
		if p.ref, err = d.newBitmap(info.w, info.h); err != nil {
			return nil, err
		}
		p.ref.combine(d.page, -info.x, -info.y, opReplace)
		info.op = opReplace
	}
	var dec mq.Decoder
	dec.Init(r.b)
	return d.refine(p, &dec, refineContexts(p.template))
}

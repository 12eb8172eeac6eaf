package jpx

import (
	"errors"
	"fmt"
	"math"

	"laydown/internal/limits"
)

// plane is how one wanted channel is written.
type plane struct {
	component int
	shift     int      // added to a sample to make it 0 and up
	top       int      // greatest sample
	table     []uint16 // sample to output; nil = by calculation
	full      int      // what top becomes
	dst       []byte
	at, step  int // offset and distance of samples in dst, in samples
}

func (f *File) decode(opt Options) (*Picture, error) {
	p := &Picture{Width: f.Width, Height: f.Height, Bits: 8}
	wanted := opt.Channels
	if opt.Alpha >= 0 {
		wanted = append(wanted[:len(wanted):len(wanted)], opt.Alpha)
	}
	if len(opt.Channels) == 0 {
		return nil, errors.New("no channel is wanted")
	}
	for _, c := range wanted {
		if c < 0 || c >= len(f.Channels) {
			return nil, fmt.Errorf("there is no channel %d", c)
		}
		if f.precision(c, opt.Raw) > 8 {
			p.Bits = 16
		}
	}
	size := p.Bits / 8 * f.Width * f.Height
	if opt.MaxBytes > 0 && size*len(wanted) > opt.MaxBytes {
		return nil, fmt.Errorf("%w: %d bytes of samples", ErrTooLarge, size*len(wanted))
	}
	p.Data = make([]byte, size*len(opt.Channels))
	if opt.Alpha >= 0 {
		p.Alpha = make([]byte, size)
	}
	planes := make([]plane, len(wanted))
	for i, c := range wanted {
		planes[i] = f.plane(c, p.Bits, opt.Raw)
		planes[i].dst, planes[i].at, planes[i].step = p.Data, i, len(opt.Channels)
		if i == len(opt.Channels) {
			planes[i].dst, planes[i].at, planes[i].step = p.Alpha, 0, 1
		}
	}
	cs := f.cs
	p.Damage = cs.damage
	need := make([]bool, len(cs.components))
	for _, pl := range planes {
		need[pl.component] = true
	}
	coders := make([]coder, opt.Workers)
	laid := 0
	for i := range cs.tilesX * cs.tilesY {
		area := cs.tileArea(i)
		if area.X1 <= area.X0 || area.Y1 <= area.Y0 {
			continue
		}
		d := cs.tiles[i]
		if d == nil {
			p.Missing = append(p.Missing, Rect{area.X0 - cs.x0, area.Y0 - cs.y0, area.X1 - cs.x0, area.Y1 - cs.y0})
			if p.Damage == nil {
				p.Damage = damaged("a tile is missing")
			}
			continue
		}
		t, err := cs.newTile(i, d.par)
		if err != nil {
			return nil, err
		}
		for c := range t.comps {
			laid += len(t.comps[c].res)
		}
		if laid > 4*limits.MaxCodeBlocks {
			return nil, fmt.Errorf("%w: more than %d resolutions of tiles", ErrTooLarge, 4*limits.MaxCodeBlocks)
		}
		t.packets(cs, d)
		t.samples(cs, need, coders, func(y0, y1 int) {
			for c := range planes {
				planes[c].write(cs, t, y0, y1, p.Width, p.Bits, opt.Workers)
			}
		})
		if p.Damage == nil {
			p.Damage = t.damage
		}
	}
	return p, nil
}

func (f *File) precision(channel int, raw bool) int {
	c := f.Channels[channel]
	if raw {
		return f.Components[c.component].Precision
	}
	return c.Precision
}

// plane makes the way from samples of a channel to its output.
func (f *File) plane(channel, bits int, raw bool) plane {
	ch := f.Channels[channel]
	c := f.Components[ch.component]
	pl := plane{component: ch.component, top: 1<<c.Precision - 1}
	if c.Signed {
		pl.shift = 1 << (c.Precision - 1)
	}
	full := 1<<bits - 1
	pl.full = full
	switch {
	case ch.column >= 0 && !raw:
		p := f.palette
		pl.table = make([]uint16, p.entries)
		for i := range pl.table {
			pl.table[i] = scaled(int(p.values[i*len(p.bits)+ch.column]), 1<<p.bits[ch.column]-1, full)
		}
		pl.top = min(pl.top, p.entries-1)
		return pl
	case raw:
		pl.top = min(pl.top, full)
		pl.full = pl.top
	}
	if pl.top <= 255 {
		pl.table = make([]uint16, pl.top+1)
		for i := range pl.table {
			pl.table[i] = scaled(i, pl.top, pl.full)
		}
	}
	return pl
}

func scaled(v, top, full int) uint16 {
	if top == full {
		return uint16(v)
	}
	return uint16((v*full + top/2) / top)
}

// alike tells whether the first three components can be transformed together (G.2, G.3).
func (t *tile) alike() bool {
	if len(t.comps) < 3 {
		return false
	}
	a := &t.comps[0]
	for i := 1; i < 3; i++ {
		b := &t.comps[i]
		if b.x1-b.x0 != a.x1-a.x0 || b.y1-b.y0 != a.y1-a.y0 || b.coding.reversible != a.coding.reversible {
			return false
		}
	}
	return true
}

// untransform turns the first three components into red, green and blue (G.2.2, G.3.2).
func (t *tile) untransform(n, workers int) {
	const part = 1 << 14
	a := &t.comps[0]
	parallel(ceilDiv(n, part), workers, func(_, i int) {
		from, to := i*part, min(n, (i+1)*part)
		if a.coding.reversible {
			p, q, r := t.comps[0].ints[from:to], t.comps[1].ints[from:to], t.comps[2].ints[from:to]
			for x, y := range p {
				u, v := q[x], r[x]
				g := y - (u+v)>>2
				p[x], q[x], r[x] = v+g, g, u+g
			}
			return
		}
		p, q, r := t.comps[0].floats[from:to], t.comps[1].floats[from:to], t.comps[2].floats[from:to]
		for x, y := range p {
			u, v := q[x], r[x]
			p[x] = y + float32(1.402*v)
			q[x] = y - float32(0.344136*u) - float32(0.714136*v)
			r[x] = y + float32(1.772*u)
		}
	})
}

// write brings the samples of rows y0 <= y < y1 of a tile to their place. Components of fewer
// samples are repeated.
func (pl *plane) write(cs *codestream, t *tile, y0, y1, width, bits, workers int) {
	tc := &t.comps[pl.component]
	c := cs.components[pl.component]
	w, h := tc.x1-tc.x0, tc.y1-tc.y0
	if w <= 0 || h <= 0 {
		return
	}
	// Unsigned samples are stored around 0 (G.1).
	offset := pl.shift
	if !c.Signed {
		offset = 1 << (c.Precision - 1)
	}
	parallel(ceilDiv(y1-y0, 16), workers, func(_, i int) {
		line := make([]uint16, w)
		have := -1
		for y := y0 + 16*i; y < min(y1, y0+16*i+16); y++ {
			sy := max(0, min(h-1, y/c.DY-tc.y0))
			if sy != have {
				pl.line(line, tc, sy, offset)
				have = sy
			}
			at := ((y-cs.y0)*width+t.X0-cs.x0)*pl.step + pl.at
			if c.DX == 1 {
				pl.put(at, line, bits)
				continue
			}
			for x := t.X0; x < t.X1; x++ {
				sx := max(0, min(w-1, x/c.DX-tc.x0))
				pl.put(at, line[sx:sx+1], bits)
				at += pl.step
			}
		}
	})
}

func (pl *plane) put(at int, line []uint16, bits int) {
	if bits == 8 {
		dst := pl.dst[at:]
		for x, v := range line {
			dst[x*pl.step] = byte(v)
		}
		return
	}
	dst := pl.dst[2*at:]
	for x, v := range line {
		dst[2*x*pl.step], dst[2*x*pl.step+1] = byte(v>>8), byte(v)
	}
}

// line turns row y of a component into output samples.
func (pl *plane) line(dst []uint16, tc *tileComponent, y, offset int) {
	at := (y + tc.y0 - tc.row) * len(dst)
	for x := range dst {
		v := offset
		switch {
		case tc.ints != nil:
			v += int(tc.ints[at+x])
		case tc.floats != nil:
			v += int(math.Floor(float64(tc.floats[at+x]) + 0.5))
		}
		v = max(0, min(pl.top, v))
		if pl.table != nil {
			dst[x] = pl.table[v]
		} else {
			dst[x] = scaled(v, pl.top, pl.full)
		}
	}
}

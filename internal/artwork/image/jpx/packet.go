package jpx

import (
	"cmp"
	mathbits "math/bits"
	"slices"

	"laydown/internal/limits"
)

// bits reads a packet header: after a byte 0xff the next holds seven bits (B.10.1). Beyond the end
// it reads zeros and sets over.
type bits struct {
	data []byte
	at   int
	cur  byte
	left int
	over bool
}

func (r *bits) bit() int {
	if r.left == 0 {
		r.left = 8
		if r.cur == 0xff {
			r.left = 7
		}
		if r.at >= len(r.data) {
			r.over = true
			r.cur = 0
		} else {
			r.cur = r.data[r.at]
			r.at++
		}
	}
	r.left--
	return int(r.cur>>r.left) & 1
}

func (r *bits) number(n int) int {
	v := 0
	for range n {
		v = v<<1 | r.bit()
	}
	return v
}

// end is the offset of the first byte after the header.
func (r *bits) end() int {
	if r.cur == 0xff && r.at < len(r.data) { // a stuffed byte follows
		r.at++
	}
	return r.at
}

// passes reads how many coding passes a packet adds (Table B.4).
func (r *bits) passes() int {
	if r.bit() == 0 {
		return 1
	}
	if r.bit() == 0 {
		return 2
	}
	if v := r.number(2); v < 3 {
		return 3 + v
	}
	if v := r.number(5); v < 31 {
		return 6 + v
	}
	return 37 + r.number(7)
}

// place is a precinct in the order of a progression.
type place struct {
	comp, res, k int
	x, y         int // on the reference grid
}

// places lists the precincts a progression runs over (B.12).
func (t *tile) places(cs *codestream, o order) []place {
	var list []place
	for c := max(o.comp0, 0); c < min(o.comp1, len(t.comps)); c++ {
		tc := &t.comps[c]
		dx, dy := cs.components[c].DX, cs.components[c].DY
		for r := max(o.res0, 0); r < min(o.res1, len(tc.res)); r++ {
			res := &tc.res[r]
			n := len(tc.res) - 1 - r
			for k := range res.precincts {
				x, y := (res.x0>>res.ppx+k%res.px)<<(res.ppx+n)*dx, (res.y0>>res.ppy+k/res.px)<<(res.ppy+n)*dy
				list = append(list, place{c, r, k, max(x, t.X0), max(y, t.Y0)})
			}
		}
	}
	var by func(a, b place) int
	switch o.progression {
	case 0, 1: // layer or resolution first
		by = func(a, b place) int { return cmp.Or(a.res-b.res, a.comp-b.comp, a.k-b.k) }
	case 2: // resolution, position
		by = func(a, b place) int { return cmp.Or(a.res-b.res, a.y-b.y, a.x-b.x, a.comp-b.comp, a.k-b.k) }
	case 3: // position
		by = func(a, b place) int { return cmp.Or(a.y-b.y, a.x-b.x, a.comp-b.comp, a.res-b.res, a.k-b.k) }
	default: // component
		by = func(a, b place) int { return cmp.Or(a.comp-b.comp, a.y-b.y, a.x-b.x, a.res-b.res, a.k-b.k) }
	}
	slices.SortFunc(list, by)
	return list
}

// packets hands the bytes of a tile to its code-blocks.
func (t *tile) packets(cs *codestream, d *tileData) {
	rd := &packetReader{tile: t, body: d.body, headers: d.headers, packed: d.packed}
	orders := t.par.changes
	if len(orders) == 0 {
		orders = []order{{progression: t.par.progression, res1: maxLevels + 1, comp1: len(t.comps), layers: t.par.layers}}
	}
	for _, o := range orders {
		o.layers = min(o.layers, t.par.layers)
		list := t.places(cs, o)
		if t.placed += len(list) + 1; t.placed > 4*limits.MaxCodeBlocks {
			rd.fault("its progressions repeat without end")
			return
		}
		switch o.progression {
		case 0:
			for l := range o.layers {
				if !rd.layer(list, l) {
					return
				}
			}
		case 1:
			for len(list) > 0 {
				n := 1
				for n < len(list) && list[n].res == list[0].res {
					n++
				}
				for l := range o.layers {
					if !rd.layer(list[:n], l) {
						return
					}
				}
				list = list[n:]
			}
		default:
			for i := range list {
				for l := range o.layers {
					if !rd.layer(list[i:i+1], l) {
						return
					}
				}
			}
		}
	}
}

type packetReader struct {
	tile    *tile
	body    []byte
	headers []byte
	packed  bool
	skipped int
}

// layer reads the packets of layer l of the places; false when the data ends.
func (rd *packetReader) layer(list []place, l int) bool {
	for _, p := range list {
		tc := &rd.tile.comps[p.comp]
		if l < tc.res[p.res].precincts[p.k].next { // read by an earlier progression
			if rd.skipped++; rd.skipped > 4*limits.MaxCodeBlocks {
				return rd.fault("its progressions repeat without end")
			}
			continue
		}
		tc.res[p.res].precincts[p.k].next = l + 1
		if !rd.packet(tc, p, l) {
			return false
		}
	}
	return true
}

func (rd *packetReader) fault(what string) bool {
	if rd.tile.damage == nil {
		rd.tile.damage = damaged("%s", what)
	}
	return false
}

// packet reads one packet: header and bytes (B.9, B.10).
func (rd *packetReader) packet(tc *tileComponent, p place, l int) bool {
	if len(rd.body) >= 6 && rd.body[0] == 0xff && rd.body[1] == markSOP&0xff {
		rd.body = rd.body[6:]
	}
	head := &rd.body
	if rd.packed {
		head = &rd.headers
	}
	if len(*head) == 0 {
		return rd.fault("a tile is cut short")
	}
	r := &bits{data: *head}
	filled := r.bit() == 1
	var got []arrival
	if filled {
		var ok bool
		if got, ok = tc.open(p.res, p.k).header(r, l, tc.coding.style); !ok {
			return rd.fault("the header of a packet makes no sense")
		}
	}
	if r.over {
		return rd.fault("a tile is cut short")
	}
	*head = (*head)[r.end():]
	if len(*head) >= 2 && (*head)[0] == 0xff && (*head)[1] == markEPH&0xff {
		*head = (*head)[2:]
	}
	for _, a := range got {
		tc.coded = true
		n := min(a.size, len(rd.body))
		a.block.add(a, rd.body[:n:n])
		rd.body = rd.body[n:]
		if n < a.size {
			return rd.fault("a tile is cut short")
		}
	}
	return true
}

// arrival is what a packet brings for one segment of a block.
type arrival struct {
	block  *block
	passes int
	size   int
	full   int
	fresh  bool // it begins a segment
}

// header reads a packet header.
func (p *precinct) header(r *bits, l int, style byte) (got []arrival, ok bool) {
	for i := range p.bands {
		pb := &p.bands[i]
		for j := range pb.blocks {
			b := &pb.blocks[j]
			if r.over {
				return nil, false
			}
			if b.included {
				if r.bit() == 0 {
					continue
				}
			} else {
				if _, in := pb.inclusion.below(r, j%pb.w, j/pb.w, int32(l)+1); !in {
					continue
				}
				z := int32(0)
				for limit := int32(1); ; limit++ {
					var known bool
					if z, known = pb.zero.below(r, j%pb.w, j/pb.w, limit); known {
						break
					}
					if r.over || limit > 80 {
						return nil, false
					}
				}
				b.included, b.zeroPlanes = true, uint8(z)
			}
			passes := r.passes()
			for r.bit() == 1 {
				if b.lblock++; b.lblock > 32 {
					return nil, false
				}
			}
			got = b.lengths(r, passes, style, got)
		}
	}
	return got, true
}

// lengths reads the lengths of the segments that passes more passes lie in (B.10.7).
func (b *block) lengths(r *bits, passes int, style byte, got []arrival) []arrival {
	done := b.passes // passes before the segment
	left := 0        // room in the segment at hand
	if n := len(b.segs); n > 0 {
		left = b.segs[n-1].full - b.segs[n-1].passes
	}
	for passes > 0 {
		a := arrival{block: b}
		if left == 0 {
			a.fresh, a.full = true, segmentRoom(done, style)
			left = a.full
		}
		a.passes = min(passes, left)
		a.size = r.number(int(b.lblock) + mathbits.Len(uint(a.passes)) - 1)
		left -= a.passes
		passes -= a.passes
		done += a.passes
		got = append(got, a)
	}
	return got
}

// segmentRoom is how many passes the segment that begins with a pass holds (Tables D.8 and D.9).
func segmentRoom(pass int, style byte) int {
	switch {
	case style&styleTermAll != 0:
		return 1
	case style&styleBypass == 0:
		return 1 << 16
	case pass < 10:
		return 10 - pass
	case pass%3 == 1: // significance and refinement, raw
		return 2
	}
	return 1
}

func (b *block) add(a arrival, data []byte) {
	if a.fresh {
		b.segs = append(b.segs, segment{data: data, passes: a.passes, full: a.full})
	} else {
		s := &b.segs[len(b.segs)-1]
		s.passes += a.passes
		if len(s.data) == 0 {
			s.data = data
		} else {
			s.data = append(s.data, data...)
		}
	}
	b.passes += a.passes
}

// Package fax decodes facsimile coding (ITU-T T.4 and T.6): rows of runs, rows told by how they
// differ from the row above, and both mixed. CCITTFaxDecode (ISO 32000-2, 7.4.6) and the MMR coding
// of JBIG2 (ITU-T T.88, 6.2.6) hold it.
package fax

import "math/bits"

// Params tell how the data is coded.
type Params struct {
	K         int // < 0 all rows relative (Group 4), 0 none (Group 3), > 0 mixed
	Columns   int // pixels of a row, at least 1
	Rows      int // wanted at most
	ByteAlign bool
}

// Result is what was decoded.
type Result struct {
	Pix          []byte // Params.Rows rows of whole bytes, 1 = black; rows that are not there are white
	Rows         int    // that are there
	Damaged      int    // rows among them that do not decode; they show what was read, or the row above
	FirstDamaged int    // the first of them
	Broken       bool   // the data ends in damage after Rows rows
	Used         int    // bytes read, with an end-of-block code
}

type decoder struct {
	Params
	data   []byte
	at     int // in bits
	ref    []int
	cur    []int
	stride int
}

// Decode decodes data. Any data gives a result.
func Decode(data []byte, p Params) Result {
	tablesOnce.Do(makeTables)
	d := &decoder{Params: p, data: data, stride: (p.Columns + 7) / 8}
	r := Result{Pix: make([]byte, d.stride*p.Rows)}
	for r.Rows < p.Rows {
		if p.ByteAlign {
			d.at = (d.at + 7) &^ 7
		}
		relative, end := d.rowStart()
		if end {
			break
		}
		ok := true
		if d.cur = d.cur[:0]; relative {
			ok = d.relativeRow()
		} else {
			ok = d.plainRow()
		}
		if !ok {
			if d.at >= 8*len(data) && len(d.cur) == 0 { // nothing but padding was left
				break
			}
			if p.K < 0 || !d.seekEOL() {
				r.Broken = true
				if len(d.cur) == 0 {
					break
				}
			}
			if r.Damaged == 0 {
				r.FirstDamaged = r.Rows
			}
			r.Damaged++
		}
		d.fill(r.Pix[r.Rows*d.stride:][:d.stride])
		r.Rows++
		d.ref, d.cur = d.cur, d.ref
		if r.Broken {
			break
		}
	}
	if p.K < 0 {
		for d.peek(12) == 1 && d.at < 8*len(data) { // the end-of-block code, when rows ended before it
			d.at += 12
		}
	}
	r.Used = min((d.at+7)/8, len(data))
	return r
}

// peek is the next n bits, zeros beyond the end.
func (d *decoder) peek(n int) int {
	var v uint32
	i := d.at >> 3
	if i+4 <= len(d.data) {
		v = uint32(d.data[i])<<24 | uint32(d.data[i+1])<<16 | uint32(d.data[i+2])<<8 | uint32(d.data[i+3])
	} else {
		for k := range 4 {
			if i+k < len(d.data) {
				v |= uint32(d.data[i+k]) << (24 - 8*k)
			}
		}
	}
	return int(v << (d.at & 7) >> (32 - n))
}

// rowStart reads what stands before a row: end-of-line codes, which may be there or not, and for
// mixed rows the bit that tells the kind.
func (d *decoder) rowStart() (relative, end bool) {
	if d.K < 0 {
		return true, d.at >= 8*len(d.data) || d.peek(12) == 1
	}
	lines := 0
	for d.eol() {
		lines++
		if d.K > 0 {
			relative = d.peek(1) == 0
			d.at++
		}
		if lines > 1 { // rows of nothing: the end of the block
			return false, true
		}
	}
	if lines == 0 && d.K > 0 {
		relative = d.peek(1) == 0
		d.at++
	}
	return relative, d.at >= 8*len(d.data)
}

// eol skips an end-of-line code with the fill before it.
func (d *decoder) eol() bool {
	if d.peek(11) != 0 {
		return false
	}
	at := d.at + 11
	for at < 8*len(d.data) {
		b := d.data[at>>3] << (at & 7)
		if b == 0 {
			at = (at | 7) + 1
			continue
		}
		d.at = at + bits.LeadingZeros8(b) + 1
		return true
	}
	return false
}

// seekEOL goes to the next end-of-line code, before a row of its own when rows are mixed.
func (d *decoder) seekEOL() bool {
	for zeros := 0; d.at < 8*len(d.data); d.at++ {
		if d.data[d.at>>3]>>(7-d.at&7)&1 == 0 {
			zeros++
			continue
		}
		if zeros >= 11 {
			if d.K <= 0 || d.data[min(d.at+1, 8*len(d.data)-1)>>3]>>(7-(d.at+1)&7)&1 == 1 {
				d.at -= 11
				return true
			}
		}
		zeros = 0
	}
	return false
}

// turn notes a change of colour; two at one place are none.
func (d *decoder) turn(x int) {
	if n := len(d.cur); n > 0 && d.cur[n-1] == x {
		d.cur = d.cur[:n-1]
		return
	}
	if x < d.Columns {
		d.cur = append(d.cur, x)
	}
}

// run reads a run length of a colour, -1 for no such code.
func (d *decoder) run(colour int) int {
	sum := 0
	for {
		e := runTables[colour][d.peek(runBits)]
		if e.size == 0 || d.at+int(e.size) > 8*len(d.data) {
			return -1
		}
		d.at += int(e.size)
		sum += int(e.value)
		if e.value < 64 {
			return sum
		}
		if sum > d.Columns {
			return -1
		}
	}
}

func (d *decoder) plainRow() bool {
	x, colour := 0, 0
	for x < d.Columns {
		n := d.run(colour)
		if n < 0 || x+n > d.Columns {
			return false
		}
		x += n
		d.turn(x)
		colour ^= 1
	}
	return true
}

// relativeRow reads a row told by the row above (T.4, 4.2.1.3). a0 and b1 are the standard's.
func (d *decoder) relativeRow() bool {
	a0, colour, i := -1, 0, 0
	at := func(i int) int {
		if i < len(d.ref) {
			return d.ref[i]
		}
		return d.Columns
	}
	for a0 < d.Columns {
		for i > 0 && d.ref[i-1] > a0 {
			i--
		}
		for i < len(d.ref) && d.ref[i] <= a0 {
			i++
		}
		b := i + (i&1 ^ colour) // the turn to the other colour
		e := modeTable[d.peek(modeBits)]
		if e.size == 0 || d.at+int(e.size) > 8*len(d.data) {
			return false
		}
		d.at += int(e.size)
		switch e.value {
		case modePass:
			a0 = at(b + 1)
		case modeHorizontal:
			x := max(a0, 0)
			for k := range 2 {
				n := d.run(colour ^ k)
				if n < 0 || x+n > d.Columns {
					return false
				}
				x += n
				d.turn(x)
			}
			a0 = x
		default:
			x := at(b) + int(e.value) - modeV0
			if x < max(a0, 0) || x > d.Columns {
				return false
			}
			d.turn(x)
			a0 = x
			colour ^= 1
		}
	}
	return true
}

// fill draws the black runs of the row into white.
func (d *decoder) fill(row []byte) {
	for i := 0; i < len(d.cur); i += 2 {
		x0, x1 := d.cur[i], d.Columns
		if i+1 < len(d.cur) {
			x1 = d.cur[i+1]
		}
		if x0 >= x1 {
			continue
		}
		first, last := byte(0xff)>>(x0&7), ^(byte(0x7f) >> ((x1 - 1) & 7))
		k, end := x0>>3, (x1-1)>>3
		if k == end {
			row[k] |= first & last
			continue
		}
		row[k] |= first
		for k++; k < end; k++ {
			row[k] = 0xff
		}
		row[end] |= last
	}
}

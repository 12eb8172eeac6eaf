// Package mq is the adaptive binary arithmetic decoder that JPEG 2000 (ITU-T T.800, Annex C) and
// JBIG2 (ITU-T T.88, Annex E) share.
package mq

import "sync"

// A Context is the adaptive state of one coding context: the index of a row of Table C.2 (E.1) in
// the upper bits, the more probable symbol in bit 0. Index 0 with symbol 0 is the zero value.
type Context uint8

// NewContext is the state with a row of the table and a more probable symbol 0.
func NewContext(index int) Context { return Context(index << 1) }

// estimate is a row of the table for one value of the more probable symbol.
type estimate struct {
	qe       uint32
	mps, lps Context // the state after it was seen
}

// rows of Table C.2: Qe, next row after the more and the less probable symbol, switch.
var rows = [47][4]uint16{
	{0x5601, 1, 1, 1}, {0x3401, 2, 6, 0}, {0x1801, 3, 9, 0}, {0x0ac1, 4, 12, 0}, {0x0521, 5, 29, 0}, {0x0221, 38, 33, 0},
	{0x5601, 7, 6, 1}, {0x5401, 8, 14, 0}, {0x4801, 9, 14, 0}, {0x3801, 10, 14, 0}, {0x3001, 11, 17, 0}, {0x2401, 12, 18, 0},
	{0x1c01, 13, 20, 0}, {0x1601, 29, 21, 0}, {0x5601, 15, 14, 1}, {0x5401, 16, 14, 0}, {0x5101, 17, 15, 0}, {0x4801, 18, 16, 0},
	{0x3801, 19, 17, 0}, {0x3401, 20, 18, 0}, {0x3001, 21, 19, 0}, {0x2801, 22, 19, 0}, {0x2401, 23, 20, 0}, {0x2201, 24, 21, 0},
	{0x1c01, 25, 22, 0}, {0x1801, 26, 23, 0}, {0x1601, 27, 24, 0}, {0x1401, 28, 25, 0}, {0x1201, 29, 26, 0}, {0x1101, 30, 27, 0},
	{0x0ac1, 31, 28, 0}, {0x09c1, 32, 29, 0}, {0x08a1, 33, 30, 0}, {0x0521, 34, 31, 0}, {0x0441, 35, 32, 0}, {0x02a1, 36, 33, 0},
	{0x0221, 37, 34, 0}, {0x0141, 38, 35, 0}, {0x0111, 39, 36, 0}, {0x0085, 40, 37, 0}, {0x0049, 41, 38, 0}, {0x0025, 42, 39, 0},
	{0x0015, 43, 40, 0}, {0x0009, 44, 41, 0}, {0x0005, 45, 42, 0}, {0x0001, 45, 43, 0}, {0x5601, 46, 46, 0},
}

// estimates is indexed by Context; its length is a power of two so that no index needs a check.
var (
	estimates     [256]estimate
	estimatesOnce sync.Once
)

func makeEstimates() {
	for i, r := range rows {
		for s := range 2 {
			estimates[i<<1|s] = estimate{uint32(r[0]), Context(r[1]<<1) | Context(s), Context(r[2]<<1) | Context(s^int(r[3]))}
		}
	}
}

// Decoder decodes one codeword segment. After its end it goes on as if the data were followed by
// one bits, as both standards ask (C.3.4, E.3.4).
//
// The registers follow the software conventions of Annex G of T.88: c holds the complement, so
// that the more probable symbol without renormalisation changes a only.
type Decoder struct {
	data []byte
	at   int
	c, a uint32
	ct   int
	over int // bytes asked for beyond the end or a marker
}

// Init begins a segment. The data is not changed.
func (d *Decoder) Init(data []byte) {
	estimatesOnce.Do(makeEstimates)
	*d = Decoder{data: data}
	d.c = uint32(d.byteAt(0)^0xff) << 16
	d.byteIn()
	d.c <<= 7
	d.ct -= 7
	d.a = 0x8000
}

func (d *Decoder) byteAt(i int) byte {
	if i < len(d.data) {
		return d.data[i]
	}
	return 0xff
}

// byteIn is BYTEIN (Figure C.19): a byte after 0xff holds seven bits, and a marker ends the data.
func (d *Decoder) byteIn() {
	next := d.byteAt(d.at + 1)
	switch {
	case d.byteAt(d.at) != 0xff:
		d.at++
		d.c += 0xff00 - uint32(next)<<8
		d.ct = 8
	case next > 0x8f:
		d.over++
		d.ct = 8
	default:
		d.at++
		d.c += 0xfe00 - uint32(next)<<9
		d.ct = 7
	}
}

// Bit decodes one decision in a context and adapts it.
func (d *Decoder) Bit(cx *Context) int {
	e := &estimates[*cx]
	d.a -= e.qe
	if d.a&0x8000 != 0 && d.c>>16 < d.a {
		return int(*cx & 1)
	}
	return d.exchange(cx, e)
}

func (d *Decoder) exchange(cx *Context, e *estimate) int {
	bit := int(*cx & 1)
	if d.c>>16 < d.a { // the upper part: the more probable symbol, unless it has the smaller interval
		if d.a < e.qe {
			bit ^= 1
			*cx = e.lps
		} else {
			*cx = e.mps
		}
	} else {
		d.c -= d.a << 16
		if d.a < e.qe {
			*cx = e.mps
		} else {
			bit ^= 1
			*cx = e.lps
		}
		d.a = e.qe
	}
	for {
		if d.ct == 0 {
			d.byteIn()
		}
		d.a <<= 1
		d.c <<= 1
		d.ct--
		if d.a&0x8000 != 0 {
			return bit
		}
	}
}

// Overrun is how many times the decoder has asked for data beyond the end. Sound data asks for a
// few bytes more than it has; thousands of them mean that what is decoded is made up.
func (d *Decoder) Overrun() int { return d.over }

// Position is the offset of the byte last read into the registers.
func (d *Decoder) Position() int { return min(d.at, len(d.data)) }

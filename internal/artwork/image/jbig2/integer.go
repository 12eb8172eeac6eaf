package jbig2

import "laydown/internal/artwork/image/mq"

// intContext are the contexts of one arithmetic integer decoding procedure (Annex A).
type intContext [512]mq.Context

// integerRanges are the bits and the first value of each range (Table A.1).
var integerRanges = [6][2]int{{2, 0}, {4, 4}, {6, 20}, {8, 84}, {12, 340}, {32, 4436}}

// integer decodes a number; ok is false for OOB.
func (cx *intContext) integer(dec *mq.Decoder) (v int, ok bool) {
	prev := 1
	bit := func() int {
		b := dec.Bit(&cx[prev])
		if prev < 256 {
			prev = prev<<1 | b
		} else {
			prev = (prev<<1|b)&511 | 256
		}
		return b
	}
	negative := bit() == 1
	k := 0
	for k < 5 && bit() == 1 {
		k++
	}
	for range integerRanges[k][0] {
		v = v<<1 | bit()
	}
	v += integerRanges[k][1]
	if negative {
		return -v, v != 0
	}
	return v, true
}

// identifier decodes a symbol identifier of bits bits (A.3).
func identifier(dec *mq.Decoder, cx []mq.Context, bits int) int {
	v := 1
	for range bits {
		v = v<<1 | dec.Bit(&cx[v])
	}
	return v - 1<<bits
}

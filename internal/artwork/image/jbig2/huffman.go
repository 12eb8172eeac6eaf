package jbig2

import (
	"fmt"
	"sort"
	"sync"
)

// bitReader reads bits, most significant first; beyond the end it reads zeros and sets over.
type bitReader struct {
	b    []byte
	at   int // in bits
	over bool
}

func (r *bitReader) bit() int {
	if r.at>>3 >= len(r.b) {
		r.over = true
		return 0
	}
	v := int(r.b[r.at>>3]>>(7-r.at&7)) & 1
	r.at++
	return v
}

func (r *bitReader) bits(n int) int {
	v := 0
	for range n {
		v = v<<1 | r.bit()
	}
	return v
}

func (r *bitReader) align() { r.at = (r.at + 7) &^ 7 }

// rest are the bytes from the next whole one on; skip passes over n of them.
func (r *bitReader) rest() []byte {
	r.align()
	return r.b[min(r.at>>3, len(r.b)):]
}

func (r *bitReader) skip(n int) {
	r.align()
	if n > len(r.b)-r.at>>3 {
		r.over = true
		n = max(0, len(r.b)-r.at>>3)
	}
	r.at += 8 * n
}

// line is a line of a Huffman table (Annex B): a prefix, then size bits added to low; of the lower
// range they are taken from it.
type line struct {
	prefix, size, low int
	kind              int
}

const (
	lineRange = iota
	lineLower
	lineOOB
)

// huffmanTable decodes by walking codes in order of length.
type huffmanTable struct {
	lines  []line // by length of prefix, then in the order of the table
	counts [33]int
}

// newTable assigns the codes (B.3).
func newTable(lines []line) (*huffmanTable, error) {
	t := &huffmanTable{}
	for _, l := range lines {
		if l.prefix > 0 {
			if l.prefix > 32 {
				return nil, damaged("a Huffman table has codes of %d bits", l.prefix)
			}
			t.lines = append(t.lines, l)
			t.counts[l.prefix]++
		}
	}
	sort.SliceStable(t.lines, func(i, j int) bool { return t.lines[i].prefix < t.lines[j].prefix })
	room := 1
	for _, n := range t.counts[1:] {
		if room = 2*room - n; room < 0 {
			return nil, damaged("a Huffman table has more codes than there can be")
		}
		room = min(room, 1<<33)
	}
	return t, nil
}

// lookup reads a code and returns its line; nil when there is none.
func (t *huffmanTable) lookup(r *bitReader) *line {
	code, first, at := 0, 0, 0
	for _, n := range t.counts[1:] {
		code |= r.bit()
		if code-first < n {
			return &t.lines[at+code-first]
		}
		at += n
		first = (first + n) << 1
		code <<= 1
	}
	r.over = true
	return nil
}

// number reads a number; ok is false for OOB and where no code fits.
func (t *huffmanTable) number(r *bitReader) (v int, ok bool) {
	l := t.lookup(r)
	if l == nil || l.kind == lineOOB {
		return 0, false
	}
	if l.kind == lineLower {
		return l.low - r.bits(l.size), true
	}
	return l.low + r.bits(l.size), true
}

// standardLines are Tables B.1 to B.15.
var standardLines = [15][]line{
	{{1, 4, 0, 0}, {2, 8, 16, 0}, {3, 16, 272, 0}, {3, 32, 65808, 0}},
	{{1, 0, 0, 0}, {2, 0, 1, 0}, {3, 0, 2, 0}, {4, 3, 3, 0}, {5, 6, 11, 0}, {6, 32, 75, 0}, {6, 0, 0, lineOOB}},
	{{8, 8, -256, 0}, {1, 0, 0, 0}, {2, 0, 1, 0}, {3, 0, 2, 0}, {4, 3, 3, 0}, {5, 6, 11, 0}, {8, 32, -257, lineLower}, {7, 32, 75, 0}, {6, 0, 0, lineOOB}},
	{{1, 0, 1, 0}, {2, 0, 2, 0}, {3, 0, 3, 0}, {4, 3, 4, 0}, {5, 6, 12, 0}, {5, 32, 76, 0}},
	{{7, 8, -255, 0}, {1, 0, 1, 0}, {2, 0, 2, 0}, {3, 0, 3, 0}, {4, 3, 4, 0}, {5, 6, 12, 0}, {7, 32, -256, lineLower}, {6, 32, 76, 0}},
	{{5, 10, -2048, 0}, {4, 9, -1024, 0}, {4, 8, -512, 0}, {4, 7, -256, 0}, {5, 6, -128, 0}, {5, 5, -64, 0}, {4, 5, -32, 0}, {2, 7, 0, 0},
		{3, 7, 128, 0}, {3, 8, 256, 0}, {4, 9, 512, 0}, {4, 10, 1024, 0}, {6, 32, -2049, lineLower}, {6, 32, 2048, 0}},
	{{4, 9, -1024, 0}, {3, 8, -512, 0}, {4, 7, -256, 0}, {5, 6, -128, 0}, {5, 5, -64, 0}, {4, 5, -32, 0}, {4, 5, 0, 0}, {5, 5, 32, 0},
		{5, 6, 64, 0}, {4, 7, 128, 0}, {3, 8, 256, 0}, {3, 9, 512, 0}, {3, 10, 1024, 0}, {5, 32, -1025, lineLower}, {5, 32, 2048, 0}},
	{{8, 3, -15, 0}, {9, 1, -7, 0}, {8, 1, -5, 0}, {9, 0, -3, 0}, {7, 0, -2, 0}, {4, 0, -1, 0}, {2, 1, 0, 0}, {5, 0, 2, 0}, {6, 0, 3, 0},
		{3, 4, 4, 0}, {6, 1, 20, 0}, {4, 4, 22, 0}, {4, 5, 38, 0}, {5, 6, 70, 0}, {5, 7, 134, 0}, {6, 7, 262, 0}, {7, 8, 390, 0}, {6, 10, 646, 0},
		{9, 32, -16, lineLower}, {9, 32, 1670, 0}, {2, 0, 0, lineOOB}},
	{{8, 4, -31, 0}, {9, 2, -15, 0}, {8, 2, -11, 0}, {9, 1, -7, 0}, {7, 1, -5, 0}, {4, 1, -3, 0}, {3, 1, -1, 0}, {3, 1, 1, 0}, {5, 1, 3, 0}, {6, 1, 5, 0},
		{3, 5, 7, 0}, {6, 2, 39, 0}, {4, 5, 43, 0}, {4, 6, 75, 0}, {5, 7, 139, 0}, {5, 8, 267, 0}, {6, 8, 523, 0}, {7, 9, 779, 0}, {6, 11, 1291, 0},
		{9, 32, -32, lineLower}, {9, 32, 3339, 0}, {2, 0, 0, lineOOB}},
	{{7, 4, -21, 0}, {8, 0, -5, 0}, {7, 0, -4, 0}, {5, 0, -3, 0}, {2, 2, -2, 0}, {5, 0, 2, 0}, {6, 0, 3, 0}, {7, 0, 4, 0}, {8, 0, 5, 0},
		{2, 6, 6, 0}, {5, 5, 70, 0}, {6, 5, 102, 0}, {6, 6, 134, 0}, {6, 7, 198, 0}, {6, 8, 326, 0}, {6, 9, 582, 0}, {6, 10, 1094, 0}, {7, 11, 2118, 0},
		{8, 32, -22, lineLower}, {8, 32, 4166, 0}, {2, 0, 0, lineOOB}},
	{{1, 0, 1, 0}, {2, 1, 2, 0}, {4, 0, 4, 0}, {4, 1, 5, 0}, {5, 1, 7, 0}, {5, 2, 9, 0}, {6, 2, 13, 0}, {7, 2, 17, 0}, {7, 3, 21, 0}, {7, 4, 29, 0},
		{7, 5, 45, 0}, {7, 6, 77, 0}, {7, 32, 141, 0}},
	{{1, 0, 1, 0}, {2, 0, 2, 0}, {3, 1, 3, 0}, {5, 0, 5, 0}, {5, 1, 6, 0}, {6, 1, 8, 0}, {7, 0, 10, 0}, {7, 1, 11, 0}, {7, 2, 13, 0}, {7, 3, 17, 0},
		{7, 4, 25, 0}, {8, 5, 41, 0}, {8, 32, 73, 0}},
	{{1, 0, 1, 0}, {3, 0, 2, 0}, {4, 0, 3, 0}, {5, 0, 4, 0}, {4, 1, 5, 0}, {3, 3, 7, 0}, {6, 1, 15, 0}, {6, 2, 17, 0}, {6, 3, 21, 0}, {6, 4, 29, 0},
		{6, 5, 45, 0}, {7, 6, 77, 0}, {7, 32, 141, 0}},
	{{3, 0, -2, 0}, {3, 0, -1, 0}, {1, 0, 0, 0}, {3, 0, 1, 0}, {3, 0, 2, 0}},
	{{7, 4, -24, 0}, {6, 2, -8, 0}, {5, 1, -4, 0}, {4, 0, -2, 0}, {3, 0, -1, 0}, {1, 0, 0, 0}, {3, 0, 1, 0}, {4, 0, 2, 0}, {5, 1, 3, 0}, {6, 2, 5, 0},
		{7, 4, 9, 0}, {7, 32, -25, lineLower}, {7, 32, 25, 0}},
}

var (
	standardOnce   sync.Once
	standardTables [16]*huffmanTable
)

// standardTable is the table of that number, 1 to 15 (B.5).
func standardTable(number int) *huffmanTable {
	standardOnce.Do(func() {
		for i, lines := range standardLines {
			standardTables[i+1], _ = newTable(lines)
		}
	})
	return standardTables[number]
}

// readTable reads a code table segment (B.2).
func readTable(r *input) (*huffmanTable, error) {
	flags := r.u8()
	low, high := r.i32(), r.i32()
	if r.short {
		return nil, errShort
	}
	prefixBits, sizeBits := flags>>1&7+1, flags>>4&7+1
	b := &bitReader{b: r.b}
	var lines []line
	at := low
	for at < high {
		l := line{prefix: b.bits(prefixBits), size: b.bits(sizeBits), low: at}
		if b.over {
			return nil, errShort
		}
		if l.size > 32 {
			return nil, damaged("a Huffman table has ranges of %d bits", l.size)
		}
		lines = append(lines, l)
		at += 1 << l.size
	}
	lines = append(lines, line{prefix: b.bits(prefixBits), size: 32, low: low - 1, kind: lineLower})
	lines = append(lines, line{prefix: b.bits(prefixBits), size: 32, low: high})
	if flags&1 != 0 {
		lines = append(lines, line{prefix: b.bits(prefixBits), kind: lineOOB})
	}
	if b.over {
		return nil, errShort
	}
	return newTable(lines)
}

// tableChooser picks the tables a segment's flags name: standard ones, or the next of the tables it refers to.
type tableChooser struct {
	own []*huffmanTable
	err error
}

func (d *decoder) chooser(s *segment) *tableChooser {
	c := &tableChooser{}
	d.referred(s, func(t *segment) {
		if t.table != nil {
			c.own = append(c.own, t.table)
		}
	})
	return c
}

// pick returns the standard table of that number, 0 = a table of the file's own.
func (c *tableChooser) pick(standard int) *huffmanTable {
	if standard > 0 {
		return standardTable(standard)
	}
	if len(c.own) == 0 {
		c.err = fmt.Errorf("%w", damaged("a Huffman table is missing"))
		return standardTable(1)
	}
	t := c.own[0]
	c.own = c.own[1:]
	return t
}

package font

import (
	"sort"
	"strings"
	"sync"
)

// cmapTable is one subtable of "cmap". Look-ups read the table in place.
type cmapTable struct {
	platform, encoding int
	format             int
	sorted             bool // the segments of format 4 are in order
	b                  []byte
}

// maxUnsorted bounds the segments searched in a table whose segments are out of order: broken subset fonts
// have few.
const maxUnsorted = 512

var macGlyphNames = sync.OnceValue(func() []string { return strings.Fields(macGlyphOrder) })

func parseCmaps(b []byte) []cmapTable {
	if len(b) < 4 {
		return nil
	}
	var out []cmapTable
	n := be16(b[2:])
	for i := 0; i < n && 4+8*i+8 <= len(b) && len(out) < 32; i++ {
		e := b[4+8*i:]
		off := int64(be32(e[4:]))
		if off+6 > int64(len(b)) {
			continue
		}
		t := cmapTable{platform: be16(e), encoding: be16(e[2:]), b: b[off:]}
		t.format = be16(t.b)
		t.sorted = t.format == 4 && t.segmentsSorted()
		switch t.format {
		case 0, 4, 6, 10, 12, 13:
			out = append(out, t)
		}
	}
	return out
}

func findCmap(ts []cmapTable, platform, encoding int) *cmapTable {
	for i := range ts {
		if ts[i].platform == platform && ts[i].encoding == encoding {
			return &ts[i]
		}
	}
	return nil
}

// pickUnicode prefers the largest Unicode subtable.
func pickUnicode(ts []cmapTable) *cmapTable {
	for _, pe := range [][2]int{{3, 10}, {0, 6}, {0, 4}, {3, 1}, {0, 3}, {0, 2}, {0, 1}, {0, 0}} {
		if t := findCmap(ts, pe[0], pe[1]); t != nil {
			return t
		}
	}
	return nil
}

// lookup returns the glyph of a character, 0 when there is none.
func (t *cmapTable) lookup(c uint32) int {
	b := t.b
	switch t.format {
	case 0:
		if c < 256 && 6+int(c) < len(b) {
			return int(b[6+c])
		}
	case 4:
		return t.lookup4(c)
	case 6:
		if len(b) < 10 {
			return 0
		}
		first, n := uint32(be16(b[6:])), uint32(be16(b[8:]))
		if at := 10 + 2*int(c-first); c >= first && c < first+n && at+2 <= len(b) {
			return be16(b[at:])
		}
	case 10:
		if len(b) < 20 {
			return 0
		}
		first, n := be32(b[12:]), be32(b[16:])
		if c >= first && c-first < n {
			if at := 20 + 2*int(c-first); at+2 <= len(b) {
				return be16(b[at:])
			}
		}
	case 12, 13:
		if len(b) < 16 {
			return 0
		}
		n := int(min(be32(b[12:]), uint32(len(b)-16)/12))
		i := sort.Search(n, func(i int) bool { return be32(b[16+12*i+4:]) >= c })
		if i < n {
			e := b[16+12*i:]
			if start := be32(e); c >= start {
				g := be32(e[8:])
				if t.format == 12 {
					g += c - start
				}
				if g < 0x10000 {
					return int(g)
				}
			}
		}
	}
	return 0
}

// segments is the number of segments of a format 4 table that lie within it.
func (t *cmapTable) segments() int {
	if len(t.b) < 16 {
		return 0
	}
	return min(be16(t.b[6:])/2, (len(t.b)-16)/8)
}

func (t *cmapTable) segmentsSorted() bool {
	for i := 1; i < t.segments(); i++ {
		if be16(t.b[14+2*i:]) < be16(t.b[12+2*i:]) {
			return false
		}
	}
	return true
}

func (t *cmapTable) lookup4(c uint32) int {
	b := t.b
	seg := t.segments()
	if c > 0xFFFF || seg == 0 {
		return 0
	}
	ends, starts := b[14:], b[16+2*seg:]
	deltas, ranges := b[16+4*seg:], b[16+6*seg:]
	code := int(c)
	first, last := 0, min(seg, maxUnsorted)
	if t.sorted {
		// Some more are looked at: careless fonts let segments overlap.
		first = sort.Search(seg, func(i int) bool { return be16(ends[2*i:]) >= code })
		last = min(seg, first+8)
	}
	for i := first; i < last; i++ {
		if code > be16(ends[2*i:]) || code < be16(starts[2*i:]) {
			continue
		}
		delta, off := be16(deltas[2*i:]), be16(ranges[2*i:])
		if off == 0 || off == 0xFFFF {
			return (code + delta) & 0xFFFF
		}
		at := 2*i + off + 2*(code-be16(starts[2*i:]))
		if at+2 > len(ranges) {
			return 0
		}
		if g := be16(ranges[at:]); g != 0 {
			return (g + delta) & 0xFFFF
		}
		return 0
	}
	return 0
}

// symbolicGID finds a code's glyph without names (9.6.5.4): the (3,0) subtable with the code itself or
// in the range its first entry shows (0xF000 by custom), else (1,0); -1 when neither has it.
func symbolicGID(ts []cmapTable, code byte, n int) int {
	if t := findCmap(ts, 3, 0); t != nil {
		for _, base := range []uint32{0xF000, 0, 0xF100, 0xF200} {
			if g := t.lookup(base + uint32(code)); g > 0 && g < n {
				return g
			}
		}
	}
	if t := findCmap(ts, 1, 0); t != nil {
		if g := t.lookup(uint32(code)); g > 0 && g < n {
			return g
		}
	}
	return -1
}

// namedGID finds the glyph of a name (9.6.5.4): through Unicode in (3,1), through the Macintosh set
// in (1,0), then by the program's own names; -1 when none has it.
func namedGID(p program, ts []cmapTable, name string) int {
	n := p.numGlyphs()
	r, known := runeFromName(name)
	if t := pickUnicode(ts); t != nil && known {
		for _, c := range runeVariants(r) {
			if g := t.lookup(uint32(c)); g > 0 && g < n {
				return g
			}
		}
	}
	if t := findCmap(ts, 1, 0); t != nil {
		if c, ok := macCodes()[name]; ok {
			if g := t.lookup(uint32(c)); g > 0 && g < n {
				return g
			}
		}
	}
	if g, ok := p.glyphByName(name); ok && g > 0 && g < n {
		return g
	}
	if g, ok := gidFromName(name, n); ok {
		return g
	}
	return -1
}

// runeVariants lists the characters that fonts use for one another: the names mu, Omega and Delta
// stand for two each, and the soft hyphen and no-break space may be missing.
func runeVariants(r rune) []rune {
	switch r {
	case 0x00B5:
		return []rune{r, 0x03BC}
	case 0x03BC:
		return []rune{r, 0x00B5}
	case 0x2126:
		return []rune{r, 0x03A9}
	case 0x03A9:
		return []rune{r, 0x2126}
	case 0x2206:
		return []rune{r, 0x0394}
	case 0x0394:
		return []rune{r, 0x2206}
	case 0x00A0:
		return []rune{r, ' '}
	case 0x00AD, 0x2010, 0x2011:
		return []rune{r, '-'}
	case 0x2329:
		return []rune{r, 0x27E8, 0x2039}
	case 0x232A:
		return []rune{r, 0x27E9, 0x203A}
	case 0x2215:
		return []rune{r, 0x2044}
	case 0x2044:
		return []rune{r, 0x2215}
	case 0x2219:
		return []rune{r, 0x00B7}
	case 0x00B7:
		return []rune{r, 0x2219}
	}
	return []rune{r}
}

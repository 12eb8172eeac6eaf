package font

import (
	"sort"
	"unicode/utf16"
)

// cmapFile is a CMap (9.7.5; The CMap and CIDFont Files Specification, Technical Note 5014): it cuts
// strings into codes and maps codes to CIDs, or to characters in a ToUnicode CMap (9.10.3).
type cmapFile struct {
	spaces   [4][]codeSpace // by code length - 1
	chars    [4][]cidRange  // single codes, sorted; they go before the ranges
	ranges   [4][]cidRange  // sorted by lo, disjoint
	notdef   [4][]cidRange  // sorted and disjoint too; all codes of one have its CID
	unicode  [4][]cidRange  // single codes and ranges again, with characters for CIDs
	uniRange [4][]cidRange
	vertical bool
	over     bool   // there was more than this program keeps
	ordering string // of the character collection, in a predefined CMap
	useName  string
	base     *cmapFile // usecmap
	lost     bool      // the CMap it builds on is not carried here
	cut      bool      // the file was damaged
}

// codeSpace bounds each byte of a code on its own.
type codeSpace struct{ lo, hi uint32 }

type cidRange struct{ lo, hi, cid uint32 }

// maxCMapEntries bounds what one CMap may define; the largest public ones have about 20,000.
const maxCMapEntries = 300_000

// maxCodeSpaces of one length: every code is held against all of them. The public ones have up to six.
const maxCodeSpaces = 64

// identityCMap is Identity-H and Identity-V: two-byte codes, CID = code.
func identityCMap(vertical bool) *cmapFile {
	c := &cmapFile{vertical: vertical}
	c.spaces[1] = []codeSpace{{0, 0xFFFF}}
	c.ranges[1] = []cidRange{{0, 0xFFFF, 0}}
	return c
}

// parseCMap scans a CMap stream. Unknown operators are passed over; entries cut short are left out.
func parseCMap(b []byte) *cmapFile {
	c := &cmapFile{}
	s := cmapScanner{psScanner{b: b}}
	var prev cmapToken
	entries := 0
	for {
		t := s.token()
		if entries > maxCMapEntries {
			c.over = true
			break
		}
		if t.kind == cmapEnd {
			break
		}
		if t.kind == cmapName && t.text == "WMode" {
			if v := s.token(); v.kind == cmapInt {
				c.vertical = v.value == 1
			}
			continue
		}
		if t.kind == cmapWord {
			switch t.text {
			case "usecmap":
				if prev.kind == cmapName {
					c.useName = prev.text
				}
			case "begincodespacerange":
				for entries++; ; entries++ {
					lo := s.token()
					if lo.kind != cmapHex {
						break // the end word, and nothing after it
					}
					hi := s.token()
					if hi.kind != cmapHex || lo.n != hi.n || lo.n < 1 || lo.n > 4 || entries > maxCMapEntries {
						break
					}
					if len(c.spaces[lo.n-1]) >= maxCodeSpaces {
						c.over = true
						continue
					}
					c.spaces[lo.n-1] = append(c.spaces[lo.n-1], codeSpace{lo.value, hi.value})
				}
			case "begincidrange":
				for ; entries <= maxCMapEntries; entries++ {
					lo := s.token()
					if lo.kind != cmapHex {
						break
					}
					hi, cid := s.token(), s.token()
					if hi.kind == cmapHex && cid.kind == cmapInt && lo.n == hi.n && lo.n >= 1 && lo.n <= 4 && lo.value <= hi.value {
						c.ranges[lo.n-1] = append(c.ranges[lo.n-1], cidRange{lo.value, hi.value, cid.value})
					}
				}
			case "beginnotdefrange", "beginnotdefchar":
				for ; entries <= maxCMapEntries; entries++ {
					lo := s.token()
					if lo.kind != cmapHex {
						break
					}
					hi := lo
					if t.text == "beginnotdefrange" {
						hi = s.token()
					}
					cid := s.token()
					if hi.kind == cmapHex && cid.kind == cmapInt && lo.n == hi.n && lo.n >= 1 && lo.n <= 4 && lo.value <= hi.value {
						c.notdef[lo.n-1] = append(c.notdef[lo.n-1], cidRange{lo.value, hi.value, cid.value})
					}
				}
			case "begincidchar":
				for ; entries <= maxCMapEntries; entries++ {
					code := s.token()
					if code.kind != cmapHex {
						break
					}
					if cid := s.token(); cid.kind == cmapInt && code.n >= 1 && code.n <= 4 {
						c.chars[code.n-1] = append(c.chars[code.n-1], cidRange{code.value, code.value, cid.value})
					}
				}
			case "beginbfchar":
				for ; entries <= maxCMapEntries; entries++ {
					code := s.token()
					if code.kind != cmapHex {
						break
					}
					if dst := s.token(); dst.kind == cmapHex && code.n >= 1 && code.n <= 4 {
						c.unicode[code.n-1] = append(c.unicode[code.n-1], cidRange{code.value, code.value, uint32(dst.char)})
					}
				}
			case "beginbfrange":
				for ; entries <= maxCMapEntries; entries++ {
					lo := s.token()
					if lo.kind != cmapHex {
						break
					}
					hi, dst := s.token(), s.token()
					c.bfRange(&s, lo, hi, dst)
				}
			}
		}
		prev = t
	}
	for i := range c.ranges {
		c.chars[i] = lastOfEach(c.chars[i])
		c.unicode[i] = lastOfEach(c.unicode[i])
		c.ranges[i] = disjoint(c.ranges[i], 1)
		c.notdef[i] = disjoint(c.notdef[i], 0)
		c.uniRange[i] = disjoint(c.uniRange[i], 1)
	}
	c.assumeSpaces()
	return c
}

// assumeSpaces makes code spaces of what is mapped where the file forgets to name any.
func (c *cmapFile) assumeSpaces() {
	if c.useName != "" {
		return
	}
	for i := range c.spaces {
		if len(c.spaces[i]) > 0 {
			return
		}
	}
	for i := range c.ranges {
		if len(c.ranges[i])+len(c.chars[i]) > 0 {
			c.spaces[i] = []codeSpace{{0, 1<<(8*i+8) - 1}}
			return
		}
	}
}

func (c *cmapFile) bfRange(s *cmapScanner, lo, hi, dst cmapToken) {
	valid := hi.kind == cmapHex && lo.n == hi.n && lo.n >= 1 && lo.n <= 4 && lo.value <= hi.value
	switch {
	case dst.kind == cmapHex:
		if valid {
			c.uniRange[lo.n-1] = append(c.uniRange[lo.n-1], cidRange{lo.value, hi.value, uint32(dst.char)})
		}
	case dst.kind == cmapWord && dst.text == "[":
		for v := lo.value; ; v++ {
			t := s.token()
			if t.kind != cmapHex {
				return
			}
			if valid && v >= lo.value && v <= hi.value && len(c.unicode[lo.n-1]) <= maxCMapEntries {
				c.unicode[lo.n-1] = append(c.unicode[lo.n-1], cidRange{v, v, uint32(t.char)})
			}
		}
	}
}

// lastOfEach sorts single codes; of several entries for one the last holds.
func lastOfEach(r []cidRange) []cidRange {
	sort.SliceStable(r, func(i, j int) bool { return r[i].lo < r[j].lo })
	out := r[:0]
	for i, x := range r {
		if i+1 == len(r) || r[i+1].lo != x.lo {
			out = append(out, x)
		}
	}
	return out
}

// disjoint sorts ranges and cuts off what an earlier start already covers, so that one binary search
// finds the answer; step is how much the CID grows from code to code.
func disjoint(r []cidRange, step uint32) []cidRange {
	sort.SliceStable(r, func(i, j int) bool { return r[i].lo < r[j].lo })
	out := r[:0]
	next := uint64(0)
	for _, x := range r {
		if uint64(x.lo) < next {
			if uint64(x.hi) < next {
				continue
			}
			x.cid += step * uint32(next-uint64(x.lo))
			x.lo = uint32(next)
		}
		out = append(out, x)
		next = uint64(x.hi) + 1
	}
	return out
}

func findRange(r []cidRange, code uint32) (*cidRange, bool) {
	i := sort.Search(len(r), func(i int) bool { return r[i].hi >= code })
	if i < len(r) && r[i].lo <= code {
		return &r[i], true
	}
	return nil, false
}

// next cuts one code from the front of s, which must not be empty (9.7.6.2). valid is false when no code
// space holds it: it then has as many bytes as the code space that the longest part of s begins,
// the shortest of several, or as s has left (9.7.6.3).
func (c *cmapFile) next(s string) (code uint32, n int, valid bool) {
	v := uint32(0)
	for n := 1; n <= 4 && n <= len(s); n++ {
		v = v<<8 | uint32(s[n-1])
		if c.inSpace(v, n) {
			return v, n, true
		}
	}
	n = min(c.partial(s), len(s))
	for i := range n {
		code = code<<8 | uint32(s[i])
	}
	return code, n, false
}

func (c *cmapFile) inSpace(v uint32, n int) bool {
	for d := 0; c != nil && d < maxUseCMap; c, d = c.base, d+1 {
	spaces:
		for _, sp := range c.spaces[n-1] {
			for shift := 0; shift < 8*n; shift += 8 {
				b := byte(v >> shift)
				if b < byte(sp.lo>>shift) || b > byte(sp.hi>>shift) {
					continue spaces
				}
			}
			return true
		}
	}
	return false
}

// partial is the length of the code space that s comes closest to.
func (c *cmapFile) partial(s string) int {
	length, matching := 1, -1
	for d := 0; c != nil && d < maxUseCMap; c, d = c.base, d+1 {
		for n := 1; n <= 4; n++ {
			for _, sp := range c.spaces[n-1] {
				m := 0
				for m < min(n, len(s)) && s[m] >= byte(sp.lo>>(8*(n-1-m))) && s[m] <= byte(sp.hi>>(8*(n-1-m))) {
					m++
				}
				if m > matching || m == matching && n < length {
					length, matching = n, m
				}
			}
		}
	}
	return length
}

// maxUseCMap is the depth of usecmap chains.
const maxUseCMap = 8

// cid maps a code; one that is not mapped has the CID of its notdef range, or 0 (9.7.6.3). ok tells
// whether it is mapped.
func (c *cmapFile) cid(code uint32, n int) (cid uint32, ok bool) {
	if n < 1 || n > 4 {
		return 0, false
	}
	for c, d := c, 0; c != nil && d < maxUseCMap; c, d = c.base, d+1 {
		if r, ok := findRange(c.chars[n-1], code); ok {
			return r.cid, true
		}
		if r, ok := findRange(c.ranges[n-1], code); ok {
			return r.cid + code - r.lo, true
		}
	}
	for d := 0; c != nil && d < maxUseCMap; c, d = c.base, d+1 {
		if r, ok := findRange(c.notdef[n-1], code); ok {
			return r.cid, false
		}
	}
	return 0, false
}

// runeOf maps a code through a ToUnicode CMap.
func (c *cmapFile) runeOf(code uint32, n int) (rune, bool) {
	if c == nil || n < 1 || n > 4 {
		return 0, false
	}
	if r, ok := findRange(c.unicode[n-1], code); ok {
		if r.cid == 0xFFFD {
			return 0, false
		}
		return rune(r.cid), true
	}
	r, ok := findRange(c.uniRange[n-1], code)
	if !ok && n == 1 { // one-byte codes written with two bytes
		return c.runeOf(code, 2)
	}
	if !ok || r.cid+code-r.lo > 0x10FFFF || r.cid == 0xFFFD {
		return 0, false
	}
	return rune(r.cid + code - r.lo), true
}

// The kinds of CMap tokens.
const (
	cmapEnd = iota
	cmapInt
	cmapHex
	cmapName
	cmapWord
)

type cmapToken struct {
	kind  int
	value uint32
	n     int  // bytes of a hexadecimal string
	char  rune // its character, read as UTF-16BE; U+FFFD = none or several
	text  string
}

type cmapScanner struct{ psScanner }

func (s *cmapScanner) token() cmapToken {
	t := s.next()
	if t == nil {
		return cmapToken{}
	}
	switch {
	case t[0] == '<' && s.at < len(s.b) && s.b[s.at] == '<':
		s.at++
		return cmapToken{kind: cmapWord, text: "<<"}
	case t[0] == '<':
		return s.hex()
	case t[0] == '/':
		return cmapToken{kind: cmapName, text: string(t[1:])}
	}
	if v, ok := psInt(t); ok && v >= 0 && uint64(v) <= 0xFFFFFFFF {
		return cmapToken{kind: cmapInt, value: uint32(v)}
	}
	return cmapToken{kind: cmapWord, text: string(t)}
}

func (s *cmapScanner) hex() cmapToken {
	var data []byte
	start := s.at
	for s.at < len(s.b) && s.b[s.at] != '>' {
		s.at++
	}
	if s.at >= len(s.b) || s.at-start > 4096 {
		return cmapToken{kind: cmapWord}
	}
	hex := s.b[start:s.at]
	s.at++
	data = decodeHex(append(append([]byte(nil), hex...), '0')[:len(hex)+oddDigits(hex)])
	t := cmapToken{kind: cmapHex, n: len(data)}
	for _, c := range data[:min(4, len(data))] {
		t.value = t.value<<8 | uint32(c)
	}
	t.char = charFromUTF16(data)
	return t
}

// charFromUTF16 is the one character of a string; the Latin ligatures are one, whether written so or as
// the letters they join.
func charFromUTF16(b []byte) rune {
	switch {
	case len(b) == 1:
		return rune(b[0])
	case len(b) == 2:
		return rune(be16(b))
	case len(b) == 4 && utf16.IsSurrogate(rune(be16(b))):
		return utf16.DecodeRune(rune(be16(b)), rune(be16(b[2:])))
	}
	switch string(b) {
	case "\x00f\x00f":
		return 0xFB00
	case "\x00f\x00i":
		return 0xFB01
	case "\x00f\x00l":
		return 0xFB02
	case "\x00f\x00f\x00i":
		return 0xFB03
	case "\x00f\x00f\x00l":
		return 0xFB04
	}
	return 0xFFFD
}

// oddDigits is 1 when a hexadecimal string lacks its last digit, which counts as 0 (7.3.4.3).
func oddDigits(hex []byte) int {
	n := 0
	for _, c := range hex {
		if unhex(c) >= 0 {
			n++
		}
	}
	return n % 2
}

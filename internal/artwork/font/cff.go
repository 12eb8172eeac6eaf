package font

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"laydown/internal/geom"
)

// cffFont is a bare CFF program (The Compact Font Format Specification, Adobe Technical Note 5176).
type cffFont struct {
	charStrings cffIndex
	global      cffIndex
	strings     cffIndex
	isCID       bool
	charset     []uint16 // by glyph: SID, or CID in a CID-keyed font
	codes       [256]int // built-in encoding, -1 = none
	dicts       []cffPrivate
	fdSelect    []byte // by glyph; nil = dicts[0]
	topMatrix   *geom.Matrix

	byName func() map[string]int
	byCID  []uint16 // glyph + 1 by CID, 0 = none; up to the highest CID
}

// cffPrivate is what one Private dictionary gives to the charstrings that use it.
type cffPrivate struct {
	matrix                     geom.Matrix
	subrs                      cffIndex
	defaultWidth, nominalWidth float64
	ownMatrix                  bool
}

// cffIndex is an INDEX left in place; entries are cut out on demand.
type cffIndex struct {
	n       int
	offSize int
	offs    []byte
	data    []byte // starts one byte before the first object: offsets count from 1
}

// readIndex reads the INDEX at off and returns where it ends.
func readIndex(b []byte, off int) (cffIndex, int, error) {
	if off < 0 || off+2 > len(b) {
		return cffIndex{}, 0, fmt.Errorf("%w: an index lies outside", errProgram)
	}
	n := int(b[off])<<8 | int(b[off+1])
	if n == 0 {
		return cffIndex{}, off + 2, nil
	}
	if off+3 > len(b) {
		return cffIndex{}, 0, fmt.Errorf("%w: an index is cut short", errProgram)
	}
	size := int(b[off+2])
	end := off + 3 + (n+1)*size
	if size < 1 || size > 4 || end > len(b) {
		return cffIndex{}, 0, fmt.Errorf("%w: an index is cut short", errProgram)
	}
	x := cffIndex{n: n, offSize: size, offs: b[off+3 : end], data: b[end-1:]}
	last := x.offset(n)
	if last < 1 {
		return cffIndex{}, 0, fmt.Errorf("%w: an index has bad offsets", errProgram)
	}
	return x, min(end-1+last, len(b)), nil
}

func (x *cffIndex) offset(i int) int {
	v := 0
	for _, c := range x.offs[i*x.offSize : (i+1)*x.offSize] {
		v = v<<8 | int(c)
	}
	return v
}

// at returns object i, nil when there is none or it lies outside.
func (x *cffIndex) at(i int) []byte {
	if i < 0 || i >= x.n {
		return nil
	}
	a, b := x.offset(i), x.offset(i+1)
	if a < 1 || a > b || a > len(x.data) {
		return nil
	}
	return x.data[a:min(b, len(x.data))]
}

// cffDict maps operators (12 n as 0x0C00|n) to operands.
type cffDict map[int][]float64

func readDict(b []byte) cffDict {
	d := cffDict{}
	var args []float64
	for i := 0; i < len(b); {
		c := b[i]
		i++
		switch {
		case c <= 21:
			op := int(c)
			if c == 12 {
				if i >= len(b) {
					return d
				}
				op = 0x0C00 | int(b[i])
				i++
			}
			if _, seen := d[op]; !seen {
				d[op] = args
			}
			args = nil
		case c == 28 && i+2 <= len(b):
			args = append(args, float64(int16(uint16(b[i])<<8|uint16(b[i+1]))))
			i += 2
		case c == 29 && i+4 <= len(b):
			args = append(args, float64(int32(be32(b[i:]))))
			i += 4
		case c == 30:
			var s strings.Builder
		nibbles:
			for ; i < len(b); i++ {
				for _, n := range []byte{b[i] >> 4, b[i] & 15} {
					switch {
					case n <= 9:
						s.WriteByte('0' + n)
					case n == 10:
						s.WriteByte('.')
					case n == 11:
						s.WriteByte('E')
					case n == 12:
						s.WriteString("E-")
					case n == 14:
						s.WriteByte('-')
					case n == 15:
						i++
						break nibbles
					}
				}
			}
			v, err := strconv.ParseFloat(s.String(), 64)
			if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
				v = 0
			}
			args = append(args, v)
		case c >= 32 && c <= 246:
			args = append(args, float64(int(c)-139))
		case c >= 247 && c <= 250 && i < len(b):
			args = append(args, float64((int(c)-247)*256+int(b[i])+108))
			i++
		case c >= 251 && c <= 254 && i < len(b):
			args = append(args, float64(-(int(c)-251)*256-int(b[i])-108))
			i++
		}
		if len(args) > 513 {
			return d
		}
	}
	return d
}

func (d cffDict) int(op, def int) int {
	if v := d[op]; len(v) > 0 && math.Abs(v[len(v)-1]) < 1<<31 {
		return int(v[len(v)-1])
	}
	return def
}

// matrix is the FontMatrix operator, nil when absent or singular.
func (d cffDict) matrix() *geom.Matrix {
	v := d[0x0C07]
	if len(v) != 6 {
		return nil
	}
	m := geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
	if det := m.Det(); det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return nil
	}
	return &m
}

// Top and Private dictionary operators.
const (
	cffCharset     = 15
	cffEncoding    = 16
	cffCharStrings = 17
	cffPrivateOp   = 18
	cffSubrs       = 19
	cffDefaultW    = 20
	cffNominalW    = 21
	cffROS         = 0x0C1E
	cffFDArray     = 0x0C24
	cffFDSelect    = 0x0C25
	cffCSType      = 0x0C06
)

var thousandth = geom.Matrix{A: 0.001, D: 0.001}

func parseCFF(b []byte) (*cffFont, error) {
	if len(b) < 8 {
		return nil, fmt.Errorf("%w: CFF data too short", errProgram)
	}
	_, at, err := readIndex(b, int(b[2])) // names
	if err != nil {
		return nil, err
	}
	tops, at, err := readIndex(b, at)
	if err != nil {
		return nil, err
	}
	f := &cffFont{}
	if f.strings, at, err = readIndex(b, at); err != nil {
		return nil, err
	}
	if f.global, _, err = readIndex(b, at); err != nil {
		f.global = cffIndex{}
	}
	top := readDict(tops.at(0))
	if f.charStrings, _, err = readIndex(b, top.int(cffCharStrings, -1)); err != nil {
		return nil, err
	}
	if f.charStrings.n == 0 {
		return nil, fmt.Errorf("%w: no glyphs", errProgram)
	}
	_, f.isCID = top[cffROS]
	f.topMatrix = top.matrix()
	if f.isCID {
		fds, _, err := readIndex(b, top.int(cffFDArray, -1))
		if err != nil {
			return nil, err
		}
		for i := range min(fds.n, 256) { // glyphs choose among them by a byte
			f.dicts = append(f.dicts, readPrivate(b, readDict(fds.at(i)), f.topMatrix))
		}
		f.fdSelect = readFDSelect(b, top.int(cffFDSelect, -1), f.charStrings.n)
	} else {
		f.dicts = []cffPrivate{readPrivate(b, top, nil)}
	}
	if len(f.dicts) == 0 {
		f.dicts = []cffPrivate{{matrix: thousandth}}
	}
	f.readCharset(b, top.int(cffCharset, 0))
	f.readEncoding(b, top.int(cffEncoding, 0))
	f.byName = sync.OnceValue(f.nameIndex)
	if f.isCID {
		f.byCID = make([]uint16, 1+int(slices.Max(f.charset)))
		for g, c := range f.charset {
			if f.byCID[c] == 0 {
				f.byCID[c] = uint16(g + 1) // an index holds at most 65,535 glyphs
			}
		}
	}
	return f, nil
}

// readPrivate reads a font dictionary's Private data and its matrix, which in a CID-keyed font is
// applied before the top dictionary's.
func readPrivate(b []byte, d cffDict, top *geom.Matrix) cffPrivate {
	p := cffPrivate{matrix: thousandth}
	own := d.matrix()
	switch {
	case own != nil && top != nil:
		p.matrix = own.Mul(*top)
		if math.Abs(p.matrix.Det()) < 1e-10 {
			p.matrix = *own // both say "thousandths": seen in the wild, meant once
		}
	case own != nil:
		p.matrix = *own
	case top != nil:
		p.matrix = *top
	}
	v := d[cffPrivateOp]
	if len(v) != 2 {
		return p
	}
	size, off := int(v[0]), int(v[1])
	if size < 0 || off < 0 || off > len(b) {
		return p
	}
	priv := readDict(b[off:min(off+min(size, maxPrivate), len(b))])
	if w := priv[cffDefaultW]; len(w) > 0 {
		p.defaultWidth = w[0]
	}
	if w := priv[cffNominalW]; len(w) > 0 {
		p.nominalWidth = w[0]
	}
	if s := priv.int(cffSubrs, 0); s > 0 {
		if x, _, err := readIndex(b, off+s); err == nil {
			p.subrs = x
		}
	}
	return p
}

// maxPrivate bounds what is read of a Private dictionary; those of public fonts have below 300 bytes.
const maxPrivate = 8192

func readFDSelect(b []byte, off, n int) []byte {
	if off < 0 || off >= len(b) {
		return nil
	}
	sel := make([]byte, n)
	switch b[off] {
	case 0:
		copy(sel, b[off+1:])
	case 3:
		if off+5 > len(b) {
			return sel
		}
		ranges := be16(b[off+1:])
		for i, at := 0, off+3; i < ranges && at+5 <= len(b); i, at = i+1, at+3 {
			for g := be16(b[at:]); g < be16(b[at+3:]) && g < n; g++ {
				sel[g] = b[at+2]
			}
		}
	}
	return sel
}

// readCharset fills charset; a table cut short leaves the rest without a name.
func (f *cffFont) readCharset(b []byte, off int) {
	n := f.charStrings.n
	f.charset = make([]uint16, 1, n)
	add := func(first, last int) {
		for s := first; s <= last && len(f.charset) < n; s++ {
			f.charset = append(f.charset, uint16(s))
		}
	}
	switch {
	case off <= 2 && f.isCID:
		add(1, n-1) // predefined charsets are for names; take CID = glyph index
	case off == 0:
		add(1, 228)
	case off == 1 || off == 2:
		ranges := cffExpertCharset
		if off == 2 {
			ranges = cffExpertSubsetCharset
		}
		for _, r := range ranges {
			add(r[0], r[1])
		}
	case off < 0 || off >= len(b):
		if f.isCID {
			add(1, n-1)
		}
	case b[off] == 0:
		for at := off + 1; len(f.charset) < n && at+2 <= len(b); at += 2 {
			add(be16(b[at:]), be16(b[at:]))
		}
	case b[off] == 1:
		for at := off + 1; len(f.charset) < n && at+3 <= len(b); at += 3 {
			add(be16(b[at:]), be16(b[at:])+int(b[at+2]))
		}
	case b[off] == 2:
		for at := off + 1; len(f.charset) < n && at+4 <= len(b); at += 4 {
			add(be16(b[at:]), be16(b[at:])+be16(b[at+2:]))
		}
	}
}

func (f *cffFont) readEncoding(b []byte, off int) {
	for i := range f.codes {
		f.codes[i] = -1
	}
	if f.isCID {
		return
	}
	bySID := make(map[uint16]int, len(f.charset))
	for g, s := range f.charset {
		if _, seen := bySID[s]; !seen {
			bySID[s] = g
		}
	}
	switch {
	case off == 0:
		for c, name := range standardEncoding() {
			if name != "" {
				if g, ok := bySID[uint16(cffSIDs()[name])]; ok {
					f.codes[c] = g
				}
			}
		}
	case off == 1:
		for _, r := range cffExpertEncoding {
			for c := r[0]; c <= r[1]; c++ {
				if g, ok := bySID[uint16(r[2]+c-r[0])]; ok {
					f.codes[c] = g
				}
			}
		}
	case off > 0 && off+2 <= len(b):
		n, at, gid := int(b[off+1]), off+2, 1
		if b[off]&0x7F == 0 {
			for i := 0; i < n && at < len(b); i, at, gid = i+1, at+1, gid+1 {
				f.setCode(b[at], gid)
			}
		} else {
			for i := 0; i < n && at+2 <= len(b); i, at = i+1, at+2 {
				for c := int(b[at]); c <= int(b[at])+int(b[at+1]) && c < 256; c++ {
					f.setCode(byte(c), gid)
					gid++
				}
			}
		}
		if b[off]&0x80 != 0 && at < len(b) { // supplement: a second code for a glyph
			n := int(b[at])
			for i, at := 0, at+1; i < n && at+3 <= len(b); i, at = i+1, at+3 {
				if g, ok := bySID[uint16(be16(b[at+1:]))]; ok {
					f.codes[b[at]] = g
				}
			}
		}
	}
}

func (f *cffFont) setCode(c byte, gid int) {
	if gid < f.charStrings.n {
		f.codes[c] = gid
	}
}

// cffStandard is the list of standard strings, cffSIDs its inverse.
var (
	cffStandard = sync.OnceValue(func() []string { return strings.Fields(cffStandardStrings) })
	cffSIDs     = sync.OnceValue(func() map[string]int {
		m := map[string]int{}
		for i, s := range cffStandard() {
			m[s] = i
		}
		return m
	})
)

// glyphName is the name the charset gives, "" in a CID-keyed font.
func (f *cffFont) glyphName(gid int) string {
	if f.isCID || gid < 0 || gid >= len(f.charset) {
		return ""
	}
	sid := int(f.charset[gid])
	if std := cffStandard(); sid < len(std) {
		return std[sid]
	}
	return string(f.strings.at(sid - len(cffStandard())))
}

func (f *cffFont) nameIndex() map[string]int {
	m := make(map[string]int, len(f.charset))
	for g := range f.charset {
		n := f.glyphName(g)
		if _, seen := m[n]; n != "" && !seen {
			m[n] = g
		}
	}
	return m
}

func (f *cffFont) numGlyphs() int { return f.charStrings.n }

func (f *cffFont) glyphByName(name string) (int, bool) {
	g, ok := f.byName()[name]
	return g, ok
}

func (f *cffFont) builtin(code byte) int { return f.codes[code] }

// gidFromCID maps through the charset; in a font that is not CID-keyed the CID is the glyph index
// (9.7.4.2).
func (f *cffFont) gidFromCID(cid int) int {
	if !f.isCID {
		if cid < f.charStrings.n {
			return cid
		}
		return -1
	}
	if cid >= len(f.byCID) {
		return -1
	}
	return int(f.byCID[cid]) - 1
}

func (f *cffFont) private(gid int) *cffPrivate {
	if gid < len(f.fdSelect) && int(f.fdSelect[gid]) < len(f.dicts) {
		return &f.dicts[f.fdSelect[gid]]
	}
	return &f.dicts[0]
}

func (f *cffFont) draw(gid int) (p *geom.Path, work int, err error) {
	p, _, work, err = f.run(gid)
	return p, work, err
}

func (f *cffFont) advance(gid int) (float64, bool) {
	_, w, _, err := f.run(gid)
	return w, err == nil
}

// run interprets a charstring: its outline and advance in text space, and the operators it took.
func (f *cffFont) run(gid int) (*geom.Path, float64, int, error) {
	if gid < 0 || gid >= f.charStrings.n {
		return nil, 0, 0, errGlyph
	}
	priv := f.private(gid)
	code := f.charStrings.at(gid)
	r := type2{font: f, priv: priv, width: priv.defaultWidth, maxOps: opsFor(len(code))}
	r.pen.m = priv.matrix
	err := r.run(code, 0)
	path, perr := r.pen.finish()
	if err == nil {
		err = perr
	}
	return path, float64(r.width * priv.matrix.A), r.ops, err
}

func be16(b []byte) int { return int(b[0])<<8 | int(b[1]) }

func be32(b []byte) uint32 {
	return uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
}

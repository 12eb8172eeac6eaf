package font

import (
	"fmt"
	"sync"

	"laydown/internal/geom"
)

// sfntTables cuts the table directory (OpenType specification, "Organization of an OpenType Font").
// Tables that reach past the end are cut, not refused: truncated fonts often hold every glyph used.
func sfntTables(b []byte) (map[string][]byte, error) {
	if len(b) >= 16 && string(b[:4]) == "ttcf" {
		off := int(be32(b[12:])) // the first font of a collection
		if off < 0 || off+12 > len(b) {
			return nil, fmt.Errorf("%w: empty collection", errProgram)
		}
		return sfntDirectory(b, off)
	}
	return sfntDirectory(b, 0)
}

func sfntDirectory(b []byte, at int) (map[string][]byte, error) {
	if at+12 > len(b) {
		return nil, fmt.Errorf("%w: no table directory", errProgram)
	}
	n := be16(b[at+4:])
	t := map[string][]byte{}
	for i := range n {
		e := at + 12 + 16*i
		if e+16 > len(b) {
			break
		}
		off, size := int64(be32(b[e+8:])), int64(be32(b[e+12:]))
		if off >= int64(len(b)) {
			continue
		}
		t[string(b[e:e+4])] = b[off:min(off+size, int64(len(b)))]
	}
	return t, nil
}

// parseSFNT reads TrueType and OpenType programs; one with CFF outlines and no "glyf" gives the CFF
// program with the "cmap" beside it.
func parseSFNT(b []byte) (program, error) {
	t, err := sfntTables(b)
	if err != nil {
		return nil, err
	}
	if cff, ok := t["CFF "]; ok && len(t["glyf"]) == 0 {
		f, err := parseCFF(cff)
		if err != nil {
			return nil, err
		}
		return &openTypeCFF{cffFont: f, cmaps: parseCmaps(t["cmap"])}, nil
	}
	return parseTrueType(t)
}

// openTypeCFF is a CFF program in an sfnt.
type openTypeCFF struct {
	*cffFont
	cmaps []cmapTable
}

// trueType is an sfnt with "glyf" outlines.
type trueType struct {
	n        int // glyphs
	loca     []byte
	longLoca bool
	glyf     []byte
	hmtx     []byte
	nHMtx    int
	scale    float64 // 1 / unitsPerEm
	matrix   geom.Matrix
	cmaps    []cmapTable
	post     []byte
	names    func() []string
	byName   func() map[string]int
}

func parseTrueType(t map[string][]byte) (*trueType, error) {
	head, glyf, loca := t["head"], t["glyf"], t["loca"]
	if len(head) < 52 {
		return nil, fmt.Errorf("%w: no head table", errProgram)
	}
	if len(loca) < 4 || glyf == nil {
		return nil, fmt.Errorf("%w: no glyph tables", errProgram)
	}
	f := &trueType{glyf: glyf, loca: loca, longLoca: be16(head[50:]) != 0, hmtx: t["hmtx"], post: t["post"]}
	upem := be16(head[18:])
	if upem == 0 {
		upem = 1000
	}
	f.scale = 1 / float64(upem)
	f.matrix = geom.Matrix{A: f.scale, D: f.scale}
	entry := 2
	if f.longLoca {
		entry = 4
	}
	f.n = len(loca)/entry - 1
	if maxp := t["maxp"]; len(maxp) >= 6 {
		f.n = min(f.n, be16(maxp[4:]))
	}
	if f.n <= 0 {
		return nil, fmt.Errorf("%w: no glyphs", errProgram)
	}
	if hhea := t["hhea"]; len(hhea) >= 36 {
		f.nHMtx = min(be16(hhea[34:]), len(f.hmtx)/4)
	}
	f.cmaps = parseCmaps(t["cmap"])
	f.names = sync.OnceValue(f.readPost)
	f.byName = sync.OnceValue(func() map[string]int {
		m := map[string]int{}
		for g, n := range f.names() {
			if _, seen := m[n]; n != "" && !seen && g < f.n {
				m[n] = g
			}
		}
		return m
	})
	return f, nil
}

// glyphData is the glyph's entry in "glyf"; nil when it has no outline.
func (f *trueType) glyphData(gid int) ([]byte, error) {
	if gid < 0 || gid >= f.n {
		return nil, errGlyph
	}
	var a, b int
	if f.longLoca {
		a, b = int(be32(f.loca[4*gid:])), int(be32(f.loca[4*gid+4:]))
	} else {
		a, b = 2*be16(f.loca[2*gid:]), 2*be16(f.loca[2*gid+2:])
	}
	if a == b {
		return nil, nil
	}
	if a > b || a >= len(f.glyf) {
		return nil, errGlyph
	}
	return f.glyf[a:min(b, len(f.glyf))], nil
}

// metrics gives advance and left side bearing in font units.
func (f *trueType) metrics(gid int) (adv, lsb int, ok bool) {
	if f.nHMtx == 0 || gid < 0 {
		return 0, 0, false
	}
	if gid < f.nHMtx {
		return be16(f.hmtx[4*gid:]), int(int16(be16(f.hmtx[4*gid+2:]))), true
	}
	adv = be16(f.hmtx[4*(f.nHMtx-1):])
	at := 4*f.nHMtx + 2*(gid-f.nHMtx)
	if at+2 > len(f.hmtx) {
		return adv, 0, false
	}
	return adv, int(int16(be16(f.hmtx[at:]))), true
}

func (f *trueType) numGlyphs() int { return f.n }

func (f *trueType) advance(gid int) (float64, bool) {
	if f.nHMtx == 0 || gid < 0 || gid >= f.n {
		return 0, false
	}
	adv, _, _ := f.metrics(gid)
	return float64(float64(adv) * f.scale), true
}

func (f *trueType) glyphByName(name string) (int, bool) {
	g, ok := f.byName()[name]
	return g, ok
}

// builtin is the code's glyph as 9.6.5.4 finds it for symbolic fonts.
func (f *trueType) builtin(code byte) int { return symbolicGID(f.cmaps, code, f.n) }

func (f *trueType) unicodeCmap() *cmapTable { return pickUnicode(f.cmaps) }

// readPost gives the glyph names of a "post" table of format 1 or 2.
func (f *trueType) readPost() []string {
	mac := macGlyphNames()
	if len(f.post) < 32 {
		return nil
	}
	switch be32(f.post) {
	case 0x00010000:
		return mac
	case 0x00020000:
	default:
		return nil
	}
	b := f.post[32:]
	if len(b) < 2 {
		return nil
	}
	n := min(be16(b), (len(b)-2)/2)
	var pascal []string
	for at := 2 + 2*n; at < len(b); {
		l := int(b[at])
		if at+1+l > len(b) {
			break
		}
		pascal = append(pascal, string(b[at+1:at+1+l]))
		at += 1 + l
	}
	names := make([]string, n)
	for i := range n {
		switch v := be16(b[2+2*i:]); {
		case v < len(mac):
			names[i] = mac[v]
		case v-len(mac) < len(pascal):
			names[i] = pascal[v-len(mac)]
		}
	}
	return names
}

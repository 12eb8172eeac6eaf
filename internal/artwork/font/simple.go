package font

import (
	"math"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// pdfEncoding is what the Encoding entry of a simple font says (9.6.5).
type pdfEncoding struct {
	given       bool      // there is an Encoding entry
	base        *encoding // nil = not said
	differences map[int]string
}

// name gives the glyph name for a code, "" when the dictionary does not say.
func (e *pdfEncoding) name(code int) string {
	if n, ok := e.differences[code]; ok {
		return n
	}
	if e.base != nil {
		return e.base[code]
	}
	return ""
}

func (b *builder) readEncoding() pdfEncoding {
	var e pdfEncoding
	if name, ok := b.doc.Name(b.dict["Encoding"]); ok {
		e.base, e.given = namedEncoding(string(name))
		return e
	}
	d, ok := b.doc.Dict(b.dict["Encoding"])
	if !ok {
		return e
	}
	e.given = true
	if name, ok := b.doc.Name(d["BaseEncoding"]); ok {
		e.base, _ = namedEncoding(string(name))
	}
	diffs, _ := b.doc.Array(d["Differences"])
	e.differences = map[int]string{}
	code := 0
	for _, o := range diffs {
		if n, ok := b.doc.Int(o); ok {
			code = n
			continue
		}
		if name, ok := b.doc.Name(o); ok {
			if code >= 0 && code < 256 {
				e.differences[code] = string(name)
			}
			code++
		}
	}
	return e
}

// simple reads Type 1, MMType1 and TrueType fonts (9.6).
func (b *builder) simple() {
	if v, ok := b.doc.Int(b.descriptor["Flags"]); ok {
		b.flags = v
	}
	p := b.program()
	if p == nil {
		b.substituteSimple()
		return
	}
	b.font.Embedded = true
	b.setProgram(p)
	enc := b.readEncoding()
	var gids [256]int
	var names [256]string
	switch t := p.(type) {
	case *trueType:
		gids, names = trueTypeGlyphs(t, t.cmaps, &enc, b.flags)
	case *openTypeCFF:
		if b.subtype == "TrueType" && len(t.cmaps) > 0 {
			gids, names = trueTypeGlyphs(t, t.cmaps, &enc, b.flags)
		} else {
			gids, names = namedGlyphs(t, &enc)
		}
	default:
		gids, names = namedGlyphs(p, &enc)
	}
	widths := b.readWidths()
	var table [256]Glyph
	for c := range table {
		g := Glyph{Code: uint32(c), Bytes: 1, ID: gids[c], Name: names[c], Space: c == 32}
		w, ok := widths.at(c)
		if !ok {
			w, _ = p.advance(max(g.ID, 0))
		}
		g.Advance = w
		table[c] = g
	}
	b.font.simple = &table
}

// namedGlyphs encodes Type 1 and CFF programs: names from the dictionary, or the program's own
// encoding where the dictionary does not say (9.6.5.2).
func namedGlyphs(p program, enc *pdfEncoding) (gids [256]int, names [256]string) {
	notdef := -1
	if g, ok := p.glyphByName(".notdef"); ok {
		notdef = g
	}
	cff, _ := p.(*cffFont)
	if o, ok := p.(*openTypeCFF); ok {
		cff = o.cffFont
	}
	for c := range gids {
		name := enc.name(c)
		gid := -1
		switch {
		case cff != nil && cff.isCID: // has no names; codes can only be CIDs
			gid = cff.gidFromCID(c)
		case name != "":
			gid = glyphByAnyName(p, name)
			// A base encoding may be a producer's guess; the program knows its own codes.
			if _, explicit := enc.differences[c]; gid < 0 && !explicit {
				gid = p.builtin(byte(c))
			}
		case enc.base == nil || name == "":
			gid = p.builtin(byte(c))
		}
		if gid < 0 && !isSpaceName(name) {
			gid = notdef
		}
		if name == "" {
			name = builtinName(p, gid)
		}
		gids[c], names[c] = gid, name
	}
	return gids, names
}

func isSpaceName(name string) bool {
	return name == "space" || name == "nbspace" || name == "nonbreakingspace" || name == "uni00A0" || name == "uni0020"
}

func builtinName(p program, gid int) string {
	switch t := p.(type) {
	case *type1Font:
		if gid >= 0 && gid < len(t.names) {
			return t.names[gid]
		}
	case *cffFont:
		return t.glyphName(gid)
	case *openTypeCFF:
		return t.glyphName(gid)
	}
	return ""
}

// glyphByAnyName looks a name up, then other names for the same character.
func glyphByAnyName(p program, name string) int {
	if g, ok := p.glyphByName(name); ok {
		return g
	}
	for _, other := range nameVariants[name] {
		if g, ok := p.glyphByName(other); ok {
			return g
		}
	}
	return -1
}

// nameVariants lists names that fonts and encodings use for one another.
var nameVariants = map[string][]string{
	"nbspace": {"space"}, "nonbreakingspace": {"space"}, "sfthyphen": {"hyphen"}, "softhyphen": {"hyphen"},
	"mu": {"mu1", "uni00B5", "uni03BC"}, "mu1": {"mu"}, "Omega": {"Ohm", "uni2126", "Omegagreek"}, "Ohm": {"Omega"},
	"Delta": {"increment", "uni2206", "Deltagreek"}, "increment": {"Delta"},
	"fi": {"f_i"}, "fl": {"f_l"}, "ff": {"f_f"}, "ffi": {"f_f_i"}, "ffl": {"f_f_l"},
	"f_i": {"fi"}, "f_l": {"fl"}, "f_f": {"ff"}, "f_f_i": {"ffi"}, "f_f_l": {"ffl"},
	"middot": {"periodcentered"}, "periodcentered": {"middot"}, "macron": {"overscore"}, "overscore": {"macron"},
	"Tcommaaccent": {"Tcedilla"}, "tcommaaccent": {"tcedilla"}, "Tcedilla": {"Tcommaaccent"}, "tcedilla": {"tcommaaccent"},
	"Dcroat": {"Dslash"}, "dcroat": {"dmacron"}, "Euro": {"euro", "uni20AC"}, "quotesingle": {"quotesingle.alt"},
}

// trueTypeGlyphs encodes TrueType programs by 9.6.5.4. Where the clause is at odds with itself (an
// Encoding in a symbolic font) a Unicode subtable decides for names, as readers do.
func trueTypeGlyphs(p program, cmaps []cmapTable, enc *pdfEncoding, flags int) (gids [256]int, names [256]string) {
	n := p.numGlyphs()
	symbolic := flags&flagSymbolic != 0 && flags&flagNonsymbolic == 0
	uni := pickUnicode(cmaps)
	byName := enc.given && uni != nil || !symbolic
	for c := range gids {
		name := enc.name(c)
		if name == "" && (enc.given || !symbolic) {
			name = standardEncoding()[c] // "any undefined entries are filled using StandardEncoding"
		}
		gid := -1
		if byName {
			if name != "" {
				gid = namedGID(p, cmaps, name)
			}
			if _, known := runeFromName(name); gid < 0 && (uni == nil || !known) {
				gid = symbolicGID(cmaps, byte(c), n)
			}
		} else {
			gid = symbolicGID(cmaps, byte(c), n)
			if gid < 0 && uni != nil {
				if g := uni.lookup(uint32(c)); g > 0 && g < n {
					gid = g
				}
			}
			if gid < 0 && name != "" {
				gid = namedGID(p, cmaps, name)
			}
		}
		if gid < 0 && len(cmaps) == 0 && c < n {
			gid = c // no way from codes to glyphs but the index itself
		}
		if gid < 0 && !isSpaceName(name) {
			gid = 0
		}
		gids[c], names[c] = gid, name
	}
	return gids, names
}

// simpleWidths is the Widths entry with its neighbours (9.6.2, Table 109).
type simpleWidths struct {
	first   int
	widths  []float64 // NaN = not a number in the file
	missing float64
}

// at gives the advance of a code in text space; ok is false when the dictionary has no Widths.
func (w *simpleWidths) at(code int) (float64, bool) {
	if w.widths == nil {
		return 0, false
	}
	if i := code - w.first; i >= 0 && i < len(w.widths) {
		if v := w.widths[i]; !math.IsNaN(v) {
			return v / 1000, true
		}
	}
	return w.missing / 1000, true
}

func (b *builder) readWidths() simpleWidths {
	var w simpleWidths
	w.first, _ = b.doc.Int(b.dict["FirstChar"])
	w.missing, _ = b.doc.Num(b.descriptor["MissingWidth"])
	if a, ok := b.doc.Array(b.dict["Widths"]); ok && len(a) > 0 {
		w.widths = make([]float64, min(len(a), 256))
		for i := range w.widths {
			v, ok := b.doc.Num(a[i])
			if !ok || math.Abs(v) > 1e7 {
				v = math.NaN()
			}
			w.widths[i] = v
		}
	}
	return w
}

// substituteSimple draws with fonts that travel with the program, each glyph stretched to the width
// the file gives, so that lines keep their length.
func (b *builder) substituteSimple() {
	b.readStyle()
	widths := b.readWidths()
	if widths.fixedPitch() {
		b.flags |= flagFixedPitch
	}
	family, style := styleOf(b.font.Name, b.flags)
	t := substitutes[family][style]()
	b.font.prog, b.font.Kind = t, TrueTypeProgram
	enc := b.readEncoding()
	base := standardEncoding()
	if b.subtype == "TrueType" {
		base = winAnsiEncoding()
	}
	runeOf := func(_ int, name string) (rune, bool) { return runeFromName(name) }
	sign := signFontNamed(b.font.Name)
	if sign != nil {
		t, runeOf = sign.draws(), sign.runeOf
	}
	var table [256]Glyph
	var marks [256]variant
	for c := range table {
		name := enc.name(c)
		_, explicit := enc.differences[c]
		switch {
		case sign != nil && sign.base != nil && !explicit:
			name = sign.base[c]
		case name == "" && enc.base == nil:
			name = base[c]
		}
		g := Glyph{Code: uint32(c), Bytes: 1, ID: c, Name: name, Space: c == 32}
		m := variant{from: t, gid: -1, sx: 1}
		r, known := runeOf(c, name)
		if known {
			m.from, m.gid = substituteGlyph(t, r)
		} else if gid, ok := t.glyphByName(name); ok && sign == nil {
			m.gid = gid
		}
		adv, _ := m.from.advance(max(m.gid, 0))
		w, given := widths.at(c)
		switch {
		case given:
		case sign != nil && sign.widths != nil:
			w = sign.widths[c] / 1000
		default:
			w = standardAdvance(family, style, name, adv)
		}
		m.sx = stretchTo(w, adv)
		if m.gid < 0 {
			m.sx = w
		}
		g.Advance = w
		if name == "" || name == ".notdef" || known && isBlank(r) {
			g.ID = -1
		}
		table[c], marks[c] = g, m
	}
	b.font.simple = &table
	if sign == nil {
		b.font.standIn = standInOf(family, style)
		for c := range marks {
			b.font.standIn.Glyphs[c] = -1
			if marks[c].from == t {
				b.font.standIn.Glyphs[c] = marks[c].gid
			}
		}
	}
	b.font.draw = func(id int) (*geom.Path, int, error) {
		switch {
		case id > 255:
			return nil, 0, errNoGlyph
		case marks[id].gid < 0:
			return standInBox(marks[id].sx), 0, errNoGlyph
		}
		return stretched(marks[id].from, marks[id].gid, marks[id].sx)
	}
}

// stretchTo is the horizontal scale that makes an advance the wanted one; differences the eye cannot
// see and widths that say nothing leave the glyph alone.
func stretchTo(want, have float64) float64 {
	if !(want > 0 && have > 0) || math.Abs(want-have) < 0.002 {
		return 1
	}
	return min(max(want/have, 0.2), 5)
}

func stretched(p program, gid int, sx float64) (*geom.Path, int, error) {
	path, work, err := p.draw(gid)
	if path == nil || sx == 1 {
		return path, work, err
	}
	return path.Transform(geom.Scale(sx, 1)), work, err
}

// type3 reads a Type 3 font (9.6.4).
func (b *builder) type3() {
	f := b.font
	f.Embedded, f.Kind = true, Type3Procedures
	t := &Type3{Matrix: thousandth, Procs: map[string]*pdf.Stream{}}
	f.Type3 = t
	v, ok := b.doc.Nums(b.dict["FontMatrix"])
	m := geom.Matrix{}
	if ok && len(v) == 6 {
		m = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
	}
	if m.Finite() && (m != geom.Matrix{}) {
		t.Matrix = m // may be singular: then the font marks nothing, as written
	} else {
		b.reports.add(damaged(f.Name, "the scale of its drawings is missing"))
	}
	if d, ok := b.doc.Dict(b.dict["Resources"]); ok {
		t.Resources = d
	}
	enc := b.readEncoding()
	procs, _ := b.doc.Dict(b.dict["CharProcs"])
	widths := b.readWidths()
	var table [256]Glyph
	for c := range table {
		g := Glyph{Code: uint32(c), Bytes: 1, ID: -1, Name: enc.name(c), Space: c == 32}
		if _, seen := t.Procs[g.Name]; seen {
			g.ID = c
		} else if s, ok := b.doc.Stream(procs[pdf.Name(g.Name)]); ok && g.Name != "" {
			t.Procs[g.Name] = s
			g.ID = c
		}
		w, _ := widths.at(c)
		g.Advance = t.Matrix.ApplyVector(geom.Point{X: w * 1000}).X
		table[c] = g
	}
	f.simple = &table
}

package font

import (
	"math"
	"strings"
	"sync"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// Composite fonts that are not in the file. No font of Chinese, Japanese or Korean is both free and small
// enough to travel with the program, so their characters are shown as boxes of the width the file gives
// them: the reader sees where text stands, and the toner it is printed with is used and counted. What the
// substitutes do have (Latin, Greek, Cyrillic, many signs) is drawn with them.

// variant is a glyph of a substitute, or a box (gid < 0), stretched by sx, or sx wide.
type variant struct {
	from *trueType
	gid  int
	sx   float64
}

// variants numbers the variants in use, for Outline.
type variants struct {
	mu   sync.Mutex
	ids  map[variant]int
	list []variant
}

// maxVariants of one font: a code space may be large, the text of a page is not.
const maxVariants = 1 << 18

func (v *variants) id(x variant) int {
	v.mu.Lock()
	defer v.mu.Unlock()
	if id, ok := v.ids[x]; ok {
		return id
	}
	if len(v.list) >= maxVariants {
		return -1
	}
	id := len(v.list)
	v.ids[x] = id
	v.list = append(v.list, x)
	return id
}

func (v *variants) at(id int) (variant, bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if id >= len(v.list) {
		return variant{}, false
	}
	return v.list[id], true
}

// substituteComposite draws the characters of the text as far as they are known and the substitute has them.
func (b *builder) substituteComposite(c *composite, cidFont pdf.Dict) {
	f := b.font
	b.readStyle()
	family, style := styleOf(f.Name, b.flags)
	t, mono := substitutes[family][style](), substitutes[2][style]
	f.prog, f.Kind = t, TrueTypeProgram
	runeOf, ordering := b.compositeRunes(c, cidFont)
	v := &variants{ids: map[variant]int{}}
	c.gid = func(cid, code uint32, n int) int {
		w := c.width(cid) / 1000
		r, ok := runeOf(cid, code, n)
		if ok && isBlank(r) || !ok && cid == 0 {
			return -1
		}
		if ok {
			face := t
			if halfWidth(ordering, cid) {
				face = mono()
			}
			if p, gid := substituteGlyph(face, r); gid > 0 {
				adv, _ := p.advance(gid)
				return v.id(variant{p, gid, stretchTo(w, adv)})
			}
		}
		return v.id(variant{nil, -1, w})
	}
	f.draw = func(id int) (*geom.Path, int, error) {
		x, ok := v.at(id)
		switch {
		case !ok:
			return nil, 0, errNoGlyph
		case x.gid < 0:
			return standInBox(x.sx), 0, errNoGlyph
		}
		return stretched(x.from, x.gid, x.sx)
	}
}

// compositeRunes finds the characters of a composite font: by the character collection of its CIDs, by
// codes that are Unicode themselves, else by the ToUnicode CMap (9.10.2), else by the order of glyphs that
// the usual TrueType fonts begin with.
// ordering is that of the collection, "" when it is none of the published ones.
func (b *builder) compositeRunes(c *composite, cidFont pdf.Dict) (runeOf func(cid, code uint32, n int) (rune, bool), ordering string) {
	var to, collection *cmapFile
	if s, ok := b.doc.Stream(b.dict["ToUnicode"]); ok {
		to = b.streamCMap(s) // damage leaves characters out, which is reported when they are used
	}
	info, _ := b.doc.Dict(cidFont["CIDSystemInfo"])
	given, _ := b.doc.Resolve(info["Ordering"]).(pdf.String)
	for _, ordering = range []string{string(given), c.cmap.ordering, ""} {
		if collection = collectionRunes(ordering); collection != nil {
			break
		}
	}
	name, _ := b.doc.Name(b.dict["Encoding"])
	isUnicode := strings.HasPrefix(string(name), "Uni") && (strings.Contains(string(name), "UCS2") || strings.Contains(string(name), "UTF16"))
	kind, _ := b.doc.Name(cidFont["Subtype"])
	ordered := kind == "CIDFontType2" && collection == nil && usualOrder(b.font.Name)
	return func(cid, code uint32, n int) (rune, bool) {
		if collection != nil && cid > 0 {
			if v, ok := collection.cid(cid, 2); ok {
				return rune(v), true
			}
		}
		if isUnicode && n == 2 {
			return rune(code), true
		}
		if r, ok := to.runeOf(code, n); ok || !ordered {
			return r, ok
		}
		if names := macGlyphNames(); cid > 2 && int(cid) < len(names) {
			return runeFromName(names[cid])
		}
		return 0, cid > 0 && cid <= 2 // two glyphs without marks
	}, ordering
}

// halfWidth tells the CIDs of a collection whose Latin characters are all half as wide as an ideograph.
func halfWidth(ordering string, cid uint32) bool {
	r := map[string][2]uint32{"Japan1": {231, 632}, "GB1": {814, 939}, "CNS1": {13648, 13742}, "Korea1": {8094, 8190}}[ordering]
	return cid >= r[0] && cid <= r[1] && r[1] > 0
}

// usualOrder tells fonts whose glyphs are known to begin in the Macintosh order, by their names: CIDs of a font that
// is not in the file and of no character collection were glyph indices where it was made.
func usualOrder(name string) bool {
	name = strings.ReplaceAll(name, " ", "")
	for _, base := range []string{"Arial", "TimesNewRoman", "CourierNew"} {
		if strings.HasPrefix(name, base) {
			return true
		}
	}
	return false
}

// isBlank tells characters without marks: spaces of every width, controls, joiners.
func isBlank(r rune) bool {
	switch {
	case r <= ' ', r >= 0x7F && r <= 0xA0, r >= 0x2000 && r <= 0x200F, r >= 0x2028 && r <= 0x202F, r >= 0x205F && r <= 0x2064,
		r == 0x3000, r == 0xFEFF, r == 0x3164, r == 0xFFA0:
		return true
	}
	return false
}

// standInBox is a frame for a character of the given width that cannot be drawn, as tall as an ideograph and
// of about its area of marks; nil when there is no room for one.
func standInBox(width float64) *geom.Path {
	if !(width > 0.05) {
		return nil
	}
	const bottom, top = -0.06, 0.8
	width = math.Min(width, 10)
	inset, bar := math.Min(0.07, width/10), math.Min(0.07, width/8)
	p := &geom.Path{}
	p.Rect(geom.Rect{X0: inset, Y0: bottom, X1: width - inset, Y1: top})
	in := geom.Rect{X0: inset + bar, Y0: bottom + bar, X1: width - inset - bar, Y1: top - bar}
	p.Move(geom.Point{X: in.X0, Y: in.Y0}) // the other way round, for a hole
	p.Line(geom.Point{X: in.X0, Y: in.Y1})
	p.Line(geom.Point{X: in.X1, Y: in.Y1})
	p.Line(geom.Point{X: in.X1, Y: in.Y0})
	p.ClosePath()
	return p
}

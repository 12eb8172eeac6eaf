package font

import "fmt"

// Bars is how many glyphs the programs made for comparisons hold, .notdef among them.
const Bars = 6

// bar is the rectangle glyph g draws, each of its own size and place.
func bar(g int) (x, y, w, h int) { return 40 + 30*g, -50 + 60*g, 300 + 40*g, 200 + 80*g }

// BarTrueType is a TrueType program of Bars rectangles.
func BarTrueType() string {
	var glyphs [][]byte
	for g := range Bars {
		x, y, w, h := bar(g)
		glyphs = append(glyphs, cat(be(1, x, y, x+w, y+h, 3, 0), []byte{1, 1, 1, 1}, be(x, 0, w, 0), be(y, h, 0, -h)))
	}
	tables, err := sfntTables(buildTrueType(ttOptions{glyphs: glyphs, cmaps: map[[2]int][]byte{{3, 1}: cmap6('A', 1, 2, 3, 4, 5)}}))
	if err != nil {
		panic(err)
	}
	tables["head"], tables["hhea"] = wholeHead(1), wholeHhea()
	tables["maxp"] = cat(be(1, 0, Bars, 4, 1, 0, 0, 1), make([]byte, 16))
	return string(buildSFNT(tables))
}

// wholeHead and wholeHhea fill in what this package does not read, but other readers want.
func wholeHead(longLoca int) []byte {
	return cat(be(1, 0, 1, 0, 0, 0, 0x5F0F, 0x3CF5, 3, 1000), make([]byte, 16), be(0, -200, 1000, 1000, 0, 8, 2, longLoca, 0))
}

func wholeHhea() []byte {
	return cat(be(1, 0, 800, -200, 0, 1000, 0, 0, 1000, 1, 0, 0), make([]byte, 10), be(Bars))
}

// BarCFF is a CFF program of the same rectangles: CID-keyed with the CIDs given, glyph by glyph from 1
// on, or with names when there are none. wrapped puts it into an OpenType program.
func BarCFF(cids []int, wrapped bool) string {
	o := cffOptions{}
	for g := range Bars {
		x, y, w, h := bar(g)
		o.glyphs = append(o.glyphs, fmt.Sprintf("%d %d rmoveto %d vlineto %d hlineto %d vlineto endchar", x, y, h, w, -h))
	}
	o.charset = []byte{0}
	if cids != nil {
		o.charset = cat(o.charset, be(cids...))
		o.strings, o.fonts, o.private, o.fdSelect = []string{"Adobe", "Japan1"}, [][]byte{{}}, true, make([]byte, 1+Bars)
	} else {
		o.charset = cat(o.charset, be(34, 35, 36, 37, 38))
	}
	b := buildCFF(o)
	if !wrapped {
		return string(b)
	}
	hmtx := []byte{}
	for range Bars {
		hmtx = append(hmtx, be(1000, 0)...)
	}
	sfnt := buildSFNT(map[string][]byte{"CFF ": b, "head": wholeHead(0), "hhea": wholeHhea(), "hmtx": hmtx, "maxp": be(0, 0x5000, Bars),
		"cmap": cat(be(0, 1, 3, 1, 0, 12), cmap6('A', 1, 2, 3, 4, 5))})
	return "OTTO" + string(sfnt[4:])
}

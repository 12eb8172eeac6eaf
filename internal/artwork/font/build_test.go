package font

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"sort"
	"strings"

	"laydown/internal/geom"
)

// be packs whole numbers in big-endian order: int16 and uint16 values as two bytes each.
func be(v ...int) []byte {
	var b []byte
	for _, x := range v {
		b = binary.BigEndian.AppendUint16(b, uint16(x))
	}
	return b
}

func cat(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

// buildSFNT packs tables behind a directory.
func buildSFNT(tables map[string][]byte) []byte {
	var tags []string
	for t := range tables {
		tags = append(tags, t)
	}
	sort.Strings(tags)
	out := cat(be(0, 1), be(0, 0, 0))
	out = cat(be(1, 0), be(len(tags), 0, 0, 0))
	off := 12 + 16*len(tags)
	var data []byte
	for _, t := range tags {
		out = append(out, t...)
		out = binary.BigEndian.AppendUint32(out, 0)
		out = binary.BigEndian.AppendUint32(out, uint32(off+len(data)))
		out = binary.BigEndian.AppendUint32(out, uint32(len(tables[t])))
		data = append(data, tables[t]...)
		for len(data)%4 != 0 {
			data = append(data, 0)
		}
	}
	return append(out, data...)
}

// square is a TrueType glyph of one square contour from (x0, y0) with side s.
func square(x0, y0, s int) []byte {
	return cat(be(1, x0, y0, x0+s, y0+s, 3, 0), []byte{1, 1, 1, 1}, be(x0, 0, s, 0), be(y0, s, 0, -s))
}

type ttOptions struct {
	glyphs [][]byte // glyph 0 is .notdef
	lsb    []int    // nil = as drawn (0)
	adv    []int
	cmaps  map[[2]int][]byte // platform, encoding -> subtable
	names  []string          // post names
}

// buildTrueType packs glyphs into a font of 1000 units per em.
func buildTrueType(o ttOptions) []byte {
	var glyf, loca, hmtx []byte
	for i, g := range o.glyphs {
		loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
		glyf = append(glyf, g...)
		adv, lsb := 500, 0
		if len(g) >= 4 {
			lsb = int(int16(be16(g[2:])))
		}
		if o.adv != nil {
			adv = o.adv[i]
		}
		if o.lsb != nil {
			lsb = o.lsb[i]
		}
		hmtx = append(hmtx, be(adv, lsb)...)
	}
	loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
	head := make([]byte, 54)
	copy(head[18:], be(1000))
	copy(head[50:], be(1))
	hhea := make([]byte, 36)
	copy(hhea[34:], be(len(o.glyphs)))
	t := map[string][]byte{"head": head, "hhea": hhea, "maxp": be(0, 1, len(o.glyphs)), "loca": loca, "glyf": glyf, "hmtx": hmtx}
	if o.cmaps != nil {
		cm := be(0, len(o.cmaps))
		var keys [][2]int
		for k := range o.cmaps {
			keys = append(keys, k)
		}
		sort.Slice(keys, func(i, j int) bool { return keys[i][0]*100+keys[i][1] < keys[j][0]*100+keys[j][1] })
		off := 4 + 8*len(keys)
		var subs []byte
		for _, k := range keys {
			cm = append(cm, be(k[0], k[1], 0, off+len(subs))...)
			subs = append(subs, o.cmaps[k]...)
		}
		t["cmap"] = append(cm, subs...)
	}
	if o.names != nil {
		post := make([]byte, 32)
		copy(post, be(2, 0))
		post = append(post, be(len(o.names))...)
		var pascal []byte
		for i, n := range o.names {
			post = append(post, be(258+i)...)
			pascal = append(append(pascal, byte(len(n))), n...)
		}
		t["post"] = append(post, pascal...)
	}
	return buildSFNT(t)
}

// cmap6 is a format 6 subtable: glyphs for codes from first on.
func cmap6(first int, gids ...int) []byte {
	return cat(be(6, 10+2*len(gids), 0, first, len(gids)), be(gids...))
}

func encryptType1(b []byte, key uint16, random int) []byte {
	out := make([]byte, 0, len(b)+random)
	for _, p := range append(make([]byte, random), b...) {
		c := p ^ byte(key>>8)
		key = (uint16(c)+key)*52845 + 22719
		out = append(out, c)
	}
	return out
}

// charstring assembles Type 1 or Type 2 numbers and operators written as text; "o" is the table.
func charstring(src string, o map[string][]byte) []byte {
	var out []byte
	for _, w := range strings.Fields(src) {
		if op, ok := o[w]; ok {
			out = append(out, op...)
			continue
		}
		var v int
		if _, err := fmt.Sscan(w, &v); err != nil {
			panic("charstring word " + w)
		}
		out = append(out, csNumber(v)...)
	}
	return out
}

func csNumber(v int) []byte {
	switch {
	case v >= -107 && v <= 107:
		return []byte{byte(v + 139)}
	case v >= 108 && v <= 1131:
		return []byte{byte((v-108)>>8 + 247), byte(v - 108)}
	case v >= -1131 && v <= -108:
		return []byte{byte((-v-108)>>8 + 251), byte(-v - 108)}
	}
	panic("number out of the range of the test assembler")
}

var type1Ops = map[string][]byte{
	"hstem": {1}, "vmoveto": {4}, "rlineto": {5}, "hlineto": {6}, "vlineto": {7}, "rrcurveto": {8}, "closepath": {9},
	"callsubr": {10}, "return": {11}, "hsbw": {13}, "endchar": {14}, "rmoveto": {21}, "hmoveto": {22}, "vhcurveto": {30},
	"hvcurveto": {31}, "seac": {12, 6}, "sbw": {12, 7}, "div": {12, 12}, "callothersubr": {12, 16}, "pop": {12, 17},
	"setcurrentpoint": {12, 33}, "dotsection": {12, 0},
}

var type2Ops = map[string][]byte{
	"hstem": {1}, "vstem": {3}, "vmoveto": {4}, "rlineto": {5}, "hlineto": {6}, "vlineto": {7}, "rrcurveto": {8}, "callsubr": {10},
	"return": {11}, "endchar": {14}, "hstemhm": {18}, "hintmask": {19}, "rmoveto": {21}, "hmoveto": {22}, "rcurveline": {24},
	"rlinecurve": {25}, "vvcurveto": {26}, "hhcurveto": {27}, "callgsubr": {29}, "vhcurveto": {30}, "hvcurveto": {31},
	"hflex": {12, 34}, "flex": {12, 35}, "hflex1": {12, 36}, "flex1": {12, 37}, "mul": {12, 24}, "ifelse": {12, 22},
	"put": {12, 20}, "get": {12, 21}, "roll": {12, 30}, "MASK": {0x80},
}

type t1Glyph struct{ name, code string }

// buildType1 packs a Type 1 program with binary eexec.
func buildType1(encoding string, subrs []string, glyphs []t1Glyph) []byte {
	var p bytes.Buffer
	p.WriteString("dup /Private 8 dict dup begin /RD {string currentfile exch readstring pop} executeonly def /lenIV 4 def\n")
	fmt.Fprintf(&p, "/Subrs %d array\n", len(subrs))
	for i, s := range subrs {
		c := encryptType1(charstring(s, type1Ops), charstringKey, 4)
		fmt.Fprintf(&p, "dup %d %d RD %s NP\n", i, len(c), c)
	}
	fmt.Fprintf(&p, "ND 2 index /CharStrings %d dict dup begin\n", len(glyphs))
	for _, g := range glyphs {
		c := encryptType1(charstring(g.code, type1Ops), charstringKey, 4)
		fmt.Fprintf(&p, "/%s %d RD %s ND\n", g.name, len(c), c)
	}
	p.WriteString("end end readonly put noaccess put dup/FontName get exch definefont pop mark currentfile closefile\n")
	clear := "%!PS-AdobeFont-1.0: Test\n/FontName /Test def /FontMatrix [0.001 0 0 0.001 0 0] readonly def\n/Encoding " + encoding + "\ncurrentfile eexec\n"
	return cat([]byte(clear), encryptType1(p.Bytes(), eexecKey, 4), []byte("\n"+strings.Repeat("0", 64)+"\ncleartomark\n"))
}

func cffIndexBytes(items ...[]byte) []byte {
	if len(items) == 0 {
		return be(0)
	}
	out := append(be(len(items)), 2)
	off := 1
	out = append(out, be(off)...)
	for _, it := range items {
		off += len(it)
		out = append(out, be(off)...)
	}
	return cat(out, bytes.Join(items, nil))
}

func dictInt(v int) []byte { return cat([]byte{29}, be(v>>16, v&0xFFFF)) }

type cffOptions struct {
	glyphs   []string // Type 2 charstrings
	charset  []byte   // nil = ISOAdobe
	encoding []byte   // nil = standard
	strings  []string
	gsubrs   []string
	subrs    []string
	fdSelect []byte // with fonts: a CID-keyed font
	fonts    [][]byte
	private  bool   // the fonts use the Private dictionary
	top      []byte // more of the top dictionary
}

// buildCFF packs a CFF program; offsets are known because every number takes five bytes.
func buildCFF(o cffOptions) []byte {
	cs := make([][]byte, len(o.glyphs))
	for i, g := range o.glyphs {
		cs[i] = charstring(g, type2Ops)
	}
	index := func(src []string, f func(string) []byte) []byte {
		items := make([][]byte, len(src))
		for i, s := range src {
			items[i] = f(s)
		}
		return cffIndexBytes(items...)
	}
	code := func(s string) []byte { return charstring(s, type2Ops) }
	str := index(o.strings, func(s string) []byte { return []byte(s) })
	gsubrs := index(o.gsubrs, code)
	charStrings := cffIndexBytes(cs...)
	private := cat(dictInt(100), []byte{20}, dictInt(50), []byte{21}, dictInt(18), []byte{19}) // defaults 100 and 50, Subrs right after
	subrs := index(o.subrs, code)
	build := func(at map[string]int) []byte {
		top := append([]byte(nil), o.top...)
		if o.fonts != nil {
			top = cat(dictInt(391), dictInt(392), dictInt(0), []byte{12, 30}, top) // ROS comes first
			top = cat(top, dictInt(at["fonts"]), []byte{12, 36}, dictInt(at["fdSelect"]), []byte{12, 37})
		} else {
			top = cat(top, dictInt(len(private)), dictInt(at["private"]), []byte{18})
		}
		if o.charset != nil {
			top = cat(top, dictInt(at["charset"]), []byte{15})
		}
		if o.encoding != nil {
			top = cat(top, dictInt(at["encoding"]), []byte{16})
		}
		top = cat(top, dictInt(at["charStrings"]), []byte{17})
		out := cat([]byte{1, 0, 4, 2}, cffIndexBytes([]byte("Test")), cffIndexBytes(top), str, gsubrs)
		put := func(name string, b []byte) {
			at[name] = len(out)
			out = append(out, b...)
		}
		put("charStrings", charStrings)
		put("charset", o.charset)
		put("encoding", o.encoding)
		put("private", private)
		out = append(out, subrs...)
		fonts := append([][]byte(nil), o.fonts...)
		for i := range fonts {
			if o.private {
				fonts[i] = cat(fonts[i], dictInt(len(private)), dictInt(at["private"]), []byte{18})
			}
		}
		put("fonts", cffIndexBytes(fonts...))
		put("fdSelect", o.fdSelect)
		return out
	}
	at := map[string]int{}
	build(at)
	return build(at)
}

// pathText writes a path in thousandths, for comparing at a glance.
func pathText(p *geom.Path) string {
	if p == nil {
		return "nil"
	}
	var b strings.Builder
	at := 0
	point := func() {
		fmt.Fprintf(&b, " %g,%g", round3(p.Points[at].X*1000), round3(p.Points[at].Y*1000))
		at++
	}
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			b.WriteString(" M")
			point()
		case geom.LineTo:
			b.WriteString(" L")
			point()
		case geom.CubicTo:
			b.WriteString(" C")
			point()
			point()
			point()
		case geom.Close:
			b.WriteString(" Z")
		}
	}
	return strings.TrimSpace(b.String())
}

func round3(v float64) float64 {
	return float64(int64(v*1000+1000000.5)-1000000) / 1000
}

func repeatWords(s string, n int) string { return strings.TrimSpace(strings.Repeat(s+" ", n)) }

// csBias writes the operand that calls subroutine i of a short list.
func csBias(i int) string { return fmt.Sprint(i - 107) }

// outlineOf draws a glyph of a program.
func outlineOf(p program, gid int) (*geom.Path, error) {
	path, _, err := p.draw(gid)
	return path, err
}

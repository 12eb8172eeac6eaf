package font

import (
	_ "embed"
	"strconv"
	"strings"
	"sync"
)

// Glyph names stand for characters by convention: the Adobe Glyph List (BSD-3-Clause, with its notice) is
// carried whole. extraGlyphNames is what producers use beside it, and the characters that have since been given
// to names it put into the private area. The uniXXXX forms are computed.
//
//go:embed glyphlist.txt
var glyphList string

const extraGlyphNames = `
hyphenminus=002D longst=FB05 st=FB06 f_i=FB01 f_l=FB02 f_f=FB00 f_f_i=FB03 f_f_l=FB04 quoterightreversed=201B prime=2032 fraction1=2044
rupee=20A8 newsheqel=20AA dotlessj=0237 commaaccent=0326 zerowidthjoiner=200D nonbreakingspace=00A0 softhyphen=00AD
registerserif=00AE copyrightserif=00A9 trademarkserif=2122 registersans=00AE copyrightsans=00A9 trademarksans=2122 Ohm=2126
arrowvertex=2502 arrowhorizex=2500 radicalex=203E integralex=23AE
parenlefttp=239B parenleftex=239C parenleftbt=239D parenrighttp=239E parenrightex=239F parenrightbt=23A0
bracketlefttp=23A1 bracketleftex=23A2 bracketleftbt=23A3 bracketrighttp=23A4 bracketrightex=23A5 bracketrightbt=23A6
bracelefttp=23A7 braceleftmid=23A8 braceleftbt=23A9 braceex=23AA bracerighttp=23AB bracerightmid=23AC bracerightbt=23AD`

// glyphRunes maps glyph names to characters; names of several characters are left out.
var glyphRunes = sync.OnceValue(func() map[string]rune {
	m := make(map[string]rune, 4500)
	set := func(name, hex string) {
		if v, err := strconv.ParseUint(hex, 16, 32); err == nil {
			m[name] = rune(v)
		}
	}
	for line := range strings.SplitSeq(glyphList, "\n") {
		if name, hex, ok := strings.Cut(line, ";"); ok && line[0] != '#' {
			set(name, hex)
		}
	}
	for w := range strings.FieldsSeq(extraGlyphNames) {
		name, hex, _ := strings.Cut(w, "=")
		set(name, hex)
	}
	return m
})

// runeFromName gives the character a glyph name stands for: uniXXXX and uXXXX to uXXXXXX forms, the
// conventional names, and either with a suffix after a full stop.
func runeFromName(name string) (rune, bool) {
	if r, ok := glyphRunes()[name]; ok {
		return r, true
	}
	if hex, ok := strings.CutPrefix(name, "uni"); ok && len(hex) >= 4 {
		if v, err := strconv.ParseUint(hex[:4], 16, 32); err == nil && (v < 0xD800 || v > 0xDFFF) {
			return rune(v), true
		}
	}
	if hex, ok := strings.CutPrefix(name, "u"); ok && len(hex) >= 4 && len(hex) <= 6 {
		if v, err := strconv.ParseUint(hex, 16, 32); err == nil && v <= 0x10FFFF && (v < 0xD800 || v > 0xDFFF) {
			return rune(v), true
		}
	}
	if i := strings.IndexByte(name, '.'); i > 0 {
		return runeFromName(name[:i])
	}
	return 0, false
}

// gidFromName reads the names that producers invent for glyphs by index: g12, gid12, glyph12, cid12,
// index12. ok only below n.
func gidFromName(name string, n int) (int, bool) {
	for _, prefix := range []string{"glyph", "gid", "cid", "index", "g", "G"} {
		if s, ok := strings.CutPrefix(name, prefix); ok {
			if v, err := strconv.Atoi(s); err == nil && v >= 0 && v < n {
				return v, true
			}
		}
	}
	return 0, false
}

package font

import (
	"strings"
	"sync"

	"github.com/go-fonts/dejavu/dejavusans"
)

// Fonts of signs that are not in the file: their codes stand for no letters, whatever encoding is named.

// signs is asked for characters that the substitutes lack: dingbats, mathematics, arrows.
var signs = sync.OnceValue(func() *trueType {
	p, err := parseProgram(dejavusans.TTF)
	if err != nil {
		panic("font of signs: " + err.Error())
	}
	return p.(*trueType)
})

// substituteGlyph finds a character in a substitute, or among the signs; gid is -1 when neither has it.
func substituteGlyph(t *trueType, r rune) (p *trueType, gid int) {
	for _, p := range []func() *trueType{func() *trueType { return t }, signs} {
		for _, alt := range runeVariants(r) {
			if gid := p().unicodeCmap().lookup(uint32(alt)); gid > 0 {
				return p(), gid
			}
		}
	}
	return t, -1
}

// signFont is a font of signs.
type signFont struct {
	base   *encoding     // its own; nil = has no glyph names
	widths *[256]float64 // of the standard fonts, which files may leave out; nil = not known
	draws  func() *trueType
	runeOf func(code int, name string) (rune, bool)
}

// signFontNamed finds a font of signs by the usual spellings of its name; nil is a font of letters.
func signFontNamed(name string) *signFont {
	base, _, _ := strings.Cut(strings.ReplaceAll(strings.ReplaceAll(name, " ", ""), "-", ","), ",")
	switch base {
	case "Symbol", "SymbolMT", "SymbolPS":
		return &signFont{symbolEncoding(), symbolWidths(), substitutes[1][0], func(_ int, name string) (rune, bool) {
			r, ok := runeFromName(name)
			if r == 0x03C6 || r == 0x03D5 { // Unicode once exchanged the shapes, the font has not
				r ^= 0x03C6 ^ 0x03D5
			}
			return r, ok
		}}
	case "ZapfDingbats", "ITCZapfDingbats", "ZapfDingbatsITC":
		return &signFont{zapfDingbatsEncoding(), zapfDingbatsWidths(), signs, func(_ int, name string) (rune, bool) {
			if r, ok := dingbatRunes()[name]; ok {
				return r, true
			}
			return runeFromName(name)
		}}
	case "Wingdings":
		return &signFont{nil, nil, signs, func(code int, _ string) (rune, bool) {
			r := wingdingRunes()[code]
			return r, r != 0
		}}
	case "Wingdings2", "Wingdings3", "Webdings", "Marlett":
		return &signFont{nil, nil, signs, func(code int, _ string) (rune, bool) { return ' ', code == ' ' }}
	}
	return nil
}

// dingbatRune is the character of a ZapfDingbats code: the block at U+2700 repeats the font's order, but for
// what Unicode had already, arrows, card suits and digits in circles among it.
func dingbatRune(code int) (rune, bool) {
	name := ""
	if code >= 0 && code < 256 {
		name = zapfDingbatsEncoding()[code]
	}
	switch {
	case name == "":
		return 0, false
	case code == ' ':
		return ' ', true
	case code >= 0xAC && code <= 0xB5:
		return 0x2460 + rune(code-0xAC), true
	}
	if r, ok := map[int]rune{0x25: 0x260E, 0x2A: 0x261B, 0x2B: 0x261E, 0x48: 0x2605, 0x6C: 0x25CF, 0x6E: 0x25A0, 0x73: 0x25B2, 0x74: 0x25BC,
		0x75: 0x25C6, 0x77: 0x25D7, 0xA8: 0x2663, 0xA9: 0x2666, 0xAA: 0x2665, 0xAB: 0x2660, 0xD5: 0x2192, 0xD6: 0x2194, 0xD7: 0x2195}[code]; ok {
		return r, true
	}
	switch {
	case code < 0x80:
		return 0x2700 + rune(code-0x20), true
	case code < 0xA0:
		return 0x2768 + rune(code-0x80), true
	}
	return 0x2761 + rune(code-0xA1), true
}

// dingbatRunes maps the glyph names of ZapfDingbats.
var dingbatRunes = sync.OnceValue(func() map[string]rune {
	m := map[string]rune{}
	for c, n := range zapfDingbatsEncoding() {
		if r, ok := dingbatRune(c); ok {
			m[n] = r
		}
	}
	return m
})

// wingdings are the characters of the codes most used of a font of pictures that office programs leave out of
// files; a number sets the code, every character takes the next. Their other pictures are no characters that a
// font here has.
const wingdings = `33 ✏ ✂ ✁ 69 ☜ ☞ ☝ ☟ ✋ ☺ 76 ☹ 108 ● 110 ■ □ 113 ❑ ❒ ◆ ◆ ◆ ❖ ◆ ⌧ 128 ⓪ ① ② ③ ④ ⑤ ⑥ ⑦ ⑧ ⑨ ⑩ 140 ❶ ❷ ❸ ❹ ❺ ❻ ❼ ❽ ❾ ❿
158 · • ▪ ○ 167 ▪ □ 216 ➢ 223 ← → ↑ ↓ ↖ ↗ ↙ ↘ 232 ➔ 239 ⇦ ⇨ ⇧ ⇩ 251 ✗ ✓ ☒ ☑`

var wingdingRunes = sync.OnceValue(func() *[256]rune {
	t := [256]rune{' ': ' '}
	for code, s := range parseEncoding(wingdings) {
		for _, r := range s {
			t[code] = r
		}
	}
	return &t
})

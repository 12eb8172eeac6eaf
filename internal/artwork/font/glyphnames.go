package font

import (
	"strconv"
	"strings"
	"sync"

	"github.com/go-fonts/liberation/liberationserifregular"
)

// Glyph names stand for characters by convention only. The names of the substitute fonts' own
// glyphs, beside their "cmap", already give five hundred of the conventional ones; what they
// spell otherwise or lack is listed here, and the uniXXXX forms are computed.

const extraGlyphNames = `
nbspace=00A0 nonbreakingspace=00A0 sfthyphen=00AD softhyphen=00AD hyphenminus=002D middot=00B7 overscore=00AF
Euro=20AC euro=20AC mu=00B5 mu1=00B5 Delta=2206 Omega=2126 Ohm=2126 increment=2206 fi=FB01 fl=FB02 ff=FB00 ffi=FB03 ffl=FB04
longst=FB05 st=FB06 dotlessj=0237 fraction=2044 minus=2212 bullet=2022 ellipsis=2026 apple=F8FF
f_i=FB01 f_l=FB02 f_f=FB00 f_f_i=FB03 f_f_l=FB04
Tcedilla=0162 tcedilla=0163 Gcedilla=0122 gcedilla=0123 Kcedilla=0136 kcedilla=0137 Lcedilla=013B lcedilla=013C
Ncedilla=0145 ncedilla=0146 Rcedilla=0156 rcedilla=0157 Dslash=0110 dmacron=0111 Odblacute=0150 odblacute=0151
Udblacute=0170 udblacute=0171 Idot=0130 Gdot=0120 gdot=0121 Cdot=010A cdot=010B Edot=0116 edot=0117 Zdot=017B zdot=017C
Ldotaccent=013F ldotaccent=0140 quoteleftreversed=201B quotereversed=201B quoterightreversed=201B onedotenleader=2024
twodotenleader=2025 horizontalbar=2015 afii00208=2015 underscoredbl=2017 minute=2032 second=2033 prime=2032 primereversed=2035
exclamdbl=203C overline=203E fraction1=2044 angleleft=2329 angleright=232A heart=2665 club=2663 diamond=2666 spade=2660
arrowleft=2190 arrowup=2191 arrowright=2192 arrowdown=2193 arrowboth=2194 arrowupdn=2195 arrowdblleft=21D0 arrowdblup=21D1
arrowdblright=21D2 arrowdbldown=21D3 arrowdblboth=21D4 carriagereturn=21B5 arrowvertex=23D0 arrowhorizex=23AF universal=2200 existential=2203 emptyset=2205
gradient=2207 element=2208 notelement=2209 suchthat=220B product=220F summation=2211 asteriskmath=2217 radical=221A
proportional=221D infinity=221E angle=2220 logicaland=2227 logicalor=2228 intersection=2229 union=222A integral=222B
therefore=2234 similar=223C congruent=2245 approxequal=2248 notequal=2260 equivalence=2261 lessequal=2264 greaterequal=2265
propersubset=2282 propersuperset=2283 notsubset=2284 reflexsubset=2286 reflexsuperset=2287 circleplus=2295 circlemultiply=2297
perpendicular=22A5 dotmath=22C5 lozenge=25CA aleph=2135 Ifraktur=2111 Rfraktur=211C weierstrass=2118 Upsilon1=03D2
theta1=03D1 phi1=03D5 omega1=03D6 sigma1=03C2 sigmafinal=03C2 Deltagreek=0394 Omegagreek=03A9 mugreek=03BC
registerserif=00AE copyrightserif=00A9 trademarkserif=2122 registersans=00AE copyrightsans=00A9 trademarksans=2122
integraltp=2320 integralbt=2321 partialdiff=2202 estimated=212E oneeighth=215B threeeighths=215C fiveeighths=215D
seveneighths=215E onethird=2153 twothirds=2154 careof=2105 numero=2116 afii61352=2116 afii61248=2105 afii61289=2113
zerosuperior=2070 foursuperior=2074 fivesuperior=2075 sixsuperior=2076 sevensuperior=2077 eightsuperior=2078
ninesuperior=2079 nsuperior=207F zeroinferior=2080 oneinferior=2081 twoinferior=2082 threeinferior=2083 fourinferior=2084
fiveinferior=2085 sixinferior=2086 seveninferior=2087 eightinferior=2088 nineinferior=2089
franc=20A3 lira=20A4 peseta=20A7 dong=20AB colonmonetary=20A1 rupee=20A8 won=20A9 newsheqel=20AA
checkmark=2713 blacksquare=25A0 filledbox=25A0 H22073=25A1 H18543=25AA H18551=25AB filledrect=25AC triagup=25B2 triagrt=25BA
triagdn=25BC triaglf=25C4 circle=25CB H18533=25CF invbullet=25D8 invcircle=25D9 openbullet=25E6 smileface=263A
invsmileface=263B sun=263C female=2640 male=2642 musicalnote=266A musicalnotedbl=266B
afii10145=040F afii10193=045F afii10050=0490 afii10098=0491 Acyrillic=0410
commaaccent=0326 dblgravecmb=030F gravecmb=0300 acutecmb=0301 circumflexcmb=0302 tildecmb=0303 macroncmb=0304 brevecmb=0306
dotaccentcmb=0307 dieresiscmb=0308 ringcmb=030A hungarumlautcmb=030B caroncmb=030C zerowidthspace=200B zerowidthjoiner=200D
zerowidthnonjoiner=200C afii61664=200C afii301=200D afii299=200E afii300=200F`

var extraRunes = sync.OnceValue(func() map[string]rune {
	m := map[string]rune{}
	for _, w := range strings.Fields(extraGlyphNames) {
		n, hex, _ := strings.Cut(w, "=")
		v, err := strconv.ParseUint(hex, 16, 32)
		if err != nil {
			panic("glyph name table: " + w)
		}
		m[n] = rune(v)
	}
	// The Cyrillic names count through the alphabet with Io inserted after Ie.
	set := func(first int, runes string) {
		for i, r := range []rune(runes) {
			m["afii"+strconv.Itoa(first+i)] = r
		}
	}
	set(10017, "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯ")
	set(10051, "ЂЃЄЅІЇЈЉЊЋЌЎ")
	set(10065, "абвгдеёжзийклмнопрстуфхцчшщъыьэюя")
	set(10099, "ђѓєѕіїјљњћќў")
	return m
})

// substituteRunes maps the glyph names of a substitute font through its "cmap".
var substituteRunes = sync.OnceValue(func() map[string]rune {
	m := map[string]rune{}
	p, err := parseProgram(liberationserifregular.TTF)
	if err != nil {
		return m
	}
	t := p.(*trueType)
	uni := t.unicodeCmap()
	if uni == nil {
		return m
	}
	for r := rune(0x20); r <= 0xFB4F; r++ {
		if r == 0x2800 { // nothing between the dingbats and the presentation forms
			r = 0xFB00
		}
		g := uni.lookup(uint32(r))
		if g == 0 || g >= len(t.names()) {
			continue
		}
		n := t.names()[g]
		if _, seen := m[n]; !seen && n != "" && n != ".notdef" {
			m[n] = r
		}
	}
	return m
})

// runeFromName gives the character a glyph name stands for: uniXXXX and uXXXX to uXXXXXX forms, the
// conventional names, and either with a suffix after a full stop.
func runeFromName(name string) (rune, bool) {
	if r, ok := extraRunes()[name]; ok {
		return r, true
	}
	if r, ok := substituteRunes()[name]; ok {
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

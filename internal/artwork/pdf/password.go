package pdf

import (
	"strings"
	"sync"

	"golang.org/x/text/unicode/norm"
)

// spellings gives the byte strings a password may have been used as when the file was made, the
// one the standard asks for first.
func (s *security) spellings(pw string) []string {
	var out []string
	add := func(p string) {
		for _, have := range out {
			if have == p {
				return
			}
		}
		if p != "" {
			out = append(out, p)
		}
	}
	if s.r >= 5 {
		add(saslPrep(pw))
	} else if p, ok := docEncoded(pw); ok {
		add(p)
	}
	add(pw) // many writers take the bytes as they come
	return out
}

// saslPrep maps a password as RFC 4013 asks (Algorithm 2.A): odd spaces become spaces, what is
// mapped to nothing goes, and compatibility forms are composed (NFKC).
func saslPrep(pw string) string {
	return norm.NFKC.String(strings.Map(func(r rune) rune {
		switch {
		case r == 0xA0, r == 0x1680, r >= 0x2000 && r <= 0x200B, r == 0x202F, r == 0x205F, r == 0x3000: // RFC 3454 C.1.2
			return ' '
		case r == 0xAD, r == 0x34F, r == 0x1806, r >= 0x180B && r <= 0x180D, r >= 0x200C && r <= 0x200D, r == 0x2060,
			r >= 0xFE00 && r <= 0xFE0F, r == 0xFEFF: // RFC 3454 B.1
			return -1
		}
		return r
	}, pw))
}

// docSpecials are the characters of PDFDocEncoding outside ASCII and Latin-1 (Annex D.3).
var docSpecials = sync.OnceValue(func() map[rune]byte {
	m := map[rune]byte{0x20AC: 0xA0}
	for i, r := range []rune{0x2D8, 0x2C7, 0x2C6, 0x2D9, 0x2DD, 0x2DB, 0x2DA, 0x2DC} {
		m[r] = byte(0x18 + i)
	}
	for i, r := range []rune{0x2022, 0x2020, 0x2021, 0x2026, 0x2014, 0x2013, 0x192, 0x2044, 0x2039, 0x203A, 0x2212, 0x2030, 0x201E,
		0x201C, 0x201D, 0x2018, 0x2019, 0x201A, 0x2122, 0xFB01, 0xFB02, 0x141, 0x152, 0x160, 0x178, 0x17D, 0x131, 0x142, 0x153, 0x161, 0x17E} {
		m[r] = byte(0x80 + i)
	}
	return m
})

// docEncoded writes text in PDFDocEncoding; ok is false when a character is not in it.
func docEncoded(text string) (string, bool) {
	b := make([]byte, 0, len(text))
	for _, r := range text {
		c, special := docSpecials()[r]
		switch {
		case special:
			b = append(b, c)
		case r < 0x18 || r >= 0x20 && r < 0x7F || r > 0xA0 && r <= 0xFF && r != 0xAD:
			b = append(b, byte(r))
		default:
			return "", false
		}
	}
	return string(b), true
}

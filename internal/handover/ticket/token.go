package ticket

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Tokens maps names of colourants to NMTOKENs (XML 1.0, 2.3), which have no blanks, slashes or parentheses. Different names have
// different tokens, and the order of the names does not matter. A name that is a plain token stays as it is; of others what
// cannot stand becomes "_", and where that makes two alike, both get digits of the hash of the name behind them.
//
// Only ASCII is used, for not every reader knows the other letters XML allows.
func Tokens(names []string) map[string]string {
	out := map[string]string{}
	taken := map[string]bool{}
	plain := map[string][]string{} // token -> names that had to be changed
	for _, n := range names {
		if _, ok := out[n]; ok {
			continue
		}
		t := token(n)
		if t == n {
			out[n], taken[n] = n, true
			continue
		}
		if !slices.Contains(plain[t], n) {
			plain[t] = append(plain[t], n)
		}
	}
	var crowded []string
	for t, list := range plain {
		if len(list) == 1 && !taken[t] {
			out[list[0]] = t
			continue
		}
		crowded = append(crowded, list...)
	}
	for _, t := range out {
		taken[t] = true
	}
	slices.Sort(crowded)
	const whole = 2 * sha256.Size
	for digits := 4; len(crowded) > 0; digits += 4 {
		next := map[string][]string{}
		for _, n := range crowded {
			sum := sha256.Sum256([]byte(n))
			t := token(n) + "_" + hex.EncodeToString(sum[:])[:min(digits, whole)] + strings.Repeat("_", max(0, digits-whole))
			next[t] = append(next[t], n)
		}
		crowded = crowded[:0]
		var now []string
		for t, list := range next {
			if len(list) == 1 && !taken[t] {
				out[list[0]] = t
				now = append(now, t)
				continue
			}
			crowded = append(crowded, list...)
		}
		for _, t := range now {
			taken[t] = true
		}
		slices.Sort(crowded)
	}
	return out
}

// spelt are letters that are usually written as two where they are missing, and letters that no decomposition leads to ASCII.
var spelt = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "Ä", "Ae", "Ö", "Oe", "Ü", "Ue", "ß", "ss", "æ", "ae", "Æ", "Ae",
	"ø", "oe", "Ø", "Oe", "å", "aa", "Å", "Aa", "œ", "oe", "Œ", "Oe", "þ", "th", "Þ", "Th", "ð", "d", "Ð", "D", "ł", "l", "Ł", "L", "đ", "d", "Đ", "D")

// token makes an NMTOKEN of any text.
func token(s string) string {
	if utf8.ValidString(s) {
		s = norm.NFD.String(spelt.Replace(norm.NFC.String(s)))
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '-', r == '_':
			b.WriteRune(r)
		case unicode.Is(unicode.Mn, r): // the accent of the letter before
		default:
			b.WriteByte('_')
		}
	}
	if b.Len() == 0 {
		return "_"
	}
	return b.String()
}

// Token makes an NMTOKEN of a text that need not differ from others: of a job's name, say.
func Token(s string) string { return token(s) }

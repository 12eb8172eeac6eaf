package ticket

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
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
	same := func(t string) string { return t }
	return apart(names, token, same, func(n string) bool { return token(n) == n })
}

// FileNames maps names of colourants to names of files that every system takes: as Tokens, but they differ also where capitals do not
// count, are at most maxFileName signs long, and are none that stand for devices.
func FileNames(names []string) map[string]string {
	return apart(names, func(n string) string {
		t := strings.Trim(token(n), ".")
		if t = t[:min(len(t), maxFileName)]; t == "" || Device(t) {
			t += "_"
		}
		return t
	}, strings.ToLower, func(string) bool { return false })
}

// maxFileName leaves room for a folder and digits in what unpacked archives may name.
const maxFileName = 80

// Device reports names of files that mean a device on some systems, whatever extension they have.
func Device(name string) bool {
	name, _, _ = strings.Cut(strings.ToLower(name), ".")
	switch name {
	case "con", "prn", "aux", "nul":
		return true
	}
	return len(name) == 4 && (name[:3] == "com" || name[:3] == "lpt") && name[3] >= '0' && name[3] <= '9'
}

// apart gives each name what made makes of it, with digits of the hash of the name behind where two would be alike by fold. One that
// is plain stays as it is.
func apart(names []string, made, fold func(string) string, plain func(string) bool) map[string]string {
	out := map[string]string{}
	taken := map[string]bool{}       // by fold
	changed := map[string][]string{} // by fold: names that have to be changed
	for _, n := range names {
		if _, ok := out[n]; ok {
			continue
		}
		if plain(n) {
			out[n], taken[fold(n)] = n, true
			continue
		}
		if f := fold(made(n)); !slices.Contains(changed[f], n) {
			changed[f] = append(changed[f], n)
		}
	}
	var crowded []string
	for f, list := range changed {
		if len(list) == 1 && !taken[f] {
			out[list[0]], taken[f] = made(list[0]), true
			continue
		}
		crowded = append(crowded, list...)
	}
	slices.Sort(crowded)
	const whole = 2 * sha256.Size
	for digits := 4; len(crowded) > 0; digits += 4 {
		next := map[string][]string{}
		for _, n := range crowded {
			sum := sha256.Sum256([]byte(n))
			t := made(n) + "_" + hex.EncodeToString(sum[:])[:min(digits, whole)] + strings.Repeat("_", max(0, digits-whole))
			next[t] = append(next[t], n)
		}
		crowded = crowded[:0]
		for _, t := range slices.Sorted(maps.Keys(next)) {
			if list := next[t]; len(list) == 1 && !taken[fold(t)] {
				out[list[0]], taken[fold(t)] = t, true
			} else {
				crowded = append(crowded, list...)
			}
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

package font

import "testing"

// Spot checks of every table of Annex D, the places where they differ above all.
func TestEncodings(t *testing.T) {
	for _, tc := range []struct {
		table *encoding
		code  int
		want  string
	}{
		{standardEncoding(), 0x27, "quoteright"}, {standardEncoding(), 0x60, "quoteleft"}, {standardEncoding(), 0xAE, "fi"}, {standardEncoding(), 0x80, ""},
		{winAnsiEncoding(), 0x27, "quotesingle"}, {winAnsiEncoding(), 0x80, "Euro"}, {winAnsiEncoding(), 0xE4, "adieresis"},
		{winAnsiEncoding(), 0xA0, "space"}, {winAnsiEncoding(), 0xAD, "hyphen"}, {winAnsiEncoding(), 0x81, "bullet"}, {winAnsiEncoding(), 0xFF, "ydieresis"},
		{macRomanEncoding(), 0x80, "Adieresis"}, {macRomanEncoding(), 0xCA, "space"}, {macRomanEncoding(), 0xDE, "fi"}, {macRomanEncoding(), 0xFF, "caron"},
		{macExpertEncoding(), 0x30, "zerooldstyle"}, {symbolEncoding(), 0x61, "alpha"}, {symbolEncoding(), 0xA5, "infinity"},
		{zapfDingbatsEncoding(), 0x21, "a1"}, {zapfDingbatsEncoding(), 0xFE, "a191"},
	} {
		if got := tc.table[tc.code]; got != tc.want {
			t.Errorf("code %#x is %q, want %q", tc.code, got, tc.want)
		}
	}
	if w := symbolWidths()['a']; w != 631 {
		t.Errorf("Symbol alpha is %v wide, want 631", w)
	}
	if n := len(cffStandard()); n != 391 || cffStandard()[390] != "Semibold" {
		t.Errorf("%d standard strings", n)
	}
	if n := len(macGlyphNames()); n != 258 {
		t.Errorf("%d names in the Macintosh order", n)
	}
}

func TestGlyphNamesStandForCharacters(t *testing.T) {
	for name, want := range map[string]rune{
		"A": 'A', "adieresis": 'ä', "Euro": '€', "fi": 0xFB01, "f_f_i": 0xFB03, "uni20AC": '€', "u1F600": 0x1F600, "A.swash": 'A',
		"afii10017": 'А', "afii10023": 'Ё', "afii10049": 'Я', "afii10062": 'Ў', "afii10110": 'ў', "afii10097": 'я', "alpha": 'α', "Lslash": 'Ł', "nbspace": 0xA0,
	} {
		if r, ok := runeFromName(name); !ok || r != want {
			t.Errorf("%s is %q %v, want %q", name, r, ok, want)
		}
	}
	for _, name := range []string{"", ".notdef", "g12", "uniD800", "uniXYZW", "u12", "u110000"} {
		if r, ok := runeFromName(name); ok {
			t.Errorf("%q stands for %q", name, r)
		}
	}
}

// Every name of the Latin encodings leads to a character, so that substitutes can show it.
func TestLatinNamesAllKnown(t *testing.T) {
	for _, e := range []*encoding{standardEncoding(), winAnsiEncoding(), macRomanEncoding(), symbolEncoding()} {
		for c, n := range e {
			if _, ok := runeFromName(n); n != "" && !ok && c < 0xE6 { // pieces of tall brackets follow in Symbol
				t.Errorf("%s at %#x is not known", n, c)
			}
		}
	}
}

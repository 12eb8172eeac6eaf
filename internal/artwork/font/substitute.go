package font

import (
	"strings"
	"sync"

	"github.com/go-fonts/liberation/liberationmonobold"
	"github.com/go-fonts/liberation/liberationmonobolditalic"
	"github.com/go-fonts/liberation/liberationmonoitalic"
	"github.com/go-fonts/liberation/liberationmonoregular"
	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansbolditalic"
	"github.com/go-fonts/liberation/liberationsansitalic"
	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/go-fonts/liberation/liberationserifbold"
	"github.com/go-fonts/liberation/liberationserifbolditalic"
	"github.com/go-fonts/liberation/liberationserifitalic"
	"github.com/go-fonts/liberation/liberationserifregular"
)

// substitutes by family (sans, serif, mono) and style (regular, bold, italic, both). Their advances
// are those of the standard 14 fonts of 9.6.2.2, which is why this family was chosen.
var substitutes [3][4]func() *trueType

func init() {
	data := [3][4][]byte{
		{liberationsansregular.TTF, liberationsansbold.TTF, liberationsansitalic.TTF, liberationsansbolditalic.TTF},
		{liberationserifregular.TTF, liberationserifbold.TTF, liberationserifitalic.TTF, liberationserifbolditalic.TTF},
		{liberationmonoregular.TTF, liberationmonobold.TTF, liberationmonoitalic.TTF, liberationmonobolditalic.TTF},
	}
	for i := range data {
		for j := range data[i] {
			substitutes[i][j] = sync.OnceValue(func() *trueType {
				p, err := parseProgram(data[i][j])
				if err != nil {
					panic("substitute font: " + err.Error())
				}
				return p.(*trueType)
			})
		}
	}
}

// Font descriptor flags (Table 121).
const (
	flagFixedPitch  = 1 << 0
	flagSerif       = 1 << 1
	flagSymbolic    = 1 << 2
	flagNonsymbolic = 1 << 5
	flagItalic      = 1 << 6
	flagForceBold   = 1 << 18
)

// substituteFor picks family and style by the words of the name and the descriptor's flags.
func substituteFor(name string, flags int) *trueType {
	n := strings.ToLower(strings.NewReplacer(" ", "", "-", "", ",", "", "_", "").Replace(name))
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(n, w) {
				return true
			}
		}
		return false
	}
	const sans, serif, mono = 0, 1, 2
	family := sans
	switch {
	case has("courier", "mono", "typewriter", "fixed") || flags&flagFixedPitch != 0:
		family = mono
	case has("helvetica", "arial", "sans", "grotesk", "gothic"):
	case has("times", "serif", "roman", "antiqua", "symbol") || flags&flagSerif != 0:
		family = serif
	}
	style := 0
	if has("bold", "black", "heavy", "demi") || flags&flagForceBold != 0 {
		style |= 1
	}
	if has("italic", "oblique", "slanted") || flags&flagItalic != 0 {
		style |= 2
	}
	return substitutes[family][style]()
}

// standard14 reports whether a name, or one of the other spellings common in files, is one of the
// standard 14 fonts, whose Widths may be left out (9.6.2.2).
func standard14(name string) bool {
	n := strings.NewReplacer(" ", "", "-", "", ",", "").Replace(name)
	for _, base := range []string{"TimesNewRomanPSMT", "TimesNewRomanPS", "TimesNewRoman", "Times", "Helvetica", "ArialMT", "Arial", "CourierNewPSMT", "CourierNewPS", "CourierNew", "Courier", "Symbol", "ZapfDingbats"} {
		if rest, ok := strings.CutPrefix(n, base); ok {
			switch rest {
			case "", "Roman", "Bold", "Italic", "Oblique", "BoldItalic", "BoldOblique", "MT", "BoldMT", "ItalicMT", "BoldItalicMT":
				return true
			}
		}
	}
	return false
}

package font

import (
	"math"
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

// substituteFiles are their programs, in the same order.
var substituteFiles [3][4][]byte

func init() {
	data := [3][4][]byte{
		{liberationsansregular.TTF, liberationsansbold.TTF, liberationsansitalic.TTF, liberationsansbolditalic.TTF},
		{liberationserifregular.TTF, liberationserifbold.TTF, liberationserifitalic.TTF, liberationserifbolditalic.TTF},
		{liberationmonoregular.TTF, liberationmonobold.TTF, liberationmonoitalic.TTF, liberationmonobolditalic.TTF},
	}
	substituteFiles = data
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

// standInOf describes a substitute.
func standInOf(family, style int) *StandIn {
	names := [3]string{"LiberationSans", "LiberationSerif", "LiberationMono"}
	styles := [4]string{"", "-Bold", "-Italic", "-BoldItalic"}
	return &StandIn{Name: names[family] + styles[style], TTF: substituteFiles[family][style], Bold: style&1 != 0, Italic: style&2 != 0,
		Serif: family == 1, Fixed: family == 2}
}

func substituteFor(name string, flags int) *trueType {
	family, style := styleOf(name, flags)
	return substitutes[family][style]()
}

// styleOf picks family and style by the words of the name and the descriptor's flags.
func styleOf(name string, flags int) (family, style int) {
	n := strings.ToLower(strings.NewReplacer(" ", "", "-", "", ",", "", "_", "").Replace(name))
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(n, w) {
				return true
			}
		}
		return false
	}
	const serif, mono = 1, 2 // else sans
	switch {
	case has("courier", "mono", "typewriter", "fixed") || flags&flagFixedPitch != 0:
		family = mono
	case has("helvetica", "arial", "sans", "grotesk", "gothic"):
	case has("times", "serif", "roman", "antiqua", "symbol") || flags&flagSerif != 0:
		family = serif
	}
	if has("bold", "black", "heavy", "demi") || flags&flagForceBold != 0 {
		style |= 1
	}
	if has("italic", "oblique", "slanted") || flags&flagItalic != 0 {
		style |= 2
	}
	return family, style
}

// standardAdvances are the characters whose advances in the standard fonts, in thousandths, are others than in
// their substitutes: by family (sans, serif) and style. In Courier there are none.
var standardAdvances = map[string][2][4]float64{
	"macron":         {{333, 333, 333, 333}, {333, 333, 333, 333}},
	"plusminus":      {{584, 584, 584, 584}, {564, 570, 675, 570}},
	"divide":         {{584, 584, 584, 584}, {564, 570, 675, 570}},
	"periodcentered": {{278, 278, 278, 278}, {250, 250, 250, 250}},
	"mu":             {{556, 611, 556, 611}, {500, 556, 500, 576}},
}

// standardAdvance is the advance of a character in the standard font of a family and style, which files may leave
// out (9.6.2.2), when its substitute has the advance adv.
func standardAdvance(family, style int, name string, adv float64) float64 {
	if w, ok := standardAdvances[name]; ok && family < 2 {
		return w[family][style] / 1000
	}
	return math.Round(adv*1000) / 1000
}

// readStyle completes the descriptor's flags by what else tells the style of a font that is not in the file:
// the slant, the weight, and widths that are all alike.
func (b *builder) readStyle() {
	if v, ok := b.doc.Int(b.descriptor["Flags"]); ok {
		b.flags = v
	}
	if v, ok := b.doc.Num(b.descriptor["ItalicAngle"]); ok && math.Abs(v) >= 3 {
		b.flags |= flagItalic
	}
	// The stems of the standard fonts are 84 to 88 thousandths wide, of their bold styles 118 and more.
	weight, weighs := b.doc.Num(b.descriptor["FontWeight"])
	stem, _ := b.doc.Num(b.descriptor["StemV"])
	if weighs && weight >= 600 || !weighs && stem >= 118 && stem < 400 {
		b.flags |= flagForceBold
	}
}

// fixedPitch reports whether twenty or more characters have widths that are all the same.
func (w *simpleWidths) fixedPitch() bool {
	n, same := 0, 0.0
	for _, v := range w.widths {
		switch {
		case !(v > 0):
			continue
		case n > 0 && v != same:
			return false
		}
		n, same = n+1, v
	}
	return n >= 20
}

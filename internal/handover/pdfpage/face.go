package pdfpage

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
)

// The faces: two of text, and one for letters and signs that they lack.
const (
	regular = iota
	bold
	signs
)

var faceNames = [3]pdf.Name{"F1", "F2", "F3"}

// face is a font program and what is used of it.
type face struct {
	ttf     []byte
	name    string
	program *sfnt.Font
	buf     sfnt.Buffer
	ref     pdf.Ref
	glyphs  map[rune]glyph
	used    map[int]rune // glyph to the character it stands for
}

type glyph struct {
	id      int     // 0 = the face lacks it
	advance float64 // 1/1000 of the size
}

func newFace(i int) (*face, error) {
	f := &face{glyphs: map[rune]glyph{}, used: map[int]rune{}}
	switch i {
	case regular:
		f.ttf, f.name = liberationsansregular.TTF, "LAYDWN+LiberationSans"
	case bold:
		f.ttf, f.name = liberationsansbold.TTF, "LAYDWN+LiberationSans-Bold"
	case signs:
		f.ttf, f.name = dejavusans.TTF, "LAYDWN+DejaVuSans"
	}
	var err error
	if f.program, err = sfnt.Parse(f.ttf); err != nil {
		return nil, fmt.Errorf("read the font of our own pages: %w", err)
	}
	return f, nil
}

func (f *face) glyph(r rune) glyph {
	g, ok := f.glyphs[r]
	if !ok {
		if id, err := f.program.GlyphIndex(&f.buf, r); err == nil {
			g.id = int(id)
			if adv, err := f.program.GlyphAdvance(&f.buf, id, fixed.I(1000), 0); err == nil {
				g.advance = float64(adv.Round())
			}
		}
		f.glyphs[r] = g
	}
	return g
}

// write embeds what is used of the face as a CIDFont of glyph numbers (ISO 32000-2, 9.7.4) with a map back to Unicode.
func (f *face) write(w *pdf.Writer) error {
	ids := make([]int, 0, len(f.used))
	keep := map[int]bool{0: true}
	for id := range f.used {
		ids, keep[id] = append(ids, id), true
	}
	slices.Sort(ids)
	if len(ids) == 0 {
		w.Set(f.ref, nil)
		return nil
	}
	program, err := font.Subset(f.ttf, keep)
	if err != nil {
		return err
	}
	ppem := fixed.I(1000)
	m, err := f.program.Metrics(&f.buf, ppem, 0)
	if err != nil {
		return fmt.Errorf("read the font of our own pages: %w", err)
	}
	b, err := f.program.Bounds(&f.buf, ppem, 0)
	if err != nil {
		return fmt.Errorf("read the font of our own pages: %w", err)
	}
	integers := func(v ...fixed.Int26_6) (a pdf.Array) {
		for _, x := range v {
			a = append(a, pdf.Integer(x.Round()))
		}
		return a
	}
	descriptor := w.Add(pdf.Dict{"Type": pdf.Name("FontDescriptor"), "FontName": pdf.Name(f.name), "Flags": pdf.Integer(4),
		"FontBBox": integers(b.Min.X, -b.Max.Y, b.Max.X, -b.Min.Y), "ItalicAngle": pdf.Integer(0), "Ascent": pdf.Integer(m.Ascent.Round()),
		"Descent": pdf.Integer(-m.Descent.Round()), "CapHeight": pdf.Integer(m.CapHeight.Round()), "StemV": pdf.Integer(80),
		"FontFile2": w.AddStream(pdf.Dict{"Length1": pdf.Integer(len(program))}, program, true)})
	var widths pdf.Array
	for _, id := range ids {
		widths = append(widths, pdf.Integer(id), pdf.Array{pdf.Integer(f.glyph(f.used[id]).advance)})
	}
	descendant := w.Add(pdf.Dict{"Type": pdf.Name("Font"), "Subtype": pdf.Name("CIDFontType2"), "BaseFont": pdf.Name(f.name),
		"CIDSystemInfo":  pdf.Dict{"Registry": pdf.String("Adobe"), "Ordering": pdf.String("Identity"), "Supplement": pdf.Integer(0)},
		"FontDescriptor": descriptor, "W": widths, "DW": pdf.Integer(0), "CIDToGIDMap": pdf.Name("Identity")})
	w.Set(f.ref, pdf.Dict{"Type": pdf.Name("Font"), "Subtype": pdf.Name("Type0"), "BaseFont": pdf.Name(f.name),
		"Encoding": pdf.Name("Identity-H"), "DescendantFonts": pdf.Array{descendant}, "ToUnicode": w.AddStream(nil, f.toUnicode(ids), true)})
	return nil
}

// toUnicode is the CMap from glyph numbers to characters (ISO 32000-2, 9.10.3).
func (f *face) toUnicode(ids []int) []byte {
	var b strings.Builder
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n" +
		"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	for part := range slices.Chunk(ids, 100) {
		fmt.Fprintf(&b, "%d beginbfchar\n", len(part))
		for _, id := range part {
			fmt.Fprintf(&b, "<%04X> <", id)
			for _, u := range utf16.Encode([]rune{f.used[id]}) {
				fmt.Fprintf(&b, "%04X", u)
			}
			b.WriteString(">\n")
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend")
	return []byte(b.String())
}

// Style is how text is set.
type Style struct {
	Size   float64 // points
	Bold   bool
	Colour string // operator that selects the colour; "" = black, 0 g
}

func (s Style) face() int {
	if s.Bold {
		return bold
	}
	return regular
}

// shown tells what is drawn for a text: bytes that are no text as #XX, and characters that no face has by their number.
func (d *Document) shown(st Style, s string) string {
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, "#%02X", s[i])
		case r < ' ' || r == 0x7f || r == '\u00AD':
			b.WriteByte(' ')
		case d.faces[st.face()].glyph(r).id > 0 || d.faces[signs].glyph(r).id > 0:
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, "[U+%04X]", r)
		}
		i += n
	}
	return b.String()
}

func (d *Document) faceOf(st Style, r rune) int {
	if d.faces[st.face()].glyph(r).id > 0 {
		return st.face()
	}
	return signs
}

// advance of a character in millimetres.
func (d *Document) advance(st Style, r rune) float64 {
	return d.faces[d.faceOf(st, r)].glyph(r).advance * st.Size / 1000 / pointsPerMM
}

// Width of a line in millimetres.
func (d *Document) Width(st Style, s string) float64 {
	sum := 0.0
	for _, r := range d.shown(st, s) {
		sum += d.advance(st, r)
	}
	return sum
}

// Wrap breaks a text into lines of a width in millimetres, at blanks, and within words that are longer than a line.
func (d *Document) Wrap(st Style, s string, width float64) []string {
	var lines []string
	var line strings.Builder
	used, blank := 0.0, d.advance(st, ' ')
	end := func() {
		lines = append(lines, line.String())
		line.Reset()
		used = 0
	}
	const rounding = 1e-9 // mm
	for _, word := range strings.Fields(d.shown(st, s)) {
		wide := d.Width(st, word)
		if line.Len() > 0 {
			if used+blank+wide <= width-rounding {
				line.WriteByte(' ')
				used += blank
			} else {
				end()
			}
		}
		for _, r := range word {
			a := d.advance(st, r)
			if used+a > width-rounding && line.Len() > 0 {
				end()
			}
			line.WriteRune(r)
			used += a
		}
	}
	if line.Len() > 0 || len(lines) == 0 {
		end()
	}
	return lines
}

// Squeeze cuts the middle out of a line, with a mark that something is missing, until it is of a width in millimetres: names often
// differ by their ends.
func (d *Document) Squeeze(st Style, s string, width float64) string {
	if d.Width(st, s) <= width {
		return s
	}
	runes := []rune(d.shown(st, s))
	room := width - d.Width(st, "…")
	head, tail := 0, len(runes)
	for head < tail {
		next := runes[head]
		fromEnd := head > len(runes)-tail
		if fromEnd {
			next = runes[tail-1]
		}
		if room -= d.advance(st, next); room < 0 {
			break
		}
		if fromEnd {
			tail--
		} else {
			head++
		}
	}
	return string(runes[:head]) + "…" + string(runes[tail:])
}

// Shorten cuts a line to a width in millimetres, with a mark that something is missing.
func (d *Document) Shorten(st Style, s string, width float64) string {
	if d.Width(st, s) <= width {
		return s
	}
	room, cut := width-d.Width(st, "…"), 0
	runes := []rune(d.shown(st, s))
	for _, r := range runes {
		if room -= d.advance(st, r); room < 0 {
			break
		}
		cut++
	}
	if cut == 0 {
		return ""
	}
	return string(runes[:cut]) + "…"
}

package demo

import (
	"fmt"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"laydown/internal/artwork/font"
)

// face is a TrueType program reduced to the glyphs of WinAnsi's ASCII part that are used, with the
// widths a PDF font dictionary needs.
type face struct {
	program                    []byte
	widths                     [256]int // 1/1000 of the size; code = character for 32..126
	ascent, descent, capHeight int
	box                        [4]int
}

// subsetASCII keeps the outlines of the characters in text and empties all other glyphs; glyph
// numbers stay as they are. It reads a simple TrueType program: head, loca, glyf.
func subsetASCII(ttf []byte, text string) (*face, error) {
	program, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	var buf sfnt.Buffer
	f := &face{}
	keep := map[int]bool{0: true}
	ppem := fixed.I(1000)
	for c := 32; c < 127; c++ {
		g, err := program.GlyphIndex(&buf, rune(c))
		if err != nil {
			return nil, fmt.Errorf("read the demo's font: %w", err)
		}
		adv, err := program.GlyphAdvance(&buf, g, ppem, 0)
		if err != nil {
			return nil, fmt.Errorf("read the demo's font: %w", err)
		}
		f.widths[c] = adv.Round()
	}
	for _, c := range text {
		if g, err := program.GlyphIndex(&buf, c); err == nil {
			keep[int(g)] = true
		}
	}
	m, err := program.Metrics(&buf, ppem, 0)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	f.ascent, f.descent, f.capHeight = m.Ascent.Round(), -m.Descent.Round(), m.CapHeight.Round()
	b, err := program.Bounds(&buf, ppem, 0)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	f.box = [4]int{b.Min.X.Round(), -b.Max.Y.Round(), b.Max.X.Round(), -b.Min.Y.Round()}
	f.program, err = font.Subset(ttf, keep)
	return f, err
}

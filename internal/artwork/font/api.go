// Package font turns PDF font dictionaries into glyph outlines and advances (ISO 32000-2, 9.5 to
// 9.10): simple and composite fonts, Type 1, CFF, TrueType and OpenType programs, CMaps; Type 3 glyph
// procedures are handed to the interpreter.
package font

import (
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// Font is a font as a page uses it. Immutable but for an internal outline cache; safe for
// concurrent use.
type Font struct {
	Name     string // BaseFont, subset prefix removed
	Ref      pdf.Ref
	Embedded bool
	Vertical bool
	Type3    *Type3 // nil unless a Type 3 font
}

// Type3 is what the interpreter needs to run glyph procedures (9.6.4).
type Type3 struct {
	Matrix    geom.Matrix
	Resources pdf.Dict               // nil = use the page's
	Procs     map[string]*pdf.Stream // by glyph name
}

// Glyph is one shown character.
type Glyph struct {
	Code    uint32
	Bytes   int     // length of the code in the string
	ID      int     // glyph index in the program, -1 = none (nothing is drawn)
	Name    string  // glyph name where the font has names; the key of Type3.Procs
	Advance float64 // text space units at size 1 (W/1000; Type 3: through its matrix)
	// Vertical writing: the displacement down the column and the origin offset v (9.7.4.3).
	AdvanceY         float64
	OriginX, OriginY float64
	Space            bool // a single-byte code 32: word spacing applies (9.3.3)
}

// Glyphs decodes a string into glyphs, appending to dst.
func (f *Font) Glyphs(dst []Glyph, s pdf.String) []Glyph { panic("unwritten") }

// Outline returns the outline of a glyph in text space at size 1 (y up, 1 = em), nil when it has no
// marks. The path is shared: do not change it.
func (f *Font) Outline(id int) *geom.Path { panic("unwritten") }

// Reader makes fonts, caching by reference. Safe for concurrent use.
type Reader struct{}

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader { panic("unwritten") }

// Font reads a font dictionary. It always gives a usable font: a missing or broken program is
// replaced by the nearest embedded substitute with a finding ("font-not-embedded",
// "font-damaged"). place is copied into findings.
func (r *Reader) Font(o pdf.Object, place finding.Place) *Font { panic("unwritten") }

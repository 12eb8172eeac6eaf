package font

import (
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// BenchmarkGlyphs cuts a string of a hundred characters and asks for their outlines, as showing text does.
func BenchmarkGlyphs(b *testing.B) {
	simple := func(*pdfbuild.File) string {
		return "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>"
	}
	for _, bc := range []struct {
		name string
		dict func(*pdfbuild.File) string
		text string
	}{
		{"simple", simple, "ABCDEFGHIJ"},
		{"Identity-H", compositeFont("/Identity-H", "/W [1 [500 600 700]]", testTrueType), "\x00\x01\x00\x02\x00\x03\x00\x01\x00\x02\x00\x03\x00\x01\x00\x02\x00\x03\x00\x01"},
		{"90ms-RKSJ-H", compositeFont("/90ms-RKSJ-H", "/W [1 [500 600 700]]", testTrueType), "\x88\x9f\x88\xa0\x88\xa1\x88\x9f\x88\xa0\x88\xa1\x88\x9f\x88\xa0\x88\xa1\x88\xa2"},
	} {
		b.Run(bc.name, func(b *testing.B) {
			f, _, _ := fontFrom(b, bc.dict)
			var text pdf.String
			for range 10 {
				text += pdf.String(bc.text)
			}
			var g []Glyph
			for b.Loop() {
				g = f.Glyphs(g[:0], text)
				for i := range g {
					f.Outline(g[i].ID)
				}
			}
		})
	}
}

// BenchmarkFonts reads the fonts of the public files anew, and up to 300 outlines of each.
func BenchmarkFonts(b *testing.B) {
	var docs []*pdf.Document
	var fonts [][]pdf.Object
	for _, path := range corpusFiles(b) {
		if d := openFile(b, path); d != nil && filepath.Base(path) != "itext-dotnet__exponentialXObjectLoop.pdf" {
			docs = append(docs, d)
			fonts = append(fonts, nil)
			for o := range fontsOf(d) {
				fonts[len(fonts)-1] = append(fonts[len(fonts)-1], o)
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		for i, d := range docs {
			r := NewReader(d, nil)
			for _, o := range fonts[i] {
				f := r.Font(o, finding.Place{Page: 1})
				for id := range 300 {
					f.Outline(id)
				}
			}
		}
	}
}

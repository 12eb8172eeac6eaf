package interp

import (
	"fmt"
	"testing"

	"laydown/internal/pdfbuild"
)

// blocks is a Type 3 font whose glyphs are unit blocks: a by d1 (a shape), b by d0 (in red), c with
// a nested form; widths are half an em.
func blocks(f *pdfbuild.File) string {
	a := f.Stream("", "500 0 0 0 500 500 d1 1 0 0 rg 0 0 500 500 re f")
	b := f.Stream("", "500 0 d0 1 0 0 rg 0 0 500 500 re f")
	form := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 500 500]", "0 1 0 rg 0 0 250 500 re f")
	c := f.Stream("", "500 0 0 0 500 500 d1 /Fm Do 0 1 0 RG 10 w 0 0 m 500 500 l S")
	return fmt.Sprintf("/Blocks << /Type /Font /Subtype /Type3 /FontBBox [0 0 500 500] /FontMatrix [.001 0 0 .001 0 0] /FirstChar 97 /LastChar 99 /Widths [500 500 500] "+
		"/Encoding << /Type /Encoding /Differences [97 /a /b /c] >> /CharProcs << /a %s /b %s /c %s >> /Resources << /XObject << /Fm %s >> >> >>",
		pdfbuild.Ref(a), pdfbuild.Ref(b), pdfbuild.Ref(c), pdfbuild.Ref(form))
}

// sans is a standard font with widths of half an em, so that positions do not hang on a program.
const sans = "/Sans << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /FirstChar 32 /LastChar 34 /Widths [500 500 500] " +
	"/Encoding << /Type /Encoding /Differences [32 /space /H /O] >> >>"

// TestText asks one question of each piece of text.
func TestText(t *testing.T) {
	for _, c := range []struct{ name, content string }{
		{"text/positions", "BT /Sans 10 Tf 20 50 Td (!!) Tj 5 TL T* (!) Tj 30 10 TD (!) Tj T* (!) Tj ET"},
		{"text/matrix-is-not-cumulative", "BT /Sans 10 Tf 1 0 0 1 20 50 Tm (!) Tj 2 0 0 1 60 50 Tm (!) Tj ET"},
		{"text/spacing-and-scale", "BT /Sans 10 Tf 1 Tc 3 Tw 50 Tz 20 50 Td (! !) Tj 0 20 Td (!) Tj ET"},
		{"text/adjustments", "BT /Sans 10 Tf 20 50 Td [(!) -1000 (!) 500 (!)] TJ (!) Tj ET"},
		{"text/rise", "BT /Sans 10 Tf 20 50 Td 4 Ts (!) Tj -4 Ts (!) Tj ET"},
		{"text/quotes", "BT /Sans 10 Tf 12 TL 20 80 Td (!) ' 5 1 (! !) \" (!) Tj ET"},
		{"text/size-is-effective", "2 0 0 2 0 0 cm BT /Sans 10 Tf 1.5 0 0 1.5 20 20 Tm (!) Tj ET"},
		{"text/outside-a-text-object", "/Sans 10 Tf 20 50 Td (!) Tj"},
		{"text/state-survives-the-object", "BT /Sans 10 Tf 2 Tc ET BT 20 50 Td (!!) Tj ET"},

		{"mode/stroke", "BT /Sans 10 Tf 1 Tr 20 50 Td (!) Tj ET"},
		{"mode/fill-and-stroke", "BT /Sans 10 Tf 2 Tr 20 50 Td (!) Tj ET"},
		{"mode/fill-and-stroke-with-alpha", "/Half gs BT /Sans 10 Tf 2 Tr 20 50 Td (!) Tj ET"},
		{"mode/fill-and-stroke-with-alpha-and-overprint", "/Half gs /Op gs BT /Sans 10 Tf 2 Tr 20 50 Td (!) Tj ET"},
		{"mode/invisible", "BT /Sans 10 Tf 3 Tr 20 50 Td (!) Tj 0 Tr (!) Tj ET"},
		{"mode/clip-holds-from-ET-on", "q BT /Sans 40 Tf 7 Tr 20 50 Td (!) Tj 4 Tr 40 0 Td (!) Tj 0 0 9 9 re f ET 0 0 200 100 re f Q 0 0 200 100 re f"},
		{"mode/clip-of-blanks-clips-nothing", "BT /Sans 40 Tf 7 Tr 20 50 Td ( ) Tj ET 0 0 200 100 re f"},

		{"knockout/opaque-needs-none", "BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td (!) Tj ET"},
		{"knockout/overlapping-transparent-shows", "/Half gs BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td (!) Tj ET 0 0 9 9 re f"},
		{"knockout/apart-needs-none", "/Half gs BT /Sans 20 Tf 20 50 Td (!) Tj 50 0 Td (!) Tj ET"},
		{"knockout/one-show-paints-the-union", "/Half gs BT /Sans 20 Tf 20 50 Td [(!) 500 (!)] TJ ET"},
		{"knockout/TK-false-paints-glyph-by-glyph", "/Half gs /NoTK gs BT /Sans 20 Tf 20 50 Td [(!) 500 (!)] TJ ET"},
		{"knockout/around-fill-and-stroke-groups", "/Half gs BT /Sans 20 Tf 2 Tr 20 50 Td (!) Tj 5 0 Td (!) Tj ET"},
		{"knockout/opaque-over-transparent-needs-none", "/Half gs BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td /Full gs (!) Tj ET"},
		{"knockout/transparent-over-opaque-shows", "BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td /Half gs (!) Tj ET"},
		{"knockout/opaque-overprint-is-as-without-transparency", "/Op gs BT /Sans 20 Tf 20 50 Td 1 0 0 0 k (!) Tj 5 0 Td 0 1 0 0 k (!) Tj ET"},

		{"type3/shape-takes-current-colour", "/White cs .5 scn BT /Blocks 10 Tf 20 50 Td (a) Tj ET"},
		{"type3/own-colours", "/White cs .5 scn BT /Blocks 10 Tf 20 50 Td (b) Tj ET 0 0 9 9 re f"},
		{"type3/nested-form-and-stroke", "/White cs .5 scn BT /Blocks 10 Tf 20 50 Td (ca) Tj ET"},
		{"type3/spacing-and-matrix", "BT /Blocks 10 Tf 200 Tz 1 Tc 0 1 -1 0 20 50 Tm (aa) Tj ET"},
		{"type3/invisible-mode", "BT /Blocks 10 Tf 3 Tr 20 50 Td (a) Tj ET"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			f.Page(200, 100, "/ColorSpace << "+white+" >> /Font << "+sans+" "+blocks(f)+" >> "+
				"/ExtGState << /Half << /ca .5 /CA .5 >> /Full << /ca 1 /CA 1 >> /Op << /OP true >> /NoTK << /TK false >> >>", c.content)
			check(t, c.name, f, Options{})
		})
	}
}

package interp

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// drawn is a Type 3 font at /Drawn whose glyphs a, b, ... have the procedures given; each is half an
// em wide.
func drawn(f *pdfbuild.File, procedures ...string) string {
	var names, procs strings.Builder
	for i, p := range procedures {
		fmt.Fprintf(&names, " /%c", 'a'+i)
		fmt.Fprintf(&procs, " /%c %s", 'a'+i, pdfbuild.Ref(f.Stream("", p)))
	}
	return fmt.Sprintf("/Drawn << /Type /Font /Subtype /Type3 /FontBBox [0 0 500 500] /FontMatrix [.001 0 0 .001 0 0] /FirstChar 97 /LastChar %d /Widths [%s] "+
		"/Encoding << /Type /Encoding /Differences [97%s] >> /CharProcs <<%s >> >>",
		96+len(procedures), strings.Repeat("500 ", len(procedures)), names.String(), procs.String())
}

// drawnPage shows content in the font made of procedures.
func drawnPage(content string, procedures ...string) *pdfbuild.File {
	f := pdfbuild.New()
	f.Page(200, 100, "/ColorSpace << "+white+" >> /Font << "+drawn(f, procedures...)+" >> "+
		"/ExtGState << /Half << /ca .5 /CA .5 >> /Op << /OP true >> >>", content)
	return f
}

const (
	boxGlyph  = "500 0 0 0 500 500 d1 0 0 400 400 re f"
	ownGlyph  = "500 0 d0 1 0 0 rg 0 0 400 400 re f"
	lineGlyph = "500 0 0 0 500 500 d1 40 w 0 0 m 400 400 l S"
)

// TestProcedureOutlines asks of each kind of procedure whether its glyphs share an item.
func TestProcedureOutlines(t *testing.T) {
	const show = "/White cs .5 scn BT /Drawn 20 Tf 20 50 Td "
	for _, c := range []struct {
		name, content string
		procedures    []string
	}{
		{"fills-make-one-item", show + "(aaa) Tj ET", []string{boxGlyph}},
		{"adjustments-stay-within-the-item", show + "[(a) -500 (a) 200 (a)] TJ ET", []string{boxGlyph}},
		{"own-colours-run", show + "(aa) Tj ET", []string{ownGlyph}},
		{"strokes-run", show + "(aa) Tj ET", []string{lineGlyph}},
		{"mixed-keep-paint-order", show + "(aabacaa) Tj ET", []string{boxGlyph, ownGlyph, lineGlyph}},
		{"clips-run", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 200 200 re W n 0 0 400 400 re f"}},
		{"stencils-run", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 400 0 0 400 0 0 cm BI /W 1 /H 1 /IM true /BPC 1 ID \x00 EI"}},
		{"colours-in-a-shape-are-ignored", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 1 0 0 rg /No cs .3 scn 0 0 400 400 re f"}},
		{"states-and-matrices", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 q .5 0 0 .5 100 0 cm 0 0 400 400 re f Q 0 300 100 100 re f"}},
		{"blanks-mark-nothing", show + "(aba) Tj ET", []string{boxGlyph, "500 0 0 0 500 500 d1"}},
		{"lines-without-area-run", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 400 0 re f"}},
		{"shapes-too-thin-run", "/White cs .5 scn BT /Drawn .02 Tf 20 50 Td (aa) Tj ET", []string{boxGlyph}},
		{"flattened-fonts-run", "/White cs .5 scn BT /Drawn 20 Tf 1 0 0 0 20 50 Tm (a) Tj ET", []string{boxGlyph}},
		{"even-odd-convex", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 200 200 re 300 300 100 100 re f*"}},
		{"even-odd-with-a-hole-runs", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 400 400 re 100 100 100 100 re f*"}},
		{"even-odd-star-runs", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 m 400 0 l 50 300 l 200 400 l 350 300 l f*"}},
		{"overlapping-convex-fills", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 300 300 re f 100 400 300 -300 re f"}},
		{"overlapping-fills-with-a-hole-run", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 400 400 re 100 300 200 -200 re f 0 0 200 200 re f"}},
		{"transparent-apart", "/Half gs " + show + "(aaa) Tj ET", []string{boxGlyph}},
		{"transparent-overlap-one-by-one", "/Half gs " + show + "[(a) 250 (a)] TJ ET", []string{boxGlyph}},
		{"transparent-fills-that-touch-run", "/Half gs " + show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 0 0 200 200 re f 200 0 200 200 re f"}},
		{"overprint", "/Op gs " + show + "(aa) Tj ET", []string{boxGlyph}},
		{"off-the-page-are-left-out", "/White cs .5 scn BT /Drawn 20 Tf 175 50 Td (aaaaaa) Tj ET", []string{boxGlyph}},
		{"clipping-mode-fills-only", show + "7 Tr (aa) Tj ET 0 0 200 100 re f", []string{boxGlyph}},
		{"damage-runs", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 Zap 0 0 400 400 re f"}},
		{"missing-values-are-one-finding", show + "(aa) Tj ET", []string{"500 0 0 0 500 500 d1 1 l 0 0 400 400 re f"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			check(t, "outline/"+c.name, drawnPage(c.content, c.procedures...), Options{})
		})
	}
}

// plates paints a list at a resolution.
func plates(t *testing.T, l *displist.List, dpi float64) *plate.Stack {
	t.Helper()
	var s plate.Stack
	target := separate.NewTargetFromLists(colour.NewConverter(nil), finding.Discard, l)
	if err := paint.Render(context.Background(), paint.Job{List: l, Target: target, DPI: dpi, Region: l.Page.Media}, &s); err != nil {
		t.Fatal(err)
	}
	return &s
}

// Outlines paint what their procedures paint. A graphics state without entries makes a procedure run.
func TestOutlinesPaintWhatProceduresPaint(t *testing.T) {
	shapes := []string{
		"0 0 400 400 re f",
		"0 400 400 -400 re f",
		"200 0 m 310 0 400 90 400 200 c 400 310 310 400 200 400 c 90 400 0 310 0 200 c 0 90 90 0 200 0 c f",
		"200 0 m 90 0 0 90 0 200 c 0 310 90 400 200 400 c 310 400 400 310 400 200 c 400 90 310 0 200 0 c f*",
		"0 0 100 100 re f 150 100 100 -100 re f q .5 0 .2 .5 0 150 cm 0 0 400 400 re f Q",
		"0 0 250 250 re f 100 400 250 -300 re f",
		"0 0 m 400 100 l 200 400 l f 0 300 m 100 300 l 0 400 l h f",
	}
	page := func(content, kind string) *displist.List {
		var procedures []string
		for _, s := range shapes {
			procedures = append(procedures, "500 0 0 0 500 500 d1 "+kind+s)
		}
		f := pdfbuild.New()
		f.Page(200, 100, "/ColorSpace << "+white+" >> /Font << "+
			strings.Replace(drawn(f, procedures...), "/CharProcs", "/Resources << /ExtGState << /None << >> >> >> /CharProcs", 1)+" >> "+
			"/ExtGState << /Half << /ca .5 /CA .5 >> /Op << /OP true >> >>", content)
		l, found := interpret(t, f, Options{})
		if len(found) > 0 {
			t.Fatal(found)
		}
		return l
	}
	for _, content := range []string{
		"/White cs .5 scn BT /Drawn 20 Tf 10 60 Td (abcdefg) Tj 1 -.5 .5 1 10 50 Tm (gfedcba) Tj ET",
		"0 1 1 0 k BT /Drawn 20 Tf 10 60 Td (abcdefg) Tj -1 0 0 1 190 10 Tm (gfedcba) Tj ET",
		"0 1 1 0 k BT /Drawn 3 Tf 10 60 Td (abcdefg) Tj ET",
		"0 1 1 0 k 0 0 200 50 re f /White cs /Op gs .7 scn BT /Drawn 40 Tf 10 45 Td (abcdefg) Tj ET",
		"/Half gs 0 1 1 0 k BT /Drawn 40 Tf 10 45 Td (abcdefg) Tj ET",
	} {
		fast, slow := page(content, ""), page(content, "/None gs ")
		if len(fast.Items) >= len(slow.Items) {
			t.Errorf("%s: %d items with outlines, %d without", content, len(fast.Items), len(slow.Items))
		}
		for _, dpi := range []float64{72, 150, 600} {
			d := plate.Diff(plates(t, fast, dpi), plates(t, slow, dpi))
			for _, p := range d.Plates {
				// Where parts meet in one pixel their areas add up; painted one over the other they leave a seam.
				if p.Out > 0.0005 || p.MAD > 0.02 {
					t.Errorf("%s at %g dpi: %s", content, dpi, d)
					break
				}
			}
		}
	}
}

// Fills in either direction that share a pixel must not cancel each other out.
func TestOutlinesOfBothDirectionsAddUp(t *testing.T) {
	for _, c := range []struct {
		name, show string
		procedures []string
	}{
		{"two glyphs", "(ab) Tj", []string{"500 0 0 0 500 500 d1 0 0 500 500 re f", "500 0 0 0 500 500 d1 0 500 500 -500 re f"}},
		{"two fills", "(a) Tj", []string{"1000 0 0 0 1000 500 d1 0 0 500 500 re f 500 500 500 -500 re f"}},
		{"two parts of a fill", "(a) Tj", []string{"1000 0 0 0 1000 500 d1 0 0 500 500 re 500 500 500 -500 re f"}},
		{"two parts of a fill by even-odd", "(a) Tj", []string{"1000 0 0 0 1000 500 d1 0 0 500 500 re 500 500 500 -500 re f*"}},
	} {
		l, _ := interpret(t, drawnPage("/White cs 1 scn BT /Drawn 2 Tf 10 50 Td "+c.show+" ET", c.procedures...), Options{})
		if len(l.Items) != 1 || l.Items[0].Shape.Glyphs == nil {
			t.Fatalf("%s: %d items, want one of glyphs", c.name, len(l.Items))
		}
		s := plates(t, l, 36)
		plane, _ := s.Lookup("White")
		if v := plane[24*s.Width+5]; v < 126 || v > 129 {
			t.Errorf("%s: a pixel half covered by two squares has tint %d, want 128", c.name, v)
		}
	}
}

// Whatever convex shapes a procedure fills, in whatever order, direction and rule: its outline leaves
// no hole and no mark that running it does not.
func FuzzProcedureOutlines(f *testing.F) {
	f.Add([]byte{0, 10, 10, 90, 90, 4, 0, 50, 50, 100, 200, 4})
	f.Add([]byte{1, 10, 10, 90, 90, 0, 1, 150, 150, 90, 220, 0, 0, 150, 20, 220, 10, 6})
	f.Add([]byte{2, 100, 10, 90, 90, 5, 3, 150, 150, 90, 20, 4})
	f.Fuzz(func(t *testing.T, data []byte) {
		shapes := strings.Builder{}
		for ; len(data) >= 6 && shapes.Len() < 1000; data = data[6:] {
			x, y := 2*int(data[1]), 2*int(data[2])
			w, h := 4*(int(data[3])-128), 4*(int(data[4])-128)
			switch data[0] % 3 {
			case 0:
				fmt.Fprintf(&shapes, "%d %d %d %d re ", x, y, w, h)
			case 1:
				fmt.Fprintf(&shapes, "%d %d m %d %d l %d %d l h ", x, y, x+w, y, x, y+h)
			case 2: // the corner of a rounded leaf
				fmt.Fprintf(&shapes, "%d %d m %d %d %d %d %d %d c ", x, y, x+w, y, x+w, y+h/2, x+w, y+h)
			}
			if data[5]&4 != 0 {
				shapes.WriteString([]string{"f ", "f* "}[data[5]&1])
			}
		}
		shapes.WriteString("f")
		page := func(kind string) *plate.Stack {
			l, _ := interpret(t, drawnPage("/White cs 1 scn BT /Drawn 100 Tf 20 10 Td (a) Tj ET",
				"500 0 0 0 500 500 d1 "+kind+shapes.String(), ""), Options{})
			return plates(t, l, 72)
		}
		fast, slow := page(""), page("/None gs ")
		a, _ := fast.Lookup("White")
		b, _ := slow.Lookup("White")
		for i := range slow.Width * slow.Height {
			var p, q int
			if a != nil {
				p = int(a[i])
			}
			if b != nil {
				q = int(b[i])
			}
			// In a pixel that several parts share their areas add up instead of covering each other,
			// so it may be darker, but not where there is nothing.
			if q == 0 && p > 2 || p < q-6 {
				t.Fatalf("%s: pixel %d, %d has tint %d by its outline, %d by running it", shapes.String(), i%slow.Width, i/slow.Width, p, q)
			}
		}
	})
}

// A page of half a million glyphs is whole: they count, but not as much as running them would.
func TestManyProcedureGlyphsAreDrawnInFull(t *testing.T) {
	line := "(" + strings.Repeat("a", 500) + ") Tj T*\n"
	f := drawnPage("BT .001 TL /Drawn .6 Tf 10 50 Td "+strings.Repeat(line, 1000)+"ET", boxGlyph)
	l, found := interpret(t, f, Options{})
	if l.Incomplete || len(found) > 0 || len(l.Items) != 1000 {
		t.Errorf("%d items, incomplete %v, findings %v", len(l.Items), l.Incomplete, found)
	}
}

// Characters count as instructions do, shown or not, so that a string in forms within forms has an end.
func TestCharactersAreLimited(t *testing.T) {
	f := pdfbuild.New()
	text := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 200 100]", "BT /Sans 10 Tf 3 Tr ("+strings.Repeat("!", 50_000)+") Tj ET")
	f.Page(200, 100, "/XObject << /T "+pdfbuild.Ref(text)+" >> /Font << "+sans+" >>", "0 0 9 9 re f "+strings.Repeat("/T Do ", 100)+"20 0 9 9 re f")
	var sink finding.Collector
	l, err := reader(t, f).Page(context.Background(), 1, Options{Sink: &sink})
	if err != nil {
		t.Fatal(err)
	}
	over := false
	for _, f := range sink.Sorted() {
		over = over || f.ID == "page-over-limit"
	}
	if !over || !l.Incomplete || len(l.Items) != 1 {
		t.Errorf("five million characters: over the limit %v, incomplete %v, %d items, want the one before them", over, l.Incomplete, len(l.Items))
	}
}

// The sign of a subpath's area decides its direction; curves count with their true area.
func TestSignedArea(t *testing.T) {
	const k = 0.5522847498 // a quarter circle's control distance
	circle := &geom.Path{}
	circle.Move(geom.Point{X: 1})
	circle.Cubic(geom.Point{X: 1, Y: k}, geom.Point{X: k, Y: 1}, geom.Point{Y: 1})
	circle.Cubic(geom.Point{X: -k, Y: 1}, geom.Point{X: -1, Y: k}, geom.Point{X: -1})
	circle.Cubic(geom.Point{X: -1, Y: -k}, geom.Point{X: -k, Y: -1}, geom.Point{Y: -1})
	circle.Cubic(geom.Point{X: k, Y: -1}, geom.Point{X: 1, Y: -k}, geom.Point{X: 1})
	square := &geom.Path{}
	square.Rect(geom.Rect{X0: 3, Y0: -2, X1: 5, Y1: 2})
	lens := &geom.Path{} // one curve closed by its chord: 3/5 of its control box
	lens.Move(geom.Point{})
	lens.Cubic(geom.Point{Y: 2}, geom.Point{X: 3, Y: 2}, geom.Point{X: 3})
	for _, c := range []struct {
		name string
		path *geom.Path
		want float64
	}{{"circle", circle, math.Pi}, {"square", square, 8}, {"curve and chord", lens, -3.6}} {
		if got := signedArea(c.path); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%s: area %v, want %v", c.name, got, c.want)
		}
		if got := signedArea(reversed(c.path)); math.Abs(got+c.want) > 1e-3 {
			t.Errorf("%s reversed: area %v, want %v", c.name, got, -c.want)
		}
		if !isConvex(c.path) || !isConvex(reversed(c.path)) {
			t.Errorf("%s is convex", c.name)
		}
	}
	for _, hollow := range []string{"star", "arrow", "bow"} {
		p := &geom.Path{}
		points := map[string][]geom.Point{
			"star":  {{X: 0, Y: 0}, {X: 4, Y: 3}, {X: -1, Y: 3}, {X: 3, Y: 0}, {X: 1.5, Y: 5}},
			"arrow": {{X: 0, Y: 0}, {X: 2, Y: 1}, {X: 4, Y: 0}, {X: 2, Y: 4}},
			"bow":   {{X: 0, Y: 0}, {X: 2, Y: 2}, {X: 2, Y: 0}, {X: 0, Y: 2}},
		}[hollow]
		p.Move(points[0])
		for _, q := range points[1:] {
			p.Line(q)
		}
		p.ClosePath()
		if isConvex(p) {
			t.Errorf("%s is not convex", hollow)
		}
	}
}

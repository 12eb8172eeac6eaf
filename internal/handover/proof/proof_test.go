package proof

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"strings"
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover/pdfpage"
)

// written is a proof of pages of a size, with so many plates, passes and findings, all with long names.
func written(t *testing.T, width, height float64, plates, passes, findings int) []byte {
	t.Helper()
	var b bytes.Buffer
	long := strings.Repeat("Sonderfarbe-", 20)
	w, err := New(&b, Data{Title: "Proof of " + long, StockTitle: long, StockUM: 400, Facts: []Fact{{"Job", long}, {long, "x"}}}, pdfpage.Info{})
	if err != nil {
		t.Fatal(err)
	}
	p := &Page{Number: 1, WidthMM: width, HeightMM: height, TrimMM: finding.BoxMM{X: 3, Y: 3, W: width - 6, H: height - 6}, LookNote: long}
	for i := range 3 {
		p.Looks = append(p.Looks, Look{fmt.Sprintf("%s %d", long, i), image.NewRGBA(image.Rect(0, 0, 9, 9))})
	}
	for i := range plates {
		p.Plates = append(p.Plates, Plate{Name: fmt.Sprintf("%d %s", i, long), Kind: "opaque white", Coverage: 12.5, Picture: image.NewGray(image.Rect(0, 0, 9, 9))})
	}
	for range passes {
		pass := Pass{Set: long}
		for i := range 6 {
			pass.Layers = append(pass.Layers, Layer{Name: fmt.Sprintf("%d %s", i, long), UM: 4})
		}
		p.Passes = append(p.Passes, pass)
	}
	w.Page(p)
	var fs []finding.Finding
	for i := range findings {
		fs = append(fs, finding.Finding{ID: "x", Severity: finding.Severity(i % 3), What: fmt.Sprintf("Finding %d of %s", i, long), Remedy: long,
			Place: finding.Place{Page: i % 2, Layer: long, Box: &finding.BoxMM{X: float64(i*37) - 300, Y: float64(i * 11), W: 1e4, H: 5}}})
	}
	if err := w.Close(&End{Findings: fs, Cautions: []string{long, "short"}}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func opened(t *testing.T, data []byte) *pdf.Document {
	t.Helper()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// Whatever the size of the artwork and the number of things told, nothing lies outside the paper.
func TestPages_hold_what_is_drawn_on_them(t *testing.T) {
	for _, c := range []struct {
		width, height            float64
		plates, passes, findings int
	}{{216, 105, 8, 2, 26}, {105, 216, 3, 1, 0}, {5000, 40, 64, 6, 250}, {40, 5000, 40, 3, 3}, {12, 12, 0, 0, 1}} {
		// On paper so large that nothing is cut off; the reader finds the objects that move by that.
		const box, beyond = "[0 0 595.276 841.89]", 9000.0
		data := written(t, c.width, c.height, c.plates, c.passes, c.findings)
		if !bytes.Contains(data, []byte("/MediaBox "+box)) {
			t.Fatal("the paper is not as this test takes it to be")
		}
		doc := opened(t, bytes.ReplaceAll(data, []byte(box), fmt.Appendf(nil, "[%g %g %g %g]", -beyond, -beyond, beyond, beyond)))
		sink := &finding.Collector{}
		r := interp.NewReader(doc, sink)
		m := geom.Rect{X0: beyond, Y0: beyond - 841.89, X1: beyond + 595.276, Y1: beyond}
		for n := 1; n <= doc.NumPages(); n++ {
			list, err := r.Page(context.Background(), n, interp.Options{Sink: sink})
			if err != nil {
				t.Fatal(err)
			}
			for i := range list.Items {
				if b := list.Items[i].Bounds; b.X0 < m.X0 || b.Y0 < m.Y0 || b.X1 > m.X1 || b.Y1 > m.Y1 {
					t.Errorf("%+v: page %d of %d has an item at %v", c, n, doc.NumPages(), b)
					break
				}
			}
		}
		if fs := sink.Sorted(); len(fs) > 0 {
			t.Errorf("%+v: %v", c, fs)
		}
	}
}

func TestFindings_beyond_the_limit_are_counted(t *testing.T) {
	a, b := opened(t, written(t, 100, 50, 1, 1, maxTold)), opened(t, written(t, 100, 50, 1, 1, maxTold+500))
	if a.NumPages()+1 < b.NumPages() {
		t.Errorf("%d and %d pages", a.NumPages(), b.NumPages())
	}
}

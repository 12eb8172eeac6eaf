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

// node is a structure element of a proof.
type node struct {
	kind string
	dict pdf.Dict
}

// structure lists the elements of a file in reading order.
func structure(t *testing.T, doc *pdf.Document) (out []node) {
	t.Helper()
	var walk func(o pdf.Object)
	walk = func(o pdf.Object) {
		d, _ := doc.Dict(o)
		if d["Type"] != pdf.Name("StructElem") {
			return
		}
		out = append(out, node{string(d["S"].(pdf.Name)), d})
		kids, ok := doc.Array(d["K"])
		if !ok {
			kids = pdf.Array{d["K"]}
		}
		for _, k := range kids {
			if _, ref := k.(pdf.Ref); ref {
				walk(k)
			}
		}
	}
	root, _ := doc.Dict(doc.Catalog()["StructTreeRoot"])
	walk(root["K"])
	return out
}

// Headings go down a level at a time, figures have words, tables have heads: what a screen reader goes by.
func TestProof_can_be_read_without_seeing_it(t *testing.T) {
	doc := opened(t, written(t, 200, 100, 5, 2, 40))
	level, heads := 0, 0
	kinds := map[string]int{}
	for _, n := range structure(t, doc) {
		kinds[n.kind]++
		if n.kind[0] == 'H' {
			l := int(n.kind[1] - '0')
			if l > level+1 {
				t.Errorf("a heading of level %d after one of level %d", l, level)
			}
			level = l
		}
		if n.kind == "Figure" && n.dict["Alt"] == nil {
			t.Error("a figure without words")
		}
		if n.kind == "TH" {
			heads++
		}
	}
	// The cover and the plates; looks, plates and the key of the findings; cautions.
	if kinds["Table"] != 2 || heads < 5 || kinds["Figure"] < 3+5+1 || kinds["Caption"] != 3+5 || kinds["L"] != 1 {
		t.Errorf("%v", kinds)
	}
	if lang, _ := doc.Catalog()["Lang"].(pdf.String); string(lang) != "en-GB" {
		t.Errorf("language %q", lang)
	}
}

// Nothing that belongs to a page of a long document is left out: every page has a picture or says why it has none.
func TestProof_shows_all_pages_small(t *testing.T) {
	var b bytes.Buffer
	w, err := New(&b, Data{Title: "Long"}, pdfpage.Info{})
	if err != nil {
		t.Fatal(err)
	}
	var small []Small
	var fs []finding.Finding
	for n := 1; n <= 300; n++ {
		s := Small{Number: n, WidthMM: 85, HeightMM: 55}
		if n == 17 {
			f := finding.Finding{ID: "x", Severity: finding.Error, What: "A fault.", Place: finding.Place{Page: n}}
			s.Findings, fs = []finding.Finding{f}, []finding.Finding{f}
		}
		small = append(small, s)
	}
	if err := w.Close(&End{Findings: fs, Small: small}); err != nil {
		t.Fatal(err)
	}
	alts := map[string]bool{}
	for _, n := range structure(t, opened(t, b.Bytes())) {
		if n.kind == "Figure" {
			alts[string(n.dict["Alt"].(pdf.String))] = true
		}
	}
	for n := 1; n <= 300; n++ {
		if !alts[fmt.Sprintf("Page %d could not be painted", n)] {
			t.Errorf("page %d is not there", n)
		}
	}
}

func TestCaptions_keep_both_ends_of_names_and_the_words(t *testing.T) {
	w, err := New(&bytes.Buffer{}, Data{}, pdfpage.Info{})
	if err != nil {
		t.Fatal(err)
	}
	st := pdfpage.Style{Size: 8, Bold: true}
	for _, name := range []string{"Silver", strings.Repeat("Überlänge", 12) + " 7", strings.Repeat("x", 5000) + " 7", "Größen" + strings.Repeat("m", 80) + " 7"} {
		lines := w.caption(st, name, ", mean 5 %", 50)
		text := strings.Join(lines, "")
		if len(lines) > 2 || !strings.HasPrefix(text, name[:3]) || !strings.HasSuffix(strings.ReplaceAll(text, " ", ""), "mean5%") {
			t.Errorf("%d letters: %q", len(name), lines)
		}
		if len(name) > 10 && !strings.Contains(strings.ReplaceAll(text, " ", ""), "7,mean") {
			t.Errorf("the end is gone: %q", lines)
		}
		for _, l := range lines {
			if w.doc.Width(st, l) > 50 {
				t.Errorf("%q is wider than its column", l)
			}
		}
	}
}

func TestSpread_covers_no_label_with_another(t *testing.T) {
	var labels []label
	for i := range 60 {
		labels = append(labels, label{fmt.Sprint(i + 1), 80 * float64(i%2), 30 * float64(i%3), 3})
	}
	got := spread(labels, 90, 60)
	for i, a := range got {
		if a.x < 0 || a.x+a.wide > 90 || a.y < 0 || a.y > 60 { // where they are wanted may be the edge
			t.Errorf("label %s lies outside: %+v", a.text, a)
		}
		for _, b := range got[:i] {
			if a.x < b.x+b.wide-1e-9 && b.x < a.x+a.wide-1e-9 && a.y < b.y+labelHeight-1e-9 && b.y < a.y+labelHeight-1e-9 {
				t.Errorf("%s covers %s", a.text, b.text)
			}
		}
	}
	if got[0] != labels[0] {
		t.Error("a label that stands free was moved")
	}
}

package pdf_test

import (
	"bytes"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/pdfbuild"
)

// A writer makes as many bytes as a builder makes of the same objects, in another order.
func TestWriter_writes_what_the_builder_does(t *testing.T) {
	f := pdfbuild.New()
	shared := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9]", "0 0 9 9 re f")
	f.Page(90, 90, "/XObject << /F "+pdfbuild.Ref(shared)+" >>", "/F Do")
	f.Page(90, 90, "/XObject << /F "+pdfbuild.Ref(shared)+" >>", "q /F Do Q")
	data := f.Bytes()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	type file interface {
		Add(pdf.Object) pdf.Ref
		Import(*pdf.Document, pdf.Object) pdf.Object
	}
	catalogue := func(f file) pdf.Ref {
		var kids pdf.Array
		for n := 1; n <= 2; n++ {
			p, err := doc.Page(n)
			if err != nil {
				t.Fatal(err)
			}
			kids = append(kids, f.Add(f.Import(doc, p.Dict)))
		}
		tree := f.Add(pdf.Dict{"Type": pdf.Name("Pages"), "Kids": kids, "Count": pdf.Integer(2)})
		return f.Add(pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": tree})
	}
	b := pdf.NewBuilder()
	var built, written bytes.Buffer
	b.Trailer["Root"] = catalogue(b)
	if _, err := b.WriteTo(&built); err != nil {
		t.Fatal(err)
	}
	w := pdf.NewWriter(&written, "1.7")
	w.Trailer["Root"] = catalogue(w)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := pdf.Open(bytes.NewReader(written.Bytes()), int64(written.Len()), pdf.Options{})
	if err != nil || again.Repaired() {
		t.Fatalf("%v", err)
	}
	if n := strings.Count(written.String(), "/Subtype /Form"); n != 1 {
		t.Errorf("the shared form is there %d times", n)
	}
	if built.Len() != written.Len() {
		t.Errorf("%d bytes built, %d written", built.Len(), written.Len())
	}
}

func TestWriter_tells_what_was_left_out(t *testing.T) {
	var out bytes.Buffer
	w := pdf.NewWriter(&out, "1.7")
	r := w.Reserve()
	if err := w.Close(); err == nil || !strings.Contains(err.Error(), "no catalogue") {
		t.Errorf("%v", err)
	}
	w.Trailer["Root"] = w.Add(pdf.Dict{})
	if err := w.Close(); err == nil || !strings.Contains(err.Error(), "object 1") {
		t.Errorf("%v", err)
	}
	w.Set(r, pdf.Integer(1))
	w.Set(r, pdf.Integer(2))
	if err := w.Close(); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("%v", err)
	}
}

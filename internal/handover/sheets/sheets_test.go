package sheets

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/plan/sheet"
	_ "laydown/internal/sameseed"
)

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

func open(t fataler, data []byte, password string) *pdf.Document {
	t.Helper()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Password: password})
	if err != nil {
		t.Fatalf("%v", err)
	}
	return doc
}

// records plans every page of a file as a record of its own, 30 x 20 mm.
func records(t fataler, doc *pdf.Document, marks sheet.Choice) *sheet.Plan {
	t.Helper()
	piece := sheet.Size{W: 30, H: 20}
	p, err := sheet.New(sheet.Job{Request: sheet.Request{Piece: piece, Bleed: 2, Gutter: 4, Margins: sheet.Margins{Lead: 4, Trail: 4, Side: 4},
		Sheets: []sheet.Stock{{Size: sheet.Size{W: 160, H: 120}}}}, Records: doc.NumPages(), Each: 1, Marks: marks, Pieces: []sheet.Piece{{Front: sheet.OnePage(1, piece)}}})
	if err != nil {
		t.Fatalf("%v", err)
	}
	return p
}

var twoPasses = []Pass{
	{Name: "special", Toners: []Toner{{Name: "Opaque White", White: true, StandIn: [4]float64{.3, .1, .1, 0}}, {Name: "Clear", Clear: true, Solid: true, StandIn: [4]float64{0, .2, 0, 0}}}},
	{Name: "process", Black: true, Toners: []Toner{{Name: "Cyan", Process: true, StandIn: [4]float64{1, 0, 0, 0}}, black}},
}

func write(t fataler, doc *pdf.Document, marks sheet.Choice) ([]byte, *pdf.Document) {
	t.Helper()
	var b bytes.Buffer
	if _, err := Write(context.Background(), &b, Job{Doc: doc, Plan: records(t, doc, marks), Passes: twoPasses, Dark: true, Title: "a (title) \xff"}); err != nil {
		t.Fatalf("%v", err)
	}
	out := open(t, b.Bytes(), "")
	if out.Repaired() || out.Encrypted() {
		t.Fatalf("repaired %v, encrypted %v", out.Repaired(), out.Encrypted())
	}
	return b.Bytes(), out
}

// Whatever the artwork holds, the file written is sound and has the sides of the plan.
func TestWrite_makes_sound_files(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		doc := open(t, pdfbuild.RandomFile(t), "")
		_, out := write(t, doc, sheet.AllMarks)
		if out.NumPages() != records(t, doc, sheet.AllMarks).Count {
			t.Fatalf("%d sides", out.NumPages())
		}
	})
}

// What records share is in the file once, and each record's own as often as there are records.
func TestWrite_stores_what_is_shared_once(t *testing.T) {
	f := pdfbuild.New()
	picture := func(v string) string {
		return pdfbuild.Ref(f.Stream("/Type /XObject /Subtype /Image /Width 1 /Height 1 /ColorSpace /DeviceGray /BitsPerComponent 8", v))
	}
	shared := picture("\x80")
	for n := range 40 {
		f.Page(90, 60, "/XObject << /A "+shared+" /B "+picture(string(rune(33+n)))+" >>", "q 50 0 0 50 0 0 cm /A Do Q q 9 0 0 9 60 0 cm /B Do Q")
	}
	data, out := write(t, open(t, f.Bytes(), ""), sheet.Choice{})
	if n := bytes.Count(data, []byte("/Subtype /Image")); n != 41 {
		t.Errorf("%d images, want 41", n)
	}
	if n := bytes.Count(data, []byte("/Subtype /Form")); n != 40 || out.NumPages() < 2 {
		t.Errorf("%d forms on %d sides, want 40", n, out.NumPages())
	}
}

// Artwork with a password gives plain sheets: who may not open it cannot lay it on sheets either. The passwords of the file are
// "open me" and "change me".
func TestWrite_decrypts(t *testing.T) {
	data, err := os.ReadFile("../../cli/testdata/locked.pdf")
	if err != nil {
		t.Fatal(err)
	}
	_, out := write(t, open(t, data, "open me"), sheet.Choice{})
	p, err := out.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	forms, _ := out.Dict(p.Resources["XObject"])
	form, ok := out.Stream(forms["P1"])
	if !ok {
		t.Fatal("no form")
	}
	content, err := out.Data(form)
	if err != nil || !bytes.Contains(content, []byte("scn")) {
		t.Errorf("%q %v", content, err)
	}
}

// The page group is kept, isolated, where something may blend, and left out where nothing does.
func TestWrite_isolates_page_groups(t *testing.T) {
	f := pdfbuild.New()
	f.Page(90, 60, "", "0 0 9 9 re f", "/Group << /S /Transparency /CS /DeviceCMYK /I false >>")
	doc := open(t, f.Bytes(), "")
	for blends, want := range map[bool]string{true: "/I true", false: ""} {
		var b bytes.Buffer
		if _, err := Write(context.Background(), &b, Job{Doc: doc, Plan: records(t, doc, sheet.Choice{}), Blends: func(int) bool { return blends }}); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(b.String(), "/Transparency"); got != blends || !strings.Contains(b.String(), want) {
			t.Errorf("blends %v: %q", blends, b.String())
		}
	}
}

// A page that is not as large as the piece is told once, with its size.
func TestWrite_tells_pages_of_another_size(t *testing.T) {
	f := pdfbuild.New()
	const mm = 72 / 25.4
	f.Page(100, 100, "", "", fmt.Sprintf("/TrimBox [0 0 %g %g]", 30*mm, 20*mm))
	f.Page(100, 100, "", "", fmt.Sprintf("/TrimBox [0 0 %g %g]", 30*mm, 25*mm))
	f.Page(100, 100, "", "")
	doc := open(t, f.Bytes(), "")
	sink := &finding.Collector{}
	if _, err := Write(context.Background(), &bytes.Buffer{}, Job{Doc: doc, Plan: records(t, doc, sheet.Choice{}), Sink: sink}); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range sink.Sorted() {
		got = append(got, fmt.Sprintf("%s of page %d: %s", f.ID, f.Place.Page, f.Severity))
	}
	slices.Sort(got)
	if want := []string{"page-not-of-piece-size of page 2: warning", "page-not-of-piece-size of page 3: note"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// A patch of a process toner lies on its own plate alone, though its stand-in colour may be mixed.
func TestColour_of_process_toners_is_their_own(t *testing.T) {
	cyan := Toner{Name: "Cyan", Process: true, StandIn: [4]float64{1, .1, 0, 0}}
	if got, want := colour(&cyan, .5), "0.5 0 0 0 k 0.5 0 0 0 K\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The writer's own error is told, not a file cut short.
func TestWrite_tells_a_full_disc(t *testing.T) {
	f := pdfbuild.New()
	f.Page(90, 60, "", "0 0 9 9 re f")
	doc := open(t, f.Bytes(), "")
	if _, err := Write(context.Background(), full(200), Job{Doc: doc, Plan: records(t, doc, sheet.Choice{})}); err == nil || !strings.Contains(err.Error(), "full") {
		t.Errorf("%v", err)
	}
}

// full is a disc with room for so many bytes a write.
type full int

func (f full) Write(b []byte) (int, error) {
	if len(b) > int(f) {
		return 0, fmt.Errorf("the disc is full")
	}
	return len(b), nil
}

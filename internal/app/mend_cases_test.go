package app

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/pdfbuild"
)

// listOf reads page 1 of the mended file in dir.
func listOf(t *testing.T, s *Setup, dir string) (*Artwork, *displist.List) {
	t.Helper()
	art, err := s.Open(filepath.Join(dir, "out.pdf"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { art.Close() })
	sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return art, sh.List
}

// spaces lists what the items are painted in.
func spaces(l *displist.List) string {
	var out []string
	for i := range l.Items {
		it := &l.Items[i]
		switch {
		case it.Kind == displist.Image && !it.Image.Stencil:
			out = append(out, it.Image.Space.String())
		case it.Paint.Space != nil:
			out = append(out, it.Paint.Space.String())
		}
	}
	return strings.Join(out, ", ")
}

const caseSpaces = "/ColorSpace << /W " // and a Separation after it

func TestOneOccurrenceOfAFormIsChangedAlone(t *testing.T) {
	f := pdfbuild.New()
	form := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 20 20]", "0 0 20 20 re f")
	other := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 20 20]", "0 0 9 9 re f")
	f.Page(100, 100, "/XObject << /F "+pdfbuild.Ref(form)+" /LX1 "+pdfbuild.Ref(other)+" >>", "0 1 0 0 k /F Do q 1 0 0 1 40 40 cm /F Do Q /LX1 Do")
	dir, s := t.TempDir(), twoSet(t)
	_, out := mended(t, dir, s, f.Bytes(), "to-toner:toner=Gold,item=1,page=1")
	art, l := listOf(t, s, dir)
	if got, want := spaces(l), "DeviceCMYK, Separation Gold, DeviceCMYK"; got != want {
		t.Fatalf("painted in %s; want %s", got, want)
	}
	if first, second := l.Items[0].Origin, l.Items[1].Origin; first.Forms.Object != form || second.Forms.Object == form || second.Forms.Name == "LX1" {
		t.Fatalf("the forms drawn are %+v and %+v", first.Forms, second.Forms)
	}
	st, _ := art.Doc.Stream(pdf.Ref{Num: form})
	if data, err := art.Doc.Data(st); err != nil || string(data) != "0 0 20 20 re f" {
		t.Fatalf("the form itself became %q (%v)", data, err)
	}
	if !bytes.HasPrefix(out, f.Bytes()) {
		t.Fatal("the file as it was is not the start of the mended one")
	}
}

func TestColourRoundTypeIsSetBack(t *testing.T) {
	f := pdfbuild.New()
	font := "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"
	// The colour comes from the page, where it has a name the form does not know.
	form := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Resources << "+font+" >>", "BT /F 12 Tf 5 50 Td (a) Tj (b) Tj (c) Tj ET")
	f.Page(100, 100, caseSpaces+pdfbuild.Spot("White", .2, 0, 0, 0)+" >> /XObject << /X "+pdfbuild.Ref(form)+" >> "+font,
		"/W cs .5 scn /X Do BT /F 12 Tf 5 5 Td (d) Tj 0 g (e) ' ET")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "to-toner:toner=Gold,item=1|3,page=1")
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Separation White, Separation Gold, Separation White, Separation Gold, DeviceGray"; got != want {
		t.Fatalf("painted in %s; want %s", got, want)
	}
	if c := l.Items[2].Paint.Comps; len(c) != 1 || c[0] != .5 {
		t.Fatalf("the tint set back is %v", c)
	}
	for i := range l.Items {
		if l.Items[i].Text == nil {
			t.Fatalf("item %d is no type any more", i)
		}
	}
}

func TestClipsMadeWhilePaintingStay(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, "", "0 1 0 0 k 10 10 30 30 re W f 1 0 0 0 k 0 0 100 100 re f")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "to-toner:toner=Gold,item=0,page=1")
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Separation Gold, DeviceCMYK"; got != want {
		t.Fatalf("painted in %s; want %s", got, want)
	}
	if c := l.Items[1].Clip; c == nil || c.Bounds.W() != 30 {
		t.Fatalf("the second object is clipped to %+v", c)
	}
}

func TestPicturesOfOneSampleKeepTheirData(t *testing.T) {
	f := pdfbuild.New()
	data := "\x00\x40\x80\xc0\xe0\xff"
	im := f.Stream("/Type /XObject /Subtype /Image /Width 3 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray /Decode [1 0]", data)
	f.Page(100, 100, "/XObject << /P "+pdfbuild.Ref(im)+" >>", "100 0 0 100 0 0 cm /P Do")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "to-toner:toner=Silver,kind=image,curve=0 10 20 60 100")
	art, l := listOf(t, s, dir)
	p := l.Items[0].Image
	if got := p.Space.String(); got != "Indexed Separation Silver" {
		t.Fatalf("the picture is in %s", got)
	}
	st, _ := art.Doc.Stream(p.Ref)
	if raw, err := art.Doc.RawData(st); err != nil || string(raw) != data {
		t.Fatalf("its data became %q (%v)", raw, err)
	}
}

func TestDamagedFilesAreWrittenAnew(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, caseSpaces+pdfbuild.Spot("white", .2, 0, 0, 0)+" >>", "/W cs 1 scn 0 0 50 50 re f")
	data := bytes.Replace(f.Bytes(), []byte("startxref\n"), []byte("startxref\n9"), 1)
	dir, s := t.TempDir(), twoSet(t)
	o, out := mended(t, dir, s, data, "rename-colourant:from=white,to=White")
	if out == nil || bytes.HasPrefix(out, data) {
		t.Fatal("the damaged structure was kept")
	}
	if notes := strings.Join(o.Steps[0].Notes, " "); !strings.Contains(notes, "written anew") {
		t.Fatalf("nobody is told: %q", notes)
	}
	if _, err := Unmend(s, filepath.Join(dir, "out.pdf"), filepath.Join(dir, "back.pdf")); err == nil {
		t.Fatal("a file that was written anew was undone")
	}
}

func TestProtectedFilesStayProtected(t *testing.T) {
	data, err := os.ReadFile("../cli/testdata/locked.pdf")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	s, err := NewSetup(SetupOptions{Press: "two-set", Password: "open me"})
	if err != nil {
		t.Fatal(err)
	}
	if _, out := mended(t, dir, s, data, "centre-boxes:width=10mm,height=10mm,bleed=0mm,replace=yes"); out == nil {
		t.Fatal("nothing was changed")
	}
	if _, err := Open(filepath.Join(dir, "out.pdf")); err == nil {
		t.Fatal("the mended file opens without the password")
	}
	_, l := listOf(t, s, dir)
	if !l.Page.HasTrim {
		t.Fatal("the mended file has no trim")
	}
}

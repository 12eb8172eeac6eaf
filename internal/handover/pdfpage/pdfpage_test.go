package pdfpage

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// words hold umlauts, Greek, Cyrillic, a sign the text faces lack, and a letter no face has.
const words = "Größe & Maß, Ελλάδα, Привет, ✂, \U00013000."

func picture() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 37, 23))
	for y := range 23 {
		for x := range 37 {
			m.SetRGBA(x, y, color.RGBA{uint8(7 * x), uint8(11 * y), uint8(x * y), 255})
		}
	}
	return m
}

func document(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	d, err := New(&b, Info{Title: "Prüfung <1>"})
	if err != nil {
		t.Fatal(err)
	}
	d.Foot(func(p *Page, n, of int) { p.Text(15, p.H-9, Style{Size: 7}, fmt.Sprintf("%d of %d", n, of)) })
	f := d.NewFlow(1)
	f.Heading(1, "Second section", 20)
	for i := range 60 {
		f.Text(Style{Size: 10}, fmt.Sprintf("%d. %s", i, words))
	}
	f.Table(8, []Cell{{Text: "Name", Width: 40}, {Text: "Tint", Width: 30, Right: true}}, func() {
		for range 9 {
			f.Row(Cell{Text: strings.Repeat("x", 300), Width: 40, Chip: &RGB{1, 2, 3}, Heads: true}, Cell{Text: "12 %", Width: 30, Right: true})
		}
		f.Row(Cell{Text: "last", Width: 40, Heads: true}, Cell{Width: 30})
	})
	f.List(Style{Size: 8}, false, []string{"one", words})
	f.Break()
	f = d.NewFlow(0)
	f.Heading(2, "First section", 20)
	f.Page.Figure("a picture", 15, 60, 37, 23, func() { f.Page.Picture(15, 60, 37, 23, picture()) }, func() { f.Page.Text(15, 90, Style{Size: 8}, "Caption") })
	gray := image.NewGray(image.Rect(0, 0, 5, 4))
	gray.SetGray(2, 2, color.Gray{200})
	f.Page.Picture(60, 60, 5, 4, gray)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func opened(t *testing.T, data []byte) *pdf.Document {
	t.Helper()
	var c finding.Collector
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &c})
	if err != nil || len(c.Sorted()) > 0 {
		t.Fatalf("%v, findings %v", err, c.Sorted())
	}
	return doc
}

func TestDocument_is_the_same_bytes_every_time(t *testing.T) {
	if !bytes.Equal(document(t), document(t)) {
		t.Error("two runs differ")
	}
}

// objects is more than the test's documents have.
const objects = 1000

// output runs a program of the system on a file; the test is skipped where there is none.
func output(t *testing.T, data []byte, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skip(name + " is not on this machine")
	}
	file := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(name, append(args, file)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func TestDocument_is_sound_to_others(t *testing.T) {
	for _, c := range [][]string{{"qpdf", "--check"}, {"gs", "-q", "-sDEVICE=nullpage", "-dPDFSTOPONERROR", "-dNOPAUSE", "-dBATCH"}} {
		t.Run(c[0], func(t *testing.T) {
			out := output(t, document(t), c[0], c[1:]...)
			if strings.Contains(out, "WARNING") || strings.Contains(out, "rror:") {
				t.Error(out)
			}
		})
	}
}

func TestSections_come_in_their_order(t *testing.T) {
	out := output(t, document(t), "mutool", "draw", "-q", "-F", "txt")
	first, second := strings.Index(out, "First section"), strings.Index(out, "Second section")
	if first < 0 || second < first {
		t.Errorf("found at %d and %d", first, second)
	}
}

func TestText_can_be_taken_out_again(t *testing.T) {
	out := output(t, document(t), "mutool", "draw", "-q", "-F", "txt")
	if want := "59. Größe & Maß, Ελλάδα, Привет, ✂, [U+13000]."; !strings.Contains(out, want) {
		t.Errorf("%q is not in the text", want)
	}
}

func TestFonts_are_in_the_file(t *testing.T) {
	doc := opened(t, document(t))
	fonts := 0
	for n := range objects {
		d, ok := doc.Resolve(pdf.Ref{Num: n}).(pdf.Dict)
		if !ok {
			continue
		}
		switch {
		case d["Type"] == pdf.Name("FontDescriptor"):
			fonts++
			s, ok := doc.Resolve(d["FontFile2"]).(*pdf.Stream)
			if !ok {
				t.Fatalf("font %v has no program", d["FontName"])
			}
			if b, err := doc.Data(s); err != nil || len(b) < 2000 || len(b) > 200_000 {
				t.Errorf("program of %v: %d bytes, %v", d["FontName"], len(b), err)
			}
		case d["Subtype"] == pdf.Name("Type1") || d["Subtype"] == pdf.Name("TrueType"):
			t.Errorf("a font of another make: %v", d)
		}
	}
	if fonts != 3 {
		t.Errorf("%d fonts, want 3", fonts)
	}
}

func TestPictures_keep_their_samples(t *testing.T) {
	doc := opened(t, document(t))
	m := picture()
	for n := range objects {
		s, ok := doc.Resolve(pdf.Ref{Num: n}).(*pdf.Stream)
		if !ok || s.Dict["Width"] != pdf.Integer(37) {
			continue
		}
		got, err := doc.Data(s)
		if err != nil || len(got) != 3*37*23 {
			t.Fatalf("%d bytes, %v", len(got), err)
		}
		for i := range 37 * 23 {
			if !bytes.Equal(got[3*i:3*i+3], m.Pix[4*i:4*i+3]) {
				t.Fatalf("sample %d is %v, want %v", i, got[3*i:3*i+3], m.Pix[4*i:4*i+3])
			}
		}
		return
	}
	t.Error("the picture is not in the file")
}

// Every piece of text belongs to an element of the structure, or is an artifact, and the elements stand in reading order.
func TestWrapped_lines_fit_and_lose_nothing(t *testing.T) {
	d, err := New(&bytes.Buffer{}, Info{})
	if err != nil {
		t.Fatal(err)
	}
	text := "Donaudampfschifffahrtsgesellschaftskapitänsmütze steht neben einem kurzen Wort und noch einem"
	for _, width := range []float64{12, 20, 47.3, 500} {
		st := Style{Size: 9}
		lines := d.Wrap(st, text, width)
		for _, l := range lines {
			if w := d.Width(st, l); w > width {
				t.Errorf("%q is %.2f mm wide, there are %g", l, w, width)
			}
		}
		plain := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if got := plain(strings.Join(lines, "")); got != plain(text) {
			t.Errorf("%g mm: %q", width, got)
		}
	}
}

func TestWidth_is_that_of_the_letters(t *testing.T) {
	d, err := New(&bytes.Buffer{}, Info{})
	if err != nil {
		t.Fatal(err)
	}
	// Digits: each is 556 of 1000 wide in this face, as in others made to its widths.
	if got, want := d.Width(Style{Size: 10}, "0123456789"), 55.6*25.4/72; math.Abs(got-want) > 1e-9 {
		t.Errorf("%v mm, want %v", got, want)
	}
}

func TestBytes_that_are_no_text_are_shown(t *testing.T) {
	d, err := New(&bytes.Buffer{}, Info{})
	if err != nil {
		t.Fatal(err)
	}
	if got := d.shown(Style{Size: 9}, "Gr\xfcn\n"); got != "Gr#FCn " {
		t.Errorf("%q", got)
	}
}

func TestProfile_of_screens_is_sRGB(t *testing.T) {
	p, err := colour.ParseProfile(sRGBProfile())
	if err != nil {
		t.Fatal(err)
	}
	if !p.IsSRGB() || p.Components() != 3 {
		t.Errorf("sRGB %v, %d components", p.IsSRGB(), p.Components())
	}
}

func TestStrokes_turns_the_operators(t *testing.T) {
	for fill, want := range map[string]string{"0 0 0 1 k": "0 0 0 1 K", "/C1 cs 1 scn": "/C1 CS 1 SCN", "0.5 g": "0.5 G"} {
		if got := strokes(fill); got != want {
			t.Errorf("%s: %s, want %s", fill, got, want)
		}
	}
}

func TestSqueezed_lines_fit_and_keep_both_ends(t *testing.T) {
	d, err := New(&bytes.Buffer{}, Info{})
	if err != nil {
		t.Fatal(err)
	}
	st := Style{Size: 8}
	for _, c := range []struct {
		text  string
		width float64
	}{{"short", 30}, {"Überlange Sonderfarbe 7", 20}, {strings.Repeat("m", 500), 12}, {"wide", 1}} {
		got := d.Squeeze(st, c.text, c.width)
		whole := d.Width(st, c.text) <= c.width
		if whole != (got == c.text) {
			t.Errorf("%q in %g mm: %q", c.text, c.width, got)
		}
		if w := d.Width(st, got); w > c.width && got != "…" {
			t.Errorf("%q is %g mm wide, of %g", got, w, c.width)
		}
		if c.width > 10 && (got[:1] != c.text[:1] || got[len(got)-1:] != c.text[len(c.text)-1:]) {
			t.Errorf("%q lost an end", got)
		}
	}
}

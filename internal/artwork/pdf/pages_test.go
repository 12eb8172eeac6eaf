package pdf_test

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// Are attributes inherited, boxes normalised and clipped, and odd values told?
func TestPageAttributes(t *testing.T) {
	box := func(a, b, c, d float64) *[4]float64 { return &[4]float64{a, b, c, d} }
	for _, c := range []struct {
		name, tree, page string // entries of the page tree node and of the page
		media, crop      [4]float64
		trim             *[4]float64
		rotate           int
		unit             float64
		finding          finding.ID
	}{
		{"own", "", "/MediaBox [0 0 100 50]", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, ""},
		{"inherited", "/MediaBox [0 0 100 50] /CropBox [10 10 90 40] /Rotate 90", "", *box(0, 0, 100, 50), *box(10, 10, 90, 40), nil, 90, 1, ""},
		{"own beats inherited", "/MediaBox [0 0 1 1] /Rotate 90", "/MediaBox [0 0 100 50] /Rotate 0", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, ""},
		{"trim is not inherited", "/TrimBox [1 1 2 2]", "/MediaBox [0 0 100 50]", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, ""},
		{"corners the other way", "", "/MediaBox [100 50 0 0] /TrimBox [90 5 10 45]", *box(0, 0, 100, 50), *box(0, 0, 100, 50), box(10, 5, 90, 45), 0, 1, ""},
		{"clipped to the media", "", "/MediaBox [0 0 100 50] /CropBox [-5 -5 200 20] /TrimBox [50 0 150 50]", *box(0, 0, 100, 50), *box(0, 0, 100, 20), box(50, 0, 100, 50), 0, 1, ""},
		{"no size", "", "", *box(0, 0, 612, 792), *box(0, 0, 612, 792), nil, 0, 1, "page-size-missing"},
		{"no area", "", "/MediaBox [0 0 0 50]", *box(0, 0, 612, 792), *box(0, 0, 612, 792), nil, 0, 1, "page-size-missing"},
		{"crop outside", "", "/MediaBox [0 0 100 50] /CropBox [200 200 300 300]", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, "page-box-broken"},
		{"trim broken", "", "/MediaBox [0 0 100 50] /TrimBox [1 2 (x) 4]", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, "page-box-broken"},
		{"turned left", "", "/MediaBox [0 0 100 50] /Rotate -90", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 270, 1, ""},
		{"turned askew", "", "/MediaBox [0 0 100 50] /Rotate 100", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 90, 1, "page-rotation-odd"},
		{"unit", "", "/MediaBox [0 0 100 50] /UserUnit 2.5", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 2.5, ""},
		{"unit zero", "", "/MediaBox [0 0 100 50] /UserUnit 0", *box(0, 0, 100, 50), *box(0, 0, 100, 50), nil, 0, 1, "page-unit-odd"},
	} {
		r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, "<< /Type /Pages /Kids [3 0 R] /Count 1 "+c.tree+" >>").obj(3, "<< /Type /Page "+c.page+" >>")
		r.table("/Root 1 0 R /Size 4", 0, 1, 2, 3)
		d, sink := open(t, r.Bytes())
		p, err := d.Page(1)
		if err != nil {
			t.Fatal(err)
		}
		if p.MediaBox != c.media || p.CropBox != c.crop || p.Rotate != c.rotate || p.UserUnit != c.unit || p.Resources == nil {
			t.Errorf("%s: %+v", c.name, p)
		}
		if (p.TrimBox == nil) != (c.trim == nil) || c.trim != nil && *p.TrimBox != *c.trim {
			t.Errorf("%s: TrimBox %v", c.name, p.TrimBox)
		}
		if c.finding == "" && len(sink.Sorted()) > 0 || c.finding != "" && !ids(sink)[c.finding] {
			t.Errorf("%s: findings %v, want %q", c.name, sink.Sorted(), c.finding)
		}
	}
}

// Which pages are found in a tree with faults, and in which order?
func TestPageTreeFaults(t *testing.T) {
	for _, c := range []struct {
		name, kids string
		widths     []float64
		finding    finding.ID
	}{
		{"sound", "[10 0 R 20 0 R 11 0 R]", []float64{10, 12, 13, 11}, ""},
		{"a kid is missing", "[10 0 R 99 0 R 11 0 R]", []float64{10, 11}, "page-missing"},
		{"a kid is null", "[10 0 R null 11 0 R]", []float64{10, 11}, "page-missing"},
		{"a kid is something else", "[10 0 R 30 0 R 11 0 R]", []float64{10, 11}, "page-tree-damaged"},
		{"the tree is its own kid", "[10 0 R 2 0 R 11 0 R]", []float64{10, 11}, "page-tree-damaged"},
		{"a kid without a type", "[40 0 R]", []float64{14}, ""},
		{"a kid written in place", "[<< /Type /Page /MediaBox [0 0 17 17] >>]", []float64{17}, "page-direct"},
	} {
		page := func(w int) string { return fmt.Sprintf("<< /Type /Page /MediaBox [0 0 %d 50] >>", w) }
		r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, fmt.Sprintf("<< /Type /Pages /Count %d /Kids %s >>", len(c.widths), c.kids)).
			obj(10, page(10)).obj(11, page(11)).obj(12, page(12)).obj(13, page(13)).obj(20, "<< /Type /Pages /Count 2 /Kids [12 0 R 13 0 R] >>").
			obj(30, "<< /Type /Font >>").obj(40, "<< /MediaBox [0 0 14 50] >>")
		r.table("/Root 1 0 R /Size 41", 0, 1, 2, 10, 11, 12, 13, 20, 30, 40)
		d, sink := open(t, r.Bytes())
		var got []float64
		for n := 1; n <= d.NumPages(); n++ {
			p, _ := d.Page(n)
			got = append(got, p.MediaBox[2])
		}
		if fmt.Sprint(got) != fmt.Sprint(c.widths) {
			t.Errorf("%s: widths %v, want %v", c.name, got, c.widths)
		}
		if c.finding == "" && len(sink.Sorted()) > 0 || c.finding != "" && !ids(sink)[c.finding] {
			t.Errorf("%s: findings %v, want %q", c.name, sink.Sorted(), c.finding)
		}
	}
}

// Is a page number outside the file an error?
func TestPageNumberOutside(t *testing.T) {
	f := pdfbuild.New()
	f.Page(10, 10, "", "")
	d, _ := open(t, f.Bytes())
	for _, n := range []int{-1, 0, 2} {
		if p, err := d.Page(n); err == nil || p != nil {
			t.Errorf("page %d: %v, %v", n, p, err)
		}
	}
}

// Does a path lead to the object a person means, and does a wrong one say what there is?
func TestLookup(t *testing.T) {
	f := pdfbuild.New()
	f.Page(10, 20, "/Font << /F1 << /Type /Font /A.B (dot) >> >>", "q Q")
	d, _ := open(t, f.Bytes())
	for _, c := range []struct{ path, want, err string }{
		{"pages.1.MediaBox.3", "20", ""},
		{"pages.1.Resources.Font.F1.A#2EB", "(dot)", ""},
		{"2.Count", "1", ""},
		{"trailer.Root.Type", "/Catalog", ""},
		{"catalog.Pages.Kids.0.Type", "/Page", ""},
		{"99", "", "no object 99"},
		{"foo", "", "no object: start with"},
		{"pages.7", "", "no page 7"},
		{"pages.x", "", "not a page number"},
		{"2.Kidz", "", "it has /Type /Count /Kids"},
		{"2.Kids.5", "", "from 0 to 0"},
		{"2.Count.1", "", "2.Count is a whole number"},
	} {
		o, _, err := d.Lookup(c.path)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: error %v, want %q", c.path, err, c.err)
			}
			continue
		}
		if got := string(pdf.AppendObject(nil, o)); err != nil || got != c.want {
			t.Errorf("%s: %s, %v; want %s", c.path, got, err, c.want)
		}
	}
}

// Is an object told one entry a line within the size asked for?
func TestDescribe(t *testing.T) {
	f := pdfbuild.New()
	f.Page(10, 20, "", "q Q")
	d, _ := open(t, f.Bytes())
	o, _, err := d.Lookup("pages.1")
	if err != nil {
		t.Fatal(err)
	}
	want := "dictionary, 5 entries\n/Type  /Page\n/Contents  3 0 R = stream /Length\n/MediaBox  [0 0 10 20]\n" +
		"/Parent  2 0 R = dictionary /Type /Count /Kids\n/Resources  << >>\n"
	if got := d.Describe(o, 1<<16); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	for max := range len(want) {
		if got := d.Describe(o, max); len(got) > max {
			t.Fatalf("%d bytes where %d were asked for: %q", len(got), max, got)
		}
	}
	s, _, _ := d.Lookup("3")
	if got := d.Describe(s, 1000); got != "stream, 1 entries, 3 bytes stored\n/Length  3\n" {
		t.Errorf("%q", got)
	}
}

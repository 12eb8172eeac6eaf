package interp

import (
	"context"
	"errors"
	"strings"
	"testing"

	"laydown/internal/golden"
	"laydown/internal/pdfbuild"
)

// TestPageGeometry asks how page attributes reach list space.
func TestPageGeometry(t *testing.T) {
	mark := "0 0 20 10 re f" // wide, at the lower left of the unrotated page
	for _, c := range []struct {
		name string
		make func(f *pdfbuild.File)
	}{
		{"page/plain", func(f *pdfbuild.File) { f.Page(200, 100, "", mark) }},
		{"page/rotate-90", func(f *pdfbuild.File) { f.Page(200, 100, "", mark, "/Rotate 90") }},
		{"page/rotate-180", func(f *pdfbuild.File) { f.Page(200, 100, "", mark, "/Rotate 180") }},
		{"page/rotate-270", func(f *pdfbuild.File) { f.Page(200, 100, "", mark, "/Rotate -90") }},
		{"page/user-unit-scales-all", func(f *pdfbuild.File) {
			f.Page(200, 100, "", mark+" 10 50 m 50 50 l S", "/UserUnit 2 /TrimBox [10 10 190 90]")
		}},
		{"page/media-box-off-the-origin", func(f *pdfbuild.File) {
			f.PageWith(1, 1, "", ref(f.Stream("", "-50 20 20 10 re f")), "/MediaBox [150 120 -50 20] /Rotate 90")
		}},
		{"page/boxes-and-defaults", func(f *pdfbuild.File) {
			f.Page(200, 100, "", mark, "/CropBox [5 5 195 95] /TrimBox [180 20 20 80] /BleedBox [-100 10 500 90]")
		}},
		{"page/box-outside-counts-as-absent", func(f *pdfbuild.File) { f.Page(200, 100, "", mark, "/TrimBox [300 300 400 400]") }},
		{"page/trim-is-not-inherited", func(f *pdfbuild.File) {
			c := f.Stream("", mark)
			p := f.PageWith(200, 100, "", ref(c))
			node := f.Add("<< /Type /Pages /Parent 2 0 R /Count 1 /TrimBox [10 10 90 90] /CropBox [5 5 195 95] /Kids [" + ref(p) + "] >>")
			f.Set(p, "<< /Type /Page /Parent "+ref(node)+" /MediaBox [0 0 200 100] /Contents "+ref(c)+" >>")
			f.Catalog("/Pages " + ref(node))
		}},
		{"page/no-contents-is-empty", func(f *pdfbuild.File) { f.PageWith(200, 100, "", "null") }},
		{"page/contents-are-joined", func(f *pdfbuild.File) {
			a, b := f.Stream("", "0 0 20 10 re"), f.Stream("", "f 30 0 5 5 re f")
			f.PageWith(200, 100, "", "["+ref(a)+" "+ref(b)+"]")
		}},
		{"page/one-bad-stream-among-contents", func(f *pdfbuild.File) {
			a, b := f.Stream("", mark), f.Stream("", "30 0 5 5 re f")
			bad := f.Add("<< /Filter /Nothing /Length 3 >>\nstream\nabc\nendstream")
			f.PageWith(200, 100, "", "["+ref(a)+" "+ref(bad)+" 99 0 R "+ref(b)+"]")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			c.make(f)
			l, found := interpret(t, f, Options{})
			var b strings.Builder
			if err := l.WritePage(&b); err != nil {
				t.Fatal(err)
			}
			golden.Text(t, c.name+".txt", b.String()+dump(l, found))
		})
	}
}

// TestAnnotations asks which annotations print, and where (12.5.5).
func TestAnnotations(t *testing.T) {
	form := "/Subtype /Form /BBox [0 0 20 10] /Resources << >>"
	for _, c := range []struct {
		name string
		make func(f *pdfbuild.File) string // entries after /Rect
		opt  Options
	}{
		{"annotation/print-flag-draws", func(f *pdfbuild.File) string {
			return "/F 4 /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/no-flag-draws-nothing", func(f *pdfbuild.File) string { return "/AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>" }, Options{}},
		{"annotation/hidden-draws-nothing", func(f *pdfbuild.File) string {
			return "/F 6 /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/no-view-still-prints", func(f *pdfbuild.File) string {
			return "/F 36 /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/without-appearance", func(f *pdfbuild.File) string { return "/F 4 /C [1 0 0]" }, Options{}},
		{"annotation/popup-never", func(f *pdfbuild.File) string {
			return "/Subtype /Popup /F 4 /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/state-picks", func(f *pdfbuild.File) string {
			return "/F 4 /AS /On /AP << /N << /On " + ref(f.Stream(form, "0 0 20 10 re f")) + " /Off " + ref(f.Stream(form, "0 0 5 5 re f")) + " >> >>"
		}, Options{}},
		{"annotation/matrix-turns-onto-rect", func(f *pdfbuild.File) string {
			return "/F 4 /AP << /N " + ref(f.Stream("/Subtype /Form /BBox [0 0 20 10] /Matrix [0 1 -1 0 7 7] /Resources << >>", "0 0 10 10 re f")) + " >>"
		}, Options{}},
		{"annotation/blend-mode-makes-a-group", func(f *pdfbuild.File) string {
			return "/F 4 /BM /Multiply /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/layer-counts", func(f *pdfbuild.File) string {
			g := f.Add("<< /Type /OCG /Name (notes) >>")
			f.Catalog("/OCProperties << /OCGs [" + ref(g) + "] /D << /OFF [" + ref(g) + "] >> >>")
			return "/F 4 /OC " + ref(g) + " /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/colourants-count", func(f *pdfbuild.File) string {
			return "/F 4 /AP << /N " + ref(f.Stream("/Subtype /Form /BBox [0 0 20 10] /Resources << /ColorSpace << "+white+" "+silver+" >> >>", "/White cs 0 0 20 10 re f")) + " >>"
		}, Options{}},
		{"annotation/left-out-on-request", func(f *pdfbuild.File) string {
			return "/F 4 /AP << /N " + ref(f.Stream(form, "0 0 20 10 re f")) + " >>"
		}, Options{NoAnnotations: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			a := f.Add("<< /Type /Annot /Subtype /Stamp /Rect [100 50 60 10] " + c.make(f) + " >>")
			f.Page(200, 100, "", "1 0 0 rg 0 0 5 5 re f", "/Annots ["+ref(a)+"]")
			check(t, c.name, f, c.opt)
		})
	}
}

// A cancelled context ends the page with its error.
func TestCancelledContext(t *testing.T) {
	f := pdfbuild.New()
	f.Page(200, 100, "", strings.Repeat("0 0 5 5 re f ", 5000))
	r := reader(t, f)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := r.Page(ctx, 1, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("error is %v", err)
	}
	if _, err := r.Page(context.Background(), 2, Options{}); err == nil {
		t.Error("page 2 of 1 gave no error")
	}
}

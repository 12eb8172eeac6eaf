package interp

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

func ref(n int) string { return pdfbuild.Ref(n) }

// TestForms asks one question of each use of form XObjects, groups and soft masks.
func TestForms(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(f *pdfbuild.File)
	}{
		{"form/matrix-box-and-origin", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Matrix [2 0 0 2 5 5] /Resources << >>", "0 0 100 100 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "1 0 0 1 10 10 cm /Fm Do 0 0 9 9 re f")
		}},
		{"form/state-does-not-leak", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >>", "1 0 0 rg 5 w q q 2 0 0 2 0 0 cm 0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "0 1 0 rg /Fm Do 30 0 9 9 re f 30 30 m 50 30 l S")
		}},
		{"form/inherits-state", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >> /ExtGState << /H << /ca .5 /BM /Multiply /OP true >> >>", "0 1 0 rg /H gs /Fm Do")
		}},
		{"form/nested-path-is-told", func(f *pdfbuild.File) {
			in := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >>", "0 0 5 5 re f")
			out := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /XObject << /In "+ref(in)+" >> >>", "/In Do")
			f.Page(200, 100, "/XObject << /Out "+ref(out)+" >>", "/Out Do")
		}},
		{"form/without-resources-uses-the-page's", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20]", "/White cs 0 0 5 5 re f")
			f.Page(200, 100, "/ColorSpace << "+white+" >> /XObject << /Fm "+ref(x)+" >>", "/Fm Do")
		}},
		{"form/recursion-ends", func(f *pdfbuild.File) {
			x := f.Stream("", "")
			f.Set(x, "<< /Subtype /Form /BBox [0 0 20 20] /Resources << /XObject << /Me "+ref(x)+" >> >> /Length 22 >>\nstream\n0 0 5 5 re f /Me Do   \nendstream")
			f.Page(200, 100, "/XObject << /Me "+ref(x)+" >>", "/Me Do 30 0 9 9 re f")
		}},
		{"form/damaged-one-does-not-stop-the-page", func(f *pdfbuild.File) {
			x := f.Add("<< /Subtype /Form /BBox [0 0 20 20] /Resources << >> /Filter /Nothing /Length 3 >>\nstream\nabc\nendstream")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "/Fm Do 30 0 9 9 re f")
		}},
		{"group/attributes-and-reset", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /I true /K true /CS /DeviceRGB >>", "0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >> /ExtGState << /H << /ca .5 /CA .25 /BM /Multiply /OP true >> >>", "0 1 0 rg /H gs /Fm Do 10 0 5 5 re f")
		}},
		{"group/non-isolated-inherits-its-space", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /CS /DeviceRGB >>", "0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "/Fm Do")
		}},
		{"group/empty-is-left-out", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency >>", "300 300 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "/Fm Do")
		}},
		{"group/nested", func(f *pdfbuild.File) {
			in := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency >>", "0 0 5 5 re f 5 5 5 5 re f")
			out := f.Stream("/Subtype /Form /BBox [0 0 90 90] /Resources << /XObject << /In "+ref(in)+" >> >> /Group << /S /Transparency /I true >>", "/In Do 40 40 5 5 re f")
			f.Page(200, 100, "/XObject << /Out "+ref(out)+" >>", "/Out Do 100 0 5 5 re f")
		}},
		{"group/of-the-page", func(f *pdfbuild.File) {
			f.Page(200, 100, "", "0 0 5 5 re f", "/Group << /S /Transparency /CS /DeviceCMYK /K true >>")
		}},
		{"group/space-that-cannot-blend", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /I true /CS "+whiteSpace+" >>", "0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >>", "/Fm Do")
		}},
		{"mask/placed-when-set", func(f *pdfbuild.File) {
			g := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /CS /DeviceGray >>", "1 g 0 0 30 10 re f")
			f.Page(200, 100, "/ExtGState << /M << /SMask << /S /Luminosity /G "+ref(g)+" /BC [.5] >> >> /N << /SMask /None >> >>",
				"q 2 0 0 2 10 10 cm /M gs Q 0 0 9 9 re f q 2 0 0 2 10 10 cm 1 0 0 rg /M gs 5 0 0 5 0 0 cm 0 0 9 9 re f 1 1 2 2 re f /N gs 0 0 2 2 re f Q 0 0 9 9 re f")
		}},
		{"mask/alpha-and-transfer", func(f *pdfbuild.File) {
			g := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /ExtGState << /H << /ca .5 >> >> >> /Group << /S /Transparency >>", "/H gs 0 0 30 10 re f")
			f.Page(200, 100, "/ExtGState << /M << /SMask << /S /Alpha /G "+ref(g)+" /TR << /FunctionType 2 /Domain [0 1] /N 2 >> >> >> >>", "/M gs 0 0 9 9 re f")
		}},
		{"mask/reset-inside-a-group", func(f *pdfbuild.File) {
			g := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /CS /DeviceGray >>", "1 g 0 0 30 10 re f")
			x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency >>", "0 0 5 5 re f")
			f.Page(200, 100, "/XObject << /Fm "+ref(x)+" >> /ExtGState << /M << /SMask << /S /Luminosity /G "+ref(g)+" >> >> >>", "/M gs /Fm Do")
		}},
		{"mask/unreadable-is-reported", func(f *pdfbuild.File) {
			f.Page(200, 100, "/ExtGState << /M << /SMask << /S /Luminosity >> >> >>", "/M gs 0 0 9 9 re f")
		}},
		{"image/decoded-once-placed-twice", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "ab")
			f.Page(200, 100, "/XObject << /Im "+ref(x)+" >>", "q 40 0 0 20 10 10 cm /Im Do Q q 0 20 -40 0 100 10 cm /Im Do Q")
		}},
		{"image/stencil-takes-the-colour", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Image /Width 8 /Height 1 /BitsPerComponent 1 /ImageMask true", "a")
			f.Page(200, 100, "/ColorSpace << "+white+" >> /XObject << /Im "+ref(x)+" >>", "/White cs .5 scn 40 0 0 20 10 10 cm /Im Do")
		}},
		{"image/own-mask-overrides-the-current-one", func(f *pdfbuild.File) {
			sm := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "ab")
			x := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray /SMask "+ref(sm), "ab")
			g := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /CS /DeviceGray >>", "1 g 0 0 30 10 re f")
			f.Page(200, 100, "/XObject << /Im "+ref(x)+" >> /ExtGState << /M << /SMask << /S /Luminosity /G "+ref(g)+" >> >> >>", "/M gs 40 0 0 20 10 10 cm /Im Do")
		}},
		{"image/inline", func(f *pdfbuild.File) {
			f.Page(200, 100, "", "40 0 0 20 10 10 cm BI /W 2 /H 1 /BPC 8 /CS /G ID ab EI 0 0 1 1 re f")
		}},
		{"image/undecodable-is-reported", func(f *pdfbuild.File) {
			x := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /JPXDecode", "ab")
			f.Page(200, 100, "/XObject << /Im "+ref(x)+" >>", "40 0 0 20 10 10 cm /Im Do 0 0 1 1 re f")
		}},
		{"form/postscript-is-reported", func(f *pdfbuild.File) {
			a, b := f.Stream("/Subtype /PS", "showpage"), f.Stream("/Subtype /Form /Subtype2 /PS /BBox [0 0 9 9]", "0 0 9 9 re f")
			f.Page(200, 100, "/XObject << /A "+ref(a)+" /B "+ref(b)+" >>", "/A Do /B Do 0 0 9 9 re f")
		}},
		{"names/reachable-used-or-not", func(f *pdfbuild.File) {
			sp := func(n string) string { return strings.Replace(whiteSpace, "White", n, 1) }
			in := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /ColorSpace << /A "+sp("InForm")+" >> >>", "")
			im := f.Stream("/Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace [/Indexed "+sp("InImage")+" 0 <00>]", "a")
			ext := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /ColorSpace << /A "+sp("InMask")+" >> >> /Group << /S /Transparency /CS /DeviceGray >>", "")
			num := f.Add(sp("Numbered"))
			f.Page(200, 100, fmt.Sprintf("/ColorSpace << /Z %s /A %s /B %s /C %s /D [/DeviceN [/Black /Second /None] /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 >>] >> "+
				"/XObject << /F %s /I %s >> /ExtGState << /M << /SMask << /S /Luminosity /G %s >> >> >> /Shading << /S << /ColorSpace %s >> >> /Pattern << /U << /PatternType 2 /Shading << /ColorSpace %s >> >> >>",
				sp("Used"), sp("All"), sp("Cyan"), ref(num), ref(in), ref(im), ref(ext), sp("InShading"), sp("InPattern")), "/Z cs 0 0 9 9 re f")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			c.make(f)
			check(t, c.name, f, Options{})
		})
	}
}

// One image drawn twice is one image in memory.
func TestImageIsShared(t *testing.T) {
	f := pdfbuild.New()
	x := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "ab")
	f.Page(200, 100, "/XObject << /Im "+ref(x)+" >>", "q 40 0 0 20 10 10 cm /Im Do Q q 0 20 -40 0 100 10 cm /Im Do Q")
	l, _ := interpret(t, f, Options{})
	if len(l.Items) != 2 || l.Items[0].Image.Image != l.Items[1].Image.Image {
		t.Errorf("two items should share one image: %v", l.Items)
	}
}

// Forms that draw each other exponentially end with a finding, not in an hour.
func TestExponentialFormsEnd(t *testing.T) {
	f := pdfbuild.New()
	leaf := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >>", "0 0 5 5 re f")
	for range 24 {
		leaf = f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /XObject << /X "+ref(leaf)+" >> >>", "/X Do /X Do /X Do")
	}
	f.Page(200, 100, "/XObject << /X "+ref(leaf)+" >>", "/X Do")
	var sink finding.Collector
	l, err := reader(t, f).Page(context.Background(), 1, Options{Sink: &sink})
	if err != nil {
		t.Fatal(err)
	}
	found := sink.Sorted()
	if !l.Incomplete {
		t.Error("the list claims to be complete")
	}
	for _, fd := range found {
		if fd.ID == "page-over-limit" {
			return
		}
	}
	t.Errorf("no finding about the limit: %v", found)
}

// A page of deep groups keeps the depth painters can hold.
func TestGroupDepthIsBounded(t *testing.T) {
	f := pdfbuild.New()
	leaf := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >>", "0 0 5 5 re f")
	for range 27 {
		leaf = f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << /XObject << /X "+ref(leaf)+" >> /ExtGState << /G << /OP true /BM /Multiply >> >> >> /Group << /S /Transparency >>", "/G gs /X Do")
	}
	f.Page(200, 100, "/XObject << /X "+ref(leaf)+" >>", "/X Do")
	l, _ := interpret(t, f, Options{})
	if l.Items[len(l.Items)-1].Kind != displist.Fill {
		t.Error("the innermost fill is lost")
	}
}

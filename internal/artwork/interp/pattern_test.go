package interp

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/pdfbuild"
)

const (
	tilingDict = "/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 10 10] /XStep 20 /YStep 20 "
	shapeDict  = "/PatternType 1 /PaintType 2 /TilingType 1 /BBox [0 0 10 10] /XStep 20 /YStep 20 "
)

// TestTilings asks one question of each page with tiling patterns (8.7.3).
func TestTilings(t *testing.T) {
	whiteCS := "/Resources << /ColorSpace << " + white + " >> >>"
	for _, c := range []struct {
		name string
		make func(f *pdfbuild.File)
	}{
		{"coloured", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Matrix [2 0 0 2 5 5] "+whiteCS, "/White cs .5 scn 0 0 5 5 re f 0 1 0 0 K 2 w 0 0 m 10 10 l S")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f")
		}},
		{"as-stroke", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern CS /P SCN 4 w 10 10 50 50 re S")
		}},
		{"uncoloured-carries-the-colour-of-use", func(f *pdfbuild.File) {
			p := f.Stream(shapeDict+"/Resources << >>", "1 0 0 rg 0 0 5 5 re f 1 0 0 RG 0 0 m 10 10 l S")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /ColorSpace << /PW [/Pattern "+whiteSpace+"] /PK [/Pattern /DeviceCMYK] >>",
				"/PW cs .5 /P scn 10 10 50 50 re f .25 /P scn 60 10 50 50 re f .5 /P scn 110 10 50 50 re f /PK cs 0 1 0 0 /P scn 10 60 50 30 re f")
		}},
		{"uncoloured-without-a-colour", func(f *pdfbuild.File) {
			p := f.Stream(shapeDict+"/Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f 0 g 0 0 9 9 re f")
		}},
		{"uncoloured-with-too-few-components", func(f *pdfbuild.File) {
			p := f.Stream(shapeDict+"/Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /ColorSpace << /PK [/Pattern /DeviceCMYK] >>", "/PK cs 0 1 0 /P scn 10 10 50 50 re f /P scn 0 0 9 9 re f")
		}},
		{"uncoloured-paints-no-images-and-gradients", func(f *pdfbuild.File) {
			im := f.Stream("/Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "a")
			st := f.Stream("/Subtype /Image /Width 8 /Height 1 /BitsPerComponent 1 /ImageMask true", "a")
			p := f.Stream(shapeDict+"/Resources << /XObject << /I "+ref(im)+" /S "+ref(st)+" >> /Shading << /G "+axial("/DeviceGray", "0", "1")+" >> >>", "/I Do /G sh 5 0 0 5 0 0 cm /S Do")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /ColorSpace << /PK [/Pattern /DeviceCMYK] >>", "/PK cs 0 1 0 0 /P scn 10 10 50 50 re f")
		}},
		{"matrix-is-relative-to-the-page-not-the-matrix-at-use", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "3 0 0 3 7 7 cm /Pattern cs /P scn 0 0 10 10 re f")
		}},
		{"matrix-is-relative-to-the-form", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
			x := f.Stream("/Subtype /Form /BBox [0 0 90 90] /Matrix [2 0 0 2 0 0] /Resources << /Pattern << /P "+ref(p)+" >> >>",
				"9 0 0 9 0 0 cm /Pattern cs /P scn 0 0 2 2 re f")
			f.Page(200, 100, "/XObject << /X "+ref(x)+" >>", "1 0 0 1 30 10 cm /X Do 1 0 0 1 50 0 cm /X Do")
		}},
		{"pattern-inherited-by-a-form-keeps-its-place", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
			x := f.Stream("/Subtype /Form /BBox [0 0 90 90] /Matrix [2 0 0 2 0 0] /Resources << >>", "0 0 20 20 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /XObject << /X "+ref(x)+" >>", "/Pattern cs /P scn 1 0 0 1 30 10 cm /X Do")
		}},
		{"cell-begins-as-the-form-that-owns-it", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f 0 0 m 9 9 l S")
			x := f.Stream("/Subtype /Form /BBox [0 0 90 90] /Resources << /Pattern << /P "+ref(p)+" >> >>",
				"1 0 0 rg 1 w /Pattern cs /P scn 0 0 20 20 re f")
			f.Page(200, 100, "/XObject << /X "+ref(x)+" >> /ExtGState << /O << /OP true /OPM 1 /ca .5 /BM /Multiply >> >>",
				"/O gs 0 1 0 0 k 3 w /X Do 0 0 1 0 k /X Do")
		}},
		{"negative-steps-and-overlap", func(f *pdfbuild.File) {
			p := f.Stream("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [10 10 0 0] /XStep -5 /YStep -7.5 /Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f")
		}},
		{"damaged-ones-are-reported", func(f *pdfbuild.File) {
			var names, use strings.Builder
			for i, d := range []string{
				"/PatternType 1 /PaintType 1 /BBox [0 0 9 9] /XStep 0 /YStep 9",
				"/PatternType 1 /PaintType 1 /BBox [0 0 9 9] /YStep 9",
				"/PatternType 1 /PaintType 1 /BBox [0 0 0 9] /XStep 9 /YStep 9",
				"/PatternType 1 /PaintType 1 /XStep 9 /YStep 9",
				"/PatternType 1 /PaintType 3 /BBox [0 0 9 9] /XStep 9 /YStep 9",
				"/PatternType 3 /BBox [0 0 9 9]",
				"/PatternType 1 /PaintType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Matrix [1 0 0 0 0 0]",
				"/PatternType 1 /PaintType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Matrix [1 0]",
			} {
				fmt.Fprintf(&names, "/P%d %s ", i, ref(f.Stream(d+" /Resources << >>", "0 0 5 5 re f")))
				fmt.Fprintf(&use, "/P%d scn 0 0 9 9 re f ", i)
			}
			f.Page(200, 100, "/Pattern << "+names.String()+" /D << /PatternType 1 >> /N 5 >>", "/Pattern cs "+use.String()+"/D scn 0 0 9 9 re f /N scn 0 0 9 9 re f /No scn 0 0 9 9 re f 0 g 0 0 9 9 re f")
		}},
		{"empty-cell-marks-nothing", func(f *pdfbuild.File) {
			p := f.Stream(tilingDict+"/Resources << >>", "20 20 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f")
		}},
		{"nested", func(f *pdfbuild.File) {
			in := f.Stream("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 1 1] /XStep 2 /YStep 2 /Matrix [3 0 0 3 1 1] /Resources << >>", "0 1 0 0 k 0 0 1 .5 re f")
			p := f.Stream(tilingDict+"/Matrix [2 0 0 2 0 0] /Resources << /Pattern << /Q "+ref(in)+" >> >>", "2 0 0 1 0 0 cm /Pattern cs /Q scn 0 0 4 8 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f")
		}},
		{"that-paints-itself-is-reported", func(f *pdfbuild.File) {
			p := f.Add("")
			f.Set(p, "<< "+tilingDict+" /Resources << /Pattern << /P "+ref(p)+" >> >> /Length 43 >>\nstream\n0 0 5 5 re f /Pattern cs /P scn 0 0 9 9 re f\nendstream")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re f")
		}},
		{"transparency-and-layers-in-cells", func(f *pdfbuild.File) {
			layer := f.Add("<< /Type /OCG /Name (l) >>")
			f.Catalog("/OCProperties << /OCGs [" + ref(layer) + "] /D << /OFF [" + ref(layer) + "] >> >>")
			g := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /Group << /S /Transparency /CS /DeviceGray >>", "1 g 0 0 30 10 re f")
			p := f.Stream(tilingDict+"/Resources << /Properties << /L "+ref(layer)+" >> /ExtGState << /H << /ca .5 >> /M << /SMask << /S /Luminosity /G "+ref(g)+" >> >> >> >>",
				"/OC /L BDC 0 0 5 5 re f EMC /H gs /M gs 5 5 5 5 re f")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >>", "/Pattern cs /P scn 10 10 50 50 re B")
		}},
		{"knockout-of-text-shows-under-transparent-cells", func(f *pdfbuild.File) {
			clear := f.Stream(tilingDict+"/Resources << /ExtGState << /Half << /ca .5 >> >> >>", "/Half gs 0 0 5 5 re f")
			solid := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
			f.Page(200, 100, "/Pattern << /Clear "+ref(clear)+" /Solid "+ref(solid)+" >> /Font << "+sans+" >> /ExtGState << /NoTK << /TK false >> >>",
				"/Pattern cs /Clear scn BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td (!) Tj ET /Solid scn BT /Sans 20 Tf 20 20 Td (!) Tj 5 0 Td (!) Tj ET "+
					"/NoTK gs /Clear scn BT /Sans 20 Tf 90 50 Td [(!) 500 (!)] TJ ET")
		}},
		{"text-and-stencils", func(f *pdfbuild.File) {
			st := f.Stream("/Subtype /Image /Width 8 /Height 1 /BitsPerComponent 1 /ImageMask true", "a")
			p := f.Stream(tilingDict+"/Matrix [.5 0 0 .5 0 0] /Resources << /Font << "+sans+" >> >>", "BT /Sans 8 Tf (!) Tj ET")
			f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /XObject << /S "+ref(st)+" >> /Font << "+sans+" "+blocks(f)+" >>",
				"/Pattern cs /P scn /Pattern CS /P SCN BT /Sans 20 Tf 2 Tr 20 50 Td (!) Tj 5 Tr (!) Tj 0 Tr /Blocks 10 Tf (a) Tj ET q 40 0 0 20 10 10 cm /S Do Q")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			c.make(f)
			check(t, "tiling/"+c.name, f, Options{})
		})
	}
}

// axial is a gradient of type 2 along the page.
func axial(space, from, to string, more ...string) string {
	return "<< /ShadingType 2 /ColorSpace " + space + " /Coords [10 0 90 0] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [" + from + "] /C1 [" + to + "] >> " + strings.Join(more, " ") + " >>"
}

// TestShadings asks one question of each page with shadings (8.7.4).
func TestShadings(t *testing.T) {
	ramp := func(c0, c1 string) string {
		return "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [" + c0 + "] /C1 [" + c1 + "] >>"
	}
	for _, c := range []struct {
		name, res, content string
	}{
		{"sh-fills-the-clip", "/Shading << /G " + axial(whiteSpace, "0", "1", "/Extend [true false] /BBox [0 20 60 50] /Background [.5]") + " >>",
			"20 20 100 50 re W n 2 0 0 1 0 0 cm /G sh"},
		{"pattern-with-background", "/Pattern << /P << /PatternType 2 /Matrix [1 0 0 1 5 0] /Shading " + axial(whiteSpace, "0", "1", "/BBox [0 20 60 50] /Background [.5]") + " >> >>",
			"3 0 0 3 0 0 cm /Pattern cs /P scn 0 0 50 20 re f"},
		{"pattern-is-bounded-by-its-box", "/Pattern << /P << /PatternType 2 /Shading " + axial("/DeviceGray", "0", "1", "/BBox [0 20 60 50]") + " >> >>",
			"/Pattern cs /P scn 0 0 150 90 re f 70 0 9 9 re f"},
		{"pattern-with-its-own-graphics-state", "/ExtGState << /H << /ca .25 >> >> /Pattern << /P << /PatternType 2 /ExtGState << /ca .5 /RI /Perceptual >> /Shading " + axial("/DeviceGray", "0", "1") + " >> >>",
			"/AbsoluteColorimetric ri /Pattern cs /P scn 0 0 150 90 re f /H gs 0 0 150 90 re f"},
		{"pattern-for-strokes-and-text", "/Font << " + sans + " >> /Pattern << /P << /PatternType 2 /Shading " + axial("/DeviceGray", "0", "1") + " >> >>",
			"/Pattern CS /P SCN 0 0 150 90 re S BT /Sans 20 Tf 1 Tr 20 50 Td (!) Tj ET"},
		{"radial", "/Shading << /G << /ShadingType 3 /ColorSpace /DeviceCMYK /Coords [20 20 0 40 20 30] /Domain [1 0] /Function [" +
			ramp("0", "1") + ramp("1", "0") + ramp(".5", ".5") + ramp("0", "0") + "] >> >>", "/G sh"},
		{"paints-nothing", "/Shading << /A << /ShadingType 2 /ColorSpace /DeviceGray /Coords [5 5 5 5] /Function " + ramp("0", "1") + " >> /B << /ShadingType 3 /ColorSpace /DeviceGray /Coords [5 5 0 9 9 0] /Function " + ramp("0", "1") + " >> >>", "/A sh /B sh"},
		{"damaged-ones-are-reported", "/Shading << /A << /ShadingType 2 /ColorSpace /DeviceGray /Function " + ramp("0", "1") + " >> /B << /ShadingType 8 >> /C << /ShadingType 2 /ColorSpace /Pattern /Coords [0 0 1 1] >> " +
			"/D << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [0 0 1 1] /Function " + ramp("0", "1") + " >> /E << /ShadingType 3 /ColorSpace /DeviceGray /Coords [0 0 -1 1 1 1] /Function " + ramp("0", "1") + " >> " +
			"/F << /ShadingType 4 /ColorSpace /DeviceGray >> /G << /ShadingType 2 /ColorSpace [/Indexed /DeviceGray 1 <00ff>] /Coords [0 0 1 1] /Function " + ramp("0", "1") + " >> /H 5 >>",
			"/A sh /B sh /C sh /D sh /E sh /F sh /G sh /H sh /No sh"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check(t, "shading/"+c.name, simple(c.content, c.res), Options{})
		})
	}
}

package interp

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// playground is a page whose resources offer one of everything under short names.
func playground(content string) *pdfbuild.File {
	f := pdfbuild.New()
	layer := f.Add("<< /Type /OCG /Name (l) /Usage << /Print << /PrintState /ON >> >> >>")
	f.Catalog("/OCProperties << /OCGs [" + ref(layer) + "] /D << /OFF [" + ref(layer) + "] /AS [<< /Event /Print /Category [/Print] /OCGs [" + ref(layer) + "] >>] >> >>")
	plain := f.Stream("/Subtype /Form /BBox [0 0 50 50] /Matrix [1 .2 0 1 3 3] /Resources << >>", "0 0 20 20 re B 1 0 0 rg q")
	group := f.Stream("/Subtype /Form /BBox [0 0 50 50] /Resources << /XObject << /F "+ref(plain)+" >> >> /Group << /S /Transparency /I true /CS /DeviceRGB >>", "/F Do 2 2 9 9 re f")
	mask := f.Stream("/Subtype /Form /BBox [0 0 50 50] /Resources << >> /Group << /S /Transparency /CS /DeviceGray >>", "1 g 0 0 9 9 re f")
	im := f.Stream("/Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "ab")
	st := f.Stream("/Subtype /Image /Width 8 /Height 1 /BitsPerComponent 1 /ImageMask true", "a")
	fn := f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1]", "{ mul }")
	mesh := f.Stream("/ShadingType 4 /BitsPerCoordinate 8 /BitsPerComponent 8 /BitsPerFlag 8 /ColorSpace /DeviceGray /Decode [0 255 0 255 0 1]", "\x00\x0a\x0a\x00\x00\x5a\x0a\x80\x00\x0a\x5a\xff")
	shadings := "/SA " + axial(whiteSpace, "0", "1", "/Background [.5] /Extend [true false]") + " /SF << /ShadingType 1 /ColorSpace /DeviceGray /Matrix [50 0 0 50 0 0] /Function " + ref(fn) +
		" >> /SM " + ref(mesh)
	shape := f.Stream(shapeDict+"/Resources << >>", "0 0 5 5 re f 0 0 m 10 10 l S")
	cell := f.Stream(tilingDict+"/Matrix [1 .1 0 1 3 3] /Resources << /ExtGState << /H << /ca .5 /OP true >> >> /Shading << "+shadings+" >> /Pattern << /PU "+ref(shape)+" >> /Font << "+sans+" >> /ColorSpace << /PK [/Pattern /DeviceCMYK] >> >>",
		"/SA sh /H gs 0 0 5 5 re b BT /Sans 5 Tf (!) Tj ET /PK cs 0 1 0 0 /PU scn 0 0 9 9 re f")
	patterns := "/PU " + ref(shape) + " /PC " + ref(cell) + " /PS << /PatternType 2 /Matrix [1 0 .2 1 0 0] /ExtGState << /ca .5 >> /Shading " + axial("/DeviceGray", "0", "1", "/BBox [0 0 50 50]") + " >>"
	f.Page(200, 100, fmt.Sprintf("/Pattern << "+patterns+" >> /Shading << "+shadings+" >> /ColorSpace << %s %s /PW [/Pattern "+whiteSpace+"] /N [/DeviceN [/White /Black] /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 >>] /X [/Indexed /DeviceRGB 1 <000000ffffff>] /L [/Lab << /WhitePoint [.9 1 .8] >>] >> "+
		"/XObject << /F %s /G %s /I %s /S %s >> /Font << %s %s >> /Properties << /O %s >> "+
		"/ExtGState << /H << /ca .5 >> /O << /OP true /OPM 1 >> /M << /BM /Multiply >> /S << /SMask << /S /Luminosity /G %s /BC [.2] >> >> /N << /SMask /None >> /K << /TK false >> >>",
		white, silver, ref(plain), ref(group), ref(im), ref(st), sans, blocks(f), ref(layer), ref(mask)), content)
	return f
}

// Any content gives a well-formed list that dumps and is the same when read again.
func FuzzContent(f *testing.F) {
	for _, s := range []string{
		"/White cs .5 scn 0 0 20 20 re f 1 0 0 RG 2 w [3 1] 0 d 5 5 m 50 60 l 70 5 60 60 9 9 c h B*",
		"q 1 0 0 1 20 20 cm /H gs /G Do Q /S gs /F Do /I Do",
		"/O gs /M gs BT /Sans 20 Tf 2 Tr 20 50 Td [(!) 500 (\")] TJ T* (!!) ' ET 0 0 9 9 re b",
		"/H gs BT /Sans 20 Tf 20 50 Td (!) Tj 5 0 Td (!) Tj ET BT 7 Tr /Sans 30 Tf (!) Tj ET /I Do",
		"BT /Blocks 10 Tf 1 0 1 1 20 50 Tm (abc) Tj ET",
		"/OC /O BDC 0 0 9 9 re f /X BMC /G Do EMC EMC 40 0 0 20 10 10 cm BI /W 2 /H 1 /BPC 8 /CS /G ID ab EI /S Do",
		"10 10 50 50 re W n 30 30 m 90 30 l 60 90 l h W* n 99999999999 0 0 9999999999999 0 0 cm 0 0 1 1 re B",
		"/Pattern cs /PC scn 10 10 60 60 re f /Pattern CS /PS SCN 4 w 10 10 60 60 re S /PW cs .5 /PU scn BT /Sans 20 Tf 2 Tr 20 50 Td (!) Tj ET /S Do /F Do",
		"q .5 0 0 2 9 9 cm /SA sh /SF sh /SM sh Q /H gs /PW cs 1 /PU scn /PC scn 3 w 0 0 99 99 re b BT /Blocks 10 Tf 20 50 Td (abc) Tj ET",
		"BX Zap EX Q Q q q /N cs 2 -1 scn 0 0 0 0 re f 1 2 m S /No Do",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		if len(content) > 1<<16 {
			return
		}
		data := playground(string(content)).Bytes()
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := NewReader(doc, finding.Discard)
		l, err := r.Page(context.Background(), 1, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := displist.Validate(l); err != nil {
			t.Fatal(err)
		}
		if err := l.WriteJSON(io.Discard); err != nil {
			t.Fatal(err)
		}
		again, err := r.Page(context.Background(), 1, Options{})
		if err != nil || text(l) != text(again) {
			t.Fatalf("read twice, the page gives two lists (%v)", err)
		}
	})
}

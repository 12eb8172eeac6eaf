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
	f.Page(200, 100, fmt.Sprintf("/ColorSpace << %s %s /N [/DeviceN [/White /Black] /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 >>] /X [/Indexed /DeviceRGB 1 <000000ffffff>] /L [/Lab << /WhitePoint [.9 1 .8] >>] >> "+
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

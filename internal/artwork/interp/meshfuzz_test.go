package interp

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// Whatever the data and the sizes of a mesh, what is read is well formed, and what is not read is told.
func FuzzMesh(f *testing.F) {
	f.Add(byte(4), byte(8), byte(8), byte(8), int8(0), int8(100), byte(0), []byte{0, 10, 10, 0, 0, 90, 10, 128, 0, 10, 90, 255, 1, 90, 90, 0})
	f.Add(byte(5), byte(12), byte(4), byte(3), int8(-100), int8(100), byte(1), []byte("abcdefghijklmnopqrstuvwxyz"))
	f.Add(byte(6), byte(8), byte(8), byte(8), int8(0), int8(90), byte(2), []byte("\x00abcdefghijklmnopqrstuvwxyz0123456789"))
	f.Add(byte(7), byte(1), byte(1), byte(2), int8(0), int8(1), byte(3), []byte("\x00\x41abcdefghijklm"))
	f.Fuzz(func(t *testing.T, kind, coordBits, compBits, flagBits byte, lo, hi int8, space byte, data []byte) {
		if len(data) > 1<<12 {
			return
		}
		file := pdfbuild.New()
		colours := [...]string{"/ColorSpace /DeviceGray /Decode [%[6]d %[7]d %[6]d %[7]d 0 1]",
			"/ColorSpace /DeviceCMYK /Decode [%[6]d %[7]d %[6]d %[7]d 0 1 0 1 1 0 -1 2]",
			"/ColorSpace /DeviceCMYK /Decode [%[6]d %[7]d %[6]d %[7]d 0.2 0.7] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [1 1 1 1] >>",
			"/ColorSpace [/Indexed /DeviceRGB 1 <0000ff00ff00>] /Decode [%[6]d %[7]d %[7]d %[6]d 0 2]"}
		s := file.Stream(fmt.Sprintf("/ShadingType %d /BitsPerCoordinate %d /BitsPerComponent %d /BitsPerFlag %d /VerticesPerRow %d "+colours[space%4],
			kind, coordBits, compBits, flagBits, space%5, lo, hi), string(data))
		file.Page(200, 100, "/Shading << /S "+ref(s)+" >> /Pattern << /P << /PatternType 2 /Shading "+ref(s)+" >> >>", "/S sh /Pattern cs /P scn 0 0 200 100 re f")
		b := file.Bytes()
		doc, err := pdf.Open(bytes.NewReader(b), int64(len(b)), pdf.Options{})
		if err != nil {
			t.Fatal(err)
		}
		l, err := NewReader(doc, finding.Discard).Page(context.Background(), 1, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := displist.Validate(l); err != nil {
			t.Fatal(err)
		}
		for i := range l.Items {
			if m := l.Items[i].Shading; m != nil && m.Mesh != nil {
				// A record is at least a bit for each number of it, and begins at a byte.
				if n := len(m.Mesh.Vertices) + len(m.Mesh.Patches); n > len(data) {
					t.Fatalf("%d vertices and patches of %d bytes", n, len(data))
				}
			}
		}
	})
}

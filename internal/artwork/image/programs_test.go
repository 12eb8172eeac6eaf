package image

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/pdfbuild"
)

// shown is what another program paints of an image on white, a pixel a sample, n components each.
func shown(t *testing.T, dict, data string, w, h int, space string, n int) []byte {
	t.Helper()
	if _, err := exec.LookPath("mutool"); err != nil {
		t.Skip("the other program is not here")
	}
	f := pdfbuild.New()
	im := f.Stream(dict, data)
	f.Page(float64(w), float64(h), fmt.Sprintf("/XObject << /Im %d 0 R >>", im), fmt.Sprintf("%d 0 0 %d 0 0 cm /Im Do", w, h))
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pam")
	if err := os.WriteFile(in, f.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command("mutool", "draw", "-q", "-r", "72", "-A", "0", "-c", space, "-o", out, in, "1").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, msg)
	}
	b, err := os.ReadFile(out)
	if err != nil || len(b) < w*h*n {
		t.Fatal(len(b), err)
	}
	return b[len(b)-w*h*n:]
}

// Another program sees the same picture in rows of mixed coding.
func TestMixedFaxRowsAgreeWithAnotherProgram(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("fax", "testdata", "mixed-50x40.fax"))
	if err != nil {
		t.Fatal(err)
	}
	dict := "/Subtype /Image /Width 50 /Height 40 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms << /K 4 /Columns 50 /EndOfLine true >>"
	im, fs, err := read(t, dict, string(data))
	if err != nil || len(fs) > 0 {
		t.Fatal(err, fs)
	}
	ours := make([]byte, 0, 50*40)
	for y := range 40 {
		for x := range 50 {
			ours = append(ours, byte(255*im.Sample(x, y, 0)))
		}
	}
	if !bytes.Equal(ours, shown(t, dict, string(data), 50, 40, "gray", 1)) {
		t.Error("the pictures differ")
	}
}

// Another program takes the same channel for opacity.
func TestOpacityInsideJPEG2000AgreesWithAnotherProgram(t *testing.T) {
	data, _ := jp2(t, "four", space(16), opacityLast)
	dict := "/Subtype /Image /Width 21 /Height 17 /ColorSpace /DeviceRGB /Filter /JPXDecode /SMaskInData 1"
	im, fs, err := read(t, dict, data)
	if err != nil || len(fs) > 0 {
		t.Fatal(err, fs)
	}
	for i, v := range shown(t, dict, data, 21, 17, "rgb", 3) {
		a := int(im.SoftMask.Data[i/3])
		want := (int(im.Data[i])*a + 255*(255-a) + 127) / 255
		if d := int(v) - want; d > 2 || d < -2 {
			t.Fatalf("pixel %d is %d there, %d here", i/3, v, want)
		}
	}
}

// Another program separates the samples alike: CMYK that the data names, and indices.
func TestCMYKInsideJPEG2000AgreesWithAnotherProgram(t *testing.T) {
	data, _ := jp2(t, "four", space(12))
	dict := "/Subtype /Image /Width 21 /Height 17 /Filter /JPXDecode"
	im, fs, err := read(t, dict, data)
	if err != nil || len(fs) > 0 {
		t.Fatal(err, fs)
	}
	if theirs := shown(t, dict+" /ColorSpace /DeviceCMYK", data, 21, 17, "cmyk", 4); !bytes.Equal(im.Data, theirs) {
		t.Errorf("%v\n%v", im.Data[:16], theirs[:16])
	}
	data, _ = jp2(t, "one-bit", space(17))
	dict = "/Subtype /Image /Width 22 /Height 17 /Filter /JPXDecode /ColorSpace [/Indexed /DeviceCMYK 1 <102030405060708f>]"
	if im, fs, err = read(t, dict, data); err != nil || len(fs) > 0 {
		t.Fatal(err, fs)
	}
	theirs := shown(t, dict, data, 22, 17, "cmyk", 4)
	for i, v := range im.Data {
		if want := []string{"\x10\x20\x30\x40", "\x50\x60\x70\x8f"}[v]; string(theirs[4*i:4*i+4]) != want {
			t.Fatalf("pixel %d is %x there, %x here", i, theirs[4*i:4*i+4], want)
		}
	}
}

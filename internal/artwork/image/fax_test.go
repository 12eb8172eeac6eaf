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

// Another program sees the same picture in rows of mixed coding.
func TestMixedFaxRowsAgreeWithAnotherProgram(t *testing.T) {
	if _, err := exec.LookPath("mutool"); err != nil {
		t.Skip("the other program is not here")
	}
	data, err := os.ReadFile(filepath.Join("fax", "testdata", "mixed-50x40.fax"))
	if err != nil {
		t.Fatal(err)
	}
	dict := "/Subtype /Image /Width 50 /Height 40 /ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms << /K 4 /Columns 50 /EndOfLine true >>"
	im, fs, err := read(t, dict, string(data))
	if err != nil || len(fs) > 0 {
		t.Fatal(err, fs)
	}
	f := pdfbuild.New()
	n := f.Stream(dict, string(data))
	f.Page(50, 40, fmt.Sprintf("/XObject << /Im %d 0 R >>", n), "50 0 0 40 0 0 cm /Im Do")
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pgm")
	if err := os.WriteFile(in, f.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command("mutool", "draw", "-q", "-r", "72", "-A", "0", "-c", "gray", "-o", out, in, "1").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, msg)
	}
	pgm, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	theirs := pgm[len(pgm)-50*40:]
	ours := make([]byte, 0, 50*40)
	for y := range 40 {
		for x := range 50 {
			ours = append(ours, byte(255*im.Sample(x, y, 0)))
		}
	}
	if !bytes.Equal(ours, theirs) {
		t.Error("the pictures differ")
	}
}

package image

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
)

// The JBIG2 images of the corpus decode to what another decoder makes of them.
func TestCorpusJBIG2AgreesWithAnotherDecoder(t *testing.T) {
	if _, err := exec.LookPath("jbig2dec"); err != nil {
		t.Skip("the other decoder is not here")
	}
	seen := 0
	streamsOf(t, "JBIG2Decode", func(name string, doc *pdf.Document, s *pdf.Stream, data []byte) {
		dir := t.TempDir()
		args := []string{"-e", "-t", "pbm", "-o", filepath.Join(dir, "out.pbm")}
		chain, err := doc.Filters(s)
		if err != nil {
			t.Fatal(err)
		}
		if g, ok := doc.Stream(chain[len(chain)-1].Parms["JBIG2Globals"]); ok {
			globals, err := doc.Data(g)
			if err != nil {
				t.Fatal(err)
			}
			args = append(args, filepath.Join(dir, "globals"))
			if err := os.WriteFile(filepath.Join(dir, "globals"), globals, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(filepath.Join(dir, "page"), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if msg, err := exec.Command("jbig2dec", append(args, filepath.Join(dir, "page"))...).CombinedOutput(); err != nil {
			t.Logf("%s: the other decoder: %s", name, msg)
			return
		}
		pbm, err := os.ReadFile(filepath.Join(dir, "out.pbm"))
		if err != nil {
			t.Fatal(err)
		}
		got := (&Reader{doc: doc}).decode(s, nil, nil)
		if got.err != nil {
			t.Fatalf("%s: %v", name, got.err)
		}
		seen++
		black := pbm[len(pbm)-len(got.image.Data):]
		invert(black)
		// Bits beyond the row's end may differ.
		stride, w := got.image.Stride(), got.image.Width
		for y := range got.image.Height {
			a, b := black[y*stride:(y+1)*stride], got.image.Data[y*stride:(y+1)*stride]
			if !bytes.Equal(a[:w/8], b[:w/8]) {
				t.Fatalf("%s: row %d differs", name, y)
			}
		}
	})
	if seen == 0 {
		t.Skip("no JBIG2 in the corpus")
	}
}

package image

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
)

// streamsOf calls visit with the image streams of a filter in the corpus.
func streamsOf(t *testing.T, filter string, visit func(name string, doc *pdf.Document, s *pdf.Stream, data []byte)) {
	t.Helper()
	for _, path := range corpusFiles(t) {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		st, _ := f.Stat()
		doc, err := pdf.Open(f, st.Size(), pdf.Options{})
		if err == nil {
			walk(doc, doc.Trailer(), map[pdf.Ref]bool{}, func(_ pdf.Dict, s *pdf.Stream) {
				if s == nil {
					return
				}
				if data, rest, err := doc.ImageData(s); err == nil && len(rest) > 0 && string(rest[0].Name) == filter {
					visit(fmt.Sprintf("%s object %d", filepath.Base(path), s.Ref.Num), doc, s, data)
				}
			})
		}
		f.Close()
	}
}

// The JPEG 2000 images of the corpus decode to what another decoder makes of them, within one step.
func TestCorpusJPEG2000AgreesWithAnotherDecoder(t *testing.T) {
	if _, err := exec.LookPath("opj_decompress"); err != nil {
		t.Skip("the other decoder is not here")
	}
	seen := 0
	streamsOf(t, "JPXDecode", func(name string, doc *pdf.Document, s *pdf.Stream, data []byte) {
		dir := t.TempDir()
		kind := "jp2"
		if bytes.HasPrefix(data, []byte{0xff, 0x4f}) {
			kind = "j2k"
		}
		in, out := filepath.Join(dir, "in."+kind), filepath.Join(dir, "out.raw")
		if err := os.WriteFile(in, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if msg, err := exec.Command("opj_decompress", "-i", in, "-o", out).CombinedOutput(); err != nil {
			t.Logf("%s: the other decoder: %s", name, msg)
			return
		}
		planar, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		seen++
		r := &Reader{doc: doc}
		got := r.decode(s, nil, nil)
		if got.err != nil || len(got.findings) > 0 {
			t.Errorf("%s: %v %v", name, got.err, got.findings)
			return
		}
		im := got.image
		size, n := im.Width*im.Height, im.Components()
		most := 0
		for i, v := range planar {
			at, c := i%size, i/size
			want := int(im.Data[at*n+min(c, n-1)])
			if n == 4 && len(planar) == 3*size { // the other decoder shows CMYK as RGB
				want = (255 - want) * (255 - int(im.Data[at*n+3])) / 255
			}
			most = max(most, int(v)-want, want-int(v))
		}
		if most > 1 {
			t.Errorf("%s differs by up to %d", name, most)
		}
	})
	if seen == 0 {
		t.Skip("no JPEG 2000 in the corpus")
	}
}

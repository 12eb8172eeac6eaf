package image

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// corpusFiles are public PDFs beside the module, when they are there.
func corpusFiles(t *testing.T) []string {
	t.Helper()
	files, _ := filepath.Glob("../../../../shared/corpus/files/*.pdf")
	if len(files) == 0 {
		t.Skip("the corpus is not here")
	}
	return files
}

// walk calls visit for every dictionary and stream reachable from o.
func walk(doc *pdf.Document, o pdf.Object, seen map[pdf.Ref]bool, visit func(pdf.Dict, *pdf.Stream)) {
	if ref, ok := o.(pdf.Ref); ok {
		if seen[ref] {
			return
		}
		seen[ref] = true
	}
	var dict pdf.Dict
	switch o := doc.Resolve(o).(type) {
	case pdf.Array:
		for _, e := range o {
			walk(doc, e, seen, visit)
		}
		return
	case pdf.Dict:
		dict = o
		visit(o, nil)
	case *pdf.Stream:
		dict = o.Dict
		visit(o.Dict, o)
	}
	keys := make([]pdf.Name, 0, len(dict))
	for k := range dict {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		walk(doc, dict[k], seen, visit)
	}
}

// Every image of the corpus is either decoded to exactly its size or refused with a reason; no
// sound file may lose one for damage.
func TestCorpusImagesDecode(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	kinds := map[string]int{}
	for _, path := range corpusFiles(t) {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		st, _ := f.Stat()
		var sink finding.Collector
		doc, err := pdf.Open(f, st.Size(), pdf.Options{})
		if err != nil {
			f.Close()
			continue
		}
		spaces := colour.NewReader(doc, &sink)
		images := NewReader(doc, spaces, &sink)
		walk(doc, doc.Trailer(), map[pdf.Ref]bool{}, func(d pdf.Dict, s *pdf.Stream) {
			if s == nil || d["Subtype"] != pdf.Name("Image") {
				return
			}
			im, err := images.Image(s, nil, finding.Place{})
			switch {
			case errors.Is(err, ErrUnsupported):
				kinds["unsupported"]++
				t.Logf("%s object %d: %v", filepath.Base(path), s.Ref.Num, err)
			case err != nil:
				kinds["error"]++
				t.Logf("%s object %d: %v", filepath.Base(path), s.Ref.Num, err)
			default:
				kinds[im.Filter]++
				for _, m := range []*Image{im, im.SoftMask, im.Mask} {
					if m != nil && len(m.Data) != m.Height*m.Stride() {
						t.Errorf("%s object %d holds %d bytes, not %d", filepath.Base(path), s.Ref.Num, len(m.Data), m.Height*m.Stride())
					}
				}
			}
		})
		for _, fd := range sink.Sorted() {
			t.Logf("%s: %s: %s (object %d)", filepath.Base(path), fd.ID, fd.What, fd.Place.Object)
		}
		f.Close()
	}
	t.Log(kinds)
}

package interp

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// Every public test file: the first three pages give well-formed lists, quickly.
func TestCorpusPagesAreWellFormed(t *testing.T) {
	files, _ := filepath.Glob("../../../../shared/corpus/files/*.pdf")
	if len(files) == 0 {
		t.Skip("no corpus here")
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var sink finding.Collector
			doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink})
			if err != nil {
				t.Logf("does not open: %v", err)
				return
			}
			r := NewReader(doc, &sink)
			for n := 1; n <= min(3, doc.NumPages()); n++ {
				begun := time.Now()
				list, err := r.Page(context.Background(), n, Options{Sink: &sink})
				if err != nil {
					t.Errorf("page %d: %v", n, err)
					continue
				}
				took := time.Since(begun)
				if took > 2*time.Minute { // a hang, on any machine and under the race detector
					t.Errorf("page %d took %v", n, took)
				}
				if err := displist.Validate(list); err != nil {
					t.Errorf("page %d: %v", n, err)
				}
				t.Logf("page %d: %d items, incomplete %v, %v", n, len(list.Items), list.Incomplete, took.Round(time.Millisecond))
			}
			for _, f := range sink.Sorted() {
				t.Logf("%s %s page %d object %d: %s %q", f.Severity, f.ID, f.Place.Page, f.Place.Object, f.What, f.Notes)
			}
		})
	}
}

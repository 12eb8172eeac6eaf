package pdf_test

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// corpusFiles lists the public test files beside the module, skipping the test when they are not there.
func corpusFiles(t testing.TB) []string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for range 6 {
		dir = filepath.Dir(dir)
		if files, _ := filepath.Glob(filepath.Join(dir, "shared", "corpus", "files", "*.pdf")); len(files) > 0 {
			return files
		}
	}
	t.Skip("no public test files beside the module")
	return nil
}

// readEverything decodes what a reader of pages would touch and returns the number of operators.
func readEverything(d *pdf.Document) (ops int) {
	for n := 1; n <= d.NumPages() && n <= 50; n++ {
		p, err := d.Page(n)
		if err != nil {
			continue
		}
		var data []byte
		parts, ok := d.Array(p.Dict["Contents"])
		if !ok {
			parts = pdf.Array{p.Dict["Contents"]}
		}
		for _, o := range parts {
			if s, ok := d.Stream(o); ok {
				b, _ := d.Data(s)
				data = append(append(data, b...), '\n')
			}
		}
		s := content.NewScanner(data)
		for {
			if _, ok := s.Next(); !ok {
				break
			}
			ops++
		}
	}
	return ops
}

// Does every public test file open, or end in a clear error, quickly and within bounds?
func TestCorpusOpens(t *testing.T) {
	for _, name := range corpusFiles(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		start := time.Now()
		var sink finding.Collector
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink})
		pages, ops := 0, 0
		if err == nil {
			pages, ops = d.NumPages(), readEverything(d)
		}
		took := time.Since(start)
		runtime.ReadMemStats(&after)
		t.Logf("%-60s pages %d ops %d err %v findings %d %v %d MB", filepath.Base(name), pages, ops, err, len(sink.Sorted()), took, (after.TotalAlloc-before.TotalAlloc)>>20)
		if took > 60*time.Second {
			t.Errorf("%s took %v", filepath.Base(name), took)
		}
		if got := after.TotalAlloc - before.TotalAlloc; got > 1<<30 {
			t.Errorf("%s allocated %d MB", filepath.Base(name), got>>20)
		}
	}
}

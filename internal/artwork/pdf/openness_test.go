package pdf_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"laydown/internal/artwork/pdf"
)

// A page as either program lists it; the number a file only claims to have is not asked for.
var pageLine = regexp.MustCompile(`(?m)^page \d+(:| =)`)

// opens counts the pages an independent program finds in a file.
func opens(t *testing.T, tool, file string) int {
	t.Helper()
	args := []string{"--show-pages", file}
	if tool == "mutool" {
		args = []string{"show", file, "pages"}
	}
	out, _ := exec.Command(oracle(t, tool), args...).Output() // a warning or an error may follow a list of pages
	return len(pageLine.FindAll(out, -1))
}

// Do we open every public test file that either of two independent programs opens, with as many pages as the one that
// finds more?
func TestOpensWhatOthersOpen(t *testing.T) {
	ours, qpdfs, mutools := 0, 0, 0
	for _, name := range corpusFiles(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		pages := 0
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
		if err == nil {
			pages = d.NumPages()
			ours++
		}
		q, m := opens(t, "qpdf", name), opens(t, "mutool", name)
		if q > 0 {
			qpdfs++
		}
		if m > 0 {
			mutools++
		}
		if (q > 0 || m > 0) && pages == 0 {
			t.Errorf("%s: %v; qpdf finds %d pages, mutool %d", filepath.Base(name), err, q, m)
		} else if pages < max(q, m) {
			t.Logf("%s: %d pages; qpdf finds %d, mutool %d", filepath.Base(name), pages, q, m)
		}
	}
	t.Logf("%d files opened; %d by qpdf, %d by mutool", ours, qpdfs, mutools)
	if ours < max(qpdfs, mutools) {
		t.Errorf("%d files opened; %d by qpdf, %d by mutool", ours, qpdfs, mutools)
	}
}

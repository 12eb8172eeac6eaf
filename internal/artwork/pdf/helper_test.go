package pdf_test

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

func open(t testing.TB, data []byte) (*pdf.Document, *finding.Collector) {
	t.Helper()
	var sink finding.Collector
	d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink})
	if err != nil {
		t.Fatalf("Open: %v", err)
	}
	return d, &sink
}

// ids lists the findings' IDs once each.
func ids(c *finding.Collector) map[finding.ID]bool {
	m := map[finding.ID]bool{}
	for _, f := range c.Sorted() {
		m[f.ID] = true
	}
	return m
}

// same compares objects of two documents: streams by dictionary without /Length and stored data,
// references by number. Entries that are null count as absent.
func same(a, b *pdf.Document, x, y pdf.Object) bool {
	switch v := x.(type) {
	case pdf.Dict:
		w, ok := y.(pdf.Dict)
		return ok && sameDict(a, b, v, w, "")
	case pdf.Array:
		w, ok := y.(pdf.Array)
		if !ok || len(v) != len(w) {
			return false
		}
		for i := range v {
			if !same(a, b, v[i], w[i]) {
				return false
			}
		}
		return true
	case pdf.Ref:
		w, ok := y.(pdf.Ref)
		return ok && v.Num == w.Num
	case *pdf.Stream:
		w, ok := y.(*pdf.Stream)
		if !ok || !sameDict(a, b, v.Dict, w.Dict, "Length") {
			return false
		}
		p, _ := a.RawData(v)
		q, _ := b.RawData(w)
		return bytes.Equal(p, q)
	}
	return x == y
}

func sameDict(a, b *pdf.Document, v, w pdf.Dict, skip pdf.Name) bool {
	for k := range w {
		if _, ok := v[k]; !ok && k != skip && w[k] != nil {
			return false
		}
	}
	for k := range v {
		if k != skip && !same(a, b, v[k], w[k]) {
			return false
		}
	}
	return true
}

// oracle gives the path of an independent program. Without it the test is skipped, or fails where all are required.
func oracle(t testing.TB, name string) string {
	t.Helper()
	tool, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("%s is required and not installed", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return tool
}

// qpdfCheck runs an independent reader over data: 0 sound, 3 warnings, 2 errors.
func qpdfCheck(t testing.TB, data []byte, args ...string) (code int, report string) {
	t.Helper()
	tool := oracle(t, "qpdf")
	name := filepath.Join(t.TempDir(), "check.pdf")
	if err := os.WriteFile(name, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, append(args, "--check", name)...).CombinedOutput()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode(), string(out)
	}
	return 0, string(out)
}

package truth

import (
	"archive/zip"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// TestTruth_handover packs the example ticket for every shipped press and has others judge: xmllint each job ticket against the
// schema of XJDF, sha256sum the checksums, qpdf the PDFs.
func TestTruth_handover(t *testing.T) {
	if testing.Short() {
		t.Skip("packs the ticket for every press")
	}
	for _, p := range []string{"xmllint", "sha256sum", "qpdf"} {
		program(t, p)
	}
	schema, err := filepath.Abs(filepath.Join("..", "..", "..", "shared", "xjdf", "xjdf-2.2.xsd"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(schema); err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("the schema is required: %v", err)
		}
		t.Skip("the schema of XJDF is not there")
	}
	pdf, job, err := app.Example(false)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	in, jobFile := filepath.Join(dir, "ticket.pdf"), filepath.Join(dir, "job.yaml")
	for file, data := range map[string][]byte{in: pdf, jobFile: []byte(job)} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	passes := map[int]bool{}
	for _, name := range press.PressNames() {
		t.Run(name, func(t *testing.T) {
			s, err := app.NewSetup(app.SetupOptions{Job: jobFile, Press: name, Stock: "white-uncoated"})
			if err != nil {
				t.Fatal(err)
			}
			out := filepath.Join(dir, name+".zip")
			// A press without some of the toners has findings.
			o, err := app.Handover(context.Background(), app.HandoverRequest{File: in, Setup: s, Out: out, DPI: 50, FailOn: finding.Warning, WithFindings: true})
			if err != nil {
				t.Fatal(err)
			}
			passes[len(o.Passes)] = true
			un := filepath.Join(dir, name)
			unzip(t, out, un)
			tickets, err := filepath.Glob(filepath.Join(un, "ticket", "*.xjdf"))
			if err != nil || len(tickets) != len(o.Passes) || len(tickets) == 0 {
				t.Fatalf("%d tickets of %d passes: %v", len(tickets), len(o.Passes), err)
			}
			for _, f := range tickets {
				if b, err := exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, f).CombinedOutput(); err != nil {
					t.Errorf("%v\n%s", err, b)
				}
			}
			sums := exec.Command("sha256sum", "-c", "--quiet", "checksums.txt")
			sums.Dir = un
			if b, err := sums.CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, b)
			}
			for _, e := range o.Files {
				if strings.HasSuffix(e.Name, ".pdf") {
					wellMade(t, filepath.Join(un, e.Name))
				}
			}
		})
	}
	if !passes[1] || len(passes) < 2 {
		t.Errorf("the presses take %v passes: one and several are wanted", passes)
	}
}

func unzip(t *testing.T, file, dir string) {
	t.Helper()
	z, err := zip.OpenReader(file)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
}

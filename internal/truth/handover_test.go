package truth

import (
	"archive/zip"
	"context"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
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

// TestTruth_handoverOfOddNames packs a page whose toners have names no ticket can hold, two pairs of which would become the same: blanks,
// slashes, letters beyond ASCII. Every ticket is valid, and every toner has a name of its own in it.
func TestTruth_handoverOfOddNames(t *testing.T) {
	program(t, "xmllint")
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
	named := map[string]string{"White": "Dry White", "Silver": "Dry_White", "Gold": "Weiß/matt", "Clear": "Weiss matt"}
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	p.Mixes = nil
	for i := range p.Toners {
		if name, ok := named[p.Toners[i].Name]; ok {
			p.Toners[i].Name, p.Toners[i].Aliases = name, nil
		}
	}
	for _, set := range p.Sets {
		for i, n := range set.Stations {
			if name, ok := named[n]; ok {
				set.Stations[i] = name
			}
		}
	}
	f := pdfbuild.New()
	spaces, content, n := "", "", 0
	for _, name := range []string{"Dry White", "Dry_White", "Weiß/matt", "Weiss matt"} {
		var escaped strings.Builder
		for _, b := range []byte(name) {
			fmt.Fprintf(&escaped, "#%02X", b)
		}
		spaces += fmt.Sprintf("/S%d %s ", n, pdfbuild.Spot(escaped.String(), 0, 0, 0, .4))
		content += fmt.Sprintf("/S%d cs 1 scn %d 20 30 30 re f ", n, 10+40*n)
		n++
	}
	f.Page(200, 100, "/ColorSpace << "+spaces+">>", content)
	dir := t.TempDir()
	b, err := press.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	in, pressFile, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "press.yaml"), filepath.Join(dir, "job.zip")
	for file, data := range map[string][]byte{in: f.Bytes(), pressFile: b} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s, err := app.NewSetup(app.SetupOptions{Press: pressFile, Stock: "white-uncoated"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := app.Handover(context.Background(), app.HandoverRequest{File: in, Setup: s, Out: out, DPI: 72, FailOn: finding.Warning, WithFindings: true}); err != nil {
		t.Fatal(err)
	}
	if c, err := app.CheckHandover(out); err != nil || !c.OK {
		t.Fatalf("%v %+v", err, c)
	}
	un := filepath.Join(dir, "un")
	unzip(t, out, un)
	ticket := filepath.Join(un, "ticket", "pass-1.xjdf")
	if b, err := exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, ticket).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, b)
	}
	text, err := os.ReadFile(ticket)
	if err != nil {
		t.Fatal(err)
	}
	tokens := map[string]string{}
	for _, m := range regexp.MustCompile(`<Part Separation="([^"]*)"/>\s*<Color ActualColorName="([^"]*)"`).FindAllStringSubmatch(string(text), -1) {
		tokens[m[1]] = m[2]
	}
	for _, name := range named {
		if !slices.Contains(slices.Collect(maps.Values(tokens)), name) {
			t.Errorf("the ticket does not name %q: %q", name, tokens)
		}
	}
	if len(tokens) != len(named) {
		t.Errorf("%d names for %d toners: %q", len(tokens), len(named), tokens)
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

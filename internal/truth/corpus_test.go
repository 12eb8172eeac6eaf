package truth

import (
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"
)

var (
	write = flag.Bool("write", false, "write docs/truth.md from the whole corpus")
	only  = flag.String("only", "", "look at files whose name holds this")
	show  = flag.Bool("show", false, "log every row")
)

// corpus finds the folder of public PDFs beside the project; skips when it is not there.
func corpus(t *testing.T) []string {
	t.Helper()
	dir, err := filepath.Abs("../../../shared/corpus/files")
	if err != nil {
		t.Fatal(err)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.pdf"))
	if len(files) == 0 {
		t.Skip("the corpus of public PDFs is not on this machine")
	}
	sort.Strings(files)
	return files
}

// oracles skips when an interpreter is missing, unless the run requires them.
func oracles(t *testing.T) {
	t.Helper()
	for _, p := range []string{"gs", "mutool"} {
		if _, err := exec.LookPath(p); err != nil {
			if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
				t.Fatalf("%s is required and not installed", p)
			}
			t.Skipf("%s is not installed", p)
		}
	}
}

// TestTruth_corpus: plates on which both interpreters agree with each other agree with us, but for the differences
// explained in explain.go. Run with -write it makes docs/truth.md, of the corpus and of the probes.
func TestTruth_corpus(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes")
	}
	oracles(t)
	files := corpus(t)
	var rows []Row
	var notes []string
	for _, f := range files {
		base := idOf(t, f)
		if *only != "" && !strings.Contains(base, *only) && !strings.Contains(filepath.Base(f), *only) {
			continue
		}
		if reason, skip := notCompared[base]; skip {
			notes = append(notes, fmt.Sprintf("| %s | not compared: %s |", base, reason))
			continue
		}
		if !*write && *only == "" && !daily[base] {
			continue
		}
		r, note := comparePage(t, f, 1)
		rows = append(rows, r...)
		if note != "" {
			notes = append(notes, fmt.Sprintf("| %s | %s |", base, note))
		}
	}
	agreed, with := 0, 0
	for i := range rows {
		r := &rows[i]
		if *show {
			t.Logf("%-50s %-20s gs %-18s mu %-18s gs-mu %-18s %s", r.File, r.Plate, r.OursGS, r.OursMu, r.GSMu, r.Verdict())
		}
		if !r.GSMu.OK {
			continue
		}
		agreed++
		if r.Verdict() != "against both" {
			with++
			continue
		}
		if why := explain(r); why == "" {
			t.Errorf("%s plate %q: gs and mutool agree (%s), we do not: gs %s, mutool %s", r.File, r.Plate, r.GSMu, r.OursGS, r.OursMu)
		}
	}
	t.Logf("gs and mutool agree on %d plates; we agree with one of them on %d", agreed, with)
	if *write {
		all := probes()
		data := probeFile(all)
		table := probeTable(judgeProbes(t, all, data, paintProbes(t, all, data)))
		if err := os.WriteFile("../../docs/truth.md", []byte(page(rows, notes, agreed, with)+table), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// idOf names a file by its content.
func idOf(t *testing.T, file string) string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%x", sha256.Sum256(data))[:8]
}

func comparePage(t *testing.T, file string, n int) ([]Row, string) {
	t.Helper()
	ctx := context.Background()
	ours, err := Ours(ctx, file, n)
	if err != nil {
		return nil, "we do not read it: " + err.Error()
	}
	gs, errGS := cached("gs", file, n, func() (*Plates, error) { return Ghostscript(ctx, file, n) })
	mu, errMu := cached("mutool", file, n, func() (*Plates, error) { return MuPDF(ctx, file, n) })
	note := ""
	if errGS != nil {
		note += fmt.Sprintf("gs gives nothing (%.60s). ", errGS)
	}
	if errMu != nil {
		note += fmt.Sprintf("mutool gives nothing (%.60s). ", errMu)
	}
	if ours.Incomplete {
		var ids []string
		for _, f := range ours.Findings {
			if f.Incomplete && !strings.Contains(strings.Join(ids, " "), string(f.ID)) {
				ids = append(ids, string(f.ID))
			}
		}
		note += "We say the page is not drawn in full: " + strings.Join(ids, ", ") + ". "
	}
	if *show {
		t.Log(idOf(t, file), note)
	}
	rows := Judge(idOf(t, file), n, ours, gs, mu)
	if ours.Incomplete {
		rows = nil
	}
	return rows, strings.TrimSpace(note)
}

func page(rows []Row, notes []string, agreed, with int) string {
	var b strings.Builder
	b.WriteString("# Our plates against independent interpreters\n\n")
	b.WriteString("Made by `make truth`. Page 1 of each public test file, at 150 dpi: ours directly, the interpreters' at 600 dpi averaged 4 × 4.\n")
	b.WriteString("Each cell is mean |difference| (0 to 255) / share of pixels out of the other's neighbourhood; ✗ = over the limit of that kind of plate\n")
	b.WriteString("(special 1 / 0.5 %, process 2 / 1 %, text-heavy or small page 5 / 2 %). Pages with RGB, Lab or ICC colour compare C+K, M+K, Y+K.\n")
	b.WriteString("Public files are named by the first eight digits of their SHA-256, and their special colourants by number.\n\n")
	fmt.Fprintf(&b, "gs and mutool agree with each other on **%d** plates; on **%d** of them (%.1f %%) we agree with at least one.\n\n", agreed, with, 100*float64(with)/float64(max(agreed, 1)))
	b.WriteString("| file | plate | ours – gs | ours – mutool | gs – mutool | we agree with | why |\n|---|---|---|---|---|---|---|\n")
	number := map[string]int{}
	for i := range rows {
		r := &rows[i]
		name := r.Plate
		if !strings.Contains(" Cyan Magenta Yellow Black C+K M+K Y+K ", " "+name+" ") {
			number[r.File]++
			name = fmt.Sprintf("special %d", number[r.File])
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s |\n", r.File, name, r.OursGS, r.OursMu, r.GSMu, r.Verdict(), explain(r))
	}
	if len(notes) > 0 {
		b.WriteString("\n## Remarks\n\n| file | remark |\n|---|---|\n" + strings.Join(notes, "\n") + "\n")
	}
	return b.String()
}

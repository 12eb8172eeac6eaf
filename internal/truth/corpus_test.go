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
	"strconv"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
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

// TestTruth_corpus: on every page both interpreters agree with us plate by plate, or it is said which clause (or which
// page of theirs) decides; a plate on which they agree with each other and not with us fails without a clause. Run
// with -write it makes docs/truth.md, of all pages of the corpus and of the probes.
func TestTruth_corpus(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes")
	}
	oracles(t)
	type page struct {
		file  string
		n     int // 0 = none is compared
		found summary
	}
	var (
		sum   summary
		pages []page
	)
	for _, f := range corpus(t) {
		base := idOf(t, f)
		if *only != "" && !strings.Contains(base, *only) && !strings.Contains(filepath.Base(f), *only) {
			continue
		}
		if reason, skip := notCompared[base]; skip {
			left := page{file: f}
			left.found.note(base, 0, "not compared: "+reason)
			pages = append(pages, left)
			continue
		}
		if !*write && *only == "" && !daily[base] {
			continue
		}
		for n := range pagesOf(f) {
			pages = append(pages, page{file: f, n: n + 1})
		}
	}
	t.Run("pages", func(t *testing.T) {
		for i := range pages {
			p := &pages[i]
			if p.n == 0 {
				continue
			}
			t.Run(fmt.Sprintf("%s page %d", idOf(t, p.file), p.n), func(t *testing.T) {
				t.Parallel()
				comparePage(t, &p.found, p.file, p.n)
			})
		}
	})
	for _, p := range pages {
		sum.rows, sum.notes = append(sum.rows, p.found.rows...), append(sum.notes, p.found.notes...)
	}
	for i := range sum.rows {
		r := &sum.rows[i]
		if *show {
			t.Logf("%-10s %2d %-20s gs %-18s mu %-18s gs-mu %-18s %-14s %s", r.File, r.Page, r.Plate, r.OursGS, r.OursMu, r.GSMu, r.Verdict(), r.Why)
		}
		if r.GSMu.OK && r.StandIn == "" {
			sum.agreed++
			if r.Verdict() != "against both" {
				sum.with++
			}
		}
		if r.Verdict() != "both" && r.Why == "" {
			t.Errorf("%s page %d plate %q: we agree with %s and nothing says who is right: gs %s, mutool %s, each other %s",
				r.File, r.Page, r.Plate, r.Verdict(), r.OursGS, r.OursMu, r.GSMu)
		}
	}
	t.Logf("gs and mutool agree on %d plates; we agree with one of them on %d", sum.agreed, sum.with)
	if *write {
		all := probes()
		data := probeFile(all)
		table := probeTable(judgeProbes(t, all, data, paintProbes(t, all, data)))
		if err := os.WriteFile("../../docs/truth.md", []byte(sum.page()+table), 0o644); err != nil {
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

// summary is what a run over the corpus found.
type summary struct {
	rows         []Row
	notes        []string
	agreed, with int
}

func (s *summary) note(file string, page int, text string) {
	at := ""
	if page > 0 {
		at = strconv.Itoa(page)
	}
	s.notes = append(s.notes, fmt.Sprintf("| %s | %s | %s |", file, at, text))
}

// maxPages is how many pages of one file are compared.
const maxPages = 20

// pagesOf is how many pages of a file to compare; 1 for a file that is not read, whose reason is wanted.
func pagesOf(file string) int {
	f, err := os.Open(file)
	if err != nil {
		return 1
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return 1
	}
	doc, err := pdf.Open(f, st.Size(), pdf.Options{})
	if err != nil {
		return 1
	}
	return min(max(doc.NumPages(), 1), maxPages)
}

// standIns are findings on marks every interpreter makes its own way, so that they cannot be compared.
var standIns = map[finding.ID]string{
	"font-not-embedded":  "a font is not embedded: each program shows its own stand-in",
	"font-damaged":       "a font is damaged: each program shows its own stand-in",
	"font-glyph-missing": "a font lacks a glyph: each program shows its own stand-in",
}

func comparePage(t *testing.T, sum *summary, file string, n int) {
	t.Helper()
	ctx := context.Background()
	id := idOf(t, file)
	ours, err := Ours(ctx, file, n)
	if err != nil {
		sum.note(id, n, "we do not read it: "+err.Error())
		return
	}
	gs, errGS := cached("gs", file, n, ours.DPI, func() (*Plates, error) { return Ghostscript(ctx, file, n, ours.DPI) })
	mu, errMu := cached("mutool", file, n, ours.DPI, func() (*Plates, error) { return MuPDF(ctx, file, n, ours.DPI) })
	var notes []string
	if errGS != nil {
		notes = append(notes, fmt.Sprintf("gs gives nothing (%.60s)", errGS))
	}
	if errMu != nil {
		notes = append(notes, fmt.Sprintf("mutool gives nothing (%.60s)", errMu))
	}
	standIn, lacks := "", ""
	for _, f := range ours.Findings {
		if !f.Incomplete {
			continue
		}
		if s := standIns[f.ID]; s != "" {
			standIn = s
		} else if !strings.Contains(lacks, string(f.ID)) {
			lacks += " " + string(f.ID)
		}
	}
	if lacks != "" {
		notes = append(notes, "we say the page is not drawn in full:"+lacks)
	}
	if len(notes) > 0 {
		sum.note(id, n, strings.Join(notes, "; "))
		if *show {
			t.Log(id, n, notes)
		}
	}
	if errGS != nil && errMu != nil {
		return
	}
	for _, r := range Judge(id, n, ours, gs, mu) {
		if k := ours.Kind[r.Plate]; standIn != "" && (k.AnyText || strings.Contains(r.Plate, "+")) {
			r.StandIn = standIn
		}
		r.Why = explain(&r)
		switch {
		case r.Why != "" || r.Verdict() == "both":
		case r.StandIn != "":
			r.Why = r.StandIn
		case lacks != "":
			r.Why = "we say the page is not drawn in full:" + lacks
		case errGS != nil && r.OursMu.OK:
			r.Why = "gs gives no plates of this page"
		case errMu != nil && r.OursGS.OK:
			r.Why = "mutool gives no plates of this page"
		}
		sum.rows = append(sum.rows, r)
	}
}

func (s *summary) page() string {
	var b strings.Builder
	b.WriteString("# Our plates against independent interpreters\n\n")
	fmt.Fprintf(&b, "Made by `make truth`. Every page of each public test file (of long ones the first %d), at 150 dpi (pages under half a megapixel at 300 or 600): ours directly,\nthe interpreters' in four times the resolution averaged 4 × 4.\n", maxPages)
	b.WriteString("Each cell is mean |difference| (0 to 255) / share of pixels out of the other's neighbourhood; ✗ = over the limit of that kind of plate\n")
	b.WriteString("(special 1 / 0.5 %, process 2 / 1 %, text-heavy or small page 5 / 2 %). Pages with RGB, Lab or ICC colour compare C+K, M+K, Y+K.\n")
	b.WriteString("Public files are named by the first eight digits of their SHA-256, and their special colourants by number.\n\n")
	fmt.Fprintf(&b, "gs and mutool agree with each other on **%d** plates (those with text in a font that is not in the file left out); on **%d** of them (%.1f %%) we agree with at least one.\n",
		s.agreed, s.with, 100*float64(s.with)/float64(max(s.agreed, 1)))
	b.WriteString("Where we do not agree with both, the last column says which clause decides, or why the two cannot be compared.\n\n")
	b.WriteString("| file | page | plate | ours – gs | ours – mutool | gs – mutool | we agree with | why |\n|---|---|---|---|---|---|---|---|\n")
	number := map[string]int{}
	for i := range s.rows {
		r := &s.rows[i]
		name := r.Plate
		if !strings.Contains(" Cyan Magenta Yellow Black C+K M+K Y+K ", " "+name+" ") {
			key := r.File + " " + name
			if number[key] == 0 {
				number[r.File]++
				number[key] = number[r.File]
			}
			name = fmt.Sprintf("special %d", number[key])
		}
		fmt.Fprintf(&b, "| %s | %d | %s | %s | %s | %s | %s | %s |\n", r.File, r.Page, name, r.OursGS, r.OursMu, r.GSMu, r.Verdict(), r.Why)
	}
	if len(s.notes) > 0 {
		b.WriteString("\n## Remarks\n\n| file | page | remark |\n|---|---|---|\n" + strings.Join(s.notes, "\n") + "\n")
	}
	return b.String()
}

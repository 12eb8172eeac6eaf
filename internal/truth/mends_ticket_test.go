package truth

import (
	"bytes"
	"context"
	"image"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/demo"
	"laydown/internal/finding"
)

// readmeUses are the remedies the README asks for by name to mend the example ticket.
func readmeUses(t *testing.T) (uses []string) {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, command, ok := strings.Cut(string(text), "./laydown mend tour/artwork/ticket-faulty.pdf")
	if !ok {
		t.Fatal("the README does not mend the ticket")
	}
	command, _, _ = strings.Cut(strings.ReplaceAll(command, "\\\n", " "), "\n")
	if !strings.Contains(command, "--all-safe") {
		t.Errorf("the README mends without --all-safe: %s", command)
	}
	for _, m := range regexp.MustCompile(`--do ('[^']*'|\S+)`).FindAllStringSubmatch(command, -1) {
		uses = append(uses, strings.Trim(m[1], "'"))
	}
	return uses
}

// TestTruth_mendedTicket: the command of the README makes the faulty ticket clean, undoing all of it gives the ticket back,
// and Ghostscript's plates before and after differ nowhere but where the mend says that plates do.
func TestTruth_mendedTicket(t *testing.T) {
	if testing.Short() {
		t.Skip("mends thirteen faults")
	}
	oracles(t)
	program(t, "qpdf")
	dir := t.TempDir()
	job, in, out := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "faulty.pdf"), filepath.Join(dir, "mended.pdf")
	var ticket bytes.Buffer
	if err := demo.WriteTicket(&ticket, true); err != nil {
		t.Fatal(err)
	}
	for file, data := range map[string][]byte{job: []byte(demo.JobYAML()), in: ticket.Bytes()} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s, err := app.NewSetup(app.SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	o, mended := mendFile(t, s, in, out, mendDPI, true, readmeUses(t)...)
	after, err := app.Check(context.Background(), app.CheckRequest{File: out, Setup: s, DPI: mendDPI, FailOn: finding.Warning})
	if err != nil {
		t.Fatal(err)
	}
	if !after.Clean || !o.Answered {
		t.Errorf("not clean: %v", ids(after))
	}
	wellMade(t, out)
	// Ghostscript sets a font that is not embedded in letters of its own.
	lettered := filepath.Join(dir, "lettered.pdf")
	if e, _ := mendFile(t, s, in, lettered, mendDPI, false, "embed-needed"); len(e.Steps) != 1 || len(e.Steps[0].Plates) > 0 {
		t.Errorf("embedding fonts changes plates: %+v", e.Steps)
	}
	ticketDiffersWhereSaid(t, o, lettered, out)

	changed := 0
	for _, st := range o.Steps {
		if st.Changed {
			changed++
		}
	}
	for range changed {
		if _, err := app.Unmend(s, out, filepath.Join(dir, "back.pdf")); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(filepath.Join(dir, "back.pdf"), out); err != nil {
			t.Fatal(err)
		}
	}
	if b, err := os.ReadFile(out); err != nil || !bytes.Equal(b, ticket.Bytes()) || bytes.Equal(b, mended) {
		t.Errorf("undoing %d remedies does not give the ticket back (%v)", changed, err)
	}
}

// ticketDiffersWhereSaid holds Ghostscript's plates before and after against the boxes the mend names. It marks whole pixels of
// four times the resolution and draws pages with transparency by other ways: an edge may move by one of these, which is a
// quarter of a pixel here at most.
func ticketDiffersWhereSaid(t *testing.T, o *app.MendOutcome, in, out string) {
	t.Helper()
	before, err := GhostscriptAll(context.Background(), in, DPI)
	if err != nil {
		t.Fatal(err)
	}
	now, err := GhostscriptAll(context.Background(), out, DPI)
	if err != nil {
		t.Fatal(err)
	}
	if len(before) != len(now) || len(now) != len(o.Difference.Pages) {
		t.Fatalf("%d and %d pages by Ghostscript, %d compared", len(before), len(now), len(o.Difference.Pages))
	}
	for i, pg := range o.Difference.Pages {
		a, b := before[i], now[i]
		if a.W != b.W || a.H != b.H {
			t.Fatalf("page %d: %d x %d pixels before, %d x %d after", pg.Page, a.W, a.H, b.W, b.H)
		}
		for _, pl := range pg.Plates {
			said := make([]bool, a.W*a.H)
			for _, box := range pl.Boxes {
				const px, edge = 25.4 / DPI, 2 // an edge of a pixel that is larger than those compared, and its neighbour
				x0, y0 := int((box.X+pg.TrimA.X)/px)-edge, int((box.Y+pg.TrimA.Y)/px)-edge
				x1, y1 := int((box.X+pg.TrimA.X+box.W)/px)+1+edge, int((box.Y+pg.TrimA.Y+box.H)/px)+1+edge
				for y := max(0, y0); y < min(a.H, y1); y++ {
					for x := max(0, x0); x < min(a.W, x1); x++ {
						said[y*a.W+x] = true
					}
				}
			}
			pa, pb := a.Plane[pl.Colourant], b.Plane[pl.Colourant]
			n, all := 0, 0
			box, worst := image.Rectangle{}, 0
			for k := range said {
				if at(pa, k) != at(pb, k) {
					all++
					if !said[k] {
						n++
						box = box.Union(image.Rect(k%a.W, k/a.W, k%a.W+1, k/a.W+1))
						worst = max(worst, int(at(pa, k))-int(at(pb, k)), int(at(pb, k))-int(at(pa, k)))
					}
				}
			}
			t.Logf("page %d, %s: %d pixels differ by Ghostscript, %d of them elsewhere, by up to %d", pg.Page, pl.Colourant, all, n, worst)
			if worst > 64 || n*1000 > a.W*a.H {
				t.Errorf("page %d, %s: %d pixels differ where the mend says nothing, by up to %d, in %v", pg.Page, pl.Colourant, n, worst, box)
			}
		}
	}
}

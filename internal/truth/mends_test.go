package truth

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/artwork/interp"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/mend"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// mendCase is a small artwork with a fault, and the remedy that takes it out.
type mendCase struct {
	answers finding.ID // the finding that is there before and not after; "" = the remedy answers none
	use     string     // the remedy with its options, as a person types it
	// offered is set where the finding names this very use.
	offered bool
	press   string // shipped press; "" = two-set
	never   string // toners that Clear must never lie on, on a press of its own
	stock   string // shipped stock; "" = midnight-blue-board
	job     string // more of a job; "" = no job
	layer   string // name of the layer {hidden}; "" = Sketch
	catalog string // more of the catalogue; {hidden} is a layer that does not print
	spots   []spot // more colour spaces
	probe          // name, content, resources, page, clause and what it asks for
}

// spot is a colour space by its resource name; in texts {name} is the reference to it. A name in lower case is of an object that
// is only referred to.
type spot struct{ name, array string }

// spotsOf are the toners of the shipped presses in their stand-in colours.
var spotsOf = []spot{{"W", pdfbuild.Spot("White", .25, 0, 0, .1)}, {"S", pdfbuild.Spot("Silver", 0, 0, 0, .45)},
	{"Au", pdfbuild.Spot("Gold", .2, .35, .8, .15)}, {"C", pdfbuild.Spot("Clear", 0, .2, 0, 0)}}

// file writes the artwork: a page of probeSide pixels, drawn in units of a pixel as probes are.
func (c *mendCase) file() []byte {
	f := pdfbuild.New()
	resources := f.Add("null")
	hidden := f.Add("<< /Type /OCG /Name (" + cmp.Or(c.layer, "Sketch") + ") /Usage << /Print << /PrintState /ON >> >> >>")
	number := []string{"{resources}", pdfbuild.Ref(resources), "{hidden}", pdfbuild.Ref(hidden)}
	resolve := func(s string) string { return strings.NewReplacer(number...).Replace(s) }
	for _, s := range c.streams {
		number = append(number, "{"+s.name+"}", pdfbuild.Ref(f.Stream(resolve(s.dict), s.data)))
	}
	// As objects of their own, which other objects refer to.
	spaces := ""
	for _, s := range append(spotsOf, c.spots...) {
		ref := pdfbuild.Ref(f.Add(resolve(s.array)))
		number = append(number, "{"+s.name+"}", ref)
		if s.name[0] <= 'Z' {
			spaces += "/" + s.name + " " + ref + " "
		}
	}
	text := resolve("/ColorSpace << " + spaces + " >> /ExtGState << /Off << /OP false /op false >> /On << /OP true /op true /OPM 1 >> " + c.gs +
		" >> /XObject << " + c.xobjects + " >> /Font << " + c.fonts + " >> /Properties << /Hidden {hidden} >>")
	f.Set(resources, "<< "+text+" >>")
	f.Catalog(resolve(c.catalog))
	f.Page(48, 48, text, ".48 0 0 .48 0 0 cm "+c.content, c.page)
	return f.Bytes()
}

// setup finds press, stock and job of a case; definitions of its own are written into dir.
func (c *mendCase) setup(t *testing.T, dir string) *app.Setup {
	t.Helper()
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	o := app.SetupOptions{Press: c.press, Stock: c.stock}
	if o.Press == "" {
		o.Press = "two-set"
	}
	if o.Stock == "" {
		o.Stock = "midnight-blue-board"
	}
	if c.never != "" {
		text, ok := press.ShippedPress(o.Press)
		if !ok {
			t.Fatalf("no press %s", o.Press)
		}
		o.Press = write("press.yaml", strings.Replace(string(text), "must_overprint: true", "must_overprint: true\n    never_on: ["+c.never+"]", 1))
	}
	if c.job != "" {
		o.Job = write("job.yaml", fmt.Sprintf("artwork: in.pdf\npress: %s\nstock: %s\n%s\n", o.Press, o.Stock, c.job))
	}
	s, err := app.NewSetup(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// mendDPI is the resolution of check and proof of the cases: that of a command without --dpi.
const mendDPI = 300

// mendFile applies uses to a file; nil bytes when nothing was changed.
func mendFile(t *testing.T, s *app.Setup, in, out string, dpi float64, safe bool, uses ...string) (*app.MendOutcome, []byte) {
	t.Helper()
	req := app.MendRequest{File: in, Setup: s, Out: out, DPI: dpi, AllSafe: safe}
	for _, text := range uses {
		u, err := mend.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		req.Uses = append(req.Uses, u)
	}
	o, err := app.Mend(context.Background(), req)
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Refused) > 0 {
		t.Fatalf("%v was refused: %+v", uses, o.Refused)
	}
	if o.Out == "" {
		return o, nil
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return o, b
}

// program skips when a program is missing, unless the run requires all of them.
func program(t *testing.T, name string) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("%s is required and not installed", name)
		}
		t.Skipf("%s is not installed", name)
	}
}

func wellMade(t *testing.T, file string) {
	t.Helper()
	if out, err := exec.Command("qpdf", "--check", file).CombinedOutput(); err != nil || bytes.Contains(out, []byte("WARNING")) {
		t.Errorf("qpdf: %v\n%s", err, out)
	}
}

func findingsOf(o *app.Outcome, id finding.ID) (out []finding.Finding) {
	for _, f := range o.Findings {
		if f.ID == id {
			out = append(out, f)
		}
	}
	return out
}

// TestTruth_mends: every remedy on an artwork with the fault it answers. The finding is gone, the file is well made and starts
// with the artwork's own bytes, a second time changes nothing, undoing gives the artwork back, and both interpreters separate
// the mended file into the plates we predict, by the limits of probes.
func TestTruth_mends(t *testing.T) {
	if testing.Short() {
		t.Skip("runs three programs on every remedy")
	}
	oracles(t)
	program(t, "qpdf")
	for _, c := range mendCases() {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			s := c.setup(t, dir)
			in, out, back := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf"), filepath.Join(dir, "back.pdf")
			data := c.file()
			if err := os.WriteFile(in, data, 0o600); err != nil {
				t.Fatal(err)
			}
			wellMade(t, in)
			o, mended := mendFile(t, s, in, out, mendDPI, false, c.use)
			if mended == nil {
				t.Fatalf("nothing was changed: %+v; findings %v", o.Steps, ids(o.Before))
			}
			c.checkFinding(t, s, o, out)
			wellMade(t, out)
			if !bytes.HasPrefix(mended, data) {
				t.Error("the mended file does not start with the artwork's bytes")
			}
			if again, b := mendFile(t, s, out, filepath.Join(dir, "again.pdf"), mendDPI, false, c.use); b != nil {
				t.Errorf("a second time it changes something: %+v", again.Steps)
			}
			if remedy, err := app.Unmend(s, out, back); err != nil || remedy != remedyOf(c.use) {
				t.Errorf("undid %q: %v", remedy, err)
			} else if b, err := os.ReadFile(back); err != nil || !bytes.Equal(b, data) {
				t.Errorf("undoing gives other bytes (%v)", err)
			}
			c.judge(t, o, in, out, mended)
		})
	}
}

func remedyOf(use string) string {
	id, _, _ := strings.Cut(use, ":")
	return id
}

func ids(o *app.Outcome) (out []string) {
	for _, f := range o.Findings {
		out = append(out, string(f.ID))
	}
	return out
}

// checkFinding: the finding was there and is not there when the mended file is checked anew.
func (c *mendCase) checkFinding(t *testing.T, s *app.Setup, o *app.MendOutcome, out string) {
	t.Helper()
	after, err := app.Check(context.Background(), app.CheckRequest{File: out, Setup: s, DPI: mendDPI})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range after.Findings {
		if f.Incomplete && f.ID != "font-not-embedded" {
			t.Errorf("the mended file cannot be read in full: %s", f.What)
		}
	}
	if c.answers == "" {
		return
	}
	before := findingsOf(o.Before, c.answers)
	if len(before) == 0 {
		t.Errorf("%s is not found in the artwork: %v", c.answers, ids(o.Before))
	}
	u, err := mend.Parse(c.use)
	if err != nil {
		t.Fatal(err)
	}
	if c.offered && !slices.ContainsFunc(before, func(f finding.Finding) bool { return slices.Contains(f.Mends, u.String()) }) {
		t.Errorf("%s does not offer %s", c.answers, u)
	}
	for _, f := range findingsOf(after, c.answers) {
		t.Errorf("still there: %s", f.What)
	}
}

// judge holds our plates of the mended file against those of both interpreters; and what Ghostscript gives before and after
// differs on no plate of the press that the remedy did not name.
func (c *mendCase) judge(t *testing.T, o *app.MendOutcome, in, out string, mended []byte) {
	t.Helper()
	ctx := context.Background()
	ours, err := paintPage(ctx, mended, 1, DPI, interp.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if ours.Stack.Width != probeSide || ours.Stack.Height != probeSide {
		t.Fatalf("%d x %d pixels", ours.Stack.Width, ours.Stack.Height)
	}
	checkPoints(t, &c.probe, ours.Stack)
	gs, was := ghostscriptOf(t, out), ghostscriptOf(t, in)
	mu, err := MuPDF(ctx, out, 1, DPI)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range judgeProbe(&c.probe, 1, ours, gs, mu) {
		if *show {
			t.Logf("%-10s gs %-18s mu %-18s gs-mu %-18s %s", r.Plate, r.OursGS, r.OursMu, r.GSMu, r.Verdict())
		}
		if r.GSMu.OK && r.Verdict() != "both" || !r.GSMu.OK && c.clause == "" {
			t.Errorf("plate %q: gs %s, mutool %s, each other %s", r.Plate, r.OursGS, r.OursMu, r.GSMu)
		}
	}
	if c.answers == "font-not-embedded" {
		return // Ghostscript sets letters of its own before
	}
	named := map[string]bool{}
	for _, st := range o.Steps {
		for _, pg := range st.Plates {
			for _, p := range pg.Plates {
				named[p.Colourant] = true
			}
		}
	}
	known := append(colourant.ProcessNames[:], "White", "Silver", "Gold", "Clear", "Fluorescent Pink")
	for n := range was.Plane {
		if !slices.Contains(known, n) {
			return // the press prints this colourant through its stand-in, Ghostscript gives it a plate
		}
	}
	for _, n := range known {
		if differ := differing(was.Plane[n], gs.Plane[n]); differ > 0 && !named[n] {
			t.Errorf("plate %q differs on %d pixels by Ghostscript and the remedy does not say so", n, differ)
		}
	}
}

// ghostscriptOf gives the plates of a file's first page.
func ghostscriptOf(t *testing.T, file string) *Plates {
	t.Helper()
	pages, err := GhostscriptAll(context.Background(), file, DPI)
	if err != nil {
		t.Fatal(err)
	}
	return pages[0]
}

// differing counts the pixels in which two planes differ; nil is an empty plate.
func differing(a, b []byte) (n int) {
	for i := range max(len(a), len(b)) {
		if at(a, i) != at(b, i) {
			n++
		}
	}
	return n
}

// TestMends_everyRemedyHasACase: each remedy has a case for each finding it answers.
func TestMends_everyRemedyHasACase(t *testing.T) {
	have := map[string]bool{}
	for _, c := range mendCases() {
		u, err := mend.Parse(c.use)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if c.answers != "" && !slices.Contains(u.Remedy.Answers, c.answers) {
			t.Errorf("%s: %s does not answer %s", c.name, u.Remedy.ID, c.answers)
		}
		have[u.Remedy.ID] = true
		have[u.Remedy.ID+" "+string(c.answers)] = true
	}
	for _, r := range mend.All {
		if !have[r.ID] {
			t.Errorf("%s has no case", r.ID)
		}
		for _, id := range r.Answers {
			if key := r.ID + " " + string(id); !have[key] {
				t.Errorf("%s has no case", key)
			}
		}
	}
}

package app

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/mend"
	"laydown/internal/press"
)

// TestRemediesAnswerOnRandomPages draws pages with a fault and asserts that it is found, that the finding offers the remedy, and
// that it is gone after any of the uses offered, with nothing left to do.
// 150 dpi at least: lines of 2 pt are too few pixels wide at 72 for the rules to tell their rims from tints.
func TestRemediesAnswerOnRandomPages(t *testing.T) {
	few(t, "8")
	for _, c := range answers {
		t.Run(c.name(), func(t *testing.T) {
			dir := t.TempDir()
			setup := c.setup(t, dir)
			dpi, n := max(150, c.dpi), 0
			rapid.Check(t, func(t *rapid.T) {
				data := drawAnswerPage(t, &c)
				offered := c.offered(t, setup, filepath.Join(dir, "checked.pdf"), data, dpi)
				use := rapid.SampledFrom(offered).Draw(t, "use")
				o, once := mendedAt(t, dpi, dir, setup, data, use)
				if once == nil {
					t.Fatalf("nothing was changed: %+v", o.Steps)
				}
				if left := told(o.After, finding.Note, c.finding, c.colourant); len(left) > 0 {
					t.Fatalf("still there after %s: %v", use, left)
				}
				if n++; n%4 == 1 {
					sound(t, filepath.Join(dir, "out.pdf"))
				}
				if o, twice := mendedAt(t, dpi, dir, setup, once, use); twice != nil {
					t.Fatalf("mending twice changes something: %+v", o.Steps)
				}
			})
		})
	}
}

// offered are the uses of the case's remedy that its finding offers on a file.
func (c *answer) offered(t *rapid.T, s *Setup, file string, data []byte, dpi float64) (uses []string) {
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	o, err := Check(context.Background(), CheckRequest{File: file, Setup: s, DPI: dpi})
	if err != nil {
		t.Fatal(err)
	}
	if len(told(o, finding.Note, c.finding, c.colourant)) == 0 {
		t.Fatal("the page has no such fault")
	}
	for _, f := range o.Findings {
		if f.ID != c.finding || c.colourant != "" && !slices.Contains(f.Place.Colourants, c.colourant) {
			continue
		}
		for _, m := range f.Mends {
			if id, _, _ := strings.Cut(m, ":"); id == c.remedy {
				uses = append(uses, m)
			}
		}
	}
	if len(uses) == 0 {
		t.Fatalf("%s is not offered", c.remedy)
	}
	return uses
}

// answerSetup is the shipped press and a dark stock with the wishes of a job.
func answerSetup(t *testing.T, dir, job string) *Setup {
	t.Helper()
	return (&answer{job: job}).setup(t, dir)
}

// setup is the press and the stock of the case, with the wishes of its job.
func (c *answer) setup(t *testing.T, dir string) *Setup {
	t.Helper()
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	def, stock := c.press, c.stock
	if def == "" {
		def = "two-set"
	}
	if stock == "" {
		stock = "midnight-blue-board"
	}
	if c.never != "" {
		text, ok := press.ShippedPress(def)
		if !ok {
			t.Fatalf("no press %s", def)
		}
		def = write("press.yaml", strings.Replace(string(text), "must_overprint: true", "must_overprint: true\n    never_on: ["+c.never+"]", 1))
	}
	s, err := NewSetup(SetupOptions{Job: write("job.yaml", "artwork: in.pdf\npress: "+def+"\nstock: "+stock+"\n"+c.job+"\n")})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestEveryRemedyOfARuleIsTriedOnRandomPages: what a rule names, a remedy answers, the remedy is offered, and the pair stands in
// answers.
func TestEveryRemedyOfARuleIsTriedOnRandomPages(t *testing.T) {
	type pair struct {
		rule   finding.ID
		remedy string
	}
	tried := map[pair]bool{}
	for _, c := range answers {
		tried[pair{c.finding, c.remedy}] = true
	}
	named := map[pair]bool{}
	for _, r := range check.Rules {
		for _, m := range r.Remedies {
			p := pair{r.ID, m}
			named[p] = true
			if !tried[p] {
				t.Errorf("no case of answers tries %s on %s", m, r.ID)
			}
			if remedy, ok := mend.Find(m); !ok || remedy.Offer == nil || !slices.Contains(remedy.Answers, r.ID) {
				t.Errorf("the rule %s names the mend %s, which is never offered for it", r.ID, m)
			}
		}
	}
	for p := range tried {
		if !named[p] {
			t.Errorf("the rule %s does not name %s", p.rule, p.remedy)
		}
	}
	for _, r := range mend.All {
		for _, id := range r.Answers {
			if !named[pair{id, r.ID}] {
				t.Errorf("the mend %s answers %s, which does not name it", r.ID, id)
			}
		}
	}
}

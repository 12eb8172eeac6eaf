package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// cards writes a file of cards of 90 x 50 mm with 3 mm bleed, a content each, and a job with what it says of sheets.
func cards(t *testing.T, sheets string, contents ...string) SheetsRequest {
	t.Helper()
	const mm = 72 / 25.4
	f := pdfbuild.New()
	spaces := "/ColorSpace << /White " + pdfbuild.Spot("White", .2, .1, .3, 0) + " /Silver " + pdfbuild.Spot("Silver", 0, 0, 0, .4) + " /Clear " + pdfbuild.Spot("Clear", .1, 0, 0, 0) +
		" >> /ExtGState << /On << /OP true /op true /OPM 1 >> >>"
	for _, c := range contents {
		f.Page(96*mm, 56*mm, spaces, c, fmt.Sprintf("/TrimBox [%g %g %g %g]", 3*mm, 3*mm, 93*mm, 53*mm))
	}
	dir := t.TempDir()
	file, job := filepath.Join(dir, "cards.pdf"), filepath.Join(dir, "job.yaml")
	if err := os.WriteFile(file, f.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	text := "artwork: cards.pdf\npress: two-set\nstock: white-gloss\nbleed: 3mm\n" + sheets
	if err := os.WriteFile(job, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "out"), 0o700); err != nil {
		t.Fatal(err)
	}
	return SheetsRequest{File: file, Setup: s, Out: filepath.Join(dir, "out", "sheets.pdf"), FailOn: finding.Warning}
}

func idsOf(fs []finding.Finding) (out []string) {
	for _, f := range fs {
		out = append(out, string(f.ID))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

const ground = "/White cs 1 scn 0 0 999 999 re f 0 .5 0 0 k 20 20 50 50 re f "

// Which plates stay the same and which vary is told, and a special one that varies is a warning.
func TestSheets_tell_plates_that_vary(t *testing.T) {
	records := []string{ground + "/On gs 0 0 0 1 k 9 9 5 5 re f", ground + "/On gs 0 0 0 1 k 99 9 5 5 re f", ground + "/On gs /Silver cs 1 scn 99 9 5 5 re f"}
	o, err := Sheets(context.Background(), cards(t, "sheets: {records: {pages: 1}}\n", records...))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range o.Records.Plates {
		got = append(got, fmt.Sprint(p.Colourant, " ", p.Static, " ", p.Differing, " ", p.Empty, " ", p.Example))
	}
	want := []string{"Magenta true 0 0 0", "Black false 2 1 2", "White true 0 0 0", "Silver false 1 2 3"}
	if slices.Sort(got); !slices.Equal(got, sorted(want)) {
		t.Errorf("%q, want %q", got, want)
	}
	if ids := idsOf(o.Findings); !slices.Equal(ids, []string{"plates-of-some-records", "special-plates-static", "special-plates-vary"}) {
		t.Errorf("%q", ids)
	}
	if o.Clean {
		t.Error("called clean")
	}
}

func sorted(list []string) []string {
	out := slices.Clone(list)
	slices.Sort(out)
	return out
}

// A run that is stopped while it looks or while it writes leaves nothing.
func TestSheets_stopped_leave_nothing(t *testing.T) {
	for _, when := range []string{"toners of page", "sheet"} {
		req := cards(t, "sheets: {records: {pages: 1}, repeat: 2}\n", slices.Repeat([]string{ground}, 9)...)
		ctx, stop := context.WithCancel(context.Background())
		req.Progress = func(what string, done, total int) {
			if what == when && done == 3 {
				stop()
			}
		}
		o, err := Sheets(ctx, req)
		if !errors.Is(err, context.Canceled) || o != nil {
			t.Errorf("%s: %v", when, err)
		}
		if left, err := os.ReadDir(filepath.Dir(req.Out)); err != nil || len(left) > 0 {
			t.Errorf("%s: %v %v", when, left, err)
		}
	}
}

// The same request writes the same bytes.
func TestSheets_write_the_same_bytes(t *testing.T) {
	req := cards(t, "quantity: 100\nsheets: {fold: {kind: single}}\n", ground)
	var first []byte
	for range 2 {
		if _, err := Sheets(context.Background(), req); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(req.Out)
		if err != nil || first != nil && !bytes.Equal(b, first) {
			t.Errorf("not the same: %v", err)
		}
		first = b
	}
}

// Marks are black where a pass has black, else in the toners that are laid down anyway; no mark brings in a set, and
// every pass has its own.
func TestSheets_marks_bring_in_no_set(t *testing.T) {
	for _, c := range []struct {
		content string
		passes  int
		all     []string // plates with toner on the sheet
		finding string
	}{
		{ground, 2, []string{"Black", "Magenta", "White"}, ""},
		{"0 .5 0 0 k 20 20 50 50 re f", 1, []string{"Black", "Magenta"}, ""},
		{"/Silver cs 1 scn 20 20 50 50 re f", 1, []string{"Silver"}, "marks-in-specials-alone"},
		{"/Clear cs 1 scn 20 20 50 50 re f /Silver cs 1 scn 90 20 50 50 re f", 1, []string{"Clear", "Silver"}, "marks-in-specials-alone"},
	} {
		req := cards(t, "quantity: 100\n", c.content)
		o, err := Sheets(context.Background(), req)
		if err != nil {
			t.Fatal(err)
		}
		if len(o.Passes) != c.passes {
			t.Errorf("%s: %d passes", c.content, len(o.Passes))
		}
		index, err := WritePlates(context.Background(), PlatesRequest{File: req.Out, Setup: req.Setup, Out: filepath.Join(t.TempDir(), "p"), DPI: 36})
		if err != nil {
			t.Fatal(err)
		}
		var has []string
		for _, p := range index.Pages[0].Plates {
			if p.Coverage > 0 {
				has = append(has, p.Colourant)
			}
		}
		if slices.Sort(has); !slices.Equal(has, c.all) {
			t.Errorf("%s: toner on %q, want %q", c.content, has, c.all)
		}
		if got := strings.Join(idsOf(o.Findings), " "); got != c.finding {
			t.Errorf("%s: %q", c.content, got)
		}
	}
}

// The seams of an envelope are to be free of toner; its blank has to have the size of the page.
func TestSheets_keep_the_seams_of_envelopes_free(t *testing.T) {
	// 60 x 30 closed, flap 10, back 10, seams 15: the blank is 90 x 50.
	const envelope = "quantity: 10\nsheets: {envelope: {width: 60mm, height: 30mm, flap: 10mm, back: 10mm, seam: 15mm}}\n"
	for content, want := range map[string]string{
		"0 .5 0 0 k 60 20 80 80 re f":  "",
		"0 .5 0 0 k 20 60 80 10 re f":  "toner-on-seam",
		"0 .5 0 0 k 20 130 80 10 re f": "", // beside the flap
	} {
		o, err := Sheets(context.Background(), cards(t, envelope, content))
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(idsOf(o.Findings), " "); got != want {
			t.Errorf("%s: %q, want %q", content, got, want)
		}
	}
	o, err := Sheets(context.Background(), cards(t, strings.Replace(envelope, "60mm", "70mm", 1), ground))
	if err != nil || !slices.Contains(idsOf(o.Findings), "envelope-blank-size") {
		t.Errorf("%v %v", err, idsOf(o.Findings))
	}
}

// The artwork of a pass gets the marks of that pass alone, and these of all passes make up the marks of the sheet.
func TestSheets_mark_each_pass(t *testing.T) {
	req := cards(t, "quantity: 100\n", ground)
	whole := req.Out
	passes, err := req.Setup.Press.Passes([]string{"Magenta", "White"})
	if err != nil || len(passes) != 2 {
		t.Fatal(passes, err)
	}
	for _, p := range passes {
		req.Passes = append(req.Passes, StackPass{Pass: p})
	}
	covered := func(only int) map[string]float64 {
		req.Only, req.Out = only, filepath.Join(filepath.Dir(whole), fmt.Sprint(only, ".pdf"))
		if _, err := Sheets(context.Background(), req); err != nil {
			t.Fatal(err)
		}
		index, err := WritePlates(context.Background(), PlatesRequest{File: req.Out, Setup: req.Setup, Out: filepath.Join(t.TempDir(), "p"), DPI: 72})
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]float64{}
		for _, p := range index.Pages[0].Plates {
			out[p.Colourant] = p.Coverage
		}
		return out
	}
	all, first, second := covered(0), covered(1), covered(2)
	// The second pass's set carries black. What White the pages have is in each of the three files, its marks in the first alone.
	if first["Black"] != 0 || second["Black"] != all["Black"] || all["Black"] == 0 {
		t.Errorf("Black: %g of the first pass, %g of the second, %g of both", first["Black"], second["Black"], all["Black"])
	}
	if first["White"] != all["White"] || second["White"] >= all["White"] {
		t.Errorf("White: %g of the first pass, %g of the second, %g of both", first["White"], second["White"], all["White"])
	}
	req.Only = 3
	if _, err := Sheets(context.Background(), req); err == nil {
		t.Error("a third pass")
	}
}

// A side has marks and patches of the passes that print it, and the file of a pass that prints one side has that side alone. The card
// has white under and clear over its process colours outside, which takes three passes, and one colour inside.
func TestSheets_mark_each_side_by_its_own_passes(t *testing.T) {
	req := cards(t, "quantity: 100\nsides: 2\nwishes: {underlay: [{toner: White, under: [process]}], clear: [{toner: Clear, over: [process]}]}\n",
		"/White cs 1 scn 20 20 50 50 re f /On gs 0 .5 0 0 k 20 20 50 50 re f /Clear cs 1 scn 20 20 50 50 re f", "0 .5 0 0 k 20 20 50 50 re f")
	o, err := Sheets(context.Background(), req)
	if err != nil {
		t.Fatal(err)
	}
	fronts, backs := []string{"White", "Magenta", "Clear"}, []string{"", "Magenta", ""}
	for i, p := range o.Passes {
		if strings.Join(p.Front, " ") != fronts[i] || strings.Join(p.Back, " ") != backs[i] {
			t.Errorf("pass %d lays %q on the front and %q on the back", i+1, p.Front, p.Back)
		}
		if i > 0 && p.In != o.Passes[i-1].Out {
			t.Errorf("%d sheets come out of pass %d, and %d go into the next", o.Passes[i-1].Out, i, p.In)
		}
	}
	if len(o.Passes) != 3 || o.Passes[2].Out != o.Yield.Sheets || o.Passes[0].In != o.Needed {
		t.Fatalf("%+v, %d good, %d needed", o.Passes, o.Yield.Sheets, o.Needed)
	}
	plates := func(page int) (has []string) {
		index, err := WritePlates(context.Background(), PlatesRequest{File: req.Out, Setup: req.Setup, Out: filepath.Join(t.TempDir(), "p"), DPI: 36})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range index.Pages[page-1].Plates {
			if p.Coverage > 0 {
				has = append(has, p.Colourant)
			}
		}
		slices.Sort(has)
		return has
	}
	if front, back := plates(1), plates(2); !slices.Equal(front, []string{"Black", "Clear", "Magenta", "White"}) || !slices.Equal(back, []string{"Black", "Magenta"}) {
		t.Errorf("toner on the front: %q, on the back: %q", front, back)
	}
	for i, want := range []int{1, 2, 1} {
		one := cards(t, "quantity: 100\nsides: 2\n", "0 .5 0 0 k 20 20 50 50 re f", "0 .5 0 0 k 20 20 50 50 re f")
		one.Only = i + 1
		art, err := req.Setup.Open(req.File)
		if err != nil {
			t.Fatal(err)
		}
		one.Passes, err = art.planned(context.Background(), req.Setup, nil, nil, nil)
		art.Close()
		if err != nil {
			t.Fatal(err)
		}
		o, err := Sheets(context.Background(), one)
		if err != nil || o.Written.Sides != want {
			t.Errorf("the file of pass %d: %+v %v", i+1, o.Written, err)
		}
	}
}

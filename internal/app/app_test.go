package app

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
)

// filesIn lists what lies below a folder; nil when it does not exist.
func filesIn(dir string) []string {
	var out []string
	_ = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			out = append(out, p)
		}
		return nil
	})
	return out
}

func TestCancelledWorkLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	setup := demoSetup(t, dir)
	file := writeTicket(t, dir, true)
	before := filesIn(dir)
	works := map[string]func(ctx context.Context, out string, p Progress) error{
		"prepare": func(ctx context.Context, out string, p Progress) error {
			_, err := Prepare(ctx, PrepareRequest{File: file, Setup: setup, Out: out, DPI: 100, Progress: p})
			return err
		},
		"plates": func(ctx context.Context, out string, p Progress) error {
			_, err := WritePlates(ctx, PlatesRequest{File: file, Setup: setup, Out: out, DPI: 100, Progress: p})
			return err
		},
		"demo": func(ctx context.Context, out string, p Progress) error {
			_, err := Demo(ctx, DemoRequest{Out: out, Progress: p})
			return err
		},
	}
	for name, work := range works {
		for at := range 2 { // pages done when the person stops
			ctx, cancel := context.WithCancel(context.Background())
			made := filepath.Join(dir, "made")
			err := work(ctx, filepath.Join(made, name), func(_ string, done, _ int) {
				if done == at {
					cancel()
				}
			})
			cancel()
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s stopped after %d pages: error %v, want %v", name, at, err, context.Canceled)
			}
			if _, err := os.Stat(made); err == nil {
				t.Errorf("%s stopped after %d pages left %v", name, at, filesIn(made))
				os.RemoveAll(made)
			}
		}
	}
	if after := filesIn(dir); !slices.Equal(before, after) {
		t.Errorf("files before %v, after %v", before, after)
	}
}

func TestUndoKeepsWhatWasThere(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "other.txt")
	if err := os.WriteFile(other, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	var r results
	if err := r.folder(dir); err != nil {
		t.Fatal(err)
	}
	deep := filepath.Join(dir, "a", "b")
	if err := r.folder(deep); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(deep, "f")
	if err := writeJSON(file, 1); err != nil {
		t.Fatal(err)
	}
	r.add(file)
	r.undo()
	if got := filesIn(dir); !slices.Equal(got, []string{other}) {
		t.Errorf("left are %v", got)
	}
	if _, err := os.Stat(filepath.Join(dir, "a")); err == nil {
		t.Error("a folder made for the results is left")
	}
}

func TestFileIsThereWholeOrNotAtAll(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.json")
	if err := writeJSON(path, "old"); err != nil {
		t.Fatal(err)
	}
	if err := writeJSON(path, func() {}); err == nil {
		t.Fatal("a function was written as JSON")
	}
	if b, _ := os.ReadFile(path); string(b) != "\"old\"\n" {
		t.Errorf("the file became %q", b)
	}
	if got := filesIn(filepath.Dir(path)); len(got) != 1 {
		t.Errorf("files left: %v", got)
	}
}

// faultySink stands in for a part that fails while a page is read.
type faultySink struct{}

func (faultySink) Add(finding.Finding) { panic("broken") }

func TestFaultInsideBecomesFinding(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 50, "", "0 0 10 10 re f /Missing Do")
	path := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(path, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	art, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	var met finding.Collector
	list, err := art.interpret(context.Background(), 1, interp.Options{Sink: faultySink{}}, &met)
	if err != nil {
		t.Fatal(err)
	}
	if len(list.Items) != 0 || !list.Incomplete || list.Page.Media != (geom.Rect{X1: 100, Y1: 50}) {
		t.Errorf("the page became %+v", list)
	}
	fs := met.Sorted()
	if len(fs) != 1 || fs[0].ID != "page-failed" || !fs[0].Incomplete || fs[0].Place.Page != 1 || clean(fs, finding.Error) {
		t.Errorf("findings %+v", fs)
	}
}

func TestConverterOfPressReachesTarget(t *testing.T) {
	dir := t.TempDir()
	art, err := Open(writeTicket(t, dir, false))
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	with := demoSetup(t, dir)
	for name, s := range map[string]*Setup{"with a press": with, "without": {conv: with.conv}} {
		sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if sh.Target.Converter != s.conv {
			t.Errorf("%s: the target has another converter", name)
		}
	}
}

func TestParsePages(t *testing.T) {
	for _, c := range []struct {
		in   string
		want []int
		err  string
	}{
		{"", []int{1, 2, 3, 4, 5}, ""},
		{"2", []int{2}, ""},
		{"1-3,5", []int{1, 2, 3, 5}, ""},
		{" 4 - 5 , 1", []int{4, 5, 1}, ""},
		{"2-3,3-4", []int{2, 3, 4}, ""},
		{"4-", []int{4, 5}, ""},
		{"-2", []int{1, 2}, ""},
		{"6", nil, "there is no page 6; the file has pages 1 to 5"},
		{"4-9999999999", []int{4, 5}, ""},
		{"6-7", nil, "there is no page"},
		{"0", nil, "cannot be understood"},
		{"3-2", nil, "cannot be understood"},
		{"-", nil, "cannot be understood"},
		{"1,,2", nil, "cannot be understood"},
		{"99999999999999999999", nil, "cannot be understood"},
		{"one", nil, "cannot be understood"},
	} {
		got, err := ParsePages(c.in, 5)
		if c.err == "" && err != nil || c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%q: error %v, want %q", c.in, err, c.err)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%q: %v, want %v", c.in, got, c.want)
		}
	}
}

func TestFittingDPIKeepsStacksInBounds(t *testing.T) {
	for _, side := range []float64{1, 72, 3000, 14400, 1e6} {
		for _, plates := range []int{4, 12, 60} {
			r := geom.Rect{X1: side, Y1: side}
			got := fittingDPI(r, 300, plates)
			px := side * side / (72 * 72) * got * got
			if got > 300 || px > stackPixels || px*float64(plates) > stackBytes {
				t.Errorf("side %g, %d plates: %g dpi make %g pixels a plate", side, plates, got, px)
			}
			if px < stackPixels/2 && px*float64(plates) < stackBytes/2 && got < 300 && got > 10 {
				t.Errorf("side %g, %d plates: %g dpi is less than needed", side, plates, got)
			}
		}
	}
}

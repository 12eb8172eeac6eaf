package app

import (
	"bytes"
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"laydown/internal/demo"
	"laydown/internal/finding"
	"laydown/internal/plates/plate"
)

// tickets are the example artwork, drawn once.
var tickets = map[bool]func() ([]byte, error){false: drawnTicket(false), true: drawnTicket(true)}

func drawnTicket(faulty bool) func() ([]byte, error) {
	return sync.OnceValues(func() ([]byte, error) {
		var b bytes.Buffer
		err := demo.WriteTicket(&b, faulty)
		return b.Bytes(), err
	})
}

// writeTicket writes the example artwork into a folder and returns its path.
func writeTicket(t testing.TB, dir string, faulty bool) string {
	t.Helper()
	data, err := tickets[faulty]()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, map[bool]string{false: "sound.pdf", true: "faulty.pdf"}[faulty])
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// demoSetup is the example's job.
func demoSetup(t testing.TB, dir string) *Setup {
	t.Helper()
	job := filepath.Join(dir, "job.yaml")
	if err := os.WriteFile(job, []byte(demo.JobYAML()), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestDemoFindsEveryPlantedFault(t *testing.T) {
	out := filepath.Join(t.TempDir(), "demo")
	o, err := Demo(context.Background(), DemoRequest{Out: out, FailOn: finding.Warning})
	if err != nil {
		t.Fatal(err)
	}
	if o.Clean {
		t.Error("the faulty ticket was called clean")
	}
	for _, want := range demo.Faults {
		found := false
		for _, f := range o.Findings {
			found = found || f.Place.Page == want.Page && string(f.ID) == want.ID
		}
		if !found {
			t.Errorf("page %d: no finding %s, although %s", want.Page, want.ID, want.What)
		}
	}
	// A report that goes by mail must stay small.
	if st, err := os.Stat(filepath.Join(out, "report.html")); err != nil || st.Size() > 6<<20 {
		t.Errorf("the report has %d bytes (%v), at most 6 MB are wanted", st.Size(), err)
	}
}

func TestSoundTicketHasNothingAboveNotes(t *testing.T) {
	dir := t.TempDir()
	o, err := Check(context.Background(), CheckRequest{File: writeTicket(t, dir, false), Setup: demoSetup(t, dir), FailOn: finding.Warning})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range o.Findings {
		if f.Severity > finding.Note || f.Incomplete {
			t.Errorf("page %d: %s: %s", f.Place.Page, f.ID, f.What)
		}
	}
	if !o.Clean {
		t.Error("the sound ticket was not called clean")
	}
}

// The story of a pixel ends with the very values the plates have.
func TestPixelEqualsPlates(t *testing.T) {
	const dpi, points = 150, 200
	ctx := context.Background()
	dir := t.TempDir()
	setup := demoSetup(t, dir)
	for _, faulty := range []bool{false, true} {
		file := writeTicket(t, dir, faulty)
		out := filepath.Join(dir, filepath.Base(file)+"-plates")
		index, err := WritePlates(ctx, PlatesRequest{File: file, Setup: setup, Out: out, DPI: dpi, Box: BoxMedia})
		if err != nil {
			t.Fatal(err)
		}
		art, err := Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer art.Close()
		for _, page := range index.Pages {
			var files []string
			for _, p := range page.Plates {
				files = append(files, filepath.Join(out, p.File))
			}
			st, err := plate.ReadPNGs(files)
			if err != nil {
				t.Fatal(err)
			}
			sh, err := art.Read(ctx, setup, page.Page, ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			random := rand.New(rand.NewPCG(1, uint64(page.Page)))
			for range points {
				x, y := random.IntN(page.Width), random.IntN(page.Height)
				req := PixelRequest{Page: page.Page, DPI: dpi, From: BoxMedia,
					XMM: (float64(x) + .5) / dpi * 25.4, YMM: (float64(y) + .5) / dpi * 25.4}
				got, err := sh.pixel(ctx, req)
				if err != nil {
					t.Fatal(err)
				}
				if got.X != x || got.Y != y {
					t.Fatalf("asked for pixel %d,%d, explained %d,%d", x, y, got.X, got.Y)
				}
				for _, p := range got.Plates {
					i, ok := st.Set.Lookup(p.Colourant)
					if !ok {
						t.Fatalf("no plate %s was written", p.Colourant)
					}
					want := byte(0)
					if plane := st.Plane(i); plane != nil {
						want = plane[y*st.Width+x]
					}
					if p.Value != want {
						t.Errorf("%s page %d pixel %d,%d: %s is %d, the plate has %d", filepath.Base(file), page.Page, x, y, p.Colourant, p.Value, want)
					}
				}
			}
		}
	}
}

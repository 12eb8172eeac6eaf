package app

import (
	"bytes"
	"context"
	"errors"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/pdfbuild"
)

// writeDiffFile writes a file into a folder and returns its path.
func writeDiffFile(t *testing.T, dir, name string, f *pdfbuild.File) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

const spotGold = "/ColorSpace << /Foil [ /Separation /Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 .2 .6 .1] >> ] >>"

func TestDiffIsTheSameBothWays(t *testing.T) {
	dir := t.TempDir()
	a, b := pdfbuild.New(), pdfbuild.New()
	a.Page(144, 144, spotGold, "/Foil cs 1 scn 10 10 20 20 re f")
	b.Page(144, 144, spotGold, "/Foil cs 1 scn 10 10 20 20 re f 0 0 0 .5 k 100 100 10 10 re f")
	pa, pb := writeDiffFile(t, dir, "a.pdf", a), writeDiffFile(t, dir, "b.pdf", b)
	one, err := Diff(context.Background(), pa, pb, DiffRequest{DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	other, err := Diff(context.Background(), pb, pa, DiffRequest{DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	if one.Same || other.Same || !one.Complete || one.Identical {
		t.Errorf("one way %+v, the other %+v", one, other)
	}
	for i, p := range one.Pages[0].Plates {
		q := other.Pages[0].Plates[i]
		if p.Pixels != q.Pixels || p.Worst != q.Worst || p.Mean != q.Mean || p.Same != (p.Colourant != "Black") {
			t.Errorf("one way %+v, the other %+v", p, q)
		}
	}
	k := one.Pages[0].Plates[3]
	if k.Pixels != 100 || len(k.Boxes) != 1 || k.Toner != InB || k.Boxes[0].W != 3.53 || k.Boxes[0].X != 35.28 || k.Boxes[0].Y != 11.99 {
		t.Errorf("black: %+v", k)
	}
}

// A trim that changed makes the finished piece another one, even where no plate differs.
func TestDiffNamesAChangedTrim(t *testing.T) {
	dir := t.TempDir()
	a, b := pdfbuild.New(), pdfbuild.New()
	a.Page(144, 144, "", "10 10 20 20 re f", "/TrimBox [10 10 134 134]")
	b.Page(144, 144, "", "10 10 20 20 re f", "/TrimBox [12 10 134 134]")
	d, err := Diff(context.Background(), writeDiffFile(t, dir, "a.pdf", a), writeDiffFile(t, dir, "b.pdf", b), DiffRequest{DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	p := d.Pages[0]
	if d.Same || p.Same || !p.PlatesSame || p.TrimA == p.TrimB {
		t.Errorf("%+v", p)
	}
}

func TestDiffPicturesCanBeOpened(t *testing.T) {
	dir := t.TempDir()
	a, b := pdfbuild.New(), pdfbuild.New()
	a.Page(144, 144, spotGold, "/Foil cs 1 scn 10 10 20 20 re f")
	b.Page(144, 144, spotGold, "/Foil cs 1 scn 12 10 20 20 re f")
	out := filepath.Join(dir, "out")
	d, err := Diff(context.Background(), writeDiffFile(t, dir, "a.pdf", a), writeDiffFile(t, dir, "b.pdf", b), DiffRequest{DPI: 72, Out: out})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{d.Pages[0].Picture, d.Pages[0].Plates[4].Picture} {
		data, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := png.Decode(bytes.NewReader(data)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestDiffStoppedLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	a, b := pdfbuild.New(), pdfbuild.New()
	for range 3 {
		a.Page(144, 144, "", "10 10 20 20 re f")
		b.Page(144, 144, "", "12 10 20 20 re f")
	}
	pa, pb := writeDiffFile(t, dir, "a.pdf", a), writeDiffFile(t, dir, "b.pdf", b)
	ctx, cancel := context.WithCancel(context.Background())
	out := filepath.Join(dir, "out", "pictures")
	_, err := Diff(ctx, pa, pb, DiffRequest{DPI: 72, Out: out, Progress: func(_ string, done, _ int) {
		if done == 1 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "out")); err == nil {
		t.Errorf("left %v", filesIn(filepath.Join(dir, "out")))
	}
}

func TestDiffRefusesWhatItCannotCompare(t *testing.T) {
	dir := t.TempDir()
	f := pdfbuild.New()
	f.Page(144, 144, "", "10 10 20 20 re f")
	path := writeDiffFile(t, dir, "a.pdf", f)
	for _, c := range []struct {
		b    string
		req  DiffRequest
		want string
	}{
		{filepath.Join(dir, "none.pdf"), DiffRequest{}, "there is no file"},
		{path, DiffRequest{Pages: "2"}, "there is no page 2"},
		{path, DiffRequest{DPI: 1e7}, "lower --dpi"},
		{path, DiffRequest{DPI: 72, Out: path}, "cannot be written"},
	} {
		_, err := Diff(context.Background(), path, c.b, c.req)
		if e := (*CannotError)(nil); !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.req, err, c.want)
		}
	}
}

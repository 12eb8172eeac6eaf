package app

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// cmykProfile is a CMYK output profile that the machine's interpreters came with.
func cmykProfile(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("/usr/share/color/icc/ghostscript/" + name)
	if err != nil {
		t.Skip("no profile on this machine: ", err)
	}
	return data
}

// What red becomes tells what it was converted through.
func TestWhatProcessColoursAreConvertedThrough(t *testing.T) {
	one, two := cmykProfile(t, "default_cmyk.icc"), cmykProfile(t, "ps_cmyk.icc")
	dir := t.TempDir()
	own := filepath.Join(dir, "own.icc")
	if err := os.WriteFile(own, two, 0o600); err != nil {
		t.Fatal(err)
	}
	parse := func(data []byte) *colour.Profile {
		p, err := colour.ParseProfile(data)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	first, second := parse(one), parse(two)
	text, _ := press.ShippedPress(press.PressNames()[0])
	withProfile := filepath.Join(dir, "press.yaml")
	if err := os.WriteFile(withProfile, append(text, "profile: own.icc\nblack_point: keep\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	f := pdfbuild.New()
	a, b := f.Stream("/N 4", string(one)), f.Stream("/N 4", string(two))
	f.Catalog(fmt.Sprintf("/OutputIntents [<< /S /GTS_PDFX /OutputCondition (First) /DestOutputProfile %d 0 R >>]", a))
	const red = "1 0 0 rg 0 0 9 9 re f"
	f.Page(10, 10, "", red)
	f.Page(10, 10, "", red, fmt.Sprintf("/OutputIntents [<< /S /GTS_PDFX /OutputCondition (Second) /DestOutputProfile %d 0 R >>]", b))
	f.Page(10, 10, "", red)
	intents := filepath.Join(dir, "intents.pdf")
	plain := pdfbuild.New()
	plain.Page(10, 10, "", red)
	plain.Page(10, 10, "", "0 1 1 0 k 0 0 9 9 re f .5 g 0 0 3 3 re f")
	none := filepath.Join(dir, "none.pdf")
	for file, doc := range map[string]*pdfbuild.File{intents: f, none: plain} {
		if err := os.WriteFile(file, doc.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	shipped := press.PressNames()[0]
	for _, tt := range []struct {
		name, file, press string
		page              int
		profile           *colour.Profile
		keep              bool
		ids               string
	}{
		{"nothing", none, "", 1, nil, false, "process-conversion-naive"},
		{"nothing to convert", none, "", 2, nil, false, ""},
		{"press without a profile", none, shipped, 1, nil, false, "process-conversion-naive"},
		{"the file's intent", intents, "", 1, first, false, ""},
		{"the page's intent", intents, shipped, 2, second, false, ""},
		{"the file's intent again", intents, shipped, 3, first, false, ""},
		{"the press's profile", none, withProfile, 1, second, true, ""},
		{"the press's before another of the file", intents, withProfile, 1, second, true, "output-intent-differs"},
		{"the press's, and the page agrees", intents, withProfile, 2, second, true, ""},
	} {
		s, err := NewSetup(SetupOptions{Press: tt.press})
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		art, err := Open(tt.file)
		if err != nil {
			t.Fatal(err)
		}
		sh, err := art.Read(context.Background(), s, tt.page, ReadOptions{})
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		var ids []string
		for _, f := range sh.Findings.Sorted() {
			ids = append(ids, string(f.ID))
			if f.Severity != finding.Note {
				t.Errorf("%s: %s is no note", tt.name, f.ID)
			}
		}
		if got := strings.Join(ids, " "); got != tt.ids {
			t.Errorf("%s: findings %q, want %q", tt.name, got, tt.ids)
		}
		if !colour.SameProfile(sh.Target.Converter.Output(), tt.profile) {
			t.Errorf("%s: the target has another profile", tt.name)
		}
		want := colour.NewConverterFor(colour.Printing{Output: tt.profile, KeepBlack: tt.keep})
		in := []float64{.2, .1, 0}
		if got := sh.Target.Converter.CMYK(colour.RGB, in, 0); got != want.CMYK(colour.RGB, in, 0) {
			t.Errorf("%s: %v, want %v", tt.name, got, want.CMYK(colour.RGB, in, 0))
		}
		again, err := art.Read(context.Background(), s, tt.page, ReadOptions{})
		if err != nil || again.Target.Converter != sh.Target.Converter {
			t.Errorf("%s: read again the page has another converter", tt.name)
		}
		art.Close()
	}
}

// Plates of device CMYK do not wait for the output profile of the file; what checks the file looks at it all the same.
func TestOutputProfileIsReadWhenNeeded(t *testing.T) {
	dir := t.TempDir()
	for i, tt := range []struct {
		content       string
		plates, check bool // whether each tells of the damaged profile
	}{
		{"0 1 1 0 k 0 0 9 9 re f .5 g 0 0 3 3 re f", false, true},
		{"1 0 0 rg 0 0 9 9 re f", true, true},
	} {
		f := pdfbuild.New()
		f.Catalog(fmt.Sprintf("/OutputIntents [<< /S /GTS_PDFX /DestOutputProfile %d 0 R >>]", f.Stream("/N 4", "no profile")))
		f.Page(10, 10, "", tt.content)
		file := filepath.Join(dir, fmt.Sprintf("%d.pdf", i))
		if err := os.WriteFile(file, f.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := NewSetup(SetupOptions{})
		if err != nil {
			t.Fatal(err)
		}
		tells := func(fs []finding.Finding) bool {
			return slices.ContainsFunc(fs, func(f finding.Finding) bool { return f.ID == "output-profile-unusable" })
		}
		plates, err := WritePlates(context.Background(), PlatesRequest{File: file, Setup: s, Out: t.TempDir(), DPI: 72})
		if err != nil {
			t.Fatal(err)
		}
		if got := tells(plates.Findings); got != tt.plates {
			t.Errorf("plates of %q tell of the profile: %v", tt.content, got)
		}
		checked, err := Check(context.Background(), CheckRequest{File: file, Setup: s, DPI: 72})
		if err != nil {
			t.Fatal(err)
		}
		if got := tells(checked.Findings); got != tt.check {
			t.Errorf("a check of %q tells of the profile: %v", tt.content, got)
		}
	}
}

func TestProfileOfPressMustPrintCMYK(t *testing.T) {
	dir := t.TempDir()
	rgb := cmykProfile(t, "srgb.icc")
	if err := os.WriteFile(filepath.Join(dir, "rgb.icc"), rgb, 0o600); err != nil {
		t.Fatal(err)
	}
	text, _ := press.ShippedPress(press.PressNames()[0])
	for _, name := range []string{"rgb.icc", "there-is-none.icc"} {
		file := filepath.Join(dir, "press.yaml")
		if err := os.WriteFile(file, []byte(string(text)+"profile: "+name+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := NewSetup(SetupOptions{Press: file})
		if err == nil || !strings.Contains(err.Error(), name) || !strings.Contains(err.Error(), "key profile") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

package app

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// starterOf writes the starter of a press.
func starterOf(t *testing.T, name string) *StarterResult {
	t.Helper()
	dir := t.TempDir()
	r, err := WriteStarter(StarterRequest{Press: name, Out: filepath.Join(dir, "starter.pdf"), Sheet: filepath.Join(dir, "setup.pdf")})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// oddPress mixes a special toner with a process one, names a toner with an umlaut and a slash, and carries one toner in no set.
func oddPress(t *testing.T) string {
	t.Helper()
	text, ok := press.ShippedPress("two-set")
	if !ok {
		t.Fatal("there is no press two-set")
	}
	s := strings.NewReplacer("Silver", "Größe/1 (%)", "    parts:\n      - {toner: Silver, tint: 30%}", "    parts:\n      - {toner: Cyan, tint: 30%}").Replace(string(text))
	file := filepath.Join(t.TempDir(), "odd.yaml")
	if err := os.WriteFile(file, []byte(s), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// Our plates of a starter hold in the middle of every patch what it says, and no other toner.
func TestStarter_separates_to_what_it_says(t *testing.T) {
	for _, name := range []string{"two-set", "five-station", "six-station", oddPress(t)} {
		r := starterOf(t, name)
		p, err := FindPress(name)
		if err != nil {
			t.Fatal(err)
		}
		s := &Setup{Press: p}
		art, err := s.Open(r.Out)
		if err != nil {
			t.Fatal(err)
		}
		defer art.Close()
		const dpi = 60
		for n := 1; n <= r.Pages; n++ {
			sh, err := art.Read(context.Background(), s, n, ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			st, err := sh.stack(context.Background(), sh.List.Page.Trim, dpi, nil)
			if err != nil {
				t.Fatal(err)
			}
			for _, patch := range r.Patches {
				if patch.Page != n {
					continue
				}
				x, y := int((patch.X+patch.W/2)*dpi/25.4), int((patch.Y+patch.H/2)*dpi/25.4)
				for i, c := range st.Set.All() {
					// Tints have whole levels of 255: rounding moves them by half of one.
					if got, want := float64(st.At(i, x, y)), patch.Tints[c.Name]*2.55; math.Abs(got-want) > .5001 {
						t.Errorf("%s page %d at %d, %d: %s has level %g, want %g (%+v)", name, n, x, y, c.Name, got, want, patch)
					}
				}
			}
		}
		if len(r.Patches) < 30 {
			t.Errorf("%s: only %d patches", name, len(r.Patches))
		}
	}
}

// Between the patches of a starter lies nothing but the black of its words: whoever takes a patch takes no other toner along.
func TestStarter_has_no_toner_beside_its_patches(t *testing.T) {
	r := starterOf(t, "two-set")
	p, err := FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	s := &Setup{Press: p}
	art, err := s.Open(r.Out)
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	const dpi = 60
	st, err := sh.stack(context.Background(), sh.List.Page.Media, dpi, nil)
	if err != nil {
		t.Fatal(err)
	}
	patched := make([]bool, st.Width*st.Height)
	px := func(mm float64) int { return int(mm * dpi / 25.4) }
	const over = 2.1 // mm by which the areas of a pair reach past those told
	for _, c := range r.Patches {
		for y := px(c.Y - over); y <= px(c.Y+c.H+over)+1; y++ {
			for x := px(c.X); x <= px(c.X+c.W)+1; x++ {
				patched[y*st.Width+x] = true
			}
		}
	}
	for i, c := range st.Set.All() {
		if c.Name == "Black" {
			continue
		}
		for k, v := range st.Plane(i) {
			if v != 0 && !patched[k] {
				t.Fatalf("%s at %d, %d, beside the patches", c.Name, k%st.Width, k/st.Width)
			}
		}
	}
}

func TestStarter_is_right_to_the_checks(t *testing.T) {
	for _, name := range []string{"two-set", "five-station", "six-station", oddPress(t)} {
		s, err := NewSetup(SetupOptions{Press: name, Stock: "white-matt"})
		if err != nil {
			t.Fatal(err)
		}
		o, err := Check(context.Background(), CheckRequest{File: starterOf(t, name).Out, Setup: s, FailOn: finding.Warning, DPI: 150})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range o.Findings {
			// A legend of all toners takes as many passes as they need.
			if f.Severity > finding.Note && f.ID != "passes-needed" || strings.HasPrefix(string(f.ID), "colourant-") || strings.HasPrefix(string(f.ID), "mixture-") {
				t.Errorf("%s: %s: %s", name, f.ID, f.What)
			}
		}
	}
}

func TestStarter_leaves_out_what_no_set_lays(t *testing.T) {
	text, _ := press.ShippedPress("two-set")
	s := strings.ReplaceAll(string(text), "Silver, Gold, Clear]", "Gold, Clear]")
	if s == string(text) {
		t.Fatal("the sets of the press are not as this test takes them to be")
	}
	file := filepath.Join(t.TempDir(), "less.yaml")
	if err := os.WriteFile(file, []byte(s), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := FindPress(file)
	if err != nil {
		t.Skipf("a press cannot be defined so: %v", err)
	}
	r := starterOf(t, file)
	if got := strings.Join(r.LeftOut, ", "); got != "Silver, Pale Gold" || len(r.Colours) != len(p.Toners)-1 {
		t.Errorf("left out %q, %d colours", got, len(r.Colours))
	}
}

func TestSetUpSheet_is_one_page_with_every_name(t *testing.T) {
	for _, name := range []string{"two-set", "five-station", "six-station"} {
		r := starterOf(t, name)
		art, err := Open(r.Sheet)
		if err != nil {
			t.Fatal(err)
		}
		n := art.Doc.NumPages()
		art.Close()
		if n != 1 {
			t.Errorf("%s: %d pages", name, n)
		}
		text := strings.Join(strings.Fields(others(t, "mutool", "draw", "-q", "-F", "txt", r.Sheet)), " ")
		for _, want := range append([]string{"PDF/X-4", "No colour conversion", "No down-sampling", "common practice"}, r.Colours...) {
			if !strings.Contains(text, want) {
				t.Errorf("%s: the sheet does not say %q", name, want)
			}
		}
	}
}

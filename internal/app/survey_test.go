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
)

// The long document of the tests: pages that differ by a bar, one with another picture, one with a fault, one upright.
const (
	longPages = mostShown + 6
	oddPage   = 20
	badPage   = longPages
	upright   = 7
)

func longDocument(t *testing.T) string {
	t.Helper()
	f := pdfbuild.New()
	for n := 1; n <= longPages; n++ {
		w, h, draw := 240.0, 120.0, fmt.Sprintf("0 0 0 1 k 20 20 60 80 re f %d 40 4 10 re f", 100+n)
		switch n {
		case oddPage:
			draw = "0 1 0 0 k 100 20 100 80 re f"
		case badPage:
			draw += " 200 60 31 4 re f" // up to the trim
		case upright:
			w, h, draw = h, w, "0 0 0 1 k 20 20 60 80 re f"
		}
		f.Page(w, h, "", draw, fmt.Sprintf("/TrimBox [9 9 %g %g]", w-9, h-9))
	}
	path := filepath.Join(t.TempDir(), "long.pdf")
	if err := os.WriteFile(path, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func prepareLong(t *testing.T) (*Outcome, string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out")
	o, err := Prepare(context.Background(), PrepareRequest{File: longDocument(t), Setup: &Setup{conv: colour.NewConverter(nil)}, Out: out, DPI: 300, FailOn: finding.Error})
	if err != nil {
		t.Fatal(err)
	}
	return o, out
}

func TestLongDocument_is_checked_to_its_last_page(t *testing.T) {
	o, _ := prepareLong(t)
	if len(o.Pages) != longPages {
		t.Errorf("%d pages checked", len(o.Pages))
	}
	for page, id := range map[int]finding.ID{badPage: "bleed-missing", 0: "looked-at-coarsely"} {
		if !slices.ContainsFunc(o.Findings, func(f finding.Finding) bool { return f.ID == id && f.Place.Page == page }) {
			t.Errorf("no finding %s on page %d: %+v", id, page, o.Findings)
		}
	}
}

func TestLongDocument_shows_in_full_what_differs_and_what_has_findings(t *testing.T) {
	o, _ := prepareLong(t)
	var pages []int
	for _, s := range o.Shown {
		pages = append(pages, s.Page)
	}
	// The faulty page looks like most others and stands for them.
	if want := []int{upright, oddPage, badPage}; !slices.Equal(pages, want) {
		t.Fatalf("pages %v in full, want %v", pages, want)
	}
	for i, want := range []string{"like no other", "like no other", fmt.Sprintf("stands for %d pages that look alike and has the most findings", longPages-2)} {
		if !strings.Contains(o.Shown[i].Why, want) {
			t.Errorf("page %d %s", o.Shown[i].Page, o.Shown[i].Why)
		}
	}
}

func TestLongDocument_has_every_page_in_the_report(t *testing.T) {
	_, out := prepareLong(t)
	b, err := os.ReadFile(filepath.Join(out, "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= longPages; n++ {
		if !strings.Contains(string(b), fmt.Sprintf(`id="small%d"`, n)) {
			t.Errorf("page %d is not shown", n)
		}
	}
	if _, err := os.Stat(filepath.Join(out, "look", fmt.Sprintf("page-%d.png", badPage))); err != nil {
		t.Error(err)
	}
}

func TestProof_of_a_long_document_shows_every_page(t *testing.T) {
	r, out := proofOf(t, &Setup{}, longDocument(t))
	if len(r.Sheets) != len(r.Shown) || len(r.Shown) == 0 {
		t.Fatalf("%d pages in full, %v", len(r.Sheets), r.Shown)
	}
	text := strings.Join(strings.Fields(others(t, "mutool", "draw", "-q", "-F", "txt", out)), " ")
	for n := 1; n <= longPages; n++ {
		if !strings.Contains(text, fmt.Sprintf("Page %d:", n)) && !strings.Contains(text, fmt.Sprintf("Page %d Page", n)) && n != longPages {
			t.Errorf("page %d is not shown", n)
		}
	}
	if !strings.Contains(text, "All 30 pages were checked and are shown small; 3 are shown in full.") {
		t.Error("nothing says what is shown")
	}
}

// What a page cannot be painted for does not hide it.
func TestSurvey_keeps_pages_that_could_not_be_painted(t *testing.T) {
	v := &survey{pages: []surveyed{{page: 1, picture: []byte("x")}, {page: 3, picture: []byte("x")}}}
	v.gather([]int{1, 2, 3}, []finding.Finding{{ID: "page-not-painted", Severity: finding.Error, Place: finding.Place{Page: 2}}})
	if len(v.pages) != 3 || v.pages[1].page != 2 || v.pages[1].picture != nil || len(v.pages[1].findings) != 1 {
		t.Errorf("%+v", v.pages)
	}
}

// However many pages differ and whatever is found on them, no more than mostShown are shown in full, and the rest are counted.
func TestSurvey_is_bounded_and_says_so(t *testing.T) {
	v := &survey{}
	var fs []finding.Finding
	var numbers []int
	for n := 1; n <= 100; n++ {
		numbers = append(numbers, n)
		group := n - 1
		if group >= mostGroups {
			group = -1
		} else {
			v.alike.groups = append(v.alike.groups, alikeGroup{first: n, pages: 1})
		}
		v.pages = append(v.pages, surveyed{page: n, group: group, picture: []byte("x")})
		fs = append(fs, finding.Finding{ID: finding.ID(fmt.Sprint("id-", n)), Place: finding.Place{Page: n}})
	}
	v.gather(numbers, fs)
	shown := v.choose()
	if len(shown) != mostShown || v.unlike(shown) != 100-mostShown {
		t.Errorf("%d in full, %d like none of them", len(shown), v.unlike(shown))
	}
}

package app

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"laydown/internal/plan"
	"laydown/internal/report"
)

func TestFolded_joins_what_is_said_of_several_pages(t *testing.T) {
	got := folded([]string{"Page 1: two passes.", "All are laid.", "page 2: up to 90 %", "Page 2: two passes.", "page 3: up to 80 %", "Page 3: two passes."})
	want := []string{"Pages 1–3: two passes.", "All are laid.", "page 2: up to 90 %", "page 3: up to 80 %"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestFolded_counts_what_it_leaves_to_the_file(t *testing.T) {
	var lines []string
	for i := range mostLines + 5 {
		lines = append(lines, fmt.Sprintf("line %d", i))
	}
	got := folded(lines)
	if len(got) != mostLines+1 || got[mostLines] != "5 more lines like these stand in plan.json." {
		t.Errorf("%d lines, the last: %s", len(got), got[len(got)-1])
	}
}

func TestWorked_joins_pages_that_one_set_prints_alike(t *testing.T) {
	pass := func(set string, setUp, page, of int, toners ...string) plan.Pass {
		return plan.Pass{Set: set, SetUp: setUp, Page: page, OfPage: of, Toners: toners}
	}
	got := worked([]plan.Pass{pass("special", 1, 1, 1, "White"), pass("special", 1, 2, 1, "White"), pass("special", 1, 3, 1, "Gold"), pass("process", 2, 1, 2, "Cyan"), pass("process", 2, 2, 2, "Cyan")})
	want := []report.Work{{Number: 1, Set: "special", Pages: "1, 2", Several: true, OfPage: 1, Toners: "White"}, {Number: 3, Set: "special", Pages: "3", OfPage: 1, Toners: "Gold"},
		{Number: 4, Set: "process", Change: true, Pages: "1, 2", Several: true, OfPage: 2, Toners: "Cyan"}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

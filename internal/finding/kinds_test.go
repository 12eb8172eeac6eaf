package finding

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestKinds_gather_by_id_and_severity(t *testing.T) {
	on := func(page int, id ID, s Severity) Finding {
		return Finding{ID: id, Severity: s, Place: Place{Page: page}}
	}
	type told struct {
		ID    ID
		N     int
		Pages []int
	}
	var got []told
	for _, k := range Kinds([]Finding{on(3, "b", Warning), on(2, "a", Error), on(1, "b", Warning), on(1, "b", Note), on(3, "b", Warning), on(0, "c", Warning)}) {
		got = append(got, told{k.First().ID, len(k.All), k.Pages})
	}
	want := []told{{"a", 1, []int{2}}, {"b", 3, []int{1, 3}}, {"c", 1, nil}, {"b", 1, []int{1}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestPageList(t *testing.T) {
	for _, c := range []struct {
		in   []int
		want string
	}{{nil, ""}, {[]int{4}, "4"}, {[]int{1, 2}, "1, 2"}, {[]int{1, 2, 3, 7, 9, 10}, "1–3, 7, 9, 10"}} {
		if got := PageList(c.in); got != c.want {
			t.Errorf("%v: %q, want %q", c.in, got, c.want)
		}
	}
}

func TestCounts(t *testing.T) {
	if got := Counts([]Finding{{Severity: Note}, {Severity: Error}, {Severity: Error}}); got != "2 errors, 1 note" {
		t.Error(got)
	}
}

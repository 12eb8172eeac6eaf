package finding

import (
	"fmt"
	"slices"
	"strings"
)

// Kind is the findings of one ID and severity, wherever they lie.
type Kind struct {
	All   []Finding // by page; never empty
	Pages []int     // on which they lie, in order, each once; the whole file (0) is not among them
}

// First is the finding that comes first.
func (k *Kind) First() *Finding { return &k.All[0] }

// Kinds gathers findings: the most severe first, then what lies on the most pages, then by ID.
func Kinds(fs []Finding) []Kind {
	type key struct {
		id       ID
		severity Severity
	}
	at := map[key]int{}
	var out []Kind
	sorted := slices.Clone(fs)
	Sort(sorted)
	for _, f := range sorted {
		i, ok := at[key{f.ID, f.Severity}]
		if !ok {
			i = len(out)
			at[key{f.ID, f.Severity}] = i
			out = append(out, Kind{})
		}
		k := &out[i]
		k.All = append(k.All, f)
		if n := f.Place.Page; n > 0 && (len(k.Pages) == 0 || k.Pages[len(k.Pages)-1] != n) {
			k.Pages = append(k.Pages, n)
		}
	}
	slices.SortStableFunc(out, func(a, b Kind) int {
		switch {
		case a.First().Severity != b.First().Severity:
			return int(b.First().Severity - a.First().Severity)
		case len(a.Pages) != len(b.Pages):
			return len(b.Pages) - len(a.Pages)
		}
		return strings.Compare(string(a.First().ID), string(b.First().ID))
	})
	return out
}

// PageList writes page numbers in order as a person does: 1–3, 7.
func PageList(pages []int) string {
	var out []string
	for i := 0; i < len(pages); {
		n := i
		for n+1 < len(pages) && pages[n+1] == pages[n]+1 {
			n++
		}
		switch {
		case n > i+1:
			out = append(out, fmt.Sprintf("%d–%d", pages[i], pages[n]))
			i = n + 1
		default:
			out = append(out, fmt.Sprint(pages[i]))
			i++
		}
	}
	return strings.Join(out, ", ")
}

// Counts tells how many findings of each severity there are: 2 errors, 1 note. "" = none.
func Counts(fs []Finding) string {
	var n [3]int
	for i := range fs {
		n[fs[i].Severity]++
	}
	var out []string
	for s := Error; s >= Note; s-- {
		if n[s] == 0 {
			continue
		}
		word := s.String()
		if n[s] > 1 {
			word += "s"
		}
		out = append(out, fmt.Sprintf("%d %s", n[s], word))
	}
	return strings.Join(out, ", ")
}

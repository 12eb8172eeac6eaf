package press

import (
	"slices"
	"sort"
	"strings"
	"unicode/utf8"
)

// Nearest returns the candidates that differ from word by a slip of the keyboard: other case or
// spacing, or a few letters; nearest first, at most three.
func Nearest(word string, candidates []string) []string {
	type scored struct {
		name string
		d    int
	}
	var list []scored
	w := fold(word)
	for _, c := range candidates {
		f := fold(c)
		longest := max(utf8.RuneCountInString(w), utf8.RuneCountInString(f))
		if longest > 200 {
			continue
		}
		d := editDistance(w, f)
		// Half a name is a slip too: "white" for "opaque white".
		if len(w) > 3 && strings.Contains(f, w) || len(f) > 3 && strings.Contains(w, f) {
			d = min(d, 2)
			longest = max(longest, 6)
		}
		if d <= max(1, (longest+1)/3) {
			list = append(list, scored{c, d})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].d < list[j].d })
	var out []string
	for _, s := range list {
		// A far better match silences the others.
		if len(out) < 3 && s.d <= 2*list[0].d {
			out = append(out, s.name)
		}
	}
	return out
}

// fold drops what people vary without meaning: case, spaces, hyphens and underscores.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '_' || r == '.' {
			return -1
		}
		return r
	}, strings.ToLower(s))
}

// editDistance counts inserted, dropped, changed and swapped letters.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	prev2 := make([]int, len(y)+1)
	prev := make([]int, len(y)+1)
	cur := make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(y)]
}

// didYouMean is a remedy naming the nearest candidates, or listing all when none is near.
func didYouMean(word string, candidates []string) string {
	if near := Nearest(word, candidates); len(near) > 0 {
		return "did you mean " + joinOr(quoted(near)) + "?"
	}
	if len(candidates) == 0 {
		return ""
	}
	list := quoted(slices.Compact(candidates))
	if len(list) > 12 {
		list = append(list[:12:12], "…")
	}
	return "known are " + strings.Join(list, ", ")
}

func quoted(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = `"` + s + `"`
	}
	return out
}

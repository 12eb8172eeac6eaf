package app

import (
	"fmt"
	"strconv"
	"strings"
)

// ParsePages reads "1-3,7" into page numbers in the order they are named, each once; "" means all.
func ParsePages(s string, last int) ([]int, error) {
	if s == "" {
		all := make([]int, last)
		for i := range all {
			all[i] = i + 1
		}
		return all, nil
	}
	bad := func() error {
		return cannot(nil, "write pages as 1-3,7; "+pagesText(last), "--pages %q cannot be understood", s)
	}
	var out []int
	seen := map[int]bool{}
	for _, part := range strings.Split(s, ",") {
		a, b, ok := pageRange(part, last)
		if !ok {
			return nil, bad()
		}
		if b > last {
			return nil, noPage(b, last)
		}
		for n := a; n <= b; n++ {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	return out, nil
}

// noPage tells that a page does not exist.
func noPage(n, last int) error { return cannot(nil, pagesText(last), "there is no page %d", n) }

func pagesText(last int) string {
	if last == 1 {
		return "the file has one page"
	}
	return fmt.Sprintf("the file has pages 1 to %d", last)
}

// pageRange reads "3", "2-5", "4-" (to the last) or "-2" (from the first). A range that begins inside the
// file ends with it: "1-3" of a file of two pages is both.
func pageRange(s string, last int) (a, b int, ok bool) {
	s = strings.TrimSpace(s)
	from, to, span := strings.Cut(s, "-")
	if !span {
		to = from
	}
	number := func(s string, empty int) (int, bool) {
		if s = strings.TrimSpace(s); s == "" && span {
			return empty, true
		}
		n, err := strconv.Atoi(s)
		return n, err == nil
	}
	a, okA := number(from, 1)
	b, okB := number(to, last)
	if span && a <= last {
		b = min(b, last)
	}
	return a, b, okA && okB && s != "-" && a >= 1 && b >= a
}

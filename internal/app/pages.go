package app

import (
	"strconv"
	"strings"
)

func splitComma(s string) []string { return strings.Split(s, ",") }

// pageRange reads "3", "2-5", "4-" (to the last) or "-2" (from the first).
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
	return a, b, okA && okB && s != "-" && a >= 1 && b >= a && b <= last
}

package press

import (
	"fmt"
	"sort"
	"strings"
)

// Error is one fault of a definition file, with the place and the remedy.
type Error struct {
	File      string
	Line, Col int // from 1; 0 = the whole file
	What      string
	Remedy    string
	Excerpt   string // the source line with a caret under the fault
}

// Error gives one line, then the excerpt.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", e.Line, e.Col)
	}
	b.WriteString(": " + e.What)
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	if e.Excerpt != "" {
		b.WriteString("\n" + e.Excerpt)
	}
	return b.String()
}

// Errors are all faults of one definition, by line.
type Errors []*Error

func (es Errors) Error() string {
	parts := make([]string, len(es))
	for i, e := range es {
		parts[i] = e.Error()
	}
	return strings.Join(parts, "\n")
}

// Unwrap lets errors.As find the single faults.
func (es Errors) Unwrap() []error {
	out := make([]error, len(es))
	for i, e := range es {
		out[i] = e
	}
	return out
}

// maxErrors of one file are reported; more would only repeat the first mistake.
const maxErrors = 20

// source is a definition file with the place of every value read from it.
type source struct {
	file  string
	lines []string
	at    map[string]place // value path such as "toners[2].name"
	errs  Errors
}

type place struct{ line, col int }

func newSource(file string, data []byte) *source {
	return &source{file: file, lines: strings.Split(string(data), "\n"), at: map[string]place{}}
}

// errorAt records a fault at the value with this path, or at the nearest value that holds it.
func (s *source) errorAt(path, remedy, format string, args ...any) {
	s.errorAtPlace(s.placeOf(path), remedy, format, args...)
}

func (s *source) errorAtPlace(p place, remedy, format string, args ...any) {
	if len(s.errs) < maxErrors {
		s.errs = append(s.errs, s.newError(p, remedy, fmt.Sprintf(format, args...)))
	}
}

func (s *source) newError(p place, remedy, what string) *Error {
	return &Error{File: s.file, Line: p.line, Col: p.col, What: what, Remedy: remedy, Excerpt: s.excerpt(p)}
}

func (s *source) placeOf(path string) place {
	for {
		if p, ok := s.at[path]; ok {
			return p
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return place{}
		}
		path = path[:i]
	}
}

// excerpt shows the line with a caret under column p.col.
func (s *source) excerpt(p place) string {
	if p.line < 1 || p.line > len(s.lines) {
		return ""
	}
	line := strings.TrimRight(s.lines[p.line-1], "\r")
	runes := []rune(strings.ReplaceAll(line, "\t", " "))
	col := min(max(p.col-1, 0), len(runes))
	// Long lines are cut round the fault.
	const before, after = 60, 60
	from := max(col-before, 0)
	to := min(col+after, len(runes))
	gutter := fmt.Sprintf("%5d | ", p.line)
	text := string(runes[from:to])
	if to < len(runes) {
		text += "…"
	}
	return gutter + text + "\n" + strings.Repeat(" ", len(gutter)-2) + "| " + strings.Repeat(" ", col-from) + "^"
}

// err returns the faults by place, or nil.
func (s *source) err() error {
	if len(s.errs) == 0 {
		return nil
	}
	sort.SliceStable(s.errs, func(i, j int) bool {
		a, b := s.errs[i], s.errs[j]
		return a.Line < b.Line || a.Line == b.Line && a.Col < b.Col
	})
	return s.errs
}

package cli

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"laydown/internal/app"
	"laydown/internal/finding"
)

// printOutcome writes findings as a person reads them: what, where, why, what to do.
func printOutcome(w io.Writer, o *app.Outcome) {
	page := -1
	for _, f := range o.Findings {
		if f.Place.Page != page {
			page = f.Place.Page
			head := fmt.Sprintf("Page %d", page)
			if page == 0 {
				head = "The whole file"
			}
			fmt.Fprintf(w, "\n%s\n", head)
		}
		times := ""
		if f.Count > 1 {
			times = fmt.Sprintf(" (%d times)", f.Count)
		}
		fmt.Fprintf(w, "  %-8s %s%s\n", f.Severity, wrap(f.What, 11), times)
		if place := placeText(f.Place); place != "" {
			fmt.Fprintf(w, "           where: %s\n", wrap(place, 18))
		}
		if f.Why != "" {
			fmt.Fprintf(w, "           why:   %s\n", wrap(f.Why, 18))
		}
		if f.Remedy != "" {
			fmt.Fprintf(w, "           do:    %s\n", wrap(f.Remedy, 18))
		}
		for i, m := range f.Mends {
			head := "mend: "
			if i > 0 {
				head = "or:   "
			}
			fmt.Fprintf(w, "           %s --do %s\n", head, shellWord(m))
		}
		fmt.Fprintf(w, "           [%s]\n", f.ID)
	}
	if len(o.Findings) > 0 {
		fmt.Fprintln(w)
	}
	verdict := "clean: nothing stands against printing"
	if !o.Clean {
		verdict = "not ready to print"
	}
	fmt.Fprintf(w, "%s, %s: %s (%s).\n", o.File, plural(len(o.Pages), "page"), verdict, countText(o.Findings))
}

func countText(fs []finding.Finding) string {
	var n [3]int
	for _, f := range fs {
		n[f.Severity]++
	}
	return fmt.Sprintf("%s, %s, %s", plural(n[finding.Error], "error"), plural(n[finding.Warning], "warning"), plural(n[finding.Note], "note"))
}

func placeText(p finding.Place) string {
	var parts []string
	if b := p.Box; b != nil {
		parts = append(parts, fmt.Sprintf("%s mm from the left, %s mm from the top of the trim, %s × %s mm", mm(b.X), mm(b.Y), mm(b.W), mm(b.H)))
	}
	if p.Layer != "" {
		parts = append(parts, fmt.Sprintf("layer %q", p.Layer))
	}
	if n := len(p.Items); n > 0 {
		s := fmt.Sprint(p.Items[:min(n, 8)])
		s = "items " + strings.Trim(s, "[]")
		if n > 8 {
			s += fmt.Sprintf(" and %d more", n-8)
		}
		parts = append(parts, s)
	}
	if p.Object > 0 {
		s := fmt.Sprintf("object %d", p.Object)
		if p.Offset > 0 {
			s += fmt.Sprintf(" byte %d", p.Offset)
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, "; ")
}

// mm writes millimetres with one decimal, never as -0.0.
func mm(v float64) string {
	return fmt.Sprintf("%.1f", math.Round(v*10)/10+0)
}

// wrap breaks a line at 100 columns, continued at an indent; control characters stay off the terminal.
func wrap(s string, indent int) string {
	width := 100 - indent
	var b strings.Builder
	col := 0
	for i, word := range strings.Fields(s) {
		word = printable(word)
		n := len([]rune(word))
		switch {
		case i == 0:
		case col+1+n > width:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			col = 0
		default:
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	return b.String()
}

// isTerminal reports whether w is a character device.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	st, err := f.Stat()
	return err == nil && st.Mode()&os.ModeCharDevice != 0
}

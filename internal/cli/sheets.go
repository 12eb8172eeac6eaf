package cli

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/app"
)

type sheetsCmd struct {
	artworkFlags
	failFlag
	Out string `placeholder:"FILE" help:"The imposed PDF to write; left out: only the plan is shown."`
}

func (c *sheetsCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	bar, end := e.progress()
	o, err := app.Sheets(e.ctx, app.SheetsRequest{File: file, Setup: s, Out: c.Out, FailOn: c.severity(), Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printSheets(e, o)
	}
	if !o.Clean {
		return errFindings
	}
	return nil
}

func printSheets(e *env, o *app.SheetsOutcome) {
	w := e.out
	fmt.Fprintf(w, "%s: pieces of %g × %g mm, bleed %g mm, %g mm between them; %s\n", printable(o.File), o.Piece.W, o.Piece.H, o.Bleed, o.Gutter, o.Scheme)
	if n := len(o.Leaves); n > 0 && o.Wanted > 0 {
		fmt.Fprintf(w, "wanted: %s of %s\n", plural(o.Wanted/n, "booklet"), leaves(n))
	} else if o.Wanted > 0 {
		fmt.Fprintf(w, "wanted: %s\n", plural(o.Wanted, "piece"))
	} else {
		fmt.Fprintln(w, "wanted: not given; counted for one sheet")
	}
	if r := o.Records; r != nil {
		fmt.Fprintf(w, "variable data: %s of %s\n", plural(r.Count, "record"), plural(r.Each, "page"))
	}
	if len(o.Panels) > 0 {
		var list []string
		for _, p := range o.Panels {
			list = append(list, fmt.Sprintf("%.1f", p.Width))
		}
		fmt.Fprintf(w, "panels: %s mm\n", strings.Join(list, ", "))
	}
	if len(o.Leaves) > 0 {
		fmt.Fprintf(w, "a leaf has four pages; they move by %g mm towards the spine for each leaf around it\n", o.Creep)
	}
	fmt.Fprintf(w, "\n  %-18s %-22s %10s %8s %6s %8s\n", "sheet", "layout", "on a sheet", "sheets", "over", "waste")
	row := func(mark string, y app.SheetYield) {
		fmt.Fprintf(w, "%s %-18s %-22s %10d %8d %6d %7.1f%%\n", mark, fmt.Sprintf("%g × %g mm", y.Sheet.W, y.Sheet.H), y.Kind, y.PerSheet, y.Sheets, y.Over, y.Waste)
	}
	row("*", o.Yield)
	for _, y := range o.Others {
		row(" ", y)
	}
	if len(o.Forms) > 0 && len(o.Pieces) > 1 {
		fmt.Fprintln(w)
		for i, f := range o.Forms {
			var list []string
			for v, n := range f.Places {
				if n > 0 {
					list = append(list, fmt.Sprintf("%c %s in %s", 'A'+v%26, printable(o.Pieces[v].Name), plural(n, "place")))
				}
			}
			fmt.Fprintf(w, "sheet %d, %s: %s\n", i+1, times(f.Sheets), strings.Join(list, ", "))
		}
	}
	fmt.Fprintf(w, "\nlead edge on top, arrows point to the heads of the pieces\n%s", o.Diagram)
	if len(o.Passes) > 0 {
		fmt.Fprintln(w)
	}
	for i, p := range o.Passes {
		fmt.Fprintf(w, "pass %d, set %s: %s\n", i+1, printable(p.Set), wrap(sidesText(&p), 4))
	}
	if o.Needed > 0 {
		fmt.Fprintf(w, "sheets: %d good, %d into the first pass with what all passes spoil\n", o.Yield.Sheets, o.Needed)
	}
	if r := o.Records; r != nil {
		fmt.Fprintf(w, "\n%-6s %-20s %s\n", "side", "plate", "over all records")
		for _, p := range r.Plates {
			text := "the same"
			if !p.Static {
				text = fmt.Sprintf("varies: %d differ from the first, record %d is one", p.Differing, p.Example)
			}
			if p.Empty > 0 {
				text += fmt.Sprintf("; empty on %d", p.Empty)
			}
			fmt.Fprintf(w, "%-6s %-20s %s\n", p.Side, printable(p.Colourant), text)
		}
	}
	if len(o.Findings) > 0 {
		fmt.Fprintln(w)
	}
	for _, f := range o.Findings {
		repeats := ""
		if f.Count > 1 {
			repeats = fmt.Sprintf(" (%d times)", f.Count)
		}
		fmt.Fprintf(w, "%s\n", strings.TrimSpace(fmt.Sprintf("%s: %s%s%s %s", f.Severity, onPage(f.Place.Page), printable(f.What), repeats, printable(f.Remedy))))
	}
	if o.Written != nil {
		fmt.Fprintf(w, "\nwritten: %s, %s of %s\n", o.Out, plural(o.Written.Sides, "side"), plural(o.Written.Sheets, "different sheet"))
	}
}

// sidesText tells what a pass lays, side by side where that differs.
func sidesText(p *app.SheetPass) string {
	list := func(toners []string) string { return printable(strings.Join(toners, ", ")) }
	switch {
	case len(p.Back) == 0:
		return "front " + list(p.Front)
	case len(p.Front) == 0:
		return "back " + list(p.Back)
	case slices.Equal(p.Front, p.Back):
		return "both sides " + list(p.Front)
	}
	return "front " + list(p.Front) + "; back " + list(p.Back)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func leaves(n int) string {
	if n == 1 {
		return "1 leaf"
	}
	return fmt.Sprintf("%d leaves", n)
}

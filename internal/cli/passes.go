package cli

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"laydown/internal/app"
)

type passesCmd struct {
	artworkFlags
	Out string  `required:"" placeholder:"DIR" help:"Folder for one PDF a pass."`
	DPI float64 `default:"300" help:"Resolution of the proof (${default})."`
}

func (c *passesCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	bar, end := e.progress()
	o, err := app.WritePasses(e.ctx, app.PassesRequest{File: file, Setup: s, Out: c.Out, DPI: c.DPI, Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printPasses(e.out, o, c.Out)
	}
	if o.Refused() {
		return errors.New("not every pass could be written: a file would have printed otherwise than the whole")
	}
	return nil
}

// alikePages tells what is laid on which pages, those that are laid the same together.
func alikePages(list []app.PageToners) (out []string) {
	pages := map[string][]string{}
	var order []string
	for _, p := range list {
		toners := strings.Join(p.Toners, ", ")
		if toners == "" {
			continue
		}
		if pages[toners] == nil {
			order = append(order, toners)
		}
		pages[toners] = append(pages[toners], strconv.Itoa(p.Page))
	}
	for _, toners := range order {
		out = append(out, strings.Join(pages[toners], ", ")+": "+printable(toners))
	}
	return out
}

func printPasses(w io.Writer, o *app.PassesOutcome, dir string) {
	for i := range o.Passes {
		p := &o.Passes[i]
		fmt.Fprintf(w, "pass %d  set %s  %s\n", p.Number, printable(p.Set), printable(strings.Join(p.Toners, ", ")))
		if p.File != "" {
			fmt.Fprintf(w, "  %s\n", filepath.Join(dir, p.File))
		}
		for _, g := range alikePages(p.Pages) {
			fmt.Fprintf(w, "  on page %s\n", wrap(g, 10))
		}
		if len(p.Empty) > 0 && p.File != "" {
			var pages []string
			for _, n := range p.Empty {
				pages = append(pages, strconv.Itoa(n))
			}
			fmt.Fprintf(w, "  nothing on page %s\n", wrap(strings.Join(pages, ", "), 18))
		}
		if len(p.Empties) > 0 && p.File != "" {
			fmt.Fprintf(w, "  names %s besides, with an empty plate: a shape of another pass counts in a transparency group\n", printable(strings.Join(p.Empties, ", ")))
		}
		for k := range p.Refused {
			f := &p.Refused[k]
			fmt.Fprintf(w, "  refused: %s\n    %s\n", wrap(onPage(f.Place.Page)+f.What, 11), wrap(f.Remedy, 4))
		}
	}
	for i := range o.Findings {
		f := &o.Findings[i]
		fmt.Fprintf(w, "note: %s\n", wrap(onPage(f.Place.Page)+f.What, 6))
	}
	if !o.Refused() {
		fmt.Fprintf(w, "At %g dpi every plate is that of the whole, pixel by pixel.\n", o.DPI)
	}
}

package cli

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"laydown/internal/app"
	"laydown/internal/finding"
)

type diffCmd struct {
	First     string  `arg:"" help:"Artwork PDF."`
	Second    string  `arg:"" help:"Artwork PDF to compare with it."`
	Press     string  `placeholder:"NAME" help:"Press: a shipped name or a YAML file. Without one every colourant of the files has a plate."`
	Job       string  `placeholder:"FILE" help:"Job file (YAML), used for both."`
	Pages     string  `placeholder:"1-3,7" help:"Pages to compare (all)."`
	DPI       float64 `default:"300" help:"Resolution (${default})."`
	Box       string  `enum:"crop,media,trim,bleed" default:"crop" help:"Page box to compare: crop, media, trim or bleed."`
	Viewer    bool    `name:"as-viewer" help:"Show layers as a viewer that prints would."`
	Threshold float64 `default:"0" placeholder:"PERCENT" help:"Differences of tint up to this many percent count as none (${default})."`
	Out       string  `placeholder:"DIR" help:"Folder for pictures of what differs."`
	passwordFlag
	failFlag
}

func (c *diffCmd) Run(e *env) error {
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	if !(c.Threshold >= 0 && c.Threshold <= 100) {
		return fmt.Errorf("--threshold %g makes no sense; choose 0 to 100 percent", c.Threshold)
	}
	if c.Out != "" && (filepath.Clean(c.Out) == filepath.Clean(c.First) || filepath.Clean(c.Out) == filepath.Clean(c.Second)) {
		return errors.New("--out names one of the files compared; choose a folder")
	}
	s, err := app.NewSetup(app.SetupOptions{Press: c.Press, Job: c.Job, Password: c.Password})
	if err != nil {
		return err
	}
	bar, end := e.progress()
	d, err := app.Diff(e.ctx, c.First, c.Second, app.DiffRequest{Setup: s, Pages: c.Pages, DPI: c.DPI, Box: app.Box(c.Box),
		AsViewer: c.Viewer, Threshold: c.Threshold, Out: c.Out, Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(d); err != nil {
			return err
		}
	} else {
		printDiff(e.out, d)
		if d.Index != "" {
			fmt.Fprintf(e.out, "Pictures: %s\n", filepath.Join(c.Out, d.Index))
		}
	}
	return c.verdict(d)
}

// verdict is clean when the plates are the same, all was drawn, and no finding that counts is in one file only.
func (c *diffCmd) verdict(d *app.DiffResult) error {
	if !d.Same || !d.Complete {
		return errFindings
	}
	for _, fs := range [][]finding.Finding{d.FindingsA, d.FindingsB} {
		for _, f := range fs {
			if f.Severity >= c.severity() {
				return errFindings
			}
		}
	}
	return nil
}

// printDiff writes what differs as a person reads it.
func printDiff(w io.Writer, d *app.DiffResult) {
	fmt.Fprintf(w, "first:  %s\nsecond: %s\n", printable(d.FileA), printable(d.FileB))
	differing := 0
	for i := range d.Pages {
		if p := &d.Pages[i]; !p.Same {
			differing++
			printDiffPage(w, p)
		}
	}
	printOnly(w, "first", d.FindingsA)
	printOnly(w, "second", d.FindingsB)
	fmt.Fprintln(w)
	switch {
	case d.Same && d.Threshold > 0:
		fmt.Fprintf(w, "The plates are the same to within %g %% (%s compared at %g dpi).\n", d.Threshold, plural(len(d.Pages), "page"), d.DPI)
	case d.Same:
		fmt.Fprintf(w, "The plates are the same (%s compared at %g dpi).\n", plural(len(d.Pages), "page"), d.DPI)
	case len(d.Pages) == 1:
		fmt.Fprintf(w, "The page differs (compared at %g dpi).\n", d.DPI)
	default:
		fmt.Fprintf(w, "%d of %s differ (compared at %g dpi).\n", differing, plural(len(d.Pages), "page"), d.DPI)
	}
	if !d.Complete {
		fmt.Fprintln(w, wrap("Not everything in the files could be drawn as it is written, so differences may have gone unseen; `laydown check` names what.", 0))
	}
}

func printDiffPage(w io.Writer, p *app.DiffPage) {
	switch p.In {
	case app.InA:
		fmt.Fprintf(w, "\nPage %d is in the first file only.\n", p.Page)
		return
	case app.InB:
		fmt.Fprintf(w, "\nPage %d is in the second file only.\n", p.Page)
		return
	}
	differing := 0
	for i := range p.Plates {
		if !p.Plates[i].Same {
			differing++
		}
	}
	fmt.Fprintf(w, "\nPage %d: ", p.Page)
	switch {
	case differing == 0:
		fmt.Fprintln(w, "the plates are the same where both pages have something to compare")
	default:
		fmt.Fprintf(w, "%d of %s differ\n", differing, plural(len(p.Plates), "plate"))
	}
	if p.SizeA != p.SizeB {
		fmt.Fprintf(w, "  %s\n", wrap(fmt.Sprintf("The page sizes differ: first %s × %s mm, second %s × %s mm. What both have was compared from the top left corner.",
			mm(p.SizeA.W), mm(p.SizeA.H), mm(p.SizeB.W), mm(p.SizeB.H)), 2))
	}
	if a, b := p.TrimA, p.TrimB; a != b && (p.SizeA == p.SizeB || a.W != b.W || a.H != b.H) {
		fmt.Fprintf(w, "  %s\n", wrap(fmt.Sprintf("The trims differ: first %s, second %s.", boxText(a), boxText(b)), 2))
	}
	for i := range p.Plates {
		printDiffPlate(w, &p.Plates[i])
	}
}

func boxText(b finding.BoxMM) string {
	return fmt.Sprintf("%s × %s mm, %s mm from the left and %s mm from the top", mm(b.W), mm(b.H), mm(b.X), mm(b.Y))
}

func printDiffPlate(w io.Writer, p *app.DiffPlate) {
	name := printable(p.Colourant)
	if p.Same {
		if p.In != app.InBoth && p.Toner == "" {
			fmt.Fprintf(w, "  %-20s only the %s file names it; no toner of it is laid down\n", name, ordinal(p.In))
		}
		return
	}
	fmt.Fprintf(w, "  %-20s %s of the page (%s)", name, percent(p.Share), plural(int(p.Pixels), "pixel"))
	fmt.Fprintf(w, ", by up to %s", percent(p.Worst))
	if p.WorstAt != nil {
		fmt.Fprintf(w, " (at %s, %s mm)", mm(p.WorstAt.X), mm(p.WorstAt.Y))
	}
	fmt.Fprintln(w)
	if p.In != app.InBoth {
		note := fmt.Sprintf("only the %s file has this colourant", ordinal(p.In))
		if p.Twin != "" {
			note += fmt.Sprintf("; the other's %q has the very same plate: it may only have been renamed", printable(p.Twin))
		}
		fmt.Fprintf(w, "  %20s %s\n", "", wrap(note, 23))
	} else if p.Toner != app.InBoth {
		fmt.Fprintf(w, "  %20s only the %s file lays down toner of it\n", "", ordinal(p.Toner))
	}
	for i, b := range p.Boxes {
		head := "where:"
		if i > 0 {
			head = ""
		}
		fmt.Fprintf(w, "  %20s %-6s %s\n", "", head, boxText(b))
	}
}

// ordinal names a file of two.
func ordinal(in string) string {
	if in == app.InA {
		return "first"
	}
	return "second"
}

// percent writes a share with as many digits as say something, never 0 for what is not.
func percent(v float64) string {
	switch {
	case v <= 0:
		return "0 %"
	case v < 0.001:
		return "under 0.001 %"
	case v < 1:
		return strings.TrimRight(fmt.Sprintf("%.3f", v), "0") + " %"
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") + " %"
}

// printOnly names the findings only one file has.
func printOnly(w io.Writer, which string, fs []finding.Finding) {
	if len(fs) == 0 {
		return
	}
	fmt.Fprintf(w, "\nFound in the %s file only\n", which)
	for _, f := range fs {
		fmt.Fprintf(w, "  %-8s %s\n", f.Severity, wrap(onPage(f.Place.Page)+f.What, 11))
	}
}

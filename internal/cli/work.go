package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"laydown/internal/app"
	"laydown/internal/finding"
)

type demoCmd struct {
	Out string `default:"laydown-demo" placeholder:"DIR" help:"Folder for the example (${default})."`
	failFlag
}

func (c *demoCmd) Run(e *env) error {
	bar, end := e.progress()
	o, err := app.Demo(e.ctx, app.DemoRequest{Out: c.Out, FailOn: c.severity(), Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(o)
	}
	printOutcome(e.out, o)
	fmt.Fprintf(e.out, "\nThe faulty ticket was prepared. Open %s in a browser.\nThe sound one: laydown check %s --job %s\n",
		filepath.Join(c.Out, "report.html"), filepath.Join(c.Out, "artwork", "ticket.pdf"), filepath.Join(c.Out, "job.yaml"))
	return nil
}

type prepareCmd struct {
	artworkFlags
	failFlag
	Out   string  `required:"" placeholder:"DIR" help:"Folder for report, findings, plates and pictures."`
	Pages string  `placeholder:"1-3,7" help:"Pages to look at (all, but at most 24 unless given)."`
	DPI   float64 `default:"300" help:"Resolution of plates and pictures (${default})."`
}

func (c *prepareCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	bar, end := e.progress()
	o, err := app.Prepare(e.ctx, app.PrepareRequest{File: file, Setup: s, Out: c.Out, Pages: c.Pages, DPI: c.DPI,
		FailOn: c.severity(), Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printOutcome(e.out, o)
		fmt.Fprintf(e.out, "Report: %s\n", filepath.Join(c.Out, "report.html"))
	}
	return verdict(o)
}

func verdict(o *app.Outcome) error {
	if o.Clean {
		return nil
	}
	return errFindings
}

func checkDPI(dpi float64) error {
	if !(dpi >= 9 && dpi <= 4800) {
		return fmt.Errorf("--dpi %g makes no sense; choose 9 to 4800", dpi)
	}
	return nil
}

type checkCmd struct {
	artworkFlags
	failFlag
	Pages string  `placeholder:"1-3,7" help:"Pages to check (all)."`
	DPI   float64 `default:"300" help:"Resolution the plates are looked at (${default})."`
	Rules bool    `help:"List the rules, what they measure, their figures and sources."`
}

func (c *checkCmd) Run(e *env) error {
	if c.Rules {
		return c.rules(e)
	}
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	bar, end := e.progress()
	o, err := app.Check(e.ctx, app.CheckRequest{File: file, Setup: s, Pages: c.Pages, DPI: c.DPI, FailOn: c.severity(), Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printOutcome(e.out, o)
	}
	return verdict(o)
}

type platesCmd struct {
	artworkFlags
	Out      string  `required:"" placeholder:"DIR" help:"Folder for the plates and plates.json."`
	Pages    string  `placeholder:"1-3,7" help:"Pages to separate (all)."`
	DPI      float64 `default:"300" help:"Resolution (${default})."`
	Format   string  `enum:"png,tiff" default:"png" help:"png: one gray file per plate, 255 = full toner. tiff: one file per page with all plates."`
	Compress bool    `help:"Compress TIFF files."`
	Box      string  `enum:"crop,media,trim,bleed" default:"crop" help:"Page box the plates cover: crop, media, trim or bleed."`
	Viewer   bool    `name:"as-viewer" help:"Show layers as a viewer that prints would."`
}

func (c *platesCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	bar, end := e.progress()
	index, err := app.WritePlates(e.ctx, app.PlatesRequest{File: file, Setup: s, Out: c.Out, Pages: c.Pages, DPI: c.DPI,
		TIFF: c.Format == "tiff", Compress: c.Compress, Box: app.Box(c.Box), AsViewer: c.Viewer, Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(index)
	}
	for _, p := range index.Pages {
		fmt.Fprintf(e.out, "page %d, %d × %d pixels\n", p.Page, p.Width, p.Height)
		for _, pl := range p.Plates {
			fmt.Fprintf(e.out, "  %-24s %7.3f %%  %s\n", printable(pl.Colourant), pl.Coverage, pl.File)
		}
	}
	e.remarks(index.Findings)
	return nil
}

// remarks tells on standard error what was painted less or differently than written.
func (e *env) remarks(fs []finding.Finding) {
	for _, f := range fs {
		if f.Incomplete || f.Class == finding.OverLimit {
			fmt.Fprintf(e.err, "%s%s\n", onPage(f.Place.Page), printable(f.What))
		}
	}
}

// printable keeps control characters of colourant names off the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return '·'
		}
		return r
	}, strings.ToValidUTF8(s, "·"))
}

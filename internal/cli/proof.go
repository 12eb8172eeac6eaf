package cli

import (
	"fmt"
	"path/filepath"
	"time"

	"laydown/internal/app"
)

type proofCmd struct {
	artworkFlags
	failFlag
	Out   string  `required:"" placeholder:"FILE" help:"The proof (PDF)."`
	Pages string  `placeholder:"1-3,7" help:"Pages to show (all). Of more than 24, all are shown small and some of them in full."`
	DPI   float64 `default:"150" help:"Resolution of the pictures (${default})."`
	Date  string  `placeholder:"2026-05-31" help:"Day to write on it. Left out, none is written, and the same job gives the same bytes."`
}

func (c *proofCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	req := app.ProofRequest{File: file, Setup: s, Out: c.Out, Pages: c.Pages, DPI: c.DPI, FailOn: c.severity(), Timer: e.timer}
	if c.Job != "" {
		req.JobName = filepath.Base(c.Job)
	}
	if c.Date != "" {
		if req.Made, err = time.Parse(time.DateOnly, c.Date); err != nil {
			return fmt.Errorf("--date %q cannot be understood; write it as 2026-05-31", c.Date)
		}
	}
	bar, end := e.progress()
	req.Progress = bar
	r, err := app.WriteProof(e.ctx, req)
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(r); err != nil {
			return err
		}
		return verdict(r.Outcome)
	}
	for _, p := range r.Sheets {
		fmt.Fprintf(e.out, "page %d, at %s angles, pictures of %g dpi\n", p.Page, fmt.Sprint(len(p.Angles)), p.DPI)
		for _, pl := range p.Plates {
			fmt.Fprintf(e.out, "  %-24s %7.3f %%\n", printable(pl.Colourant), pl.Coverage)
		}
	}
	fmt.Fprintf(e.out, "%s: %s.\n", r.Out, countText(r.Findings))
	e.remarks(r.Findings)
	return verdict(r.Outcome)
}

type pressStarterCmd struct {
	Name  string `arg:"" help:"A shipped name or a YAML file."`
	Out   string `required:"" placeholder:"FILE" help:"The starter (PDF): colourants, mixes, a legend of tints and pairs."`
	Sheet string `placeholder:"FILE" help:"Set-up sheet for designers (PDF): names, stand-in colours, tints, smallest sizes, export settings."`
}

func (c *pressStarterCmd) Run(e *env) error {
	r, err := app.WriteStarter(app.StarterRequest{Press: c.Name, Out: c.Out, Sheet: c.Sheet})
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(r)
	}
	fmt.Fprintf(e.out, "%s: %s of %s\n", r.Out, plural(len(r.Colours), "colour"), r.Press)
	for _, n := range r.LeftOut {
		fmt.Fprintf(e.out, "  left out, no set carries it: %s\n", printable(n))
	}
	if r.Sheet != "" {
		fmt.Fprintf(e.out, "%s: set-up sheet\n", r.Sheet)
	}
	return nil
}

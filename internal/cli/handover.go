package cli

import (
	"errors"
	"fmt"
	"time"

	"laydown/internal/app"
	"laydown/internal/handover"
)

type handoverCmd struct {
	artworkFlags
	failFlag
	Out          string  `placeholder:"ZIP" help:"The archive to write."`
	Check        string  `placeholder:"ZIP" help:"Check an archive instead: nothing else is needed."`
	WithFindings bool    `help:"Hand over although the checks found something at or above --fail-on; the letter lists it."`
	Name         string  `placeholder:"TEXT" help:"What the job is called; left out, as the artwork."`
	From         string  `placeholder:"TEXT" help:"Who hands it over, for the letter."`
	Date         string  `placeholder:"2026-01-31" help:"Date of letter and tickets; left out, the letter has none and tickets that of the artwork."`
	DPI          float64 `default:"300" help:"Resolution the artwork is looked at (${default})."`
}

func (c *handoverCmd) Run(e *env) error {
	switch {
	case c.Check != "" && (c.Out != "" || c.File != "" || c.Job != ""):
		return errors.New("--check takes an archive alone; leave out the artwork, --job and --out")
	case c.Check != "":
		return c.check(e)
	case c.Out == "":
		return errors.New("name the archive with --out, or one to check with --check")
	}
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	req := app.HandoverRequest{File: file, Setup: s, Out: c.Out, Name: c.Name, From: c.From, DPI: c.DPI, FailOn: c.severity(), WithFindings: c.WithFindings, Timer: e.timer}
	if c.Date != "" {
		if req.Date, err = time.Parse(time.DateOnly, c.Date); err != nil || req.Date.Year() < 1980 || req.Date.Year() > 2199 {
			return fmt.Errorf("--date %q cannot be understood; write it as 2026-01-31", c.Date)
		}
	}
	bar, end := e.progress()
	req.Progress = bar
	o, err := app.Handover(e.ctx, req)
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printHandover(e, o)
	}
	return verdict(o.Outcome)
}

func printHandover(e *env, o *app.HandoverOutcome) {
	if !o.Clean {
		printOutcome(e.out, o.Outcome)
	}
	if !o.Written() {
		fmt.Fprintln(e.out, "Nothing was handed over. Mend the artwork, or send it as it is with --with-findings; the letter will say what the checks found.")
		return
	}
	for _, f := range o.Files {
		fmt.Fprintf(e.out, "  %9s  %-32s %s\n", bytesText(f.Size), printable(f.Name), printable(f.About))
	}
	fmt.Fprintf(e.out, "%s: %s, %s\nSHA-256 %s\n", o.Out, plural(len(o.Files)+1, "file"), bytesText(o.Size), o.SHA256)
}

// bytesText writes a size in the unit that suits it.
func bytesText(n int64) string {
	switch {
	case n >= 10<<20:
		return fmt.Sprintf("%.0f MB", float64(n)/(1<<20))
	case n >= 1<<20:
		return fmt.Sprintf("%.1f MB", float64(n)/(1<<20))
	case n >= 1<<10:
		return fmt.Sprintf("%.0f kB", float64(n)/(1<<10))
	}
	return fmt.Sprintf("%d B", n)
}

func (c *handoverCmd) check(e *env) error {
	o, err := app.CheckHandover(c.Check)
	if err != nil {
		return err
	}
	switch {
	case e.json:
		if err := e.writeJSON(o); err != nil {
			return err
		}
	case o.OK:
		m := o.Manifest
		fmt.Fprintf(e.out, "%s is as it was made: job %q, %s, %s.\nPress: %s. Stock: %s.\n", o.File, m.Job, plural(len(m.Files), "file"), passesText(len(m.Passes)), printable(m.Press), printable(m.Stock))
		if !m.Clean {
			fmt.Fprintln(e.out, "It was sent although the checks of the artwork found something: see letter.txt.")
		}
		fmt.Fprintf(e.out, "SHA-256 %s (compare it with the sender's by another way than the archive came)\n", o.SHA256)
	default:
		printFaults(e, o.File, o.Faults)
	}
	if !o.OK {
		return errFindings
	}
	return nil
}

func passesText(n int) string {
	if n == 1 {
		return "1 pass"
	}
	return fmt.Sprintf("%d passes", n)
}

func printFaults(e *env, file string, faults []handover.Fault) {
	for _, f := range faults {
		if f.File != "" {
			fmt.Fprintf(e.out, "  %s: %s\n", printable(f.File), wrap(f.What, 4))
		} else {
			fmt.Fprintf(e.out, "  %s\n", wrap(f.What, 4))
		}
	}
	fmt.Fprintf(e.out, "%s is refused: it is not what was sent. Ask for it again.\n", file)
}

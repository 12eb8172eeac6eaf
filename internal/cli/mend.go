package cli

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"laydown/internal/app"
	"laydown/internal/mend"
)

type mendCmd struct {
	artworkFlags
	failFlag
	Out      string   `placeholder:"FILE" help:"The mended PDF to write; never the artwork itself."`
	AllSafe  bool     `name:"all-safe" help:"Apply every remedy the findings name that cannot change the intended look."`
	Do       []string `sep:"none" placeholder:"REMEDY:NAME=VALUE,…" help:"Apply a remedy, as findings offer it. May be given several times."`
	Pages    string   `placeholder:"1-3,7" help:"Pages to mend (all). The proof covers every page."`
	DPI      float64  `default:"300" help:"Resolution of checks and proof (${default})."`
	Pictures string   `placeholder:"DIR" help:"Folder for pictures of what was changed: before, after, difference."`
	Undo     bool     `help:"Write the file as it was before its last mend."`
	Remedies bool     `help:"List the remedies with their options and the findings they answer."`
}

func (c *mendCmd) Run(e *env) error {
	if c.Remedies {
		return listRemedies(e)
	}
	if c.Out == "" {
		return errors.New("no name for the mended file was given; name it with --out")
	}
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if c.Undo {
		if len(c.Do) > 0 || c.AllSafe {
			return errors.New("--undo takes the last mend back and applies none; leave out --do and --all-safe, or undo first")
		}
		return c.undo(e, s, file)
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	var uses []mend.Use
	for _, d := range c.Do {
		u, err := mend.Parse(d)
		if err != nil {
			return err
		}
		uses = append(uses, u)
	}
	if len(uses) == 0 && !c.AllSafe {
		return errors.New("no remedy was asked for; give --all-safe, or --do with a remedy that `laydown check` names")
	}
	return e.mend(app.MendRequest{File: file, Setup: s, Out: c.Out, AllSafe: c.AllSafe, Uses: uses, Pages: c.Pages, DPI: c.DPI,
		Pictures: c.Pictures, FailOn: c.severity(), Timer: e.timer})
}

func (e *env) mend(req app.MendRequest) error {
	bar, end := e.progress()
	req.Progress = bar
	o, err := app.Mend(e.ctx, req)
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printMend(e.out, o, req.Pictures)
	}
	switch {
	case len(o.Refused) > 0:
		return errors.New("no file was written: more would have changed than was asked for")
	case !o.Answered:
		return errFindings
	}
	return nil
}

func (c *mendCmd) undo(e *env, s *app.Setup, file string) error {
	remedy, err := app.Unmend(s, file, c.Out)
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(map[string]string{"out": c.Out, "undone": remedy})
	}
	_, err = fmt.Fprintf(e.out, "%s: %s as it was before %s\n", c.Out, filepath.Base(file), remedy)
	return err
}

func printMend(w io.Writer, o *app.MendOutcome, pictures string) {
	changed := 0
	for i := range o.Steps {
		st := &o.Steps[i]
		fmt.Fprintf(w, "%s\n  %s\n", printable(st.Use), wrap(st.Title, 2))
		if len(st.Refused) > 0 {
			fmt.Fprintln(w, "  Left out, since more would have changed than was to change:")
			printBreaches(w, st.Refused)
		} else if st.Failed != "" {
			fmt.Fprintf(w, "  Left out: %s.\n", wrap(st.Failed, 2))
		} else if !st.Changed {
			fmt.Fprintln(w, "  There was nothing for it to do.")
		} else {
			changed++
		}
		for _, p := range st.Plates {
			for k := range p.Plates {
				pl := &p.Plates[k]
				fmt.Fprintf(w, "  page %d  %-16s differs on %s of the page, by up to %s\n", p.Page, printable(pl.Colourant), percent(pl.Share), percent(pl.Worst))
			}
		}
		if st.Changed && len(st.Plates) == 0 {
			fmt.Fprintln(w, "  No plate differs.")
		}
		for _, n := range st.Notes {
			fmt.Fprintf(w, "  note: %s\n", wrap(n, 8))
		}
		for _, l := range st.Left {
			fmt.Fprintf(w, "  left: %s\n", wrap(l, 8))
		}
	}
	if len(o.Refused) > 0 {
		fmt.Fprintln(w, "\nRefused:")
		printBreaches(w, o.Refused)
		return
	}
	fmt.Fprintln(w)
	if o.Out == "" {
		fmt.Fprintln(w, "Nothing was changed, so no file was written.")
	} else {
		fmt.Fprintf(w, "%s: %d %s applied, nothing else changed.\n", o.Out, changed, remedies(changed))
		if o.Difference != nil && o.Difference.Index != "" {
			fmt.Fprintf(w, "Pictures: %s\n", filepath.Join(pictures, o.Difference.Index))
		}
	}
	if o.After != nil {
		fmt.Fprintf(w, "Findings before: %s; after: %s.\n", countText(o.Before.Findings), countText(o.After.Findings))
		offered := false
		for i := range o.After.Findings {
			f := &o.After.Findings[i]
			if f.Severity < o.After.FailOn && !f.Incomplete {
				continue
			}
			if !offered {
				fmt.Fprintln(w, "\nStill to be decided:")
				offered = true
			}
			fmt.Fprintf(w, "  %s\n", wrap(fmt.Sprintf("%s%s [%s]", onPage(f.Place.Page), f.What, f.ID), 2))
			for _, m := range f.Mends {
				fmt.Fprintf(w, "    --do %s\n", shellWord(m))
			}
		}
	}
}

func printBreaches(w io.Writer, bs []app.Breach) {
	for _, b := range bs {
		where := ""
		if b.Pixels > 0 {
			where = " (" + boxText(b.Box) + ")"
		}
		fmt.Fprintf(w, "    %s\n", wrap(onPage(b.Page)+b.What+where, 12))
	}
}

// onPage begins a line about a page; "" for the whole file.
func onPage(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("page %d: ", n)
}

func remedies(n int) string {
	if n == 1 {
		return "remedy"
	}
	return "remedies"
}

// shellWord quotes a word for a shell where that is needed.
func shellWord(s string) string {
	if strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_=:,.%/+", r))
	}) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(printable(s), "'", `'\''`) + "'"
}

func listRemedies(e *env) error {
	rows := app.Remedies()
	if e.json {
		return e.writeJSON(rows)
	}
	for _, r := range rows {
		safe := ""
		if r.Safe {
			safe = " (safe)"
		}
		fmt.Fprintf(e.out, "%s%s\n    %s\n", r.ID, safe, wrap(r.Title, 4))
		for _, o := range r.Options {
			must := ""
			if o.Required {
				must = " (must be given)"
			}
			fmt.Fprintf(e.out, "    %-12s %s\n", o.Name, wrap(o.Help+must, 17))
		}
		if len(r.Answers) > 0 {
			fmt.Fprintf(e.out, "    answers:     %s\n", wrap(strings.Join(r.Answers, ", "), 17))
		}
	}
	return nil
}

package cli

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"laydown/internal/app"
	"laydown/internal/plan"
)

type planCmd struct {
	artworkFlags
	Pages    string `placeholder:"1-3,7" help:"Pages to plan (all)."`
	Quantity int    `placeholder:"N" help:"Finished pieces; left out, as the job says."`
	Breaks   []int  `placeholder:"N,N" help:"Other quantities to reckon the price of; left out, as the job says."`
	Up       int    `placeholder:"N" help:"Pieces on a sheet; left out, as many as fit side by side."`
	Formulas bool   `help:"Show how every figure was reckoned."`
}

func (c *planCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if c.Quantity < 0 || c.Up < 0 || slices.ContainsFunc(c.Breaks, func(n int) bool { return n <= 0 }) {
		return fmt.Errorf("--quantity, --breaks and --up count pieces: write whole numbers above 0")
	}
	bar, end := e.progress()
	o, err := app.Plan(e.ctx, app.PlanRequest{File: file, Setup: s, Pages: c.Pages, Quantity: c.Quantity, Breaks: c.Breaks, Up: c.Up, Progress: bar, Timer: e.timer})
	end()
	if err != nil {
		return err
	}
	if e.json {
		if err := e.writeJSON(o); err != nil {
			return err
		}
	} else {
		printPlan(e.out, o, c.Formulas)
		e.remarks(o.Findings)
	}
	if o.Impossible != nil {
		return errFindings
	}
	return nil
}

func printPlan(w io.Writer, o *app.PlanOutcome, formulas bool) {
	on := o.Press
	if o.Stock != "" {
		on += " on " + o.Stock
	}
	fmt.Fprintf(w, "%s, %s: %s\n", printable(o.File), plural(len(o.Pages), "page"), on)
	if len(o.Wishes) > 0 {
		fmt.Fprintf(w, "Wishes: %s\n", wrap(strings.Join(o.Wishes, "; "), 8))
	}
	for _, n := range o.Notes {
		fmt.Fprintf(w, "%s\n", wrap(n, 0))
	}
	if o.Impossible != nil {
		fmt.Fprintf(w, "\n%s\n", wrap("It cannot be printed as wished: "+o.Impossible.What+".", 0))
		if o.Impossible.Remedy != "" {
			fmt.Fprintf(w, "To do: %s.\n", wrap(o.Impossible.Remedy, 7))
		}
	}
	if len(o.Plans) == 0 {
		return
	}
	first := &o.Plans[0]
	printWork(w, first)
	fmt.Fprintln(w, "\nWhy")
	for _, line := range first.Why {
		fmt.Fprintf(w, "  %s\n", wrap(line, 2))
	}
	for _, u := range first.Unusual {
		fmt.Fprintf(w, "  %s\n", wrap(fmt.Sprintf("Page %d: %s Wish it otherwise if that matters.", u.Page, u.Words), 2))
	}
	printBounds(w, o, first)
	printOthers(w, o)
	printReckoning(w, o, first.Reckoning, formulas)
	if len(o.Cautions) > 0 {
		fmt.Fprintln(w, "\nTake care")
		for _, c := range o.Cautions {
			fmt.Fprintf(w, "  %s\n", wrap(c, 2))
		}
	}
}

// printWork writes the passes as the work goes, a set after the other.
func printWork(w io.Writer, c *app.PlanChoice) {
	fmt.Fprintf(w, "\nThe work, %s: %s, %s of the set\n", c.Name, countOf(len(c.Passes), "pass", "passes"), countOf(c.SetChanges, "change", "changes"))
	set := 0
	for i, p := range c.Passes {
		if p.SetUp != set {
			if set > 0 {
				fmt.Fprintf(w, "      change to the set %s\n", p.Set)
			} else {
				fmt.Fprintf(w, "      begin with the set %s\n", p.Set)
			}
			set = p.SetUp
		}
		fmt.Fprintf(w, "  %2d  page %d, its pass %d: %s\n", i+1, p.Page, p.OfPage, wrap(strings.Join(p.Toners, ", "), 6))
	}
	fmt.Fprintln(w, "      (toners in the order they are laid, the first one lowest)")
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// printBounds writes what each boundary between passes risks, and the piles.
func printBounds(w io.Writer, o *app.PlanOutcome, c *app.PlanChoice) {
	if len(c.Risks) > 0 {
		fmt.Fprintf(w, "\nBetween passes plates may be off each other by %g mm (within one pass %g mm); across passes meet\n", o.Register.Between, o.Register.Within)
		for _, line := range c.Risks {
			fmt.Fprintf(w, "  %s\n", wrap(line, 2))
		}
	}
	if len(c.KnockOut) > 0 {
		fmt.Fprintln(w, "\nKnocked out across passes")
		for _, k := range c.KnockOut {
			fmt.Fprintf(w, "  %s\n", wrap(k.Words(), 2))
		}
	}
	if len(c.Piles) > 0 {
		fmt.Fprintln(w, "\nPile of toner, of what the press holds")
		for _, p := range c.Piles {
			fmt.Fprintf(w, "  %s\n", p.Words())
		}
	}
}

// printOthers writes the plans side by side.
func printOthers(w io.Writer, o *app.PlanOutcome) {
	if len(o.Plans) < 2 {
		return
	}
	fmt.Fprintln(w, "\nOther ways, against the first")
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "  \tpasses\tset changes\tminutes\tcost\tper piece\tway")
	for i := range o.Plans {
		p := &o.Plans[i]
		k := p.Reckoning
		minutes, cost := k.Minutes.Text(0), k.Total.Text(2)
		if d := p.Against; d != nil {
			minutes += signed(d.Minutes, 0)
			cost += signed(d.Cost, 2)
		}
		fmt.Fprintf(t, "  %d\t%d\t%d\t%s\t%s\t%s\t%s\n", i+1, len(p.Passes), p.SetChanges, minutes, cost, k.PerPiece.Text(3), p.Name)
	}
	t.Flush()
	for i := range o.Plans {
		p := &o.Plans[i]
		if p.Against == nil {
			continue
		}
		fmt.Fprintf(w, "  %d looks: %s\n", i+1, wrap(p.Against.Look.Words(), 11))
	}
}

func signed(v *float64, digits int) string {
	if v == nil || math.Abs(*v) < 0.5*math.Pow10(-digits) {
		return ""
	}
	return fmt.Sprintf(" (%+.*f)", digits, *v)
}

func printReckoning(w io.Writer, o *app.PlanOutcome, k *plan.Reckoning, formulas bool) {
	head := "quantity not given"
	if k.Quantity > 0 {
		head = plural(k.Quantity, "piece")
	}
	fmt.Fprintf(w, "\nToner, time and money of the first, %s, %d on a sheet (%s)\n", head, k.Up, o.UpWords)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "  toner\ton a piece\ton a sheet\tin the job\tcost")
	for _, f := range k.Toner {
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\n", f.Toner, f.Piece.Text(4), f.Sheet.Text(3), f.Job.Text(1), f.Cost.Text(2))
	}
	t.Flush()
	line := func(f plan.Figure) {
		fmt.Fprintf(w, "  %-40s %s", f.What, f.Text(f.Digits()))
		if f.Value == nil || formulas {
			if f.Formula != "" {
				fmt.Fprintf(w, "   = %s", f.Formula)
			}
		}
		if len(f.NotGiven) > 0 {
			fmt.Fprintf(w, "   (not given: %s)", strings.Join(f.NotGiven, ", "))
		}
		fmt.Fprintln(w)
	}
	if formulas {
		for _, f := range k.Toner {
			line(f.Piece)
			line(f.Job)
			line(f.Cost)
		}
	}
	for _, f := range k.Sheets {
		line(f)
	}
	for _, f := range k.Time {
		line(f)
	}
	line(k.Minutes)
	for _, f := range k.Costs {
		if !strings.HasPrefix(f.What, "toner ") {
			line(f)
		}
	}
	line(k.Total)
	line(k.PerPiece)
	if k.Note != "" {
		fmt.Fprintf(w, "  Prices, in the words of the definitions: %s.\n", strings.TrimSuffix(k.Note, "."))
	}
	if len(k.Breaks) > 0 {
		fmt.Fprintln(w, "\nOther quantities")
		t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		fmt.Fprintln(t, "  pieces\tsheets\tminutes\tcost\tper piece")
		for _, b := range k.Breaks {
			fmt.Fprintf(t, "  %d\t%s\t%s\t%s\t%s\n", b.Quantity, b.Sheets.Text(0), b.Minutes.Text(0), b.Total.Text(2), b.PerPiece.Text(3))
		}
		t.Flush()
	}
	fmt.Fprintln(w, "\nTaken for granted")
	for _, a := range k.Assumptions {
		fmt.Fprintf(w, "  %s\n", wrap(a, 2))
	}
}

package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/plan"
	"laydown/internal/press"
)

// StackPass is one time of the whole stack through the press with one set in it, both sides where both are printed. On every page
// it lays what the plan has for that page, which may be less than on another.
type StackPass struct {
	press.Pass // all it lays, on whatever page

	on func(page int) []string // nil = Toners on every page
}

// Lays are the toners laid on a page, the lowest first.
func (p *StackPass) Lays(page int) []string {
	if p.on == nil {
		return p.Toners
	}
	return p.on(page)
}

// alike tells whether every one of the pages is laid the same toners.
func (p *StackPass) alike(pages int) bool {
	for n := 2; n <= pages; n++ {
		if !slices.Equal(p.Lays(n), p.Lays(1)) {
			return false
		}
	}
	return true
}

// records tells whether the pages are records of variable data.
func (s *Setup) records() bool {
	return s.Job != nil && s.Job.Sheets != nil && s.Job.Sheets.Records != nil
}

// newPlanner makes the planner of so many pages. Records are planned as one, since presses take special plates once for all of
// them, and so is what has too many pages to be planned page by page.
func newPlanner(s *Setup, pages int) *planner {
	pl := &planner{setup: s, at: map[int]int{}}
	if s.records() {
		each := max(s.Job.Sheets.Records.Pages, 1)
		pl.group = func(page int) int { return (page-1)%each + 1 }
	} else if pages > planPages {
		pl.group = func(int) int { return 1 }
	}
	return pl
}

// like is the page whose plan a page has.
func (pl *planner) like(page int) int {
	if pl.group == nil {
		return page
	}
	return pl.group(page)
}

// joined counts pieces where pages are planned as one, and says that they are; "" where they are not.
func (pl *planner) joined(r *plan.Request, total int) string {
	switch s := pl.setup; {
	case pl.group == nil:
		return ""
	case s.records():
		r.Quantity, r.Breaks = total/max(s.Job.Sheets.Records.Pages, 1), nil
		return fmt.Sprintf("The %d records are planned as one: what any of them uses is laid on all, and tints are those of a mean record.", r.Quantity)
	default:
		if s.Job == nil || s.Job.Sides != 1 {
			total = (total + 1) / 2
		}
		r.Quantity *= total
		r.Breaks = slices.Clone(r.Breaks)
		for i := range r.Breaks {
			r.Breaks[i] *= total
		}
		return fmt.Sprintf("More than %d pages are planned as one: every page is laid what any of them uses. Pieces are those of all pages together.", planPages)
	}
}

// request asks for the plan of what was measured.
func (pl *planner) request() *plan.Request {
	return &plan.Request{Press: pl.setup.Press, Stock: pl.setup.Stock, Sides: pl.sides, Wishes: pl.wishes()}
}

// stackPasses finds the best plan and joins its passes of single sides: what is laid with a set in the press, while it is in, is one
// pass of the stack, or more where a side needs the same set again. The error is a *plan.Impossible.
func (pl *planner) stackPasses() ([]StackPass, error) {
	best, err := plan.Best(pl.request())
	if err != nil {
		return nil, err
	}
	type time struct{ setUp, again int }
	var order []time
	sets := map[time]string{}
	laid := map[time]map[int][]string{} // by page
	seen := map[[2]int]int{}            // passes of a page with one set in the press
	for _, p := range best.Passes {
		t := time{p.SetUp, seen[[2]int{p.Page, p.SetUp}]}
		seen[[2]int{p.Page, p.SetUp}]++
		if laid[t] == nil {
			laid[t], sets[t] = map[int][]string{}, p.Set
			order = append(order, t)
		}
		laid[t][p.Page] = p.Toners
	}
	slices.SortFunc(order, func(a, b time) int {
		if a.setUp != b.setUp {
			return a.setUp - b.setUp
		}
		return a.again - b.again
	})
	var out []StackPass
	for _, t := range order {
		set := pl.setup.Press.Sets[slices.IndexFunc(pl.setup.Press.Sets, func(s press.Set) bool { return s.Name == sets[t] })]
		p := StackPass{Pass: press.Pass{Set: &set}, on: func(page int) []string { return laid[t][pl.like(page)] }}
		for _, name := range set.Stations {
			for _, toners := range laid[t] {
				if slices.Contains(toners, name) {
					p.Toners = append(p.Toners, name)
					break
				}
			}
		}
		out = append(out, p)
	}
	return out, nil
}

// planned measures all pages and joins the passes of the best plan. Each is told of every page; nil = nobody asks. The error is a
// *plan.Impossible, a *CannotError, or ctx's.
func (a *Artwork) planned(ctx context.Context, s *Setup, each func(*Sheet, *check.Page) error, tell Progress, t *instrument.Timer) ([]StackPass, error) {
	total := a.Doc.NumPages()
	pl := newPlanner(s, total)
	pl.bare = true
	dpi := shareDPI(measureDPI, total)
	for n := 1; n <= total; n++ {
		tell.tell("toners of page", n-1, total)
		if n%readersEach == 0 {
			a.renewReader()
		}
		sh, page, err := a.measured(ctx, s, n, dpi, t)
		if err != nil {
			return nil, err
		}
		if err := pl.add(sh, page); err != nil {
			return nil, err
		}
		if each != nil {
			if err := each(sh, page); err != nil {
				return nil, err
			}
		}
	}
	tell.tell("toners of page", total, total)
	return pl.stackPasses()
}

// impossibleID is the finding that a job cannot be printed as wished.
const impossibleID = "passes-impossible"

// impossible tells of it in the same words everywhere; false for other errors.
func impossible(err error) (finding.Finding, bool) {
	var e *plan.Impossible
	if !errors.As(err, &e) {
		return finding.Finding{}, false
	}
	return finding.Finding{ID: impossibleID, Severity: finding.Error, What: fmt.Sprintf("It cannot be printed as wished: %s.", strings.TrimSuffix(e.What, ".")),
		Why: "No sequence of passes of this press lays down what the pages use as the job asks, on this stock.", Remedy: sentence(e.Remedy)}, true
}

// sentence begins with a capital and ends with a stop.
func sentence(s string) string {
	s = strings.TrimSuffix(s, ".")
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

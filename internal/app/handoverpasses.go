package app

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/handover"
	"laydown/internal/plan"
	"laydown/internal/press"
)

// note remembers what a page uses and where its toners meet.
func (h *handing) note(sh *Sheet, p *check.Page) error {
	h.used[sh.Number] = p.Used()
	return h.planner.add(sh, p)
}

// plan finds the passes of all pages. A plan is made side by side; the stack goes through once for each set in the press, or
// more often where a side needs the same set twice.
func (h *handing) plan() error {
	any := false
	for _, u := range h.used {
		any = any || len(u) > 0
	}
	if !any {
		return cannot(nil, "check the artwork with `laydown check`", "%s has no toner of the press on it, so there is nothing to hand over", h.out.File)
	}
	passes, err := h.planned()
	var none *plan.Impossible
	if errors.As(err, &none) {
		h.impossible(none.What, none.Remedy)
		return nil
	}
	if err != nil {
		return err
	}
	if passes == nil {
		var e *press.PassError
		if passes, err = h.s.Press.Passes(h.usedAnywhere(), append(h.s.under(), h.planner.orders()...)...); errors.As(err, &e) {
			h.impossible(e.What, e.Remedy)
			return nil
		}
		if err != nil {
			return err
		}
	}
	for _, p := range passes {
		h.steps = append(h.steps, &step{pass: p, content: *h.whole})
	}
	return nil
}

// planned joins the sides of the best plan to times of the whole stack through the press. Nil where they cannot be joined: a toner
// that two of them lay, on different pages, would be laid twice by a file that holds all pages; or where there are too many pages.
func (h *handing) planned() (out []press.Pass, err error) {
	if h.total > planPages {
		return nil, nil
	}
	best, err := plan.Best(&plan.Request{Press: h.s.Press, Stock: h.s.Stock, Sides: h.planner.sides, Wishes: h.planner.wishes(), Up: 1})
	if err != nil {
		return nil, err
	}
	type time struct{ setUp, again int } // of the stack
	var order []time
	toners := map[time][]string{}
	sets := map[time]string{}
	laid := map[int]map[string]time{} // by page
	seen := map[[2]int]int{}          // passes of a page with one set in the press
	for _, p := range best.Passes {
		t := time{p.SetUp, seen[[2]int{p.Page, p.SetUp}]}
		seen[[2]int{p.Page, p.SetUp}]++
		if sets[t] == "" {
			sets[t] = p.Set
			order = append(order, t)
		}
		if laid[p.Page] == nil {
			laid[p.Page] = map[string]time{}
		}
		for _, name := range p.Toners {
			laid[p.Page][name] = t
			if !slices.Contains(toners[t], name) {
				toners[t] = append(toners[t], name)
			}
		}
	}
	for _, page := range laid {
		for name, at := range page {
			for t, list := range toners {
				if t != at && slices.Contains(list, name) {
					return nil, nil
				}
			}
		}
	}
	slices.SortFunc(order, func(a, b time) int {
		if a.setUp != b.setUp {
			return a.setUp - b.setUp
		}
		return a.again - b.again
	})
	for _, t := range order {
		i := slices.IndexFunc(h.s.Press.Sets, func(s press.Set) bool { return s.Name == sets[t] })
		set := &h.s.Press.Sets[i]
		p := press.Pass{Set: set}
		for _, name := range set.Stations {
			if slices.Contains(toners[t], name) {
				p.Toners = append(p.Toners, name)
			}
		}
		out = append(out, p)
	}
	return out, nil
}

func (h *handing) usedAnywhere() (used []string) {
	for n := 1; n <= h.total; n++ {
		for _, t := range h.used[n] {
			if !slices.Contains(used, t) {
				used = append(used, t)
			}
		}
	}
	return used
}

func (h *handing) impossible(what, remedy string) {
	h.apart = "No sequence of passes lays down what the artwork uses: " + strings.TrimSuffix(what, ".") + ". The designer knows; please propose how to print it."
	if !slices.ContainsFunc(h.out.Findings, func(f finding.Finding) bool { return f.ID == "passes-impossible" }) {
		h.out.add(finding.Finding{ID: "passes-impossible", Severity: finding.Error, What: fmt.Sprintf("No sequence of passes lays down what the pages use: %s.", strings.TrimSuffix(what, ".")), Remedy: sentence(remedy)})
	}
}

func sentence(s string) string {
	s = strings.TrimSuffix(s, ".")
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// back tells whether a page stands on the back of a sheet.
func (h *handing) back(page int) bool {
	var o *SheetsOutcome
	if len(h.steps) > 0 {
		o = h.steps[0].sheets
	}
	if o == nil {
		return page%2 == 0 && (h.s.Job == nil || h.s.Job.Sides != 1)
	}
	if r := o.Records; r != nil {
		return r.Each == 2 && page%2 == 0
	}
	for _, p := range o.Pieces {
		if slices.Contains(p.Back, page) {
			return true
		}
	}
	return false
}

// sides lists what a pass lays on the front and on the back; toners no page of the side uses are left out.
func (h *handing) sides(p *press.Pass) (out []handover.PassSide) {
	for _, back := range []bool{false, true} {
		side := handover.PassSide{Side: press.Front.String()}
		if back {
			side.Side = press.Back.String()
		}
		laid := map[string]bool{}
		for n := 1; n <= h.total; n++ {
			if h.back(n) != back {
				continue
			}
			found := false
			for _, t := range p.Toners {
				if slices.Contains(h.used[n], t) {
					laid[t], found = true, true
				}
			}
			if found {
				side.Pages = append(side.Pages, n)
			}
		}
		for _, t := range p.Toners {
			if laid[t] {
				side.Toners = append(side.Toners, t)
			}
		}
		if len(side.Toners) > 0 {
			out = append(out, side)
		}
	}
	return out
}

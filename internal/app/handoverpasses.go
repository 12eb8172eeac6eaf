package app

import (
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/handover"
	"laydown/internal/press"
)

// note remembers what a page uses.
func (h *handing) note(sh *Sheet, p *check.Page) error {
	h.used[sh.Number] = p.Used()
	return nil
}

// plan finds the passes of all pages.
func (h *handing) plan() error {
	any := false
	for _, u := range h.used {
		any = any || len(u) > 0
	}
	if !any {
		return cannot(nil, "check the artwork with `laydown check`", "%s has no toner of the press on it, so there is nothing to hand over", h.out.File)
	}
	passes, err := h.planner.stackPasses()
	if f, is := impossible(err); is {
		h.impossible(f)
		return nil
	}
	if err != nil {
		return err
	}
	for _, p := range passes {
		h.steps = append(h.steps, &step{pass: p, content: *h.whole})
	}
	return nil
}

// impossible tells it once: what the checks say of single pages says less than the plan of all.
func (h *handing) impossible(f finding.Finding) {
	h.apart = strings.TrimSuffix(f.What, ".") + ". The designer knows; please propose how to print it."
	h.out.Findings = slices.DeleteFunc(h.out.Findings, func(g finding.Finding) bool { return g.ID == f.ID })
	h.out.add(f)
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
func (h *handing) sides(p *StackPass) (out []handover.PassSide) {
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
			for _, t := range p.Lays(n) {
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

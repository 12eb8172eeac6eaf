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
	h.apart = f.What + " The designer knows; please propose how to print it."
	if f.Remedy != "" {
		h.apart += " What would do: " + strings.ToLower(f.Remedy[:1]) + f.Remedy[1:]
	}
	h.out.Findings = slices.DeleteFunc(h.out.Findings, func(g finding.Finding) bool {
		return g.ID == f.ID || g.ID == "passes-needed" && g.Place.Page == 0
	})
	h.out.add(f)
}

// usedAnywhere are the toners of all pages in the order they are laid, or in that of the pages where no passes can be had.
func (h *handing) usedAnywhere() (used []string) {
	add := func(names []string) {
		for _, t := range names {
			if !slices.Contains(used, t) {
				used = append(used, t)
			}
		}
	}
	for _, st := range h.steps {
		add(st.pass.Toners)
	}
	for n := 1; n <= h.total; n++ {
		add(h.used[n])
	}
	return used
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

package app

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plan"
	"laydown/internal/report"
)

// planJob plans the pages that were prepared.
func (p *preparation) planJob(o *Outcome) error {
	defer p.req.Timer.Start("plan")()
	art, err := p.req.Setup.Open(p.req.File)
	if err != nil {
		return err
	}
	defer art.Close()
	p.planned, err = p.plan.outcome(PlanRequest{File: p.req.File, Setup: p.req.Setup}, art)
	if err != nil {
		return err
	}
	p.planned.File, p.planned.Pages, p.planned.Findings = o.File, p.plan.read, paintedOtherwise(o.Findings)
	return nil
}

// report is the plan as its section shows it.
func (o *PlanOutcome) report() *report.Plan {
	out := &report.Plan{Notes: o.Notes, Wishes: o.Wishes, UpWords: o.UpWords, Within: o.Register.Within, Between: o.Register.Between}
	if o.Impossible != nil {
		out.Impossible, out.Remedy = o.Impossible.What, o.Impossible.Remedy
	}
	if len(o.Plans) == 0 {
		return out
	}
	first := &o.Plans[0]
	out.Name, out.SetChanges, out.Why, out.Register, out.Reckoning = first.Name, first.SetChanges, first.why(), first.Risks, first.Reckoning
	out.Work = worked(first.Passes)
	for _, k := range first.KnockOut {
		out.KnockOuts = append(out.KnockOuts, k.Words())
	}
	out.KnockOuts = folded(out.KnockOuts)
	for _, p := range first.Piles {
		out.Piles = append(out.Piles, p.Words())
	}
	out.Why, out.Register, out.Piles = folded(out.Why), folded(out.Register), folded(out.Piles)
	for i := range o.Plans {
		p := &o.Plans[i]
		k := p.Reckoning
		w := report.Way{Name: p.Name, Passes: len(p.Passes), Changes: p.SetChanges, Minutes: k.Minutes.Text(0), Cost: k.Total.Text(2), Piece: k.PerPiece.Text(3)}
		if p.Against != nil {
			w.Look = p.Against.Look.Words()
		}
		out.Ways = append(out.Ways, w)
	}
	return out
}

// worked are the passes in the order of the work; those of pages that one set prints alike, one after the other, are one line.
func worked(passes []plan.Pass) (out []report.Work) {
	var pages [][]int
	for i, p := range passes {
		w := report.Work{Number: i + 1, Set: p.Set, Change: i > 0 && passes[i-1].SetUp != p.SetUp, OfPage: p.OfPage, Toners: strings.Join(p.Toners, ", ")}
		if n := len(out) - 1; n >= 0 && !w.Change && out[n].Set == w.Set && out[n].OfPage == w.OfPage && out[n].Toners == w.Toners {
			pages[n] = append(pages[n], p.Page)
			continue
		}
		out, pages = append(out, w), append(pages, []int{p.Page})
	}
	for i := range out {
		slices.Sort(pages[i])
		out[i].Pages, out[i].Several = finding.PageList(pages[i]), len(pages[i]) > 1
	}
	return out
}

// mostLines of a list of the plan stand in the report; plan.json holds all.
const mostLines = 60

// folded joins lines that say the same of several pages, and ends a list that is too long with how many more there are.
func folded(lines []string) (out []string) {
	at := map[string]int{}
	var pages [][]int
	var rest []string
	for _, l := range lines {
		m := ofPage.FindStringSubmatch(l)
		if m == nil {
			out, pages, rest = append(out, l), append(pages, nil), append(rest, "")
			continue
		}
		n, _ := strconv.Atoi(m[2]) // digits
		i, ok := at[m[1]+m[3]]
		if !ok {
			i = len(out)
			at[m[1]+m[3]] = i
			out, pages, rest = append(out, m[1]), append(pages, nil), append(rest, m[3])
		}
		pages[i] = append(pages[i], n)
	}
	for i := range out {
		switch len(pages[i]) {
		case 0:
		case 1:
			out[i] += fmt.Sprintf("age %d%s", pages[i][0], rest[i])
		default:
			out[i] += "ages " + finding.PageList(pages[i]) + rest[i]
		}
	}
	if n := len(out) - mostLines; n > 1 {
		out = append(out[:mostLines:mostLines], fmt.Sprintf("%d more lines like these stand in plan.json.", n))
	}
	return out
}

var ofPage = regexp.MustCompile(`^([Pp])age (\d{1,9})(\D.*)$`)

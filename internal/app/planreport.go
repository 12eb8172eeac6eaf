package app

import (
	"strings"

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
	p.planned.File, p.planned.Pages, p.planned.Findings = o.File, p.plan.numbers(), paintedOtherwise(o.Findings)
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
	for i, p := range first.Passes {
		out.Work = append(out.Work, report.Work{Number: i + 1, Set: p.Set, Change: i > 0 && first.Passes[i-1].SetUp != p.SetUp, Page: p.Page, OfPage: p.OfPage, Toners: strings.Join(p.Toners, ", ")})
	}
	for _, k := range first.KnockOut {
		out.KnockOuts = append(out.KnockOuts, k.Words())
	}
	for _, p := range first.Piles {
		out.Piles = append(out.Piles, p.Words())
	}
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

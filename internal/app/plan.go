package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/plan"
	"laydown/internal/plan/sheet"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// PlanRequest asks how a job goes through the press.
type PlanRequest struct {
	File     string
	Setup    *Setup
	Pages    string // as ParsePages
	Quantity int    // finished pieces; 0 = as the job says
	Breaks   []int  // other quantities; nil = as the job says
	Up       int    // pieces on a sheet; 0 = as many as fit
	Progress Progress
	Timer    *instrument.Timer
}

// PlanOutcome is how a job goes through the press, as wished and otherwise.
type PlanOutcome struct {
	File     string   `json:"file"`
	Press    string   `json:"press"`
	Stock    string   `json:"stock,omitempty"`
	Pages    []int    `json:"pages"`
	UpWords  string   `json:"pieces_on_a_sheet_words"` // where the number of pieces on a sheet comes from
	Wishes   []string `json:"wishes"`
	Notes    []string `json:"notes"` // what to know before reading on
	Register struct {
		Within  float64 `json:"within_mm"`
		Between float64 `json:"between_mm"`
	} `json:"register"`
	Impossible *PlanImpossible   `json:"impossible,omitempty"` // why it cannot be printed as wished; plans then give something up
	Plans      []PlanChoice      `json:"plans"`                // the first is the one to print by
	Cautions   []string          `json:"cautions"`
	Findings   []finding.Finding `json:"findings"` // what was painted less or differently than written

	requested *plan.Request
}

// PlanImpossible is why no plan keeps all wishes.
type PlanImpossible struct {
	What   string             `json:"what"`
	Remedy string             `json:"remedy"`
	Relax  [][]plan.Sacrifice `json:"relax"` // the smallest sets of things to give up, any of which helps
}

// PlanChoice is a plan with what it means on this artwork.
type PlanChoice struct {
	Name string `json:"name"`
	*plan.Plan
	Piles    []Pile      `json:"piles"`
	KnockOut []KnockOut  `json:"knock_outs"`
	Risks    []string    `json:"register_words"`          // which toners meet across passes, in words
	Against  *Difference `json:"against_first,omitempty"` // nil for the first
}

// Difference is what another plan saves or costs against the first; nil figures cannot be told.
type Difference struct {
	Passes     int         `json:"passes"`
	SetChanges int         `json:"set_changes"`
	Minutes    *float64    `json:"minutes"`
	Cost       *float64    `json:"cost"`
	Look       *LookChange `json:"look"`
}

// Side gives the passes of a page; nil when the plan has none for it.
func (c *PlanChoice) Side(page int) []press.Pass {
	for i, p := range c.Pages() {
		if p == page {
			return c.Plan.Side(i)
		}
	}
	return nil
}

// why is why the passes are as they are, and what that does against the usual order.
func (c *PlanChoice) why() []string {
	out := slices.Clone(c.Plan.Why)
	for _, u := range c.Unusual {
		out = append(out, fmt.Sprintf("Page %d: %s Wish it otherwise if that matters.", u.Page, u.Words))
	}
	return out
}

// Plan measures the pages of artwork and plans the job. The error is a *CannotError where nothing could be measured; a job
// that cannot be printed as wished is an outcome.
func Plan(ctx context.Context, req PlanRequest) (*PlanOutcome, error) {
	if req.Setup.Press == nil {
		return nil, cannot(nil, "name one with --press or --job", "passes are planned for a press")
	}
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	pages, err := ParsePages(req.Pages, art.Doc.NumPages())
	if err != nil {
		return nil, err
	}
	pl := newPlanner(req.Setup, len(pages))
	var findings finding.Collector
	for i, n := range pages {
		req.Progress.tell("page", i, len(pages))
		sh, page, err := art.measured(ctx, req.Setup, n, shareDPI(measureDPI, len(pages)), req.Timer)
		if err != nil {
			return nil, err
		}
		if err := pl.add(sh, page); err != nil {
			return nil, err
		}
		for _, f := range sh.Findings.Sorted() {
			if f.Incomplete || f.Class == finding.OverLimit {
				findings.Add(f)
			}
		}
	}
	req.Progress.tell("page", len(pages), len(pages))
	o, err := pl.outcome(req, art)
	if err != nil {
		return nil, err
	}
	o.File, o.Pages, o.Findings = art.Name(), pages, findings.Sorted()
	if o.Findings == nil {
		o.Findings = []finding.Finding{}
	}
	return o, nil
}

// measureDPI is fine enough for the mean tint of small type.
const measureDPI = 300

// measured reads and paints a page to be planned.
func (a *Artwork) measured(ctx context.Context, s *Setup, n int, dpi float64, t *instrument.Timer) (*Sheet, *check.Page, error) {
	sh, err := a.Read(ctx, s, n, ReadOptions{Timer: t})
	if err != nil {
		return nil, nil, err
	}
	region := BoxWork.Region(&sh.List.Page)
	dpi = fittingDPI(region, dpi, sh.Target.Set.Len())
	if err := checkSize(region, dpi); err != nil {
		return nil, nil, err
	}
	st := &plate.Stack{}
	if err := paint.Render(ctx, sh.paintJob(region, dpi, t), st); err != nil {
		return nil, nil, err
	}
	return sh, sh.checkPage(s, st, region), nil
}

// outcome plans what was measured.
func (pl *planner) outcome(req PlanRequest, art *Artwork) (*PlanOutcome, error) {
	s := req.Setup
	o := &PlanOutcome{Press: s.Press.Title, Plans: []PlanChoice{}, Wishes: []string{}, Notes: []string{}, Cautions: []string{}}
	o.Notes = append(o.Notes, pl.notes...)
	if pl.alike != nil {
		if words := pl.alike.note(); words != "" {
			o.Notes = append(o.Notes, "Piles of toner and changes in the look are "+words+".")
		}
	}
	o.Register.Within, o.Register.Between = float64(s.Press.Register.Within), float64(s.Press.Register.Between)
	if s.Stock != nil {
		o.Stock = s.Stock.Title
	}
	r := pl.request()
	r.Quantity, r.Breaks, r.Up = req.Quantity, req.Breaks, req.Up
	if s.Job != nil {
		if r.Quantity == 0 {
			r.Quantity = s.Job.Quantity
		}
		if r.Breaks == nil {
			r.Breaks = s.Job.Breaks
		}
	}
	o.UpWords = "as asked for"
	if r.Up == 0 {
		r.Up, o.UpWords = s.onSheet(art)
	}
	if note := pl.joined(r, art.Doc.NumPages()); note != "" {
		o.Notes = append(o.Notes, note)
	}
	for _, w := range r.Wishes {
		o.Wishes = append(o.Wishes, w.Text)
	}
	o.requested = r
	plans, err := plan.Alternatives(r)
	var e *plan.Impossible
	if errors.As(err, &e) {
		o.Impossible = &PlanImpossible{What: e.What, Remedy: e.Remedy, Relax: e.Relax}
		if o.Impossible.Relax == nil {
			o.Impossible.Relax = [][]plan.Sacrifice{}
		}
	} else if err != nil {
		return nil, err
	}
	for i, p := range plans {
		c := PlanChoice{Name: p.Name(), Plan: p, KnockOut: pl.across(p)}
		if c.Piles, err = pl.pilesOf(p); err != nil {
			return nil, err
		}
		if c.KnockOut == nil {
			c.KnockOut = []KnockOut{}
		}
		if c.Risks = s.registerWords(p.Register); c.Risks == nil {
			c.Risks = []string{}
		}
		if i > 0 {
			if c.Against, err = pl.against(plans[0], p); err != nil {
				return nil, err
			}
		}
		o.Plans = append(o.Plans, c)
	}
	o.Cautions = append(o.Cautions, cautions(s, pl.used())...)
	return o, nil
}

// used lists the toners of all pages.
func (pl *planner) used() (out []string) {
	for _, s := range pl.sides {
		for _, t := range s.Toners {
			if !slices.Contains(out, t.Name) {
				out = append(out, t.Name)
			}
		}
	}
	return out
}

// against compares a plan with the first.
func (pl *planner) against(first, p *plan.Plan) (*Difference, error) {
	d := &Difference{Passes: len(p.Passes) - len(first.Passes), SetChanges: p.SetChanges - first.SetChanges}
	less := func(a, b plan.Figure) *float64 {
		if a.Value == nil || b.Value == nil {
			return nil
		}
		v := *b.Value - *a.Value
		return &v
	}
	d.Minutes = less(first.Reckoning.Minutes, p.Reckoning.Minutes)
	d.Cost = less(first.Reckoning.Total, p.Reckoning.Total)
	if pl.looks == nil {
		pl.looks = &looks{pl: pl, first: first}
	}
	var err error
	d.Look, err = pl.looks.change(p)
	return d, err
}

// onSheet counts how many pieces lie on a sheet in the layout that the sheets are made in.
func (s *Setup) onSheet(art *Artwork) (n int, words string) {
	m := &imposer{req: SheetsRequest{Setup: s}, s: s, art: art, sink: &finding.Collector{}, out: &SheetsOutcome{}}
	if s.Job != nil && s.Job.Sheets != nil {
		m.wish = *s.Job.Sheets
	}
	err := m.plan()
	var laid *sheet.Plan
	if err == nil {
		laid, err = sheet.New(m.job)
	}
	if err != nil || laid.Yield.PerSheet == 0 {
		return 1, "no layout of sheets can be made, so one on a sheet is reckoned"
	}
	size := laid.Layout.Sheet.Size
	n = laid.Yield.PerSheet
	words = fmt.Sprintf("%s on %g × %g mm", laid.Layout.Kind, size.W, size.H)
	if m.wish.Booklet != nil {
		// A place holds a leaf of four pages, where a leaf of the plan has two.
		n *= 2
		words = fmt.Sprintf("%d places of four pages, ", laid.Yield.PerSheet) + words
	}
	return n, words
}

// registerWords are the pairs that meet across passes as lines, the upper toners of one pass over the same lower one together.
// Where a wish chokes the lower one by less than the passes may be off, the line says how far it may show.
func (s *Setup) registerWords(list []plan.Register) (out []string) {
	for len(list) > 0 {
		r := list[0]
		lower := processWord(r.Lower)
		var uppers []string
		area, edge := 0.0, 0.0
		rest := list[:0:0]
		for _, q := range list {
			if q.Page != r.Page || q.Passes != r.Passes || processWord(q.Lower) != lower {
				rest = append(rest, q)
				continue
			}
			if q.AreaMM2 >= leastLying || q.EdgeMM >= leastEdge {
				if !slices.Contains(uppers, q.Upper) {
					uppers = append(uppers, q.Upper)
				}
				area, edge = max(area, q.AreaMM2), max(edge, q.EdgeMM)
			}
		}
		list = rest
		if uppers == nil {
			continue
		}
		var how []string
		if area >= leastLying {
			how = append(how, "lie on each other on up to "+areaOf(area))
		}
		if edge >= leastEdge {
			how = append(how, fmt.Sprintf("adjoin along up to %.0f mm", edge))
		}
		line := fmt.Sprintf("page %d: %s of pass %d and %s of pass %d %s", r.Page, lower, r.Passes[0], strings.Join(uppers, ", "), r.Passes[1], strings.Join(how, " and "))
		if choke, ok := s.chokeOf(r.Lower, uppers); ok && choke < r.OffMM {
			line += fmt.Sprintf("; choked by %.2g mm, %s may show by %.2g mm at the edges", choke, r.Lower, r.OffMM-choke)
		}
		out = append(out, line+".")
	}
	return out
}

// processWord is the name of a toner, of all process toners the same.
func processWord(toner string) string {
	if slices.Contains(colourant.ProcessNames[:], toner) {
		return "process colours"
	}
	return toner
}

// leastLying is the area from which toners count as lying on each other, in mm².
const leastLying = 0.5

// chokeOf is how far a wish keeps a toner inside those it lies under.
func (s *Setup) chokeOf(lower string, uppers []string) (mm float64, ok bool) {
	if s.Job == nil {
		return 0, false
	}
	for _, w := range s.Job.Wishes.Underlay {
		if w.Toner != lower {
			continue
		}
		for _, name := range w.Under {
			for _, part := range s.parts(name) {
				if slices.Contains(uppers, part) {
					return float64(w.Choke), true
				}
			}
		}
	}
	return 0, false
}

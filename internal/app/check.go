package app

import (
	"context"
	"fmt"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/press"
)

// Progress is told how far long work is. A nil Progress is off.
type Progress func(what string, done, total int)

func (p Progress) tell(what string, done, total int) {
	if p != nil {
		p(what, done, total)
	}
}

// Outcome is what the checks say of an artwork.
type Outcome struct {
	File     string            `json:"file"`
	Press    string            `json:"press,omitempty"`
	Stock    string            `json:"stock,omitempty"`
	Pages    []int             `json:"pages"`
	FailOn   finding.Severity  `json:"fail_on"`
	Clean    bool              `json:"clean"`
	Findings []finding.Finding `json:"findings"`
	Shown    []Shown           `json:"shown,omitempty"` // pages of a long document that report or proof show in full; all others are shown small
}

// CheckRequest says what to check.
type CheckRequest struct {
	File   string
	Setup  *Setup
	Pages  string  // as ParsePages
	DPI    float64 // resolution the plates are looked at; 0 = DefaultDPI
	FailOn finding.Severity
	// Each is called with every page after it was painted and checked; nil = not wanted.
	Each     func(*Sheet, *check.Page) error
	Progress Progress
	Timer    *instrument.Timer
}

// DefaultDPI is the resolution artwork is looked at unless told otherwise.
const DefaultDPI = 300

// Check reads, paints and checks the pages one after the other, so that only one lies in memory.
func Check(ctx context.Context, req CheckRequest) (*Outcome, error) {
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	pages, err := ParsePages(req.Pages, art.Doc.NumPages())
	if err != nil {
		return nil, err
	}
	s := req.Setup
	out := &Outcome{File: art.Name(), FailOn: req.FailOn, Pages: pages}
	if s.Press != nil {
		out.Press = s.Press.Title
	}
	if s.Stock != nil {
		out.Stock = s.Stock.Title
	}
	dpi := req.DPI
	if dpi == 0 {
		dpi = DefaultDPI
	}
	in := &check.Input{Press: s.Press, Stock: s.Stock, Job: s.Job, Settings: s.checks, Doc: art.Doc}
	for i, n := range pages {
		req.Progress.tell("page", i, len(pages))
		fs, err := checkOne(ctx, art, req, in, n, dpi)
		if err != nil {
			return nil, err
		}
		out.Findings = append(out.Findings, fs...)
	}
	req.Progress.tell("page", len(pages), len(pages))
	if err := check.RunFile(ctx, in, art.Findings); err != nil {
		return nil, err
	}
	// Findings of shared things (fonts, images, the file itself) are complete only now.
	out.Findings = append(out.Findings, art.Findings.Sorted()...)
	out.Findings = in.Dress(out.Findings)
	finding.Sort(out.Findings)
	s.offer(out.Findings)
	out.Clean = clean(out.Findings, req.FailOn)
	if out.Findings == nil {
		out.Findings = []finding.Finding{}
	}
	return out, nil
}

// add adds a finding about the whole run and decides anew.
func (o *Outcome) add(f finding.Finding) {
	o.Findings = append(o.Findings, f)
	finding.Sort(o.Findings)
	o.Clean = clean(o.Findings, o.FailOn)
}

// clean is the verdict: nothing at or above the level, and nothing left unseen.
func clean(fs []finding.Finding, failOn finding.Severity) bool {
	for _, f := range fs {
		if f.Severity >= failOn || f.Incomplete {
			return false
		}
	}
	return true
}

func checkOne(ctx context.Context, art *Artwork, req CheckRequest, in *check.Input, n int, dpi float64) ([]finding.Finding, error) {
	sh, err := art.Read(ctx, req.Setup, n, ReadOptions{Timer: req.Timer})
	if err != nil {
		return nil, err
	}
	art.outputIntents().OutputIntents(art.pageDict(n)) // tells of those that cannot be used, needed or not
	region := BoxWork.Region(&sh.List.Page)
	st, err := sh.stack(ctx, region, dpi, req.Timer)
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		sh.Findings.Add(finding.Finding{ID: "page-not-painted", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What: fmt.Sprintf("Page %d could not be painted: %v.", n, err), Place: finding.Place{Page: n}})
		return sh.Findings.Sorted(), nil
	}
	page := sh.checkPage(req.Setup, st, region)
	end := req.Timer.Start("check")
	if err := check.Run(ctx, in, page, sh.Findings); err != nil {
		return nil, err
	}
	end()
	if req.Each != nil {
		if err := req.Each(sh, page); err != nil {
			return nil, err
		}
	}
	return sh.Findings.Sorted(), nil
}

// laydownOf lists the toners of the page in laydown order: those of the passes first, then plates
// that no pass prints, in plate order.
func laydownOf(p *check.Page) []int {
	var order []int
	seen := map[int]bool{}
	add := func(i int) {
		if !seen[i] {
			seen[i] = true
			order = append(order, i)
		}
	}
	for _, name := range press.LaydownOrder(p.Passes) {
		if i, ok := p.Plates.Set.Lookup(name); ok {
			add(i)
		}
	}
	for i := range p.Plates.Set.Len() {
		if p.Plates.Plane(i) != nil {
			add(i)
		}
	}
	return order
}

// trimStats measures each plate inside the trim.
func trimStats(p *check.Page) []plateStats {
	x0, y0, x1, y1 := p.PixelRect(p.List.Page.Trim)
	out := make([]plateStats, p.Plates.Set.Len())
	n := float64((x1 - x0) * (y1 - y0))
	for i := range out {
		plane := p.Plates.Plane(i)
		if plane == nil || n == 0 {
			continue
		}
		sum, any, most := 0, 0, byte(0)
		for y := y0; y < y1; y++ {
			for _, v := range plane[y*p.Plates.Width+x0 : y*p.Plates.Width+x1] {
				sum += int(v)
				if v != 0 {
					any++
				}
				most = max(most, v)
			}
		}
		out[i] = plateStats{float64(sum) / n / 2.55, float64(any) / n * 100, float64(most) / 2.55}
	}
	return out
}

// plateStats are percentages: mean tint, area with toner, largest tint.
type plateStats struct{ mean, area, most float64 }

package app

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"path/filepath"
	"slices"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/look"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
	"laydown/internal/report"
)

// PrepareRequest is the main job.
type PrepareRequest struct {
	File     string
	Setup    *Setup
	Out      string // folder
	Pages    string
	DPI      float64
	FailOn   finding.Severity
	Progress Progress
	Timer    *instrument.Timer

	each func(*Sheet, *check.Page) error // told of every page; nil = nobody asks
	plan *planner                        // of somebody who needs it too; nil = one of its own
}

// Prepare reads, separates, checks, looks and plans, and writes Out/report.html, findings.json,
// plates.json, plates/ and look/. Of more than mostShown pages, all are checked, planned and shown small in the report; plates
// and large looks are those of the pages in full.
func Prepare(ctx context.Context, req PrepareRequest) (*Outcome, error) {
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	total := art.Doc.NumPages()
	art.Close()
	numbers, err := ParsePages(req.Pages, total)
	if err != nil {
		return nil, err
	}
	p := &preparation{req: req, index: &PlatesIndex{File: req.Setup.called(req.File), Pages: []PlatesPage{}, Findings: []finding.Finding{}},
		byPage: map[int]*report.Page{}, plan: req.plan}
	if p.plan == nil {
		p.plan = newPlanner(req.Setup, len(numbers))
	}
	o, err := p.prepare(ctx, numbers)
	if err != nil {
		p.results.undo()
		return nil, err
	}
	return o, nil
}

func (p *preparation) prepare(ctx context.Context, numbers []int) (*Outcome, error) {
	req := p.req
	for _, dir := range []string{req.Out, filepath.Join(req.Out, "plates"), filepath.Join(req.Out, "look")} {
		if err := p.results.folder(dir); err != nil {
			return nil, err
		}
	}
	dpi := shareDPI(req.DPI, len(numbers))
	full := func(sh *Sheet, page *check.Page) error { return p.page(ctx, sh, page) }
	each := full
	if p.few(len(numbers)); len(numbers) > mostShown {
		p.survey = newSurvey(req.Setup, len(numbers))
		each = p.survey.add
	}
	o, err := Check(ctx, CheckRequest{File: req.File, Setup: req.Setup, Pages: req.Pages, DPI: dpi, FailOn: req.FailOn,
		Each: func(sh *Sheet, page *check.Page) error {
			if req.each != nil {
				if err := req.each(sh, page); err != nil {
					return err
				}
			}
			if err := p.plan.add(sh, page); err != nil {
				return err
			}
			return each(sh, page)
		}, Progress: req.Progress, Timer: req.Timer})
	if err != nil {
		return nil, err
	}
	if p.survey != nil {
		p.survey.gather(numbers, o.Findings)
		o.Shown = p.survey.choose()
		p.few(len(o.Shown))
		if err := req.Setup.eachPage(ctx, req.File, pagesShown(o.Shown), shareDPI(req.DPI, len(o.Shown)), req.Progress, req.Timer, full); err != nil {
			return nil, err
		}
		p.used = p.survey.used
	}
	p.index.Findings = append(p.index.Findings, paintedOtherwise(o.Findings)...)
	if dpi < req.DPI {
		o.add(finding.Finding{ID: "looked-at-coarsely", Severity: finding.Note, Class: finding.OverLimit,
			What:   fmt.Sprintf("The document is so long that it was looked at in %g dpi instead of %g.", dpi, req.DPI),
			Why:    "Very fine detail may go unseen at this resolution.",
			Remedy: fmt.Sprintf("Ask for at most %d pages at a time.", fewPages)})
	}
	files := map[string]any{"findings.json": o, "plates.json": p.index}
	if req.Setup.Press != nil && len(p.plan.sides) > 0 {
		if err := p.planJob(o); err != nil {
			return nil, err
		}
		files["plan.json"] = p.planned
	}
	defer req.Timer.Start("write report")()
	for name, v := range files {
		path := filepath.Join(req.Out, name)
		if err := writeJSON(path, v); err != nil {
			return nil, err
		}
		p.results.add(path)
	}
	return o, writeFile(filepath.Join(req.Out, "report.html"), func(w io.Writer) error { return report.Write(w, p.report(o)) })
}

// paintedOtherwise are the findings that make plates differ from what is written.
func paintedOtherwise(fs []finding.Finding) []finding.Finding {
	var out []finding.Finding
	for _, f := range fs {
		if f.Incomplete {
			out = append(out, f)
		}
	}
	return out
}

// fewPages are looked at as finely as asked for.
const fewPages = 4

// shareDPI lowers the resolution of long documents, so that a book does not take an hour.
func shareDPI(dpi float64, pages int) float64 {
	switch {
	case pages > 12:
		return min(dpi, 150)
	case pages > fewPages:
		return min(dpi, 200)
	}
	return dpi
}

// few says how many pages are shown in full.
func (p *preparation) few(pages int) {
	p.longest, p.both = reportPixelsOfMany, pages <= fewPages
	if p.both {
		p.longest = reportPixels
	}
}

// preparation collects what the report needs while the pages pass by.
type preparation struct {
	req     PrepareRequest
	results results
	longest int     // bound on the report's pictures, pixels
	both    bool    // there is time to look at what shows through from the other side
	survey  *survey // of a long document; nil = all pages are shown in full
	index   *PlatesIndex
	byPage  map[int]*report.Page
	order   []int
	used    map[string]bool
	plan    *planner
	planned *PlanOutcome // nil without a press
}

// Bounds on the pictures along their longer side: in the report, and in the folder of looks.
const (
	reportPixels       = 1500
	reportPixelsOfMany = 900 // when there are more than fewPages, all of which wait in memory
	lookPixels         = 6000
	thumbPixels        = 600 // single plates in the report
)

// reduction is the whole factor that brings a stack's longer side within most pixels.
func reduction(st *plate.Stack, most int) int { return (max(st.Width, st.Height) + most - 1) / most }

// page writes what the folder holds of one page.
func (p *preparation) page(ctx context.Context, sh *Sheet, page *check.Page) error {
	defer p.req.Timer.Start("write plates and look")()
	st := page.Plates
	entry, err := p.results.writeStack(st, filepath.Join(p.req.Out, "plates"), "plates/", sh.Number)
	if err != nil {
		return err
	}
	p.index.Pages = append(p.index.Pages, *entry)
	m, layers, err := p.req.Setup.model(&laidPage{sh, page}, LookView{})
	if err != nil {
		return err
	}
	var behind *look.Behind
	if p.both {
		if behind, err = sh.art.behind(ctx, p.req.Setup, &laidPage{sh, page}, page.Region, st.DPI, nil); err != nil {
			return err
		}
	}
	img, err := picture(m, st, reduction(st, lookPixels), behind)
	if err != nil {
		return err
	}
	file := filepath.Join(p.req.Out, "look", fmt.Sprintf("page-%d.png", sh.Number))
	if err := writeFile(file, func(w io.Writer) error {
		enc := png.Encoder{CompressionLevel: png.BestSpeed}
		return enc.Encode(w, img)
	}); err != nil {
		return err
	}
	p.results.add(file)
	reduce, small := reduction(st, p.longest), img
	if reduce > 1 {
		if small, err = picture(m, st, reduce, behind); err != nil {
			return err
		}
	}
	rp := &report.Page{Number: sh.Number, DPI: st.DPI, Look: small,
		WidthMM: float64(st.Width) * 25.4 / st.DPI, HeightMM: float64(st.Height) * 25.4 / st.DPI, TrimMM: trimBox(page)}
	if rp.Strip, err = shinyStrip(page, m, layers); err != nil {
		return err
	}
	rp.Sure = p.sure(sh, m, layers)
	rp.Plates = p.plates(page, m, layers, reduce)
	rp.Passes, rp.PassNote = p.passes(page, m, layers)
	p.byPage[sh.Number] = rp
	p.order = append(p.order, sh.Number)
	return nil
}

// sure tells how well the toners are known, with their figures in words.
func (p *preparation) sure(sh *Sheet, m *look.Model, layers []look.Layer) (out []report.Sure) {
	stock, err := p.req.Setup.stock()
	if err != nil {
		return nil
	}
	for _, t := range tonerLooks(stock, LookView{}.side(sh.Number), m, layers) {
		out = append(out, report.Sure{Toner: t.Toner, Words: t.Words, Expected: t.Expected, Worst: t.Worst, Figures: t.Figures()})
	}
	return out
}

func trimBox(page *check.Page) finding.BoxMM {
	x0, y0, x1, y1 := page.PixelRect(page.List.Page.Trim)
	mm := 25.4 / page.Plates.DPI
	return finding.BoxMM{X: float64(x0) * mm, Y: float64(y0) * mm, W: float64(x1-x0) * mm, H: float64(y1-y0) * mm}
}

// swatch is the colour of a toner's solid on the stock, "" when the look has no such layer.
func swatch(m *look.Model, layers []look.Layer, plateIndex int) string {
	most := 0
	for _, l := range layers {
		most = max(most, l.Plate+1)
	}
	tints := make([]uint8, max(most, plateIndex+1))
	tints[plateIndex] = 255
	return css(m.SRGB(tints))
}

func (p *preparation) plates(page *check.Page, m *look.Model, layers []look.Layer, reduce int) []report.Plate {
	stats := trimStats(page)
	var out []report.Plate
	order := laydownOf(page)
	small := page.Plates.Downscale(max(reduce, reduction(page.Plates, thumbPixels)))
	for _, i := range order {
		c := page.Plates.Set.At(i)
		rp := report.Plate{Name: c.Name, Kind: c.Kind.String(), Coverage: stats[i].mean, Area: stats[i].area, Max: stats[i].most,
			Swatch: swatch(m, layers, i)}
		if plane := small.Plane(i); hasToner(plane) {
			g := image.NewGray(image.Rect(0, 0, small.Width, small.Height))
			for k, v := range plane {
				g.Pix[k] = 255 - v
			}
			rp.Picture = g
		}
		out = append(out, rp)
		if p.used == nil {
			p.used = map[string]bool{}
		}
		p.used[c.Name] = p.used[c.Name] || hasToner(page.Plates.Plane(i))
	}
	return out
}

func (p *preparation) passes(page *check.Page, m *look.Model, layers []look.Layer) ([]report.Pass, string) {
	switch {
	case p.req.Setup.Press == nil:
		return nil, "No press was given, so there are no passes to lay out."
	case page.PassError != nil:
		return nil, fmt.Sprintf("No passes can be laid out: %v.", page.PassError)
	case len(page.Passes) == 0:
		return nil, "The page has no toner on it."
	}
	var out []report.Pass
	for _, pass := range page.Passes {
		rp := report.Pass{Set: "set " + pass.Set.Name}
		for _, name := range pass.Set.Stations {
			l := report.Layer{Name: name, Used: slices.Contains(pass.Toners, name), Swatch: "transparent"}
			if i, ok := page.Plates.Set.Lookup(name); ok && l.Used {
				l.Swatch = swatch(m, layers, i)
			}
			rp.Toners = append(rp.Toners, l)
		}
		out = append(out, rp)
	}
	return out, ""
}

func (p *preparation) report(o *Outcome) *report.Data {
	d := &report.Data{File: o.File, Press: o.Press, Stock: o.Stock, Version: Version(), Clean: o.Clean, FailOn: o.FailOn}
	stock, err := p.req.Setup.stock()
	if err == nil {
		if d.Stock == "" {
			d.Stock = stock.Title + " (none was given)"
		}
		if m, err := look.NewModel(stock, press.Front, nil); err == nil {
			d.StockSwatch = css(m.SRGB(nil))
		}
	}
	var rest []finding.Finding
	for _, f := range o.Findings {
		switch rp, ok := p.byPage[f.Place.Page]; {
		case ok:
			rp.Findings = append(rp.Findings, f)
		case f.Place.Page > 0 && p.survey != nil:
			rest = append(rest, f)
		default:
			d.General = append(d.General, f)
		}
	}
	if p.survey != nil {
		d.Long = p.survey.report(o.Shown)
		d.Long.Rest = finding.Kinds(rest)
	}
	for _, n := range p.order {
		d.Pages = append(d.Pages, *p.byPage[n])
	}
	var used []string
	for name, on := range p.used {
		if on {
			used = append(used, name)
		}
	}
	d.Cautions = cautionsOn(stock, p.req.Setup, used)
	if p.planned != nil {
		d.Plan = p.planned.report()
	}
	return d
}

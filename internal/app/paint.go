package app

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/limits"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// Box names a page box.
type Box string

// Boxes a page can be rendered to. BoxWork is all that matters for printing: the bleed and the crop box.
const (
	BoxCrop  Box = "crop"
	BoxMedia Box = "media"
	BoxTrim  Box = "trim"
	BoxBleed Box = "bleed"
	BoxWork  Box = "work"
)

// Region is the box of a page in list space.
func (b Box) Region(p *displist.Page) geom.Rect {
	switch b {
	case BoxMedia:
		return p.Media
	case BoxTrim:
		return p.Trim
	case BoxBleed:
		return p.Bleed
	case BoxWork:
		return p.Crop.Union(p.Bleed)
	}
	return p.Crop
}

// paintJob makes the painter's job for a sheet.
func (sh *Sheet) paintJob(region geom.Rect, dpi float64, t *instrument.Timer) paint.Job {
	return paint.Job{List: sh.List, Target: sh.Target, DPI: dpi, Region: region, Sink: sh.Findings, Timer: t}
}

// checkSize refuses pages no plate can be made of.
func checkSize(region geom.Rect, dpi float64) error {
	w, h := paint.Size(region, dpi)
	switch {
	case w == 0 || h == 0:
		return cannot(nil, "set the page boxes", "the page has no area")
	case w > limits.MaxPlateSide || h > limits.MaxPlateSide || w*h > limits.MaxPagePixels:
		return cannot(nil, "choose a lower --dpi", "at %g dpi the page would have %d × %d pixels", dpi, w, h)
	}
	return nil
}

// Bounds on what one page may hold in memory while it is looked at.
const (
	stackPixels = 24_000_000  // per plate
	stackBytes  = 200_000_000 // all plates together, if every one is full
	coarseDPI   = 120         // below it findings about fine detail are not to be trusted
)

// fittingDPI lowers a resolution until all plates of the region fit the bounds.
func fittingDPI(region geom.Rect, dpi float64, plates int) float64 {
	area := region.W() * region.H() / (72 * 72) // square inches
	most := math.Min(stackPixels, float64(stackBytes)/float64(plates))
	if area*dpi*dpi <= most {
		return dpi
	}
	return math.Floor(math.Sqrt(most / area))
}

// stack paints a region into memory, in a lower resolution when it would not fit.
func (sh *Sheet) stack(ctx context.Context, region geom.Rect, dpi float64, t *instrument.Timer) (*plate.Stack, error) {
	fit := fittingDPI(region, dpi, sh.Target.Set.Len())
	if fit < 1 {
		return nil, cannot(nil, "set the page boxes", "page %d is too large to be painted", sh.Number)
	}
	if fit < dpi {
		sh.tellCoarse(fit, dpi)
	}
	if err := checkSize(region, fit); err != nil {
		return nil, err
	}
	st := &plate.Stack{}
	err := paint.Render(ctx, sh.paintJob(region, fit, t), st)
	return st, err
}

// tellCoarse says that a page is looked at in less than the resolution asked for.
func (sh *Sheet) tellCoarse(fit, dpi float64) {
	f := finding.Finding{ID: "looked-at-coarsely", Severity: finding.Note, Class: finding.OverLimit,
		What: fmt.Sprintf("The page is so large that it was looked at in %.0f dpi instead of %.0f.", fit, dpi),
		Why:  "Very fine detail may go unseen at this resolution.", Remedy: "Check the fine parts in a file of their own.",
		Place: finding.Place{Page: sh.Number}}
	if fit < coarseDPI {
		f.Severity = finding.Warning
	}
	sh.Findings.Add(f)
}

// picturePixels of one picture at most: A3 at 600 dpi has 70 million.
const picturePixels = 100_000_000

// pictureDPI lowers a resolution until a picture of the region, which is made band by band, is no larger than useful.
func (sh *Sheet) pictureDPI(region geom.Rect, dpi float64) float64 {
	most := math.Sqrt(picturePixels / (region.W() * region.H() / (72 * 72)))
	if region.Empty() || dpi <= most {
		return dpi
	}
	sh.tellCoarse(math.Floor(most), dpi)
	return math.Floor(most)
}

// checkPage makes what the rules look at.
func (sh *Sheet) checkPage(s *Setup, st *plate.Stack, region geom.Rect) *check.Page {
	p := &check.Page{List: sh.List, Target: sh.Target, Plates: st, Region: region}
	p.Passes, p.PassError = s.passes(p)
	return p
}

// passes lays the page's toners out in passes, as wished.
func (s *Setup) passes(p *check.Page) ([]press.Pass, error) {
	if s.Press == nil {
		return nil, nil
	}
	var under []press.Under
	for _, w := range s.wished(p) {
		for _, u := range w.orders {
			if meet(p, u) {
				under = append(under, u)
			}
		}
	}
	return s.Press.Passes(p.Used(), under...)
}

func hasToner(plane []byte) bool {
	for _, v := range plane {
		if v != 0 {
			return true
		}
	}
	return false
}

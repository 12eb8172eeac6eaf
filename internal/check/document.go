package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

func partOf(k int) func(separate.MixPart) bool {
	return func(m separate.MixPart) bool { return m.Plate == k }
}

// usualBleed is what is asked for when a job names none.
const usualBleed = 3.0 // mm; STANDARDS 7.5, common practice, no source

func (in *Input) bleed() float64 {
	if in.Job != nil && in.Job.Bleed > 0 {
		return float64(in.Job.Bleed)
	}
	return usualBleed
}

var boxesMissing = Rule{
	ID:       "finished-size-unclear",
	Measures: "the TrimBox of the page, and its size against the finished size of the job",
	Figure:   "0.3 mm",
	Source:   "ISO 32000-2, 14.11.2 (TrimBox is not inherited); figure: common practice, no source",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		pg := p.List.Page
		w, h := pg.Trim.W()/geom.PointsPerMM, pg.Trim.H()/geom.PointsPerMM
		if !pg.HasTrim {
			out.Add(finding.Finding{
				ID: "finished-size-unclear", Severity: finding.Warning,
				What:   fmt.Sprintf("The page has no TrimBox; the whole page of %.1f × %.1f mm is taken as the finished size.", w, h),
				Why:    "The printer cannot tell where to cut, and how far the artwork bleeds is unknown.",
				Remedy: "Export with trim and bleed boxes, or set the TrimBox to the finished size.",
				Place:  p.place(geom.Rect{}, nil),
			})
		}
		if in.Job == nil || in.Job.Finished == nil {
			return nil
		}
		fw, fh := float64(in.Job.Finished.Width), float64(in.Job.Finished.Height)
		off := math.Max(math.Abs(w-fw), math.Abs(h-fh))
		if off <= .3 {
			return nil
		}
		f := finding.Finding{
			ID: "finished-size-differs", Severity: finding.Error,
			What:    fmt.Sprintf("The page is %.1f × %.1f mm finished; the job asks for %.1f × %.1f mm.", w, h, fw, fh),
			Why:     "It will be cut to the wrong size, or scaled by somebody who has to guess.",
			Remedy:  "Set up the artwork in the finished size, or correct the job.",
			Place:   p.place(geom.Rect{}, nil),
			Figures: map[string]float64{"width_mm": round2(w), "height_mm": round2(h)},
		}
		if math.Max(math.Abs(w-fh), math.Abs(h-fw)) <= .3 {
			f.Severity = finding.Note
			f.What += " It is turned by a quarter."
		}
		out.Add(f)
		return nil
	},
}

var bleedMissing = Rule{
	ID:       "bleed-missing",
	Measures: "toner at the trim edge that does not go on to the end of the bleed, edge by edge and plate by plate",
	Figure:   "bleed of the job, else 3 mm",
	Source:   "common practice, no source",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		want := in.bleed()
		trim := p.List.Page.Trim
		x0, y0, x1, y1 := p.PixelRect(trim)
		px := p.px()
		in1 := max(1, int(math.Round(.3/px))) // look 0.3 mm inside the trim
		outer := int(want/px) - max(1, int(.15/px))
		type edge struct {
			name   string
			length int
			inside func(i int) (x, y int)
			beyond func(i int) (x, y int)
		}
		edges := []edge{
			{"left", y1 - y0, func(i int) (int, int) { return x0 + in1, y0 + i }, func(i int) (int, int) { return x0 - outer, y0 + i }},
			{"right", y1 - y0, func(i int) (int, int) { return x1 - 1 - in1, y0 + i }, func(i int) (int, int) { return x1 - 1 + outer, y0 + i }},
			{"top", x1 - x0, func(i int) (int, int) { return x0 + i, y0 + in1 }, func(i int) (int, int) { return x0 + i, y0 - outer }},
			{"bottom", x1 - x0, func(i int) (int, int) { return x0 + i, y1 - 1 - in1 }, func(i int) (int, int) { return x0 + i, y1 - 1 + outer }},
		}
		var which []string
		plates := map[string]bool{}
		box := geom.Rect{}
		total := 0.0
		for _, e := range edges {
			short := 0
			for k := range p.Plates.Set.Len() {
				if p.Plates.Plane(k) == nil {
					continue
				}
				n := 0
				for i := range e.length {
					x, y := e.inside(i)
					bx, by := e.beyond(i)
					if p.Plates.At(k, x, y) >= visibleTint && p.Plates.At(k, bx, by) < visibleTint/2 {
						n++
						box = box.Union(p.listRect(x, y, x+1, y+1))
					}
				}
				if float64(n)*px >= 1 {
					plates[p.Plates.Set.At(k).Name] = true
					short = max(short, n)
				}
			}
			if float64(short)*px >= 1 {
				which = append(which, e.name)
				total += float64(short) * px
			}
		}
		if len(which) == 0 {
			return nil
		}
		names := sorted(plates)
		out.Add(finding.Finding{
			ID: "bleed-missing", Severity: finding.Error,
			What: fmt.Sprintf("The artwork reaches the trim at the %s edge but does not go on %.3g mm beyond it, on plates %s.",
				strings.Join(which, ", "), want, strings.Join(names, ", ")),
			Why:     "Cutting is never exact: a strip of bare stock will show at the edge.",
			Remedy:  fmt.Sprintf("Let pictures and areas at the edge run %.3g mm over the trim, and export with bleed.", want),
			Place:   p.place(box, nil, names...),
			Figures: map[string]float64{"length_mm": round2(total)},
		})
		return nil
	},
}

var pageIncomplete = Rule{
	ID:       "page-incomplete",
	Measures: "whether everything on the page could be read and painted as written",
	Source:   "what could not be read is never called clean",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if p.List.Incomplete {
			out.Add(finding.Finding{
				ID: "page-incomplete", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
				What:   "Part of this page could not be read or painted; the plates and the picture show less than the artwork holds.",
				Why:    "What is not seen here may still be printed, so nothing about this page can be called clean.",
				Remedy: "See the findings that name what was left out, and simplify or repair these objects.",
				Place:  p.place(geom.Rect{}, nil),
			})
		}
		if p.List.ViewerDiffers {
			out.Add(finding.Finding{
				ID: "layers-differ-in-viewer", Severity: finding.Warning,
				What:   "A viewer that prints this file would show other layers than the press does.",
				Why:    "The press follows the file's default layer states; viewers switch layers for printing by rules the press does not apply.",
				Remedy: "Delete layers that are not meant to print, and leave all others visible.",
				Place:  p.place(geom.Rect{}, nil),
			})
		}
		return nil
	},
}

package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/geom"
)

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

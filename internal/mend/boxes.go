package mend

import (
	"context"
	"errors"
	"fmt"
	"math"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var setBoxes = &Remedy{
	ID:      "set-boxes",
	Title:   "Set the trim and the bleed of pages to the finished size, in the middle of the page unless an ArtBox of that size or the options say where.",
	Answers: []finding.ID{"finished-size-unclear"},
	Safe:    true,
	Options: []Option{
		{"width", "finished width, such as 210mm (the job's)", false}, {"height", "finished height (the job's)", false},
		{"bleed", "beyond the trim (the job's, else 3mm)", false},
		{"x", "left edge of the trim, from the left of the MediaBox as viewed (in the middle)", false},
		{"y", "top edge of the trim, from the top of the MediaBox as viewed (in the middle)", false},
		{"replace", "yes: also pages that have a trim of another size", false},
	},
	Offer: func(_ *finding.Finding, in *Input) []Options {
		if in.Job == nil || in.Job.Finished == nil {
			return nil
		}
		return []Options{{}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		var b boxes
		if err := b.read(e, o); err != nil {
			return err
		}
		replace, err := o.yes("replace")
		if err != nil {
			return err
		}
		return e.Each(ctx, func(p *Page) error { return e.setBoxes(p, &b, replace) })
	},
}

// boxes are a finished size in mm; x and y are NaN for the middle.
type boxes struct{ w, h, bleed, x, y float64 }

func (b *boxes) read(e *Edit, o Options) error {
	b.bleed = 3 // mm; common practice, no source
	if j := e.In.Job; j != nil {
		if j.Finished != nil {
			b.w, b.h = float64(j.Finished.Width), float64(j.Finished.Height)
		}
		if j.Bleed > 0 {
			b.bleed = float64(j.Bleed)
		}
	}
	b.x, b.y = math.NaN(), math.NaN()
	for _, f := range []struct {
		to   *float64
		name string
	}{{&b.w, "width"}, {&b.h, "height"}, {&b.bleed, "bleed"}, {&b.x, "x"}, {&b.y, "y"}} {
		var err error
		if *f.to, err = o.mm(f.name, *f.to); err != nil {
			return err
		}
	}
	if b.w <= 0 || b.h <= 0 {
		return errors.New("the finished size is not known; give width and height, or a job with finished")
	}
	return nil
}

func (e *Edit) setBoxes(p *Page, b *boxes, replace bool) error {
	pg := &p.List.Page
	const near = .3 // mm: the check takes sizes as equal up to here
	w, h := pg.Trim.W()/geom.PointsPerMM, pg.Trim.H()/geom.PointsPerMM
	fits := func(x, y float64) bool { return math.Abs(w-x) <= near && math.Abs(h-y) <= near }
	if pg.HasTrim && (fits(b.w, b.h) || fits(b.h, b.w) || !replace) {
		return nil
	}
	m := pg.Media
	fw, fh := b.w*geom.PointsPerMM, b.h*geom.PointsPerMM
	if fw > m.W()+.01 || fh > m.H()+.01 {
		return fmt.Errorf("page %d is %.1f × %.1f mm and holds no finished size of %g × %g mm", pg.Number, m.W()/geom.PointsPerMM, m.H()/geom.PointsPerMM, b.w, b.h)
	}
	trim := geom.Rect{X0: m.X0 + (m.W()-fw)/2, Y0: m.Y0 + (m.H()-fh)/2}
	if a := pg.Art; pg.HasArt && !pg.HasTrim && max(math.Abs(a.W()-fw), math.Abs(a.H()-fh)) <= near*geom.PointsPerMM {
		trim.X0, trim.Y0 = a.X0, a.Y0 // it says where, as a TrimBox would (ISO 15930-7)
	}
	if !math.IsNaN(b.x) {
		trim.X0 = m.X0 + float64(b.x*geom.PointsPerMM)
	}
	if !math.IsNaN(b.y) {
		trim.Y0 = m.Y0 + float64(b.y*geom.PointsPerMM)
	}
	trim.X1, trim.Y1 = trim.X0+fw, trim.Y0+fh
	if in := m.Grow(.01); trim.X0 < in.X0 || trim.Y0 < in.Y0 || trim.X1 > in.X1 || trim.Y1 > in.Y1 {
		return fmt.Errorf("page %d: the trim would lie outside the page", pg.Number)
	}
	pe, err := e.page(pg.Number)
	if err != nil {
		return err
	}
	back, ok := pg.ToList.Invert()
	if !ok {
		return fmt.Errorf("page %d has no usable size", pg.Number)
	}
	pe.set["TrimBox"] = boxArray(back.Bounds(trim.Intersect(m)))
	pe.set["BleedBox"] = boxArray(back.Bounds(trim.Grow(b.bleed * geom.PointsPerMM).Intersect(m)))
	pe.set["ArtBox"] = nil // a page has a trim or an art box (ISO 15930-7)
	e.allowed = append(e.allowed, Allowance{Page: pg.Number, Geometry: true})
	return nil
}

// boxArray writes a rectangle of user space to a ten-thousandth of a point.
func boxArray(r geom.Rect) pdf.Array {
	a := pdf.Array{}
	for _, v := range []float64{r.X0, r.Y0, r.X1, r.Y1} {
		a = append(a, pdf.Real(math.Round(v*1e4)/1e4))
	}
	return a
}

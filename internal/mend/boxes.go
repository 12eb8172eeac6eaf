package mend

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var setBoxes = &Remedy{
	ID: "set-boxes",
	Title: "Set the trim and the bleed of pages to the finished size where the file or the options tell its place: a MediaBox, CropBox, BleedBox or ArtBox " +
		"it fits with the bleed or without, or other pages of the same size.",
	Answers: []finding.ID{"finished-size-unclear"},
	Safe:    true, // it guesses no place
	Options: append(slices.Clone(boxOptions),
		Option{"x", "left edge of the trim, from the left of the MediaBox as viewed; with y", false},
		Option{"y", "top edge of the trim, from the top of the MediaBox as viewed; with x", false}),
	Offer: offerBoxes,
	Apply: func(ctx context.Context, e *Edit, o Options) error { return e.eachBoxes(ctx, o, false) },
}

var centreBoxes = &Remedy{
	ID:      "centre-boxes",
	Title:   "Set the trim and the bleed of pages to the finished size, in the middle of the page where nothing tells its place.",
	Answers: []finding.ID{"finished-size-unclear"},
	Options: boxOptions,
	Offer:   offerBoxes,
	Apply:   func(ctx context.Context, e *Edit, o Options) error { return e.eachBoxes(ctx, o, true) },
}

var boxOptions = []Option{
	{"width", "finished width, such as 210mm (the job's)", false}, {"height", "finished height (the job's)", false},
	{"bleed", "beyond the trim (the job's, else 3mm)", false},
	{"replace", "yes: also pages that have a trim of another size", false},
}

func offerBoxes(_ *finding.Finding, in *Input) []Options {
	if in.Job == nil || in.Job.Finished == nil {
		return nil
	}
	return []Options{{}}
}

// eachBoxes sets the boxes of the pages; middle is where the trim is put when nothing tells its place.
func (e *Edit) eachBoxes(ctx context.Context, o Options, middle bool) error {
	var b boxes
	if err := b.read(e, o); err != nil {
		return err
	}
	replace, err := o.yes("replace")
	if err != nil {
		return err
	}
	return e.Each(ctx, func(p *Page) error { return e.setBoxes(p, &b, replace, middle) })
}

// boxes are a finished size in mm, and where the trim lies; x and y are NaN when that was not said.
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
	if math.IsNaN(b.x) != math.IsNaN(b.y) {
		return errors.New("one of x and y does not tell where the trim lies; give both or neither")
	}
	return nil
}

// nearBox is up to where sizes are equal for the check, in mm.
const nearBox = .3

func (e *Edit) setBoxes(p *Page, b *boxes, replace, middle bool) error {
	pg := &p.List.Page
	w, h := pg.Trim.W()/geom.PointsPerMM, pg.Trim.H()/geom.PointsPerMM
	fits := func(x, y float64) bool { return math.Abs(w-x) <= nearBox && math.Abs(h-y) <= nearBox }
	if pg.HasTrim && (fits(b.w, b.h) || fits(b.h, b.w) || !replace) {
		return nil
	}
	m := pg.Media
	fw, fh := b.w*geom.PointsPerMM, b.h*geom.PointsPerMM
	if fw > m.W()+.01 || fh > m.H()+.01 {
		return fmt.Errorf("page %d is %.1f × %.1f mm and holds no finished size of %g × %g mm", pg.Number, m.W()/geom.PointsPerMM, m.H()/geom.PointsPerMM, b.w, b.h)
	}
	trim := centred(m, fw, fh)
	if !math.IsNaN(b.x) {
		trim.X0, trim.Y0 = m.X0+float64(b.x*geom.PointsPerMM), m.Y0+float64(b.y*geom.PointsPerMM)
		trim.X1, trim.Y1 = trim.X0+fw, trim.Y0+fh
	} else if t, known := b.told(pg, e.pagesLike(p)); known {
		trim = t
	} else if !middle {
		e.Note("Page %d: nothing in the file tells where on the page the trim of %g × %g mm lies; give x and y, or put it in the middle with centre-boxes.", pg.Number, b.w, b.h)
		return nil
	}
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

// centred is a box of a size in points in the middle of another.
func centred(in geom.Rect, w, h float64) geom.Rect {
	x, y := in.X0+(in.W()-w)/2, in.Y0+(in.H()-h)/2
	return geom.Rect{X0: x, Y0: y, X1: x + w, Y1: y + h}
}

// told is the place of the trim, as far as the page tells it: an ArtBox of the finished size says where as a TrimBox would (ISO
// 15930-7); a BleedBox goes round it by the same width on all sides, whatever that is, a CropBox or a MediaBox by the bleed or
// by nothing; and others is where pages of the same size have it. What lies by other widths about the trim, a sheet with room for marks,
// may be wider on one side than on the other, and tells nothing.
func (b *boxes) told(pg *displist.Page, others []geom.Rect) (geom.Rect, bool) {
	fw, fh := b.w*geom.PointsPerMM, b.h*geom.PointsPerMM
	const near = nearBox * geom.PointsPerMM
	beyond := func(box geom.Rect) (w, h float64) { return box.W() - fw, box.H() - fh }
	fits := func(box geom.Rect, by float64) bool {
		w, h := beyond(box)
		return max(math.Abs(w-2*by), math.Abs(h-2*by)) <= near
	}
	bleed := b.bleed * geom.PointsPerMM
	if pg.HasArt && !pg.HasTrim && fits(pg.Art, 0) {
		return geom.Rect{X0: pg.Art.X0, Y0: pg.Art.Y0, X1: pg.Art.X0 + fw, Y1: pg.Art.Y0 + fh}, true
	}
	if w, h := beyond(pg.Bleed); pg.HasBleed && w >= -near && math.Abs(w-h) <= near {
		return centred(pg.Bleed, fw, fh), true
	}
	for _, box := range []geom.Rect{pg.Crop, pg.Media} {
		if fits(box, 0) || fits(box, bleed) {
			return centred(box, fw, fh), true
		}
	}
	mid := centred(pg.Media, fw, fh)
	for _, t := range others {
		if max(math.Abs(t.X0-mid.X0), math.Abs(t.Y0-mid.Y0), math.Abs(t.X1-mid.X1), math.Abs(t.Y1-mid.Y1)) > near {
			return geom.Rect{}, false // front and back may be laid out as mirrors of each other
		}
	}
	return mid, len(others) > 0
}

// pagesLike are the trims of the other pages with a MediaBox of the same size, as they would lie on this page, list space.
func (e *Edit) pagesLike(p *Page) (trims []geom.Rect) {
	page := p.List.Page.Number
	own, err := e.Doc.Page(page)
	if err != nil {
		return nil
	}
	size := func(b [4]float64) [2]float64 { return [2]float64{b[2] - b[0], b[3] - b[1]} }
	for n := range e.Doc.NumPages() {
		o, err := e.Doc.Page(n + 1)
		if err != nil || n+1 == page || o.TrimBox == nil || o.Rotate != own.Rotate || o.UserUnit != own.UserUnit {
			continue
		}
		a, b := size(o.MediaBox), size(own.MediaBox)
		if max(math.Abs(a[0]-b[0]), math.Abs(a[1]-b[1])) > .01 {
			continue
		}
		dx, dy := own.MediaBox[0]-o.MediaBox[0], own.MediaBox[1]-o.MediaBox[1]
		trims = append(trims, p.List.Page.ToList.Bounds(geom.Rect{X0: o.TrimBox[0] + dx, Y0: o.TrimBox[1] + dy, X1: o.TrimBox[2] + dx, Y1: o.TrimBox[3] + dy}))
	}
	return trims
}

// boxArray writes a rectangle of user space to a ten-thousandth of a point.
func boxArray(r geom.Rect) pdf.Array {
	a := pdf.Array{}
	for _, v := range []float64{r.X0, r.Y0, r.X1, r.Y1} {
		a = append(a, pdf.Real(math.Round(v*1e4)/1e4))
	}
	return a
}

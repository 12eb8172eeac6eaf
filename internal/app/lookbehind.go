package app

import (
	"context"
	"math"
	"runtime"

	"laydown/internal/geom"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/press"
)

// printsBehind tells whether thin stock shows the other side of page n, and which page that is.
func (s *Setup) printsBehind(a *Artwork, n int) (other int, ok bool) {
	stock, err := s.stock()
	if err != nil || stock.Opacity <= 0 || stock.Opacity >= 100 || stock.Surface == press.SurfaceFilm || s.Job != nil && s.Job.Sides == 1 {
		return 0, false
	}
	if other = n + 1; n%2 == 0 {
		other = n - 1
	}
	return other, other <= a.Doc.NumPages()
}

// behind paints what shows through the sheet from the other side of an area of a page that lies on a backing;
// nil where nothing does.
func (a *Artwork) behind(ctx context.Context, s *Setup, p *laidPage, area geom.Rect, dpi float64, backing *press.Lab) (*look.Behind, error) {
	n, ok := s.printsBehind(a, p.sheet.Number)
	if !ok {
		return nil, nil
	}
	back, err := a.lay(ctx, s, n, nil)
	if err != nil {
		return nil, err
	}
	mirror, ok := mirroredArea(area, p.sheet.List.Page.Trim, back.sheet.List.Page.Trim)
	if !ok {
		return nil, nil
	}
	w, h := paint.Size(area, dpi)
	if backW, backH := paint.Size(mirror, dpi); backW != w || backH != h {
		return nil, nil // rounded apart by a pixel
	}
	c, err := s.conditions(back, LookView{Backing: backing})
	if err != nil {
		return nil, err
	}
	sink, err := look.NewBehindSink(c, runtime.GOMAXPROCS(0))
	if err != nil {
		return nil, err
	}
	if err := paint.Render(ctx, back.sheet.paintJob(mirror, dpi, nil), sink); err != nil {
		return nil, stopped(ctx, err)
	}
	return sink.Behind(), nil
}

// mirroredArea is the area of the other side's page that lies behind an area of this one, by their trims. Pages of another size
// are taken as printed on sheets of their own.
func mirroredArea(area, front, other geom.Rect) (geom.Rect, bool) {
	const near = 0.5 // pt
	if math.Abs(front.W()-other.W()) > near || math.Abs(front.H()-other.H()) > near {
		return geom.Rect{}, false
	}
	// The sheet is turned over its upright edge: left and right change places.
	x, y := other.X0+front.X1-area.X1, other.Y0+area.Y0-front.Y0
	return geom.Rect{X0: x, Y0: y, X1: x + area.W(), Y1: y + area.H()}, true
}

package app

import (
	"context"
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

// behind paints what shows through the sheet from the other side of an area of a page; nil where nothing does. Pages of
// another size are taken as printed on sheets of their own.
func (a *Artwork) behind(ctx context.Context, s *Setup, p *laidPage, area geom.Rect, dpi float64) (*look.Behind, error) {
	n, ok := s.printsBehind(a, p.sheet.Number)
	if !ok {
		return nil, nil
	}
	back, err := a.lay(ctx, s, n, nil)
	if err != nil {
		return nil, err
	}
	front, other := p.sheet.List.Page.Trim, back.sheet.List.Page.Trim
	const near = 0.5 // pt
	if d := front.W() - other.W(); d > near || d < -near {
		return nil, nil
	}
	if d := front.H() - other.H(); d > near || d < -near {
		return nil, nil
	}
	// The sheet is turned over its upright edge: left and right change places.
	x, y := other.X0+front.X1-area.X1, other.Y0+area.Y0-front.Y0
	mirror := geom.Rect{X0: x, Y0: y, X1: x + area.W(), Y1: y + area.H()}
	w, h := paint.Size(area, dpi)
	if backW, backH := paint.Size(mirror, dpi); backW != w || backH != h {
		return nil, nil // rounded apart by a pixel
	}
	c, err := s.conditions(back, LookView{})
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

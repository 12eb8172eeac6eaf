package check

import (
	"context"
	"image"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// repaint paints a list in some pixels of the page, to ask "what if": row is called with the tints of every
// plate that has toner in a row, x from the left of the pixels, y as on the page. The plates are never
// held, so that a large page costs no second stack.
func (p *Page) repaint(ctx context.Context, list *displist.List, skip func(int) bool, pixels image.Rectangle, row func(plate, y int, tints []byte)) error {
	region := p.listRect(pixels.Min.X, pixels.Min.Y, pixels.Max.X, pixels.Max.Y)
	job := paint.Job{List: list, Target: p.Target, DPI: p.Plates.DPI, Region: region, Sink: finding.Discard, Skip: skip}
	return paint.Render(ctx, job, &rowSink{top: pixels.Min.Y, row: row})
}

type rowSink struct {
	width, top int
	row        func(plate, y int, tints []byte)
}

func (s *rowSink) Begin(h plate.Header) error {
	s.width = h.Width
	return nil
}

func (s *rowSink) Band(b *plate.Band) error {
	for k, plane := range b.Planes {
		for y := 0; y < b.Rows && plane != nil; y++ {
			s.row(k, s.top+b.Y0+y, plane[y*s.width:(y+1)*s.width])
		}
	}
	return nil
}

func (s *rowSink) End() error { return nil }

// pixelsOf is the box in list space grown to whole pixels of the plates, clipped to them.
func (p *Page) pixelsOf(r geom.Rect) image.Rectangle {
	x0, y0, x1, y1 := p.PixelRect(r.Grow(p.px() * geom.PointsPerMM))
	return image.Rect(x0, y0, x1, y1)
}

// lighter paints a list in some pixels and marks where plates, those of want unless nil, then have visibly
// less toner than the page. The mask is nil when they never have.
func (p *Page) lighter(ctx context.Context, list *displist.List, skip func(int) bool, pixels image.Rectangle, want func(plate int) bool) (m mask, plates plateBits, err error) {
	seen := make([]bool, p.Plates.Set.Len()*pixels.Dy())
	mark := func(k, y int, tints []byte) {
		plane := p.Plates.Plane(k)
		if plane == nil || want != nil && !want(k) {
			return
		}
		start := y*p.Plates.Width + pixels.Min.X
		for x, had := range plane[start : start+pixels.Dx()] {
			if had >= visibleTint && missing(had, at(tints, x)) {
				if m == nil {
					m = p.newMask()
				}
				m[start+x] = 1
				plates |= 1 << k
			}
		}
	}
	err = p.repaint(ctx, list, skip, pixels, func(k, y int, tints []byte) {
		seen[k*pixels.Dy()+y-pixels.Min.Y] = true
		mark(k, y, tints)
	})
	// Rows without any toner of a plate are not handed over.
	for i, was := range seen {
		if !was && err == nil {
			mark(i/pixels.Dy(), pixels.Min.Y+i%pixels.Dy(), nil)
		}
	}
	return m, plates, err
}

// heavierWithout paints the page without some items, where these lie in a box, and marks where plates, those of want, then have
// visibly more toner than the page. The mask is nil when they never have.
func (p *Page) heavierWithout(ctx context.Context, items []int, box geom.Rect, want func(plate int) bool) (m mask, plates plateBits, err error) {
	left := make([]bool, len(p.List.Items))
	for _, i := range items {
		left[i] = true
	}
	pixels := p.pixelsOf(p.boundsOf(items).Intersect(box))
	if len(items) == 0 || pixels.Empty() {
		return nil, 0, nil
	}
	err = p.repaint(ctx, p.List, func(i int) bool { return left[i] }, pixels, func(k, y int, tints []byte) {
		if !want(k) {
			return
		}
		start := y*p.Plates.Width + pixels.Min.X
		for x, without := range tints {
			if v := at(p.Plates.Plane(k), start+x); without >= visibleTint && missing(without, v) {
				if m == nil {
					m = p.newMask()
				}
				m[start+x] = 1
				plates |= 1 << k
			}
		}
	})
	return m, plates, err
}

package paint

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// An imageStep is an image made ready, shared by all bands.
type imageStep struct {
	edge    *raster.Edges      // of the unit square: what the image covers
	ink     *separate.ImageInk // nil for a stencil
	colour  *grid              // colours, alpha as the last plane when it has the same samples; nil = only alpha
	mask    *grid              // mask of other resolution; of a stencil: where it paints
	opacity bool               // the mask is opacity (SMask), not shape
}

// A grid is a rectangle of samples and where it stands.
type grid struct {
	w, h   int
	planes int
	alpha  bool        // the last plane is alpha, the others are premultiplied by it
	m      geom.Matrix // sample space (x right, y down, one unit a sample) to pixels
	open   func() fetcher
}

// A fetcher reads samples x0 <= x < x1 of row y, one slice a plane. It serves one goroutine.
type fetcher func(y, x0, x1 int, dst [][]uint16)

// imageStep prepares image item i.
func (w *worker) imageStep(pl *plan, i int) *imageStep {
	it, st := &pl.items[i], &pl.steps[i]
	st.once.Do(func() {
		im := it.Image.Image
		if im.Width < 1 || im.Height < 1 {
			return
		}
		s := &imageStep{}
		m := it.Image.M.Mul(pl.dev)
		var b raster.Builder
		var square geom.Path
		square.Rect(geom.Rect{X1: 1, Y1: 1})
		b.Fill(&square, m)
		s.edge = b.Edges(geom.NonZero)
		switch {
		case im.Stencil:
			s.mask = alphaGrid(im, m, separate.StencilRow)
		case im.SoftMask != nil:
			s.opacity = true
			s.mask = alphaGrid(im.SoftMask, m, separate.AlphaRow)
		case im.Mask != nil:
			s.mask = alphaGrid(im.Mask, m, separate.StencilRow)
		case im.ColourKey != nil:
			s.mask = alphaGrid(im, m, separate.KeyRow)
		}
		if !im.Stencil {
			s.ink = pl.target.Image(im, it.Overprint, intentOf(it), st.ctx)
			s.colour = colourGrid(s.ink, m)
			if k := s.mask; k != nil && k.w == im.Width && k.h == im.Height {
				s.colour.join(k)
				s.mask = nil
			}
		}
		st.image = s
	})
	return st.image
}

func sampleMatrix(w, h int, m geom.Matrix) geom.Matrix {
	return geom.Matrix{A: 1 / float64(w), D: -1 / float64(h), F: 1}.Mul(m)
}

// alphaGrid has the one plane that row writes with 8 bits.
func alphaGrid(im *image.Image, m geom.Matrix, row func(pic *image.Image, y, x0, x1 int, dst []uint8)) *grid {
	return &grid{w: im.Width, h: im.Height, planes: 1, alpha: true, m: sampleMatrix(im.Width, im.Height, m), open: func() fetcher {
		var buf []uint8
		return func(y, x0, x1 int, dst [][]uint16) {
			if cap(buf) < x1-x0 {
				buf = make([]uint8, x1-x0)
			}
			buf = buf[:x1-x0]
			row(im, y, x0, x1, buf)
			widen(dst[0], buf)
		}
	}}
}

// colourGrid has a plane for every component the image paints.
func colourGrid(ink *separate.ImageInk, m geom.Matrix) *grid {
	im := ink.Image
	return &grid{w: im.Width, h: im.Height, planes: len(ink.Painted), m: sampleMatrix(im.Width, im.Height, m), open: func() fetcher {
		rows := ink.Rows()
		return func(y, x0, x1 int, dst [][]uint16) { rows.Row16(y, x0, x1, dst) }
	}}
}

// join adds the alpha of k, which has the same samples, as the last plane of g.
func (g *grid) join(k *grid) {
	n := g.planes
	colours, alphas := g.open, k.open
	g.planes, g.alpha = n+1, true
	g.open = func() fetcher {
		colour, alpha := colours(), alphas()
		return func(y, x0, x1 int, dst [][]uint16) {
			alpha(y, x0, x1, dst[n:])
			colour(y, x0, x1, dst[:n])
			for _, p := range dst[:n] {
				mulRow(p[:x1-x0], p, dst[n])
			}
		}
	}
}

// picture paints an image item.
func (w *worker) picture(pl *plan, i int, box raster.IntRect, l *layer) {
	it := &pl.items[i]
	s := w.imageStep(pl, i)
	if s == nil {
		return
	}
	var ink *separate.Ink
	if it.Image.Stencil {
		if ink = w.ink(pl, i); ink.Nothing {
			return
		}
	} else if s.ink.Nothing {
		return
	}
	cl := w.clip(it.Clip)
	box = box.Intersect(cl.rect).Intersect(s.edge.Bounds)
	if box.Empty() {
		return
	}
	b := w.brush(pl, i)
	if ink != nil {
		b.flatIn(ink)
	} else {
		b.effects, b.reasons = s.ink.Effects, s.ink.Reasons
	}
	var colour, mask *resampler
	if s.colour != nil {
		colour = newResampler(s.colour, box, it.Image.Interpolate)
	}
	if s.mask != nil {
		mask = newResampler(s.mask, box, it.Image.Interpolate)
	}
	src := &source{x0: box.X0}
	if s.colour != nil {
		src.px = make([][]uint16, max(l.n, len(b.effects)))
	}
	w.scan.Scan(s.edge, box, func(y int, spans []raster.Span) {
		spans = w.clipped(cl, y, spans)
		if len(spans) == 0 {
			return
		}
		src.alpha, src.shape = nil, nil
		if mask != nil {
			src.alpha = mask.row(y)[0]
		}
		if colour != nil {
			rows := colour.row(y)
			if s.colour.alpha {
				src.alpha = rows[len(rows)-1]
			}
			for k, c := range s.ink.Painted {
				src.px[c] = rows[k]
				if mask != nil {
					mulRow(rows[k], rows[k], src.alpha)
				}
			}
		}
		if src.alpha != nil && (!s.opacity || b.ais) {
			src.shape = src.alpha
		}
		w.row(l, b, y, spans, src)
	})
}

// intentOf is the rendering intent of an image: its own when it has one, else the item's.
func intentOf(it *displist.Item) colour.Intent {
	if it.Image.Intent != colour.RelativeColorimetric {
		return it.Image.Intent
	}
	return it.Intent
}

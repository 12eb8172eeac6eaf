package paint

import (
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
	alpha  bool        // the last plane is alpha; resampling multiplies the others by it
	m      geom.Matrix // sample space (x right, y down, one unit a sample) to pixels
	open   func() fetcher
}

// A fetcher reads samples x0 <= x < x1 of row y, one slice a plane. It serves one goroutine.
type fetcher func(y, x0, x1 int, dst [][]uint8)

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
			s.ink = pl.target.Image(im, it.Overprint, it.Intent, st.ctx)
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

// alphaGrid has the one plane that row writes.
func alphaGrid(im *image.Image, m geom.Matrix, row func(pic *image.Image, y, x0, x1 int, dst []uint8)) *grid {
	return &grid{w: im.Width, h: im.Height, planes: 1, m: sampleMatrix(im.Width, im.Height, m), open: func() fetcher {
		return func(y, x0, x1 int, dst [][]uint8) { row(im, y, x0, x1, dst[0]) }
	}}
}

// colourGrid has a plane for every component the image paints.
func colourGrid(ink *separate.ImageInk, m geom.Matrix) *grid {
	im := ink.Image
	return &grid{w: im.Width, h: im.Height, planes: len(ink.Painted), m: sampleMatrix(im.Width, im.Height, m),
		open: func() fetcher { return ink.Rows().Row }}
}

// join adds the alpha of k, which has the same samples, as the last plane of g.
func (g *grid) join(k *grid) {
	n := g.planes
	colours, alphas := g.open, k.open
	g.planes, g.alpha = n+1, true
	g.open = func() fetcher {
		colour, alpha := colours(), alphas()
		return func(y, x0, x1 int, dst [][]uint8) {
			colour(y, x0, x1, dst[:n])
			alpha(y, x0, x1, dst[n:])
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
	if it.Image.SoftMask != nil { // it replaces the one in the graphics state (11.6.5.3)
		b.mask = nil
		b.opaque = b.alpha == full && b.blend == displist.Normal
	}
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
	eight := l.root && b.opaque && s.colour != nil && !s.colour.alpha && s.mask == nil
	if eight {
		src.px8 = make([][]uint8, len(b.effects))
	} else if s.colour != nil {
		src.px = make([][]uint16, len(b.effects))
	}
	w.scan.Scan(s.edge, box, func(y int, spans []raster.Span) {
		spans = w.clipped(cl, y, spans)
		if len(spans) == 0 || w.stop(it) {
			return
		}
		x0, x1 := int(spans[0].X0), int(spans[len(spans)-1].X1)
		if eight {
			rows := colour.part8(y, x0, x1)
			for k, c := range s.ink.Painted {
				src.px8[c] = rows[k]
			}
			w.row(l, b, y, spans, src)
			return
		}
		src.alpha, src.shape = nil, nil
		if mask != nil {
			src.alpha = mask.part(y, x0, x1)[0]
		}
		if colour != nil {
			rows := colour.part(y, x0, x1)
			if s.colour.alpha {
				src.alpha = rows[len(rows)-1]
			}
			for k, c := range s.ink.Painted {
				src.px[c] = rows[k]
				if mask != nil {
					part := rows[k][x0-box.X0 : x1-box.X0]
					mulRow(part, part, src.alpha[x0-box.X0:])
				}
			}
		}
		if src.alpha != nil && (!s.opacity || b.ais) {
			src.shape = src.alpha
		}
		w.row(l, b, y, spans, src)
	})
}

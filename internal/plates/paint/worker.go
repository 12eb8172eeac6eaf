package paint

import (
	"context"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// A worker paints windows (bands, or one pixel) one after the other; all its memory is its own.
type worker struct {
	job    *job
	ctx    context.Context
	window raster.IntRect
	pool   *planePool
	probe  *probe // nil = nobody asks

	scan       raster.Scanner
	build      raster.Builder         // of the shape being scanned, and of shapes to be kept
	turns      map[*geom.Path]float64 // twice the areas outlines turn round
	inkers     map[*separate.Target]*separate.Inker
	spans      []raster.Span // of clipped
	groupSpans []raster.Span
	clips      map[clipKey]*clipCover
	clipUse    int            // bytes in clips
	open       clipCover      // of no clip at all
	base       *displist.Clip // the link that clips the group being painted as a whole
	start      clipCover      // of what lies within base
	masks      map[*maskPlan]*maskCover
	maskAge    []*maskPlan // of masks, the longest unused first
	rows       *rowPool
	tints      [8][]float64 // of blend modes
	steps      int
	stopped    bool // ctx has ended
	depth      int
	convert    *converterMemory
}

func newWorker(j *job) *worker {
	return &worker{job: j, inkers: map[*separate.Target]*separate.Inker{}, turns: map[*geom.Path]float64{},
		clips: map[clipKey]*clipCover{}, masks: map[*maskPlan]*maskCover{}, rows: &rowPool{}, convert: &converterMemory{}}
}

// within returns a worker for a job inside w's, a tile, which remembers with w what does not depend on place.
func (w *worker) within(j *job) *worker {
	return &worker{job: j, inkers: w.inkers, turns: w.turns, clips: map[clipKey]*clipCover{}, masks: map[*maskPlan]*maskCover{},
		rows: w.rows, convert: w.convert, depth: w.depth + 1}
}

// begin starts a window and returns its root layer.
func (w *worker) begin(ctx context.Context, window raster.IntRect, pool *planePool) *layer {
	w.ctx, w.window, w.pool, w.stopped = ctx, window, pool, false
	clear(w.clips)
	clear(w.masks)
	w.maskAge = w.maskAge[:0]
	w.clipUse = 0
	w.open = clipCover{rect: window, inner: window, isRec: true,
		fixed: fixedRect{window.X0 * one, window.Y0 * one, window.X1 * one, window.Y1 * one}}
	w.base, w.start = nil, w.open
	w.rows.width = window.X1 - window.X0
	n := w.job.plates
	root := &layer{rect: window, stride: window.X1 - window.X0, n: n, root: true, isolated: true, p8: make([][]byte, n)}
	root.paperAlpha = w.job.root.blends && w.job.wrap == nil
	return root
}

// page paints the whole list into the root.
func (w *worker) page(root *layer) {
	pl := w.job.root
	if w.job.wrap == nil {
		w.items(pl, 0, len(pl.items), root)
		return
	}
	l := w.newLayer(root, root.rect, pl.ctx, true, w.job.wrap.Knockout, pl.n)
	w.items(pl, 0, len(pl.items), l)
	w.finishPage(root, l)
	w.release(l)
}

// items paints items from <= i < to into l.
func (w *worker) items(pl *plan, from, to int, l *layer) {
	for i := from; i < to; {
		st := &pl.steps[i]
		box := st.box.Intersect(l.rect)
		if box.Empty() {
			i = st.next
			continue
		}
		it := &pl.items[i]
		if w.stop(it) {
			return
		}
		switch {
		case st.pattern != nil:
			w.textured(pl, i, box, l)
		case it.Kind == displist.BeginGroup:
			if st.elided {
				i++ // members go straight into l
				continue
			}
			w.group(pl, i, box, l)
		case it.Kind == displist.Image:
			w.picture(pl, i, box, l)
		default:
			w.flat(pl, i, box, l)
		}
		if st.uses.Load() > 0 && st.uses.Add(-1) == 0 {
			st.shape = nil
		}
		i = st.next
	}
}

// stop reports whether the context ended; plain items ask it now and then only.
func (w *worker) stop(it *displist.Item) bool {
	if w.steps++; !w.stopped && (w.steps&63 == 0 || it.SoftMask != nil || it.Kind == displist.BeginGroup || it.Kind == displist.Image) {
		w.stopped = w.ctx.Err() != nil
	}
	return w.stopped
}

// flat paints a fill or stroke in one colour.
func (w *worker) flat(pl *plan, i int, box raster.IntRect, l *layer) {
	it := &pl.items[i]
	ink := w.ink(pl, i)
	if ink.Nothing {
		return
	}
	cl := w.clip(it.Clip)
	box = box.Intersect(cl.rect)
	if box.Empty() {
		return
	}
	b := w.brush(pl, i) // may paint a mask, with w.build
	b.flatIn(ink)
	shape := w.shape(pl, i)
	if shape == nil {
		return
	}
	w.scan.Scan(shape, box, func(y int, spans []raster.Span) {
		if spans = w.clipped(cl, y, spans); len(spans) > 0 {
			w.row(l, b, y, spans, nil)
		}
	})
}

// ink is the separated colour of a fill, stroke or stencil.
func (w *worker) ink(pl *plan, i int) *separate.Ink {
	it := &pl.items[i]
	k := w.inkers[pl.target]
	if k == nil {
		k = pl.target.NewInker()
		w.inkers[pl.target] = k
	}
	return k.Colour(it.Paint, it.Overprint, it.OverprintMode, false, it.Intent, pl.steps[i].ctx)
}

// shape is the flattened path of a fill or stroke; nil when it has no marks. One that several bands need is made
// once for them all; one that lies in this band alone is lent until the next is asked for.
func (w *worker) shape(pl *plan, i int) *raster.Edges {
	it, st := &pl.items[i], &pl.steps[i]
	if st.single {
		return w.flatten(pl, it).Scratch(ruleOf(&it.Shape))
	}
	st.once.Do(func() { st.shape = w.flatten(pl, it).Edges(ruleOf(&it.Shape)) })
	return st.shape
}

// flatten leaves the outline of a fill or stroke in the worker's builder.
func (w *worker) flatten(pl *plan, it *displist.Item) *raster.Builder {
	w.build.Reset()
	if it.Kind == displist.Stroke {
		w.stroke(&w.build, pl, it)
	} else {
		w.addShape(&w.build, pl, &it.Shape, true)
	}
	return &w.build
}

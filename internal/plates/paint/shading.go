package paint

import (
	"sync"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// Shadings (8.7.4) are found pixel by pixel at the centre of the pixel, in the shading's own space;
// tints of Separation and DeviceN are interpolated as tints. A pixel whose centre the shading does not reach
// is not painted: the edges of what is neither extended nor backed by a background, and those of meshes,
// are not smoothed, so that neighbours never leave a seam nor paint a pixel twice. The shape painted and
// its clips are smoothed as always; the BBox of a shading is one more clip.
//
// Places are counted in pixels of the page, not of the region painted: a crop of the page computes the
// same numbers.

// A shader knows the places of a shading on the page. Immutable.
type shader interface {
	// open returns a reader for one goroutine, of the tints of ink.
	open(w *worker, ps *patternStep) shadeReader
}

// A shadeReader writes tints of the pixels x0 <= x < x1 of row y of the page to planes, one for each
// painted component, whose first entries are those of x0: to wide, or to narrow when that is not
// nil. all tells that the shading is defined at all of them; else painted tells at which.
type shadeReader interface {
	read(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) (all bool)
	// level reports that all rows are alike.
	level() bool
}

// A patternStep is what an item paints with when that is no single colour: shared by all bands.
type patternStep struct {
	shading *displist.Shading
	tiling  *displist.Tiling
	reads   reading        // what the tiling reads of the backdrop
	clip    *displist.Clip // of the item, and the shading's BBox
	box     *displist.Clip // the shading's BBox alone, where a background lies round it
	window  raster.IntRect // of which a mesh is made

	once   sync.Once
	key    rampKey
	ink    *separate.SpaceInk
	shader shader   // nil = nothing but the background
	back   []uint16 // tints of the background by painted component; nil = none
}

// pattern plans an item that paints with a shading or a tiling, and tells what that reads of the backdrop.
func (p *planner) pattern(pl *plan, i int) reading {
	it, st := &pl.items[i], &pl.steps[i]
	ps := &patternStep{shading: it.Shading, tiling: it.Paint.Tiling, clip: it.Clip, window: p.page}
	if p.tile { // whose meshes no other tile has
		ps.window = st.box
	}
	if it.Kind != displist.Shade {
		ps.shading = it.Paint.Shading
	}
	if s := ps.shading; s != nil && s.BBox != nil {
		path := &geom.Path{}
		path.Rect(*s.BBox)
		c := &displist.Clip{Shape: displist.Shape{Path: path.Transform(s.M)}, Bounds: s.M.Bounds(*s.BBox)}
		if s.Background != nil {
			ps.box = c
		} else {
			c.Parent = it.Clip
			ps.clip = c
		}
		p.clip(c)
	}
	if ps.tiling != nil {
		ps.reads = p.tileReading(ps.tiling)
	}
	st.pattern = ps
	return ps.reads
}

// prepare makes the shader of a shading.
func (ps *patternStep) prepare(w *worker, pl *plan, it *displist.Item, ctx separate.Context) {
	ps.once.Do(func() {
		s := ps.shading
		ps.key = rampKey{shading: s, target: pl.target, overprint: it.Overprint, intent: it.Intent, ctx: ctx}
		ps.ink = pl.target.Space(s.Space, it.Overprint, it.Intent, ctx)
		if ps.ink.Nothing {
			return
		}
		if s.Background != nil {
			ps.back = append([]uint16(nil), ps.ink.Sampler(nil).Tints(s.Background)...)
		}
		inv, ok := s.M.Mul(pl.abs).Invert()
		if !ok {
			return
		}
		switch s.Type {
		case 1:
			ps.shader = newFunctional(s, ps.ink, inv)
		case 2:
			ps.shader = newAxial(s, inv)
		case 3:
			ps.shader = newRadial(s, inv)
		default:
			ps.shader = w.mesh(pl, ps)
		}
	})
}

// A texture is what an item is painted with, in one window.
type texture interface {
	// texels puts the colours under spans into src, and returns the spans that are painted.
	texels(y int, spans []raster.Span, src *source) []raster.Span
}

// textured paints an item whose paint is a shading or a tiling.
func (w *worker) textured(pl *plan, i int, box raster.IntRect, l *layer) {
	it, st := &pl.items[i], &pl.steps[i]
	ps := st.pattern
	cl := w.clip(ps.clip)
	box = box.Intersect(cl.rect)
	if box.Empty() {
		return
	}
	if ps.tiling != nil {
		w.tiled(pl, i, box, cl, l)
		return
	}
	b := w.brush(pl, i)
	src := &source{x0: box.X0}
	var tex texture
	ps.prepare(w, pl, it, st.ctx)
	if ps.ink.Nothing || ps.shader == nil && ps.back == nil {
		return
	}
	b.effects, b.reasons = ps.ink.Effects, ps.ink.Reasons
	stencil := it.Kind == displist.Image
	if l.root && b.opaque && !stencil {
		src.px8 = make([][]uint8, len(b.effects))
	} else {
		src.px = make([][]uint16, len(b.effects))
	}
	tex = w.shadeTexture(ps, box, src, stencil)
	w.coverage(pl, i, box, cl, func(y int, spans []raster.Span, part []uint16) {
		if spans = tex.texels(y, spans, src); len(spans) == 0 {
			return
		}
		if part != nil {
			src = narrowed(src, part)
		}
		if w.probe.unmarked(y, src) {
			return // a window of one pixel
		}
		w.row(l, b, y, spans, src)
	})
}

// narrowed multiplies a source by a stencil's part of every pixel.
func narrowed(src *source, part []uint16) *source {
	for _, planes := range [][][]uint16{src.px, src.hold} {
		for _, p := range planes {
			if p != nil {
				mulRow(p, p, part)
			}
		}
	}
	same := len(src.shape) > 0 && len(src.alpha) > 0 && &src.shape[0] == &src.alpha[0]
	for _, p := range []*[]uint16{&src.alpha, &src.shape} {
		switch {
		case *p == nil:
			*p = part
		case p == &src.shape && same: // narrowed with alpha
		default:
			mulRow(*p, *p, part)
		}
	}
	return src
}

// coverage calls row for every row of an item inside box and its clip: with the spans of its shape,
// and for a stencil also with the part of each pixel it paints, starting at box.X0.
func (w *worker) coverage(pl *plan, i int, box raster.IntRect, cl *clipCover, row func(y int, spans []raster.Span, part []uint16)) {
	it := &pl.items[i]
	var edges *raster.Edges
	var mask *resampler
	switch it.Kind {
	case displist.Shade:
		for y := box.Y0; y < box.Y1 && !w.stop(it); y++ {
			w.groupSpans = append(w.groupSpans[:0], raster.Span{X0: int32(box.X0), X1: int32(box.X1), Cover: 255})
			if spans := w.clipped(cl, y, w.groupSpans); len(spans) > 0 {
				row(y, spans, nil)
			}
		}
		return
	case displist.Image:
		s := w.imageStep(pl, i)
		if s == nil {
			return
		}
		edges = s.edge
		if s.mask != nil {
			mask = newResampler(s.mask, box, it.Image.Interpolate)
		}
	default:
		edges = w.shape(pl, i)
	}
	if edges == nil {
		return
	}
	w.scan.Scan(edges, box, func(y int, spans []raster.Span) {
		if spans = w.clipped(cl, y, spans); len(spans) == 0 || w.stop(it) {
			return
		}
		if mask != nil {
			row(y, spans, mask.row(y)[0])
			return
		}
		row(y, spans, nil)
	})
}

// shadeTexture is a shading inside one window.
type shadeTexture struct {
	w      *worker
	ps     *patternStep
	box    raster.IntRect
	reader shadeReader
	cover  *clipCover // of the BBox over a background

	wide    [][]uint16
	narrow  [][]uint8
	painted []bool
	spans   []raster.Span
	// One run of a level shading is read once.
	level  bool
	x0, x1 int
	all    bool
}

func (w *worker) shadeTexture(ps *patternStep, box raster.IntRect, src *source, stencil bool) *shadeTexture {
	t := &shadeTexture{w: w, ps: ps, box: box, painted: make([]bool, box.X1-box.X0)}
	if ps.shader != nil {
		t.reader = ps.shader.open(w, ps)
		t.level = t.reader.level() && ps.box == nil && !stencil
	}
	if ps.box != nil {
		t.cover = w.clip(ps.box)
	}
	for _, c := range ps.ink.Painted {
		if src.px8 != nil {
			src.px8[c] = make([]uint8, box.X1-box.X0)
			t.narrow = append(t.narrow, src.px8[c])
		} else {
			src.px[c] = make([]uint16, box.X1-box.X0)
			t.wide = append(t.wide, src.px[c])
		}
	}
	return t
}

// gap is how many pixels between two spans are computed for nothing rather than apart.
const gap = 16

func (t *shadeTexture) texels(y int, spans []raster.Span, src *source) []raster.Span {
	out := t.spans[:0]
	src.alpha, src.shape = nil, nil
	for i := 0; i < len(spans); {
		j := i + 1
		for j < len(spans) && spans[j].X0-spans[j-1].X1 <= gap {
			j++
		}
		x0, x1 := int(spans[i].X0), int(spans[j-1].X1)
		if t.run(y, x0, x1) {
			out = append(out, spans[i:j]...)
		} else {
			out = t.cut(out, spans[i:j])
		}
		i = j
	}
	t.spans = out
	return out
}

// run finds the colours of pixels x0 <= x < x1, background included, and reports whether all are painted.
func (t *shadeTexture) run(y, x0, x1 int) bool {
	if t.level && t.x0 == x0 && t.x1 == x1 {
		return t.all
	}
	from, to := x0-t.box.X0, x1-t.box.X0
	painted := t.painted[from:to]
	all := false
	if t.reader != nil {
		wide, narrow := within(t.wide, from, to), within(t.narrow, from, to)
		all = t.reader.read(y+t.w.job.oy, x0+t.w.job.ox, x1+t.w.job.ox, wide, narrow, painted)
	} else {
		clear(painted)
	}
	if t.ps.back != nil {
		if !all {
			t.background(painted, from)
		}
		if t.cover != nil {
			t.outside(y, x0, x1)
		}
		all = true
	}
	t.x0, t.x1, t.all = x0, x1, all
	return all
}

func within[T any](planes [][]T, from, to int) [][]T {
	if planes == nil {
		return nil
	}
	out := make([][]T, len(planes))
	for i, p := range planes {
		out[i] = p[from:to]
	}
	return out
}

// background fills the pixels that are not painted.
func (t *shadeTexture) background(painted []bool, from int) {
	for k, v := range t.ps.back {
		if t.narrow != nil {
			p, v8 := t.narrow[k][from:], to8(v)
			for i, in := range painted {
				if !in {
					p[i] = v8
				}
			}
			continue
		}
		p := t.wide[k][from:]
		for i, in := range painted {
			if !in {
				p[i] = v
			}
		}
	}
}

// outside lets the background show outside the shading's BBox.
func (t *shadeTexture) outside(y, x0, x1 int) {
	for x := x0; x < x1; x++ {
		in := t.cover.at(x, y)
		if in == full {
			continue
		}
		i := x - t.box.X0
		for k, v := range t.ps.back {
			if t.narrow != nil {
				p := t.narrow[k]
				p[i] = to8(lerp16(v, in, in, uint16(p[i])*257))
			} else {
				p := t.wide[k]
				p[i] = lerp16(v, in, in, p[i])
			}
		}
	}
}

// cut adds the parts of spans that are painted.
func (t *shadeTexture) cut(out, spans []raster.Span) []raster.Span {
	for _, s := range spans {
		x := int(s.X0) - t.box.X0
		end := int(s.X1) - t.box.X0
		for x < end {
			if !t.painted[x] {
				x++
				continue
			}
			from := x
			for x < end && t.painted[x] {
				x++
			}
			out = append(out, raster.Span{X0: int32(from + t.box.X0), X1: int32(x + t.box.X0), Cover: s.Cover})
		}
	}
	return out
}

package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/plates/raster"
)

// clipCover is a clip chain inside one window: how much of every pixel it lets through.
type clipCover struct {
	rect  raster.IntRect // nothing outside
	inner raster.IntRect // all of every pixel here; may be empty
	fixed fixedRect      // the rectangle itself while all links are rectangles
	isRec bool
	// The rectangle that clips what is painted as a whole, while all links of it are rectangles too.
	bound   fixedRect
	bounded bool
	cover   []byte // of rect, row by row; nil when rect is inner; of a rectangle only the first, a middle and the last row
}

// line is the row y of a cover that is not nil.
func (c *clipCover) line(y int) []byte {
	stride, k := c.rect.X1-c.rect.X0, y-c.rect.Y0
	if c.isRec && k > 0 { // rows between the first and the last are alike
		if k = 1; y == c.rect.Y1-1 {
			k = len(c.cover)/stride - 1
		}
	}
	return c.cover[k*stride:][:stride]
}

// maxClipBytes bounds the covers remembered in one window, in multiples of the window.
const maxClipBytes = 12

// clip returns the cover of a chain in the window, remembered per link. What clips the group that is being painted as a whole is left out.
func (w *worker) clip(c *displist.Clip) *clipCover {
	if c == nil {
		return &w.open
	}
	if cc := w.clips[clipKey{c, w.base}]; cc != nil {
		return cc
	}
	// The chain is walked without recursion: it may be as long as the file likes.
	var chain []*displist.Clip
	at := c
	for ; at != nil && at != w.base && w.clips[clipKey{at, w.base}] == nil; at = at.Parent {
		chain = append(chain, at)
	}
	parent := &w.open
	if at != nil && at == w.base {
		start := w.start
		parent = &start
	} else if at != nil {
		parent = w.clips[clipKey{at, w.base}]
	}
	for i := len(chain) - 1; i >= 0; i-- {
		cc := w.link(parent, chain[i])
		if w.clipUse += len(cc.cover); w.clipUse > maxClipBytes*(w.window.X1-w.window.X0)*(w.window.Y1-w.window.Y0) {
			clear(w.clips)
			w.clipUse = len(cc.cover)
		}
		w.clips[clipKey{chain[i], w.base}] = cc
		parent = cc
	}
	return parent
}

// link narrows a cover by one more shape.
func (w *worker) link(parent *clipCover, c *displist.Clip) *clipCover {
	if parent.rect.Empty() {
		return parent
	}
	cs := w.job.root.clips[c]
	cs.once.Do(func() { w.clipShape(cs, c) })
	if cs.isRect && parent.isRec {
		r := cs.rect
		if parent.bounded {
			r = r.without(parent.bound, parent.fixed)
		}
		out := w.rectCover(parent.fixed.common(r))
		out.bounded, out.bound = parent.bounded, parent.bound
		return out
	}
	if cs.isRect {
		if in := cs.rect.inner(); in.Intersect(parent.rect) == parent.rect {
			return parent
		}
	}
	out := &clipCover{rect: parent.rect.Intersect(cs.edges.Bounds)}
	if out.rect.Empty() {
		return &clipCover{}
	}
	stride := out.rect.X1 - out.rect.X0
	out.cover = make([]byte, stride*(out.rect.Y1-out.rect.Y0))
	w.scan.Scan(cs.edges, out.rect, func(y int, spans []raster.Span) {
		row := out.cover[(y-out.rect.Y0)*stride:][:stride]
		for _, s := range spans {
			fill8(row[int(s.X0)-out.rect.X0:int(s.X1)-out.rect.X0], s.Cover)
		}
		parent.narrow(row, y, out.rect.X0, out.rect.X1)
	})
	return out
}

// narrow multiplies a row of coverage of pixels x0 <= x < x1 by the clip.
func (c *clipCover) narrow(row []byte, y, x0, x1 int) {
	if c.cover == nil {
		return
	}
	if y >= c.inner.Y0 && y < c.inner.Y1 && x0 >= c.inner.X0 && x1 <= c.inner.X1 {
		return
	}
	m := c.line(y)[x0-c.rect.X0 : x1-c.rect.X0]
	for i, v := range row {
		row[i] = mul8(v, m[i])
	}
}

// rectCover is the cover of one rectangle.
func (w *worker) rectCover(r fixedRect) *clipCover {
	out := &clipCover{rect: r.pixels().Intersect(w.window), fixed: r, isRec: true}
	if out.rect.Empty() {
		return &clipCover{}
	}
	out.inner = r.inner().Intersect(out.rect)
	if out.inner == out.rect {
		return out
	}
	stride := out.rect.X1 - out.rect.X0
	rows := min(3, out.rect.Y1-out.rect.Y0)
	out.cover = make([]byte, stride*rows)
	for k := range rows {
		y := out.rect.Y0 + k
		if k == rows-1 {
			y = out.rect.Y1 - 1
		}
		py := part(y, r.y0, r.y1)
		row := out.cover[k*stride:][:stride]
		for x := out.rect.X0; x < out.rect.X1; x++ {
			row[x-out.rect.X0] = byte((part(x, r.x0, r.x1)*py*255 + one*one/2) / (one * one))
		}
	}
	return out
}

// clipShape flattens one link.
func (w *worker) clipShape(cs *clipShape, c *displist.Clip) {
	pl := w.job.root
	if c.Shape.Path != nil {
		if r, ok := c.Shape.Path.AsRect(); ok && pl.dev.B == 0 && pl.dev.C == 0 {
			d := pl.dev.Bounds(r)
			cs.isRect = true
			cs.rect = fixedRect{fixed(d.X0), fixed(d.Y0), fixed(d.X1), fixed(d.Y1)}
		}
	}
	var b raster.Builder
	w.addShape(&b, pl, &c.Shape, false)
	cs.edges = b.Edges(ruleOf(&c.Shape))
}

// fixed rounds a device coordinate to 1/256 pixel.
func fixed(v float64) int {
	const far = 1 << 22
	return int(math.Floor(float64(max(-far, min(far, v))*one) + 0.5))
}

// clipped applies a clip to the spans of one row; the result is valid until the next call.
func (w *worker) clipped(c *clipCover, y int, spans []raster.Span) []raster.Span {
	if c.cover == nil || len(spans) == 0 {
		return spans // Scan was bounded by c.rect
	}
	x0, x1 := int(spans[0].X0), int(spans[len(spans)-1].X1)
	in0, in1 := c.inner.X0, c.inner.X1
	if y < c.inner.Y0 || y >= c.inner.Y1 || in0 >= in1 {
		in0, in1 = x1, x1
	}
	if in0 <= x0 && x1 <= in1 {
		return spans
	}
	out := w.spans[:0]
	m := c.line(y)
	for _, s := range spans {
		for x := int(s.X0); x < int(s.X1); {
			if x >= in0 && x < in1 {
				end := min(int(s.X1), in1)
				out = append(out, raster.Span{X0: int32(x), X1: int32(end), Cover: s.Cover})
				x = end
				continue
			}
			end := int(s.X1)
			if x < in0 {
				end = min(end, in0)
			}
			for x < end {
				v := m[x-c.rect.X0]
				from := x
				for x++; x < end && m[x-c.rect.X0] == v; x++ {
				}
				if cov := mul8(s.Cover, v); cov > 0 {
					out = append(out, raster.Span{X0: int32(from), X1: int32(x), Cover: cov})
				}
			}
		}
	}
	w.spans = out
	return out
}

// mul8 multiplies two coverages, rounded to nearest.
func mul8(a, b uint8) uint8 {
	v := uint32(a)*uint32(b) + 128
	return uint8((v + v>>8) >> 8)
}

func fill8(b []byte, v byte) {
	if len(b) == 0 {
		return
	}
	if v == 0 {
		clear(b)
		return
	}
	if len(b) < 16 {
		for i := range b {
			b[i] = v
		}
		return
	}
	b[0] = v
	for n := 1; n < len(b); n *= 2 {
		copy(b[n:], b[:n])
	}
}

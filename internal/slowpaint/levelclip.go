package slowpaint

import (
	"math"

	"laydown/internal/artwork/displist"
)

// levelClip is the coverage a chain of clips leaves.
type levelClip struct {
	cover []uint8
	// While all links are upright rectangles the chain is the one they have in common, in 1/256 pixel.
	upright        bool
	x0, y0, x1, y1 int
	outer          *levelClip // what the group is clipped by as a whole, when that is an upright rectangle
}

// chainKey is a chain from clip outwards, down to outer and without it.
type chainKey struct{ clip, outer *displist.Clip }

// times8 multiplies coverages of 255 parts.
func times8(a, b uint8) uint8 { return uint8((2*uint32(a)*uint32(b) + 255) / 510) }

func (l *Levels) cover(it *displist.Item) []uint8 {
	c, ok := l.covers[it]
	if !ok {
		c = l.Cover(it, l.Place)
		l.covers[it] = c
	}
	return c
}

// clip is the cover of a chain of clips, without outer and what is outside of that. A side of a rectangle that outer has too, or farther
// in, is outer's to cut.
func (l *Levels) clip(c, outer *displist.Clip) *levelClip {
	const far = 1 << 30
	if known := l.clips[chainKey{c, outer}]; known != nil {
		return known
	}
	out := &levelClip{cover: make([]uint8, l.W*l.H)}
	l.clips[chainKey{c, outer}] = out
	if c == nil || c == outer {
		out.upright, out.x0, out.y0, out.x1, out.y1 = true, -far, -far, far, far
		for i := range out.cover {
			out.cover[i] = 255
		}
		if c != nil {
			if whole := l.clip(outer, nil); whole.upright {
				out.outer = whole
			}
		}
		return out
	}
	parent := l.clip(c.Parent, outer)
	if c.Shape.Path != nil && parent.upright && l.Device.B == 0 && l.Device.C == 0 {
		if r, ok := c.Shape.Path.AsRect(); ok {
			r = l.Device.Bounds(r)
			out.upright, out.outer = true, parent.outer
			out.x0, out.y0, out.x1, out.y1 = in256(r.X0), in256(r.Y0), in256(r.X1), in256(r.Y1)
			if o := parent.outer; o != nil {
				if out.x0 <= o.x0 {
					out.x0 = -far
				}
				if out.y0 <= o.y0 {
					out.y0 = -far
				}
				if out.x1 >= o.x1 {
					out.x1 = far
				}
				if out.y1 >= o.y1 {
					out.y1 = far
				}
			}
			out.x0, out.y0 = max(parent.x0, out.x0), max(parent.y0, out.y0)
			out.x1, out.y1 = min(parent.x1, out.x1), min(parent.y1, out.y1)
			for i := range out.cover {
				w, h := overlap(i%l.W, out.x0, out.x1), overlap(i/l.W, out.y0, out.y1)
				out.cover[i] = uint8((w*h*255 + 256*256/2) / (256 * 256))
			}
			return out
		}
	}
	for i, v := range l.Filled(&c.Shape, l.Place) {
		out.cover[i] = times8(v, parent.cover[i])
	}
	return out
}

// sharedClip is the innermost clip that all items lie in, within the group's own; shared is false when some do not lie in that.
func sharedClip(items []displist.Item, own *displist.Clip) (clip *displist.Clip, shared bool) {
	in := func(c, outer *displist.Clip) bool {
		for c != nil && c != outer {
			c = c.Parent
		}
		return c == outer
	}
	for i := range items {
		if !in(items[i].Clip, own) {
			return own, false
		}
	}
	if len(items) == 0 {
		return own, true
	}
	for clip = items[0].Clip; clip != own; clip = clip.Parent {
		all := true
		for i := range items {
			all = all && in(items[i].Clip, clip)
		}
		if all {
			break
		}
	}
	return clip, true
}

// cutInPart counts the objects that may lie where a clip covers pixels by a part.
func (l *Levels) cutInPart(items []displist.Item, from, to int, clip *displist.Clip) (n int) {
	if clip == nil {
		return 0
	}
	whole := l.clip(clip, nil)
	up := func(v int) float64 { return math.Ceil(float64(v) / 256) }
	down := func(v int) float64 { return math.Floor(float64(v) / 256) }
	for i := from; i < to; i++ {
		it := &items[i]
		if it.Kind == displist.BeginGroup {
			if it.Hidden {
				i = it.Group.End - 1
			}
			continue
		}
		b := l.Device.Bounds(it.Bounds)
		if !it.Hidden && !(whole.upright && b.X0 >= up(whole.x0) && b.Y0 >= up(whole.y0) && b.X1 <= down(whole.x1) && b.Y1 <= down(whole.y1)) {
			n++
		}
	}
	return n
}

// overlap is how much of pixel i lies in lo <= v < hi, in 1/256 pixel.
func overlap(i, lo, hi int) int { return max(0, min(hi, (i+1)*256)-max(lo, i*256)) }

func in256(v float64) int { return int(math.Floor(float64(v*256) + 0.5)) }

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
}

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

// clip is the cover of a chain of clips.
func (l *Levels) clip(c *displist.Clip) *levelClip {
	const far = 1 << 30
	if c == nil {
		all := &levelClip{upright: true, x0: -far, y0: -far, x1: far, y1: far, cover: make([]uint8, l.W*l.H)}
		for i := range all.cover {
			all.cover[i] = 255
		}
		return all
	}
	if known := l.clips[c]; known != nil {
		return known
	}
	parent := l.clip(c.Parent)
	out := &levelClip{cover: make([]uint8, l.W*l.H)}
	l.clips[c] = out
	if c.Shape.Path != nil && parent.upright && l.Device.B == 0 && l.Device.C == 0 {
		if r, ok := c.Shape.Path.AsRect(); ok {
			r = l.Device.Bounds(r)
			out.upright = true
			out.x0, out.y0 = max(parent.x0, in256(r.X0)), max(parent.y0, in256(r.Y0))
			out.x1, out.y1 = min(parent.x1, in256(r.X1)), min(parent.y1, in256(r.Y1))
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

// overlap is how much of pixel i lies in lo <= v < hi, in 1/256 pixel.
func overlap(i, lo, hi int) int { return max(0, min(hi, (i+1)*256)-max(lo, i*256)) }

func in256(v float64) int { return int(math.Floor(float64(v*256) + 0.5)) }

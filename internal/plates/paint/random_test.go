package paint

import (
	"math/rand/v2"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
)

// A randomList draws small display lists for property tests.
type randomList struct {
	*rand.Rand
	w, h     int
	aligned  bool // corners on pixels
	opaque   bool // no alpha, mask, blend mode
	groups   int  // nesting
	blends   []displist.Blend
	masks    bool
	clips    bool
	chains   bool // of clips in force where groups are painted, which members inherit
	spaces   bool // groups with a blending space of their own
	overline bool // overprint
	pictures bool // images with and without masks
	curves   bool // fills and strokes that are not rectangles
}

// steady are the modes whose result changes little when their inputs do.
var steady = []displist.Blend{displist.Multiply, displist.Screen, displist.Overlay, displist.Darken, displist.Lighten,
	displist.HardLight, displist.SoftLight, displist.Difference, displist.Exclusion, displist.Color, displist.Luminosity}

// allModes are all but Normal.
var allModes = append([]displist.Blend{displist.ColorDodge, displist.ColorBurn, displist.Hue, displist.Saturation}, steady...)

func (r *randomList) list(n int) *displist.List {
	l := list(float64(r.w), float64(r.h), r.items(n, r.groups))
	r.end(l.Items, 0, len(l.Items))
	return l
}

// end makes the Ends, which items leaves relative, absolute.
func (r *randomList) end(items []displist.Item, from, to int) {
	for i := from; i < to; i++ {
		if items[i].Kind == displist.BeginGroup {
			items[i].Group.End += i
		}
		if m := items[i].SoftMask; m != nil && m.Ref.Num == 0 {
			m.Ref.Num = 1 // ends once
			r.end(m.Items, 0, len(m.Items))
		}
	}
}

func (r *randomList) items(n, depth int) []displist.Item {
	var out []displist.Item
	for range n {
		if depth > 0 && r.IntN(3) == 0 {
			members := r.items(1+r.IntN(3), depth-1)
			g := displist.Group{Isolated: r.IntN(2) == 0, Knockout: r.IntN(3) == 0}
			if r.spaces && r.IntN(3) == 0 {
				g.Isolated, g.Space = true, []colour.Space{colour.RGB, colour.Gray, colour.CMYK}[r.IntN(3)]
			}
			items := group(g, members, r.state)
			items[0].Overprint = false
			items[0].Group.End = len(items)
			if r.chains && r.IntN(3) > 0 {
				r.clipAll(items)
			}
			out = append(out, items...)
			continue
		}
		b := r.box()
		if r.pictures && r.IntN(2) == 0 {
			out = append(out, r.picture(b))
			continue
		}
		if r.curves && r.IntN(2) == 0 {
			out = append(out, r.curve(b))
			continue
		}
		out = append(out, rect(b.X0, b.Y0, b.X1, b.Y1, r.paint(), r.state))
	}
	return out
}

func (r *randomList) box() geom.Rect {
	at := func(n int) (a, b float64) {
		if r.aligned {
			i := r.IntN(n)
			return float64(i), float64(i + 1 + r.IntN(n-i)) // not empty: a line would be painted as a speck
		}
		u := r.Float64() * (float64(n) - 0.5)
		return u, u + 0.1 + r.Float64()*(float64(n)-0.1-u)
	}
	x0, x1 := at(r.w)
	y0, y1 := at(r.h)
	return geom.Rect{X0: x0, Y0: y0, X1: x1, Y1: y1}
}

func (r *randomList) tint() float64 { return float64(1+r.IntN(9)) / 10 }

func (r *randomList) paint() displist.Paint {
	switch r.IntN(5) {
	case 0:
		return paintOf(white, r.tint())
	case 1:
		return paintOf(gold, r.tint())
	case 2:
		return paintOf(colour.Gray, r.tint())
	}
	p := cmyk(r.tint(), r.tint(), r.tint(), r.tint())
	if r.IntN(2) == 0 {
		p.Comps[r.IntN(4)] = 0
	}
	return p
}

// picture is an image in a box, upright, mirrored, turned or askew.
func (r *randomList) picture(b geom.Rect) displist.Item {
	m := upright(b.X0, b.Y0, b.X1, b.Y1)
	switch r.IntN(4) {
	case 0:
		m = geom.Matrix{A: -m.A, D: -m.D, E: b.X1, F: b.Y0}
	case 1:
		m = geom.Matrix{B: b.Y1 - b.Y0, C: b.X1 - b.X0, E: b.X0, F: b.Y0}
	case 2:
		m.B, m.C = r.Float64()*2, r.Float64()*2
	}
	w, h := 1+r.IntN(9), 1+r.IntN(9)
	var im *image.Image
	switch r.IntN(4) {
	case 0:
		im = stencil(w, h, r.bytes((w+7)/8*h))
	case 1:
		im = grayImage(w, h, r.bytes(w*h))
	case 2:
		im = &image.Image{Width: w, Height: h, Bits: 8, Space: colour.CMYK, Decode: []float64{0, 1, 0, 1, 0, 1, 0, 1}, Data: r.bytes(4 * w * h)}
	default:
		im = spotImage(w, h, r.bytes(w*h))
	}
	im.Interpolate = r.IntN(4) == 0
	if !im.Stencil {
		mw, mh := w, h
		if r.IntN(2) == 0 {
			mw, mh = 1+r.IntN(5), 1+r.IntN(5)
		}
		switch r.IntN(4) {
		case 0:
			im.SoftMask = grayImage(mw, mh, r.bytes(mw*mh))
		case 1:
			im.Mask = stencil(mw, mh, r.bytes((mw+7)/8*mh))
		}
	}
	return picture(im, m, r.state, func(it *displist.Item) { it.Paint = r.paint() })
}

func (r *randomList) bytes(n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = []byte{0, 255, byte(r.IntN(256))}[r.IntN(3)]
	}
	return b
}

// curve is a fill or stroke of a path with curves through a box.
func (r *randomList) curve(b geom.Rect) displist.Item {
	at := func() geom.Point {
		return geom.Point{X: b.X0 + r.Float64()*(b.X1-b.X0), Y: b.Y0 + r.Float64()*(b.Y1-b.Y0)}
	}
	path := &geom.Path{}
	path.Move(at())
	for range 1 + r.IntN(3) {
		if r.IntN(2) == 0 {
			path.Line(at())
		} else {
			path.Cubic(at(), at(), at())
		}
	}
	if r.IntN(2) == 0 {
		path.ClosePath()
	}
	it := rect(b.X0, b.Y0, b.X1, b.Y1, r.paint(), r.state)
	it.Shape = displist.Shape{Path: path, Rule: geom.FillRule(r.IntN(2))}
	if r.IntN(2) == 0 {
		it.Kind = displist.Stroke
		it.Pen = &displist.Pen{M: geom.Identity, Style: geom.StrokeStyle{Width: r.Float64() * 2, Cap: geom.Cap(r.IntN(3)), Join: geom.Join(r.IntN(3)), MiterLimit: 4}}
		it.Bounds = geom.Rect{X0: b.X0 - 9, Y0: b.Y0 - 9, X1: b.X1 + 9, Y1: b.Y1 + 9}
	}
	return it
}

// state sets what stands on an item beside its paint and shape.
func (r *randomList) state(it *displist.Item) {
	if r.overline && r.IntN(3) == 0 {
		it.Overprint, it.OverprintMode = true, r.IntN(2)
	}
	if r.clips && it.Kind != displist.BeginGroup && r.IntN(3) == 0 {
		b := r.box()
		path := &geom.Path{}
		path.Rect(b)
		if !r.aligned && r.IntN(2) == 0 { // a corner cut off: not a rectangle
			path = &geom.Path{}
			path.Move(geom.Point{X: b.X0, Y: b.Y0})
			path.Line(geom.Point{X: b.X1, Y: b.Y0})
			path.Line(geom.Point{X: b.X0, Y: b.Y1})
			path.ClosePath()
		}
		it.Clip = &displist.Clip{Shape: displist.Shape{Path: path}, Bounds: b}
	}
	if r.opaque {
		return
	}
	if r.IntN(2) == 0 {
		it.Alpha = float64(r.IntN(11)) / 10
	}
	it.AlphaIsShape = r.IntN(4) == 0
	if len(r.blends) > 0 && r.IntN(2) == 0 {
		it.Blend = r.blends[r.IntN(len(r.blends))]
	}
	if r.masks && r.IntN(6) == 0 {
		it.SoftMask = r.mask()
	}
}

// clipAll clips a group by one shape and its members by another one within that, as a form's box does; sides may lie on each other.
func (r *randomList) clipAll(items []displist.Item) {
	link := func(b geom.Rect, parent *displist.Clip) *displist.Clip {
		path := &geom.Path{}
		path.Rect(b)
		if r.IntN(4) == 0 {
			path = &geom.Path{}
			path.Move(geom.Point{X: b.X0, Y: b.Y0})
			path.Line(geom.Point{X: b.X1, Y: b.Y0})
			path.Line(geom.Point{X: b.X0, Y: b.Y1})
			path.ClosePath()
		}
		return &displist.Clip{Shape: displist.Shape{Path: path}, Bounds: b, Parent: parent}
	}
	a, b := r.box(), r.box()
	for _, s := range []struct{ from, to *float64 }{{&a.X0, &b.X0}, {&a.Y0, &b.Y0}, {&a.X1, &b.X1}, {&a.Y1, &b.Y1}} {
		if r.IntN(2) == 0 {
			*s.to = *s.from
		}
	}
	b = geom.RectOf(b.X0, b.Y0, b.X1, b.Y1)
	outer := link(a, nil)
	inner := outer
	if r.IntN(3) > 0 {
		inner = link(b, outer)
	}
	hang := func(it *displist.Item, on *displist.Clip) {
		if it.Clip == nil {
			it.Clip = on
			return
		}
		c := it.Clip
		for c.Parent != nil {
			c = c.Parent
		}
		if c != outer {
			c.Parent = on
		}
	}
	hang(&items[0], outer)
	for i := range items[1:] {
		hang(&items[i+1], inner)
	}
}

func (r *randomList) mask() *displist.SoftMask {
	inner := *r
	inner.masks, inner.groups, inner.spaces = false, 1, false
	m := &displist.SoftMask{Luminosity: r.IntN(2) == 0, Bounds: geom.Rect{X1: float64(r.w), Y1: float64(r.h)},
		Isolated: r.IntN(2) == 0, Space: colour.CMYK, Items: inner.items(3, 1)}
	if r.IntN(2) == 0 {
		m.Backdrop = []float64{0, 0, 0, r.tint()}
	}
	if r.IntN(3) == 0 {
		m.Transfer = invert{}
	}
	return m
}

type invert struct{}

func (invert) Inputs() int            { return 1 }
func (invert) Outputs() int           { return 1 }
func (invert) Eval(out, in []float64) { out[0] = 1 - in[0] }

package paint

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// group paints the members of group item i into a buffer and composites it into l.
func (w *worker) group(pl *plan, i int, box raster.IntRect, l *layer) {
	it, st := &pl.items[i], &pl.steps[i]
	cl := w.clip(st.clip)
	box = box.Intersect(cl.rect)
	if box.Empty() || it.Alpha <= 0 && !l.knockout && !l.keepShape {
		return
	}
	n := 0
	if l.n > 0 {
		n = pl.target.Components(st.within)
	}
	g := w.newLayer(l, box, st.within, it.Group.Isolated, it.Group.Knockout, n)
	if st.shared {
		back := w.clippedOnce(st.clip, cl)
		w.items(pl, i+1, st.next, g)
		back()
	} else {
		w.items(pl, i+1, st.next, g)
	}
	b := w.brush(pl, i)
	cl = w.clip(st.clip) // members may have pushed it out of memory
	w.putGroup(l, g, b, cl, it.Intent)
	w.release(g)
}

// putGroup composites group buffer g into l row by row.
func (w *worker) putGroup(l, g *layer, b *brush, cl *clipCover, intent colour.Intent) {
	for y := g.rect.Y0; y < g.rect.Y1; y++ {
		at := g.at(g.rect.X0, y)
		a := g.a[at : at+g.stride]
		var shape []uint16
		if g.shape != nil {
			shape = g.shape[at : at+g.stride]
		}
		from, to := marked(a, shape)
		if from >= to {
			continue
		}
		a = a[from:to]
		if shape != nil {
			shape = shape[from:to]
		}
		px := make([][]uint16, g.n)
		for c, p := range g.p {
			if p != nil {
				px[c] = p[at+from : at+to]
			}
		}
		var converted [][]uint16
		if g.n > 0 && g.space != l.space {
			px, converted = w.convertRow(g.space, l.space, px, a, intent)
		}
		s := &source{x0: g.rect.X0 + from, px: px, alpha: a, shape: shape}
		spans := append(w.groupSpans[:0], raster.Span{X0: int32(s.x0), X1: int32(g.rect.X0 + to), Cover: 255})
		w.groupSpans = spans
		if spans = w.clipped(cl, y, spans); len(spans) > 0 {
			w.row(l, b, y, spans, s)
		}
		for _, r := range converted {
			w.rows.put(r)
		}
	}
}

// marked is the part of a row outside of which a group has neither alpha nor shape.
func marked(a, shape []uint16) (from, to int) {
	set := func(i int) bool { return a[i] != 0 || (shape != nil && shape[i] != 0) }
	to = len(a)
	for from < to && !set(from) {
		from++
	}
	for to > from && !set(to-1) {
		to--
	}
	return from, to
}

// finishPage converts the page's own buffer to the root plates.
func (w *worker) finishPage(root, page *layer) {
	b := &brush{alpha: full, opaque: true, item: -1}
	probe := w.probe
	w.probe = nil
	w.putGroup(root, page, b, &w.open, colour.RelativeColorimetric)
	w.probe = probe
}

// converterMemory remembers converted colours of one pair of spaces and intent.
type converterMemory struct {
	from, to separate.BlendSpace
	intent   colour.Intent
	keys     []uint64 // tints, 16 bits each, plus 1 in spirit: ok tells whether the slot is used
	ok       []bool
	vals     [][4]uint16
}

const converterSlots = 1 << 12

// convertRow converts the process components of a premultiplied row from a group's space to its
// parent's. made are the rows to be given back.
func (w *worker) convertRow(from, to separate.BlendSpace, px [][]uint16, a []uint16, intent colour.Intent) (out, made [][]uint16) {
	nf, nt := from.ProcessComponents(), to.ProcessComponents()
	out = make([][]uint16, nt, nt+len(px)-nf)
	for c := range out {
		out[c] = w.rows.get(len(a))
	}
	made = out
	m := w.convert
	if m.vals == nil {
		m.keys, m.ok, m.vals = make([]uint64, converterSlots), make([]bool, converterSlots), make([][4]uint16, converterSlots)
	}
	if m.from != from || m.to != to || m.intent != intent {
		m.from, m.to, m.intent = from, to, intent
		clear(m.ok)
	}
	for i, al := range a {
		if al == 0 {
			continue
		}
		var t [4]uint16
		var key uint64
		for c := range nf {
			if px[c] != nil {
				t[c] = unmul16(px[c][i], al)
			}
			key = key<<16 | uint64(t[c])
		}
		slot := (key * 0x9E3779B97F4A7C15) >> 52
		if !m.ok[slot] || m.keys[slot] != key {
			m.ok[slot], m.keys[slot] = true, key
			m.vals[slot] = w.convertTints(from, to, t, intent)
		}
		for c := range nt {
			out[c][i] = mul16(m.vals[slot][c], al)
		}
	}
	return append(out, px[nf:]...), made
}

// unmul16 is p/a rounded to nearest, at most 65535.
func unmul16(p, a uint16) uint16 {
	if p >= a {
		return full
	}
	return uint16((uint32(p)*full + uint32(a)/2) / uint32(a))
}

// convertTints converts process tints between blending spaces.
func (w *worker) convertTints(from, to separate.BlendSpace, t [4]uint16, intent colour.Intent) (out [4]uint16) {
	comps, space := additive(from, t)
	conv := w.job.Target.Converter
	switch to {
	case separate.BlendRGB:
		for c, v := range conv.RGB(space, comps, intent) {
			out[c] = to16(1 - v)
		}
	case separate.BlendGray:
		out[0] = to16(1 - conv.Gray(space, comps, intent))
	default:
		for c, v := range conv.CMYK(space, comps, intent) {
			out[c] = to16(v)
		}
	}
	return out
}

// additive is a colour of a blending space as components of its device space.
func additive(s separate.BlendSpace, t [4]uint16) ([]float64, colour.Space) {
	comps := make([]float64, s.ProcessComponents())
	for c := range comps {
		comps[c] = float64(t[c]) / full
		if s != separate.BlendCMYK {
			comps[c] = 1 - comps[c]
		}
	}
	return comps, processSpace(separate.Context{Space: s})
}

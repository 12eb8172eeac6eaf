package paint

import (
	"slices"
	"sync"

	"laydown/internal/artwork/displist"
	"laydown/internal/limits"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// A maskPlan is a soft mask made ready (11.5). Its group is painted into a buffer of process
// components alone, over its backdrop.
type maskPlan struct {
	mask     *displist.SoftMask
	plan     *plan
	box      raster.IntRect
	backdrop [4]uint16 // tints
	outside  uint16    // the value where the group has no marks and outside its BBox

	transfers *memory[*displist.SoftMask, []uint16]
	once      sync.Once
	transfer  []uint16 // by value; nil = Identity
}

// mask plans a soft mask; each is planned once for a job.
func (p *planner) mask(sm *displist.SoftMask, depth int) {
	if _, ok := p.masks[sm]; ok {
		return
	}
	mp := &maskPlan{mask: sm, outside: full, transfers: p.job.transfers}
	p.masks[sm] = mp
	if depth >= limits.MaxGroupDepth {
		p.tooDeep(nil)
		return
	}
	target := p.job.maskTarget()
	mp.box = p.pixels(sm.Bounds, 1).Intersect(p.page)
	p.clip(sm.BBox)
	var ctx separate.Context
	if sm.Luminosity {
		ctx = separate.Context{}.Within(&displist.Group{Isolated: true, Space: sm.Space})
	}
	mp.plan = p.plan(sm.Items, target, ctx, nil, depth, sm.Knockout)
	if !sm.Luminosity {
		mp.outside = mp.value(0)
		return
	}
	if sm.Space != nil {
		bc := sm.Backdrop
		if len(bc) != sm.Space.Components() {
			bc = make([]float64, sm.Space.Components()) // black
			if len(bc) == 4 {
				bc[3] = 1
			}
		}
		ink := target.Colour(displist.Paint{Space: sm.Space, Comps: bc}, false, 0, true, 0, ctx)
		copy(mp.backdrop[:], ink.Values)
	} else {
		mp.backdrop[3] = full
	}
	mp.outside = mp.value(mp.luminosity(mp.backdrop))
}

// luminosity of process tints (11.5.3).
func (mp *maskPlan) luminosity(t [4]uint16) uint16 {
	comps, space := additive(mp.plan.ctx.Space, t)
	return to16(mp.plan.target.Converter.Luminosity(space, comps))
}

// value applies the transfer function.
func (mp *maskPlan) value(v uint16) uint16 {
	f := mp.mask.Transfer
	if f == nil || f.Inputs() != 1 || f.Outputs() < 1 {
		return v
	}
	mp.once.Do(func() {
		mp.transfer = mp.transfers.get(mp.mask, 2*(full+1), func() []uint16 {
			table := make([]uint16, full+1)
			in, out := make([]float64, 1), make([]float64, f.Outputs())
			for i := range table {
				in[0] = float64(i) / full
				f.Eval(out, in)
				table[i] = to16(out[0])
			}
			return table
		})
	})
	return mp.transfer[v]
}

// maskCover is a soft mask inside one window.
type maskCover struct {
	rect    raster.IntRect
	values  []uint16
	outside uint16
}

// narrow multiplies a row starting at x0 by the mask.
func (c *maskCover) narrow(row []uint16, y, x0 int) {
	stride := c.rect.X1 - c.rect.X0
	var values []uint16
	if y >= c.rect.Y0 && y < c.rect.Y1 {
		values = c.values[(y-c.rect.Y0)*stride:][:stride]
	}
	from := min(max(c.rect.X0-x0, 0), len(row))
	to := max(min(c.rect.X1-x0, len(row)), from)
	if values == nil {
		from, to = len(row), len(row)
	}
	if c.outside != full {
		for i, v := range row[:from] {
			row[i] = mul16(v, c.outside)
		}
		for i, v := range row[to:] {
			row[to+i] = mul16(v, c.outside)
		}
	}
	if from < to {
		in := row[from:to]
		mulRow(in, in, values[x0+from-c.rect.X0:])
	}
}

// maxMasks bounds the masks remembered in one window.
const maxMasks = 8

// mask returns a soft mask's values in the window, painted when first asked for.
func (w *worker) mask(mp *maskPlan) *maskCover {
	if c := w.masks[mp]; c != nil {
		at := slices.Index(w.maskAge, mp)
		w.maskAge = append(slices.Delete(w.maskAge, at, at+1), mp)
		return c
	}
	if len(w.maskAge) >= maxMasks {
		delete(w.masks, w.maskAge[0])
		w.maskAge = append(w.maskAge[:0], w.maskAge[1:]...)
	}
	c := &maskCover{outside: mp.outside}
	w.masks[mp] = c // a mask that asks for itself gets what is outside
	w.maskAge = append(w.maskAge, mp)
	rect := mp.box.Intersect(w.window)
	if mp.plan == nil || rect.Empty() {
		return c
	}
	probe := w.probe
	w.probe = nil
	defer func() { w.probe = probe }()
	sm := mp.mask
	n := 0
	if sm.Luminosity {
		n = mp.plan.n
	}
	l := w.newLayer(nil, rect, mp.plan.ctx, sm.Isolated, sm.Knockout, n)
	if sm.Luminosity && !sm.Isolated {
		w.setBackdrop(l, mp.backdrop[:])
	}
	back := w.clippedOnce(nil, nil) // a mask is the same whatever group asks for it
	defer back()
	w.items(mp.plan, 0, len(mp.plan.items), l)
	values := make([]uint16, l.size())
	cl := w.clip(sm.BBox)
	for y := rect.Y0; y < rect.Y1; y++ {
		at := l.at(rect.X0, y)
		w.maskRow(mp, l, cl, y, values[at:at+l.stride])
	}
	w.release(l)
	c.rect, c.values = rect, values
	return c
}

// setBackdrop gives l an opaque backdrop of one colour; nil is solid toner of every component.
func (w *worker) setBackdrop(l *layer, tints []uint16) {
	l.haveBackdrop = true
	l.ba = w.rows.plane(l.size())
	fill16(l.ba, full)
	l.b = make([][]uint16, l.n)
	for c := range l.b {
		l.b[c] = w.rows.plane(l.size())
		tint := uint16(full)
		if tints != nil {
			tint = tints[c]
		}
		fill16(l.b[c], tint)
	}
}

// maskRow turns a row of the mask's group into mask values.
func (w *worker) maskRow(mp *maskPlan, l *layer, cl *clipCover, y int, out []uint16) {
	at := l.at(l.rect.X0, y)
	a := l.a[at : at+l.stride]
	free := y >= cl.inner.Y0 && y < cl.inner.Y1 && cl.inner.X0 <= l.rect.X0 && cl.inner.X1 >= l.rect.X1
	var last [4]uint16
	lastValue, known := uint16(0), false
	lastAlpha, alphaValue := uint16(0), mp.value(0)
	for i := range out {
		in, al := uint16(full), a[i]
		if !free {
			in = cl.at(l.rect.X0+i, y)
			al = mul16(al, in)
		}
		if l.n == 0 {
			if al != lastAlpha {
				lastAlpha, alphaValue = al, mp.value(al)
			}
			out[i] = alphaValue
			continue
		}
		if al == 0 {
			out[i] = mp.outside
			continue
		}
		var t [4]uint16
		for c := range l.n {
			if l.p[c] != nil {
				t[c] = mul16(l.p[c][at+i], in)
			}
			t[c] = add16(t[c], mul16(full-al, mp.backdrop[c]))
		}
		if !known || t != last {
			last, lastValue, known = t, mp.value(mp.luminosity(t)), true
		}
		out[i] = lastValue
	}
}

// at is what a clip lets through at a pixel, with 16 bits.
func (c *clipCover) at(x, y int) uint16 {
	if x < c.rect.X0 || x >= c.rect.X1 || y < c.rect.Y0 || y >= c.rect.Y1 {
		return 0
	}
	if c.cover == nil {
		return full
	}
	return uint16(c.line(y)[x-c.rect.X0]) * 257
}

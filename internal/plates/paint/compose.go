package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// A brush is how one item is put onto a layer.
type brush struct {
	effects []separate.Effect // nil = Paint all (a group as a whole, Table 146)
	values  []uint16          // tints of a flat colour
	flat8   []uint8           // the same with 8 bits, when opaque
	opaque  bool              // alpha 1, Normal, no mask
	blend   displist.Blend
	alpha   uint16
	ais     bool // constant alpha and mask count as shape
	mask    *maskCover
	item    int
	reasons []separate.Reason
}

// A source is what varies from pixel to pixel: samples of an image, or a group's result. Its slices start at x0.
type source struct {
	x0    int
	px    [][]uint16 // premultiplied by alpha; nil planes are 0. nil when a flat colour is meant
	px8   [][]uint8  // instead, for opaque painting onto the root: samples with 8 bits, nil where not painted
	alpha []uint16   // nil = 1
	shape []uint16   // part of the shape; nil = 1
	hold  [][]uint16 // part of alpha that keeps what is there, by component (tilings with overprint); nil = none
}

// brush returns the brush of item i; effects and values are still missing.
func (w *worker) brush(pl *plan, i int) *brush {
	it := &pl.items[i]
	b := &brush{blend: it.Blend, alpha: to16(it.Alpha), ais: it.AlphaIsShape, item: i}
	if it.SoftMask != nil {
		b.mask = w.mask(pl.masks[it.SoftMask])
	}
	b.opaque = b.alpha == full && b.blend == displist.Normal && b.mask == nil
	return b
}

// flatIn gives the brush a flat colour.
func (b *brush) flatIn(ink *separate.Ink) {
	b.effects, b.values, b.reasons = ink.Effects, ink.Values, ink.Reasons
	if !b.opaque {
		return
	}
	b.flat8 = make([]uint8, len(b.values))
	for c, v := range b.values {
		b.flat8[c] = to8(v)
	}
}

// row puts one row of an item onto l; s is nil for a flat colour.
func (w *worker) row(l *layer, b *brush, y int, spans []raster.Span, s *source) {
	if w.probe != nil {
		w.probe.before(w, l, b, y, spans, s)
		defer w.probe.after(w, l, y)
	}
	if l.root && b.opaque && (s == nil || s.px8 != nil) {
		w.opaqueRow8(l, b, y, spans, s)
		return
	}
	for i := 0; i < len(spans); {
		j := i + 1
		for j < len(spans) && spans[j].X0 == spans[j-1].X1 {
			j++
		}
		w.segment(l, b, y, spans[i:j], s)
		i = j
	}
}

// opaqueRow8 paints a flat opaque colour or opaque samples onto the root plates.
func (w *worker) opaqueRow8(l *layer, b *brush, y int, spans []raster.Span, s *source) {
	base := l.at(0, y)
	for c := range l.n {
		if b.effects != nil && b.effects[c] == separate.Leave {
			continue
		}
		if s != nil && s.px8[c] != nil {
			if l.p8[c] != nil || anyToner(s.px8[c], s.x0, spans) {
				samples8(w.plane8(l, c), base, spans, s.px8[c], s.x0)
			}
			continue
		}
		src := uint8(0)
		if s == nil {
			src = b.flat8[c]
		}
		if src == 0 && l.p8[c] == nil {
			continue
		}
		cover8(w.plane8(l, c), base, spans, src)
	}
	if l.paperAlpha {
		cover8(w.alpha8(l), base, spans, 255)
	}
}

func anyToner(px []uint8, x0 int, spans []raster.Span) bool {
	for _, s := range spans {
		for _, v := range px[int(s.X0)-x0 : int(s.X1)-x0] {
			if v != 0 {
				return true
			}
		}
	}
	return false
}

// samples8 lays samples, which start at x0, over the pixels of spans.
func samples8(p []byte, base int, spans []raster.Span, px []uint8, x0 int) {
	for _, s := range spans {
		run, src := p[base+int(s.X0):base+int(s.X1)], px[int(s.X0)-x0:int(s.X1)-x0]
		if s.Cover == 255 {
			copy(run, src)
			continue
		}
		keep, add := uint32(255-s.Cover), uint32(s.Cover)
		for i, v := range run {
			run[i] = uint8((uint32(v)*keep + uint32(src[i])*add + 127) / 255)
		}
	}
}

// cover8 lays src over the pixels of spans.
func cover8(p []byte, base int, spans []raster.Span, src uint8) {
	for _, s := range spans {
		run := p[base+int(s.X0) : base+int(s.X1)]
		if s.Cover == 255 {
			fill8(run, src)
			continue
		}
		keep, add := uint32(255-s.Cover), uint32(src)*uint32(s.Cover)+127
		for i, v := range run {
			run[i] = uint8((uint32(v)*keep + add) / 255)
		}
	}
}

// segment composites spans that touch each other.
func (w *worker) segment(l *layer, b *brush, y int, spans []raster.Span, s *source) {
	x0, x1 := int(spans[0].X0), int(spans[len(spans)-1].X1)
	n := x1 - x0
	shape := w.rows.get(n)
	for _, sp := range spans {
		fill16(shape[int(sp.X0)-x0:int(sp.X1)-x0], uint16(sp.Cover)*257)
	}
	m := shape
	if !b.opaque || b.ais {
		m = w.rows.get(n)
		if b.alpha == full {
			copy(m, shape)
		} else {
			last, product := uint16(0), uint16(0)
			for i, v := range shape {
				if v != last {
					last, product = v, mul16(v, b.alpha)
				}
				m[i] = product
			}
		}
		if b.mask != nil {
			b.mask.narrow(m, y, x0)
		}
	}
	if b.ais {
		shape = m
	}
	w.compose(l, b, y, x0, m, shape, s)
	w.rows.put(m)
	if !b.ais && !b.opaque {
		w.rows.put(shape)
	}
}

// compose composites pixels x0 <= x < x0+len(m) of row y. m is the factor on the source's alpha,
// shape that on its shape.
func (w *worker) compose(l *layer, b *brush, y, x0 int, m, shape []uint16, s *source) {
	n := len(m)
	as, fs := m, shape
	if s != nil {
		s = s.from(x0, n)
		if s.alpha != nil {
			as = w.rows.get(n)
			mulRow(as, m, s.alpha)
			defer w.rows.put(as)
		}
		if s.shape != nil && (l.knockout || l.keepShape) {
			fs = w.rows.get(n)
			mulRow(fs, shape, s.shape)
			defer w.rows.put(fs)
		}
	}
	k := as
	if l.knockout {
		k = fs
	}
	r := rowWork{w: w, l: l, b: b, y: y, x0: x0, n: n, as: as, k: k, m: m, s: s}
	r.covers = b.blend == displist.Normal && allFull(m) && allFull(k)
	if b.blend != displist.Normal || r.leavesBackdrop() {
		r.ab, r.pb = w.backdropRow(l, y, x0, x0+n)
		defer w.putBackdrop(r.ab, r.pb)
	}
	r.components()
	r.alpha(fs)
}

// from is the part of s at pixels x0 <= x < x0+n.
func (s *source) from(x0, n int) *source {
	d := x0 - s.x0
	t := &source{x0: x0}
	if s.px != nil {
		t.px = make([][]uint16, len(s.px))
		for c, p := range s.px {
			if p != nil {
				t.px[c] = p[d : d+n]
			}
		}
	}
	if s.hold != nil {
		t.hold = make([][]uint16, len(s.hold))
		for c, p := range s.hold {
			if p != nil {
				t.hold[c] = p[d : d+n]
			}
		}
	}
	if s.alpha != nil {
		t.alpha = s.alpha[d : d+n]
	}
	if s.shape != nil {
		t.shape = s.shape[d : d+n]
	}
	return t
}

// rowWork is the compositing of one run of pixels.
type rowWork struct {
	w        *worker
	l        *layer
	b        *brush
	y, x0, n int
	as       []uint16 // alpha of the object
	k        []uint16 // what the object takes away of what is there
	m        []uint16 // factor on premultiplied source colours
	s        *source
	ab       []uint16   // backdrop alpha, when it is read
	pb       [][]uint16 // premultiplied backdrop colours
	covers   bool       // Normal with m and k full everywhere: nothing of what is there stays
}

func allFull(row []uint16) bool {
	for _, v := range row {
		if v != full {
			return false
		}
	}
	return true
}

func (r *rowWork) effect(c int) separate.Effect {
	if r.b.effects == nil {
		return separate.Paint
	}
	return r.b.effects[c]
}

// leavesBackdrop reports whether a component is left in a group whose backdrop then shows.
func (r *rowWork) leavesBackdrop() bool {
	if r.l.root || (r.l.isolated && !r.l.hasBackdrop()) {
		return false
	}
	if r.s != nil && r.s.hold != nil {
		return true
	}
	for c := range r.l.n {
		if r.effect(c) == separate.Leave {
			return true
		}
	}
	return false
}

// hasBackdrop reports whether a group that counts as isolated was given a backdrop (soft masks).
func (l *layer) hasBackdrop() bool { return l.haveBackdrop }

// components composites every component by Normal or the blend mode.
func (r *rowWork) components() {
	process := r.l.space.ProcessComponents()
	blend := r.b.blend
	if blend != displist.Normal && !blend.Separable() && r.l.n >= process {
		r.nonSeparable(process)
	}
	for c := range r.l.n {
		switch {
		case blend == displist.Normal,
			c >= process && !(blend.Separable() && blend.WhitePreserving()): // 11.7.4.2
			r.normal(c)
		case blend.Separable():
			r.separable(c)
		}
	}
}

// normal composites component c with Normal, or leaves it (CompatibleOverprint).
func (r *rowWork) normal(c int) {
	if r.effect(c) == separate.Leave {
		r.leave(c)
		return
	}
	if r.s != nil && r.s.px != nil {
		if r.s.hold != nil && r.s.hold[c] != nil {
			r.held(c)
			return
		}
		src := r.s.px[c]
		row := r.row(c, src != nil)
		if row == nil {
			return
		}
		switch {
		case src == nil:
			lessen(row, r.k)
		case r.covers:
			copy(row, src)
		default:
			k, m, src := r.k[:len(row)], r.m[:len(row)], src[:len(row)]
			for i, v := range row {
				if k[i]|m[i] != 0 {
					row[i] = lerp16(v, k[i], m[i], src[i])
				}
			}
		}
		r.store(c, row)
		return
	}
	v := r.b.values[c]
	row := r.row(c, v != 0)
	if row == nil {
		return
	}
	switch {
	case v == 0:
		lessen(row, r.k)
	case r.covers && r.s == nil:
		fill16(row, v)
	default:
		k, as := r.k[:len(row)], r.as[:len(row)]
		for i, d := range row {
			if k[i]|as[i] != 0 {
				row[i] = lerp16(d, k[i], as[i], v)
			}
		}
	}
	r.store(c, row)
}

// lessen multiplies row by 1-k.
func lessen(row, k []uint16) {
	k = k[:len(row)]
	for i, v := range row {
		if v != 0 && k[i] != 0 {
			row[i] = mul16(v, full-k[i])
		}
	}
}

// leave keeps component c of the backdrop.
func (r *rowWork) leave(c int) {
	if r.l.root || (!r.l.knockout && r.pb == nil) {
		return // premultiplied, what is there stays
	}
	var under []uint16
	if r.pb != nil {
		under = r.pb[c]
	}
	row := r.row(c, under != nil)
	if row == nil {
		return
	}
	if under == nil {
		lessen(row, r.k)
	} else {
		for i, v := range row {
			row[i] = lerp16(v, r.k[i], r.as[i], under[i])
		}
	}
	r.store(c, row)
}

// alpha adds the object to the group's alpha and shape.
func (r *rowWork) alpha(fs []uint16) {
	l := r.l
	if l.root {
		if l.paperAlpha {
			at := l.at(r.x0, r.y)
			run := r.w.alpha8(l)[at : at+r.n]
			for i, v := range run {
				run[i] = to8(lerp16(uint16(v)*257, r.k[i], r.as[i], full))
			}
		}
		return
	}
	at := l.at(r.x0, r.y)
	run := l.a[at : at+r.n]
	if r.covers && r.s == nil {
		fill16(run, full)
	} else {
		k, as := r.k[:len(run)], r.as[:len(run)]
		for i, v := range run {
			if f := k[i]; f == as[i] {
				switch {
				case f == 0 || v == full:
					continue
				case f == full:
					run[i] = full
					continue
				}
			}
			run[i] = lerp16(v, k[i], as[i], full)
		}
	}
	if l.keepShape {
		run := l.shape[at : at+r.n]
		for i, v := range run {
			run[i] = union(v, fs[i])
		}
	}
}

// row returns the pixels of component c with 16 bits, to be changed and stored; nil when the
// component holds nothing and need is false.
func (r *rowWork) row(c int, need bool) []uint16 {
	l := r.l
	at := l.at(r.x0, r.y)
	if !l.root {
		if l.p[c] == nil && !need {
			return nil
		}
		return r.w.plane16(l, c)[at : at+r.n]
	}
	if l.p8[c] == nil && !need {
		return nil
	}
	row := r.w.rows.get(r.n)
	if l.p8[c] != nil {
		widen(row, l.p8[c][at:at+r.n])
	}
	return row
}

// store ends what row began.
func (r *rowWork) store(c int, row []uint16) {
	l := r.l
	if !l.root {
		return
	}
	at := l.at(r.x0, r.y)
	run := r.w.plane8(l, c)[at : at+r.n]
	for i, v := range row {
		run[i] = to8(v)
	}
	r.w.rows.put(row)
}

func mulRow(dst, a, b []uint16) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i, v := range a {
		switch {
		case v == full:
			v = b[i]
		case b[i] != full:
			v = mul16(v, b[i])
		}
		dst[i] = v
	}
}

func fill16(row []uint16, v uint16) {
	if v == 0 {
		clear(row)
		return
	}
	if len(row) < 16 {
		for i := range row {
			row[i] = v
		}
		return
	}
	row[0] = v
	for n := 1; n < len(row); n *= 2 {
		copy(row[n:], row[:n])
	}
}

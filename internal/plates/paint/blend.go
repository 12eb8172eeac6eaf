package paint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/plates/separate"
)

// run is the next pixels from i on that the item does something to: from <= x < to, none when from is r.n.
func (r *rowWork) run(i int) (from, to int) {
	from = i
	for from < r.n && r.as[from]|r.k[from] == 0 {
		from++
	}
	to = from
	for to < r.n && r.as[to]|r.k[to] != 0 {
		to++
	}
	return from, to
}

// sources sets dst to the source colour of component c, as tints 0..1, from run pixel from on. What an
// item leaves is the backdrop: with a blend mode the item counts as a group painted with
// CompatibleOverprint (11.7.4.3), whose colour there is the backdrop's.
func (r *rowWork) sources(dst []float64, c, from int) {
	to := from + len(dst)
	switch s := r.s; {
	case r.effect(c) == separate.Leave:
		fractions(dst, r.pb[c], from, to)
	case s == nil || s.px == nil:
		v := float64(r.b.values[c]) / full
		for i := range dst {
			dst[i] = v
		}
	case s.px[c] == nil || s.alpha == nil:
		fractions(dst, s.px[c], from, to)
	default:
		ratios(dst, s.px[c][from:to], s.alpha[from:to])
	}
}

// backdrops sets dst to the backdrop colour as tints; alpha 0 has none and gives 0.
func (r *rowWork) backdrops(dst []float64, c, from int) {
	if r.pb[c] == nil {
		clear(dst)
		return
	}
	ratios(dst, r.pb[c][from:from+len(dst)], r.ab[from:from+len(dst)])
}

// fractions sets dst to row[from:to] of 65535; a row that is nil is 0.
func fractions(dst []float64, row []uint16, from, to int) {
	if row == nil {
		clear(dst)
		return
	}
	for i, v := range row[from:to] {
		dst[i] = float64(v) / full
	}
}

func ratios(dst []float64, p, a []uint16) {
	a = a[:len(dst)]
	for i, v := range p[:len(dst)] {
		dst[i] = ratio(v, a[i])
	}
}

func ratio(p, a uint16) float64 {
	if p >= a {
		if a == 0 {
			return 0
		}
		return 1
	}
	return float64(p) / float64(a)
}

// put composites run pixels from on: row holds the layer's, cs source tints and bt blended tints.
func (r *rowWork) put(row []uint16, from int, cs, bt []float64) {
	n := len(row)
	rowAb, rowK, rowAs := r.ab[from:from+n], r.k[from:from+n], r.as[from:from+n]
	cs, bt = cs[:n], bt[:n]
	for i, v := range row {
		ab := float64(rowAb[i]) / full
		x := float64((1-ab)*cs[i]) + float64(ab*bt[i])
		sum := float64(float64(v)*float64(full-rowK[i])) + float64(float64(rowAs[i])*float64(x*full))
		row[i] = uint16(min(sum/full, full) + 0.5)
	}
}

// exact composites component c with one of the modes that need no division when tints are
// premultiplied: what is added, as*X, is a polynomial in them. It is computed in integers and rounded once.
// With S = as*cs and D = ab*cb, as tints:
//
//	Multiply  S + D*(as - S)
//	Screen    S*(1 - ab + D)
//	Darken    S*(1-ab) + max(as*D, ab*S)
//	Lighten   S*(1-ab) + min(as*D, ab*S)
func (r *rowWork) exact(c int, row []uint16) {
	const none = 1 << 63
	n := len(row)
	rowAs, rowK, rowAb, rowM := r.as[:n], r.k[:n], r.ab[:n], r.m[:n]
	var px, pb []uint16
	flat := r.s == nil || r.s.px == nil
	if !flat {
		px = r.s.px[c]
	}
	value := uint64(0)
	if flat {
		value = uint64(r.b.values[c])
	}
	pb = r.pb[c]
	mode := r.b.blend
	// Neighbours are often alike: the last result is kept with all it was made of.
	key, key2, last := uint64(none), uint64(0), uint16(0)
	for i, v := range row {
		as, k, ab := uint64(rowAs[i]), uint64(rowK[i]), uint64(rowAb[i])
		if as|k == 0 {
			continue
		}
		var s, d uint64
		if flat {
			s = as * value
		} else if px != nil {
			s = min(uint64(rowM[i])*uint64(px[i]), as*full)
		}
		if pb != nil {
			d = min(uint64(pb[i]), ab)
		}
		if q, q2 := s<<16|d, uint64(v)<<48|as<<32|k<<16|ab; q == key && q2 == key2 {
			row[i] = last
			continue
		} else {
			key, key2 = q, q2
		}
		var add uint64
		switch mode {
		case displist.Multiply:
			add = s*full + d*(as*full-s)
		case displist.Screen:
			add = s * (full - ab + d)
		case displist.Darken:
			add = s*(full-ab) + max(as*d*full, ab*s)
		default:
			add = s*(full-ab) + min(as*d*full, ab*s)
		}
		last = uint16(min((uint64(v)*(full-k)*full+add+full*full/2)/(full*full), full))
		row[i] = last
	}
}

// separable composites component c with a separable mode.
func (r *rowWork) separable(c int) {
	mode := r.b.blend
	quiet := mode.WhitePreserving() && r.pb[c] == nil && r.noColour(c)
	row := r.row(c, !quiet)
	if row == nil {
		return
	}
	switch mode {
	case displist.Multiply, displist.Screen, displist.Darken, displist.Lighten:
		if r.effect(c) != separate.Leave {
			r.exact(c, row)
			r.store(c, row)
			return
		}
	}
	for i := 0; i < r.n; {
		from, to := r.run(i)
		i = to
		tints := r.w.tintRows(to - from)
		cs, cb := tints[0], tints[1]
		r.sources(cs, c, from)
		r.backdrops(cb, c, from)
		for j, v := range cb {
			cb[j] = 1 - separableBlend(mode, 1-v, 1-cs[j])
		}
		r.put(row[from:to], from, cs, cb)
	}
	r.store(c, row)
}

// noColour reports whether the source has no toner of component c.
func (r *rowWork) noColour(c int) bool {
	if r.effect(c) == separate.Leave {
		return true // pb decides
	}
	if r.s != nil && r.s.px != nil {
		return r.s.px[c] == nil
	}
	return r.b.values[c] == 0
}

// nonSeparable composites the process components with one of the modes of Table 135. CMYK is
// complemented to RGB; its black comes from the backdrop, for Luminosity from the source (11.3.5.3).
func (r *rowWork) nonSeparable(process int) {
	rows := make([][]uint16, process)
	for c := range rows {
		rows[c] = r.row(c, true)
	}
	mode := r.b.blend
	for i := 0; i < r.n; {
		from, to := r.run(i)
		i = to
		tints := r.w.tintRows(to - from)
		cs, bt := tints[:4], tints[4:]
		for c := range rows {
			r.sources(cs[c], c, from)
			r.backdrops(bt[c], c, from)
		}
		if process == 1 {
			grayTints(mode, bt[0], cs[0])
		} else {
			colourTints(mode, bt, cs)
		}
		if process == 4 && mode == displist.Luminosity {
			copy(bt[3], cs[3])
		}
		for c, row := range rows {
			r.put(row[from:to], from, cs[c], bt[c])
		}
	}
	for c, row := range rows {
		r.store(c, row)
	}
}

// tintRows returns eight rows of n tints to work in, valid until the next call.
func (w *worker) tintRows(n int) *[8][]float64 {
	for i := range w.tints {
		if cap(w.tints[i]) < n {
			w.tints[i] = make([]float64, n, max(n, w.rows.width))
		}
		w.tints[i] = w.tints[i][:n]
	}
	return &w.tints
}

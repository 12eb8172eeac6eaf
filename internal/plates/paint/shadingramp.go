package paint

import (
	"math"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// Axial and radial shadings have one parameter s, 0 at the start and 1 at the end. Its tints are tabled once:
// the function is evaluated about once for every pixel between start and end, and where it is not
// straight between these at every place of a table eight times finer. So a tint is off the one of the
// function by less than half a step of 8 bits, or it stands less than an eighth of a pixel off its place.

const (
	minSamples = 64
	maxSamples = 1 << 14
	minRamp    = 1 << 10
	rampFine   = 8 // entries of the table for each sample
)

// rampSize is the numbers of samples and of entries for a shading whose s goes from 0 to 1 within so many pixels at
// its steepest.
func rampSize(pixels float64) (samples, n int) {
	samples = minSamples
	for samples < maxSamples && float64(samples) < pixels {
		samples *= 2
	}
	return samples, max(minRamp, rampFine*samples)
}

// rampKey is what a ramp depends on.
type rampKey struct {
	shading   *displist.Shading
	target    *separate.Target
	overprint bool
	intent    colour.Intent
	ctx       separate.Context
	samples   int
}

// axial is a shading of type 2 on the page: entry u of its ramp at pixel (x,y) is a*x + b*y + c, with uBits
// fractional bits. Integers make it the same whatever part of a row is computed.
type axial struct {
	a, b, c    int64
	samples, n int
	extend     [2]bool
}

const (
	uBits = 24
	uOne  = 1 << uBits
	// steep bounds a and b in whole entries a pixel: times the widest page, they stay in an int64.
	steep = 1 << 19
	// far bounds c.
	farEntries = 1 << 37
)

// newAxial returns nil when start and end are one point, so that nothing is painted (8.7.4.5.3). inv
// maps pixels of the page to shading space.
func newAxial(s *displist.Shading, inv geom.Matrix) shader {
	x0, y0 := s.Coords[0], s.Coords[1]
	dx, dy := s.Coords[2]-x0, s.Coords[3]-y0
	dd := float64(dx*dx) + float64(dy*dy)
	a := (float64(inv.A*dx) + float64(inv.B*dy)) / dd
	b := (float64(inv.C*dx) + float64(inv.D*dy)) / dd
	p := inv.Apply(geom.Point{X: 0.5, Y: 0.5})
	c := (float64((p.X-x0)*dx) + float64((p.Y-y0)*dy)) / dd
	slope := math.Sqrt(float64(a*a) + float64(b*b))
	if !(dd > 0) || !finite(slope) || !finite(c) || slope == 0 {
		return nil
	}
	r := &axial{extend: s.Extend}
	r.samples, r.n = rampSize(1 / slope)
	n := float64(r.n)
	a, b, c = a*n, b*n, c*n
	if k := max(math.Abs(a), math.Abs(b)) / steep; k > 1 { // a step: its middle stays where it is
		a, b, c = a/k, b/k, float64((c-n/2)/k)+n/2
	}
	r.a, r.b, r.c = fixedEntry(a), fixedEntry(b), fixedEntry(max(-farEntries, min(farEntries, c)))
	return r
}

func fixedEntry(v float64) int64 { return int64(math.Floor(float64(v*uOne) + 0.5)) }

func finite(v float64) bool { return v-v == 0 }

func (r *axial) open(w *worker, ps *patternStep) shadeReader {
	return &axialReader{axial: r, ramp: w.ramp(ps, r.samples, r.n)}
}

// ramp returns the ramp of a shading.
func (w *worker) ramp(ps *patternStep, samples, n int) *separate.Ramp {
	key := ps.key
	key.samples = samples
	return w.job.ramps.get(key, 3*(n+1)*len(ps.ink.Painted), func() *separate.Ramp {
		return ps.ink.Ramp(key.shading.Function, key.shading.Domain[0], key.shading.Domain[1], samples, n)
	})
}

type axialReader struct {
	*axial
	ramp *separate.Ramp
}

func (r *axialReader) level() bool { return r.b == 0 }

func (r *axialReader) read(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) bool {
	base, end := r.b*int64(y)+r.c, int64(r.n)<<uBits
	// Pixels up to i0 lie on one side of the shading, those from i1 on the other.
	i0, i1 := x0, x1
	before, after := 0, r.n // entries of the sides
	switch {
	case r.a > 0:
		i0, i1 = ceilDiv(-base, r.a), floorDiv(end-base, r.a)+1
	case r.a < 0:
		i0, i1 = ceilDiv(base-end, -r.a), floorDiv(base, -r.a)+1
		before, after = r.n, 0
	case base < 0:
		i0, i1 = x1, x1
	case base > end:
		i0, i1 = x1, x1
		before = r.n
	}
	i0 = min(max(i0, x0), x1)
	i1 = min(max(i1, i0), x1)
	first := r.a*int64(i0) + base + uOne/2
	for k := range r.ramp.Tints {
		if narrow != nil {
			rampRow(narrow[k], r.ramp.Tints8[k], i0-x0, i1-x0, before, after, first, r.a)
		} else {
			rampRow(wide[k], r.ramp.Tints[k], i0-x0, i1-x0, before, after, first, r.a)
		}
	}
	left, right := i0 == x0 || r.extend[side(before)], i1 == x1 || r.extend[side(after)]
	if left && right {
		return true
	}
	for i := range painted {
		painted[i] = (left || i >= i0-x0) && (right || i < i1-x0)
	}
	return false
}

// side is the index in Extend of the end of a ramp an entry is at.
func side(entry int) int { return min(entry, 1) }

// rampRow writes one entry before from, the entries at u, u+a, ... from there to to, and one after.
func rampRow[T uint8 | uint16](dst, ramp []T, from, to, before, after int, u, a int64) {
	fillRow(dst[:from], ramp[before])
	fillRow(dst[to:], ramp[after])
	dst = dst[from:to]
	if a == 0 {
		if len(dst) > 0 {
			fillRow(dst, ramp[u>>uBits])
		}
		return
	}
	for i := range dst {
		dst[i] = ramp[u>>uBits]
		u += a
	}
}

func fillRow[T uint8 | uint16](row []T, v T) {
	for i := range row {
		row[i] = v
	}
}

// floorDiv is a/b rounded down, for b > 0, within what fits a coordinate.
func floorDiv(a, b int64) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return int(max(-1<<40, min(1<<40, q)))
}

func ceilDiv(a, b int64) int { return -floorDiv(-a, b) }

// radial is a shading of type 3 on the page. The circles are those about start + s*d with radius r0 + s*dr; of the
// circles through a point the one with the greatest s is on top (8.7.4.5.4).
type radial struct {
	m          geom.Matrix // centres of pixels to shading space, the starting centre at 0
	dx, dy     float64
	r0, dr     float64
	a          float64 // of the quadratic equation for s
	samples, n int
	extend     [2]bool
}

// newRadial returns nil when the circles are one circle, which paints nothing.
func newRadial(s *displist.Shading, inv geom.Matrix) shader {
	c := s.Coords
	r := &radial{m: inv.Mul(geom.Translate(-c[0], -c[1])), dx: c[3] - c[0], dy: c[4] - c[1], r0: c[2], dr: c[5] - c[2], extend: s.Extend}
	dd, rr := float64(r.dx*r.dx)+float64(r.dy*r.dy), float64(r.dr*r.dr)
	if !(dd+rr > 0) || !finite(dd+rr) || !finite(float64(r.r0*r.r0)) || !r.m.Finite() {
		return nil
	}
	// One circle touches the other from inside: what is left of the difference is rounding.
	const touching = 1e-10
	if r.a = dd - rr; math.Abs(r.a) < touching*(dd+rr) {
		r.a = 0
	}
	// Of the speed of s from pixel to pixel only the usual one matters.
	r.samples, r.n = rampSize((math.Sqrt(dd) + math.Abs(r.dr)) / inv.Expansion())
	return r
}

func (r *radial) open(w *worker, ps *patternStep) shadeReader {
	return &radialReader{radial: r, ramp: w.ramp(ps, r.samples, r.n)}
}

// at solves for s at a point of shading space, the starting centre at 0.
func (r *radial) at(x, y float64) (s float64, ok bool) {
	b := float64(x*r.dx) + float64(y*r.dy) + float64(r.r0*r.dr)
	c := float64(x*x) + float64(y*y) - float64(r.r0*r.r0)
	if r.a == 0 {
		s = c / (2 * b)
		return s, b != 0 && r.has(s)
	}
	disc := float64(b*b) - float64(r.a*c)
	if !(disc >= 0) {
		return 0, false
	}
	t := math.Sqrt(disc)
	if b < 0 {
		t = -t
	}
	t += b
	s1, s2 := t/r.a, 0.0
	if t != 0 {
		s2 = c / t
	}
	if s1 < s2 {
		s1, s2 = s2, s1
	}
	if r.has(s1) {
		return s1, true
	}
	return s2, r.has(s2)
}

// has reports whether there is a circle at s.
func (r *radial) has(s float64) bool {
	return r.r0+float64(s*r.dr) >= 0 && (s >= 0 || r.extend[0]) && (s <= 1 || r.extend[1])
}

type radialReader struct {
	*radial
	ramp    *separate.Ramp
	entries []int32
}

func (r *radialReader) level() bool { return false }

func (r *radialReader) read(y, x0, x1 int, wide [][]uint16, narrow [][]uint8, painted []bool) bool {
	if cap(r.entries) < x1-x0 {
		r.entries = make([]int32, x1-x0)
	}
	entries := r.entries[:x1-x0]
	m := &r.m
	py := float64(y) + 0.5
	rx, ry := float64(m.C*py)+m.E, float64(m.D*py)+m.F
	n := float64(r.n)
	all := true
	for i := range entries {
		px := float64(x0+i) + 0.5
		s, ok := r.at(float64(m.A*px)+rx, float64(m.B*px)+ry)
		painted[i] = ok
		all = all && ok
		entries[i] = int32(float64(max(0, min(1, s))*n) + 0.5)
	}
	for k := range r.ramp.Tints {
		if narrow != nil {
			pick(narrow[k], r.ramp.Tints8[k], entries)
		} else {
			pick(wide[k], r.ramp.Tints[k], entries)
		}
	}
	return all
}

func pick[T uint8 | uint16](dst, ramp []T, entries []int32) {
	dst = dst[:len(entries)]
	for i, e := range entries {
		dst[i] = ramp[e]
	}
}

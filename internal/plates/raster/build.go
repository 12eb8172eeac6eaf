package raster

import (
	"math"
	"slices"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// Builder flattens paths into Edges. The zero value is ready; Reset before reuse.
type Builder struct {
	list   []edge
	specks []IntRect
	pen    penState
	points []fixedPoint // of a path
	edges  Edges        // that Scratch returns
	sorted []edge       // of them

	// The subpath being drawn: its first and current point in pixels and rounded, and the box of all
	// rounded points.
	start, cur           geom.Point
	startFixed, curFixed fixedPoint
	near, open, drawn    bool
	box                  fixedBox
}

type fixedPoint struct{ x, y int32 }

type fixedBox struct{ x0, y0, x1, y1 int32 }

// Reset empties the builder.
func (b *Builder) Reset() {
	b.list, b.specks = b.list[:0], nil
	b.open, b.drawn = false, false
}

// Edges returns what was added. The builder must be Reset before it is used again.
func (b *Builder) Edges(rule geom.FillRule) *Edges {
	e := &Edges{}
	e.keep(make([]edge, len(b.list)), b.list, b.specks, rule)
	return e
}

// Scratch is Edges without copies: what it returns is valid until the builder is used again.
func (b *Builder) Scratch(rule geom.FillRule) *Edges {
	b.sorted = slices.Grow(b.sorted[:0], len(b.list))
	b.edges.lend(b.sorted[:len(b.list)], b.list, b.specks, rule)
	return &b.edges
}

// Fill adds path mapped by m to device space. Open subpaths are closed. A subpath that is a point or
// a horizontal or vertical line in device space encloses nothing, yet it is not invisible: every
// pixel it touches is painted (ISO 32000-2, 8.5.3.3.1 and 10.7.4).
func (b *Builder) Fill(path *geom.Path, m geom.Matrix) { b.fill(path, m, true) }

// FillArea adds path like Fill, but by its area alone: a subpath that encloses nothing adds nothing.
// It is meant for glyph outlines, whose stray points are anchors and not marks, and for clips.
func (b *Builder) FillArea(path *geom.Path, m geom.Matrix) { b.fill(path, m, false) }

func (b *Builder) fill(path *geom.Path, m geom.Matrix, specks bool) {
	if !path.Empty() && !b.fillNear(path, m, specks) {
		b.fillFar(path, m, specks)
	}
}

// fillFar adds any path.
func (b *Builder) fillFar(path *geom.Path, m geom.Matrix, specks bool) {
	i := 0
	for _, v := range path.Verbs {
		switch v {
		case geom.MoveTo:
			b.endFill(specks)
			b.moveTo(clampPoint(m.Apply(path.Points[i])))
			i++
		case geom.LineTo:
			b.drawn = true
			b.lineTo(clampPoint(m.Apply(path.Points[i])))
			i++
		case geom.CubicTo:
			b.drawn = true
			p := path.Points[i : i+3]
			b.cubicTo(clampPoint(m.Apply(p[0])), clampPoint(m.Apply(p[1])), clampPoint(m.Apply(p[2])))
			i += 3
		case geom.Close:
			b.drawn = b.open
			start := b.start
			b.endFill(specks)
			b.moveTo(start)
		}
	}
	b.endFill(specks)
	b.open = false
}

// endFill closes the subpath, and adds the pixels under it when it is a point or a line along an axis.
func (b *Builder) endFill(specks bool) {
	b.close()
	if specks && b.open && b.drawn && (b.box.x0 == b.box.x1 || b.box.y0 == b.box.y1) {
		r := IntRect{int(b.box.x0 >> shift), int(b.box.y0 >> shift), int((b.box.x1 + one - 1) >> shift), int((b.box.y1 + one - 1) >> shift)}
		r.X1, r.Y1 = max(r.X1, r.X0+1), max(r.Y1, r.Y0+1)
		if len(b.specks) < limits.MaxPathPoints {
			b.specks = append(b.specks, r)
		}
	}
	b.drawn = false
}

// moveTo starts a subpath at p, in pixels.
func (b *Builder) moveTo(p geom.Point) {
	b.start, b.cur = p, p
	b.startFixed = fixed(p)
	b.curFixed = b.startFixed
	b.near = isNear(p)
	b.open = true
	q := b.startFixed
	b.box = fixedBox{q.x, q.y, q.x, q.y}
}

// lineTo adds a straight line to p, in pixels.
func (b *Builder) lineTo(p geom.Point) {
	near := isNear(p)
	if near && b.near {
		b.edgeTo(fixed(p))
	} else {
		b.farLine(b.cur, p)
		b.curFixed = fixed(p)
		b.extend(b.curFixed)
	}
	b.cur, b.near = p, near
}

// close adds the line back to the start of the subpath.
func (b *Builder) close() {
	if !b.open {
		return
	}
	b.lineTo(b.start)
}

// edgeTo adds a line to a rounded point.
func (b *Builder) edgeTo(q fixedPoint) {
	if q.y != b.curFixed.y {
		b.list = append(b.list, edge{b.curFixed.x, b.curFixed.y, q.x, q.y})
	}
	b.curFixed = q
	b.extend(q)
}

func (b *Builder) extend(q fixedPoint) {
	b.box = fixedBox{min(b.box.x0, q.x), min(b.box.y0, q.y), max(b.box.x1, q.x), max(b.box.y1, q.y)}
}

// farLine adds the line p to q when one of them lies beyond farPixels: rows beyond are dropped, and
// what lies beyond at the left or right becomes a vertical line at the limit, so that the winding of
// everything in reach is as written.
func (b *Builder) farLine(p, q geom.Point) {
	const far = farPixels
	if (p.Y <= -far && q.Y <= -far) || (p.Y >= far && q.Y >= far) {
		return
	}
	// Cuts along the line, as parameters from p to q, in order.
	cuts := [6]float64{0, 1}
	n := 2
	cut := func(from, to, at float64) {
		if (from < at) != (to < at) {
			cuts[n] = (at - from) / (to - from)
			n++
		}
	}
	cut(p.Y, q.Y, -far)
	cut(p.Y, q.Y, far)
	cut(p.X, q.X, -far)
	cut(p.X, q.X, far)
	for i := 1; i < n; i++ {
		for j := i; j > 0 && cuts[j] < cuts[j-1]; j-- {
			cuts[j], cuts[j-1] = cuts[j-1], cuts[j]
		}
	}
	at := func(t float64) fixedPoint {
		switch t {
		case 0:
			return fixed(p)
		case 1:
			return fixed(q)
		}
		return fixed(geom.Point{X: p.X + float64(t*(q.X-p.X)), Y: p.Y + float64(t*(q.Y-p.Y))})
	}
	last := at(0)
	for _, t := range cuts[1:n] {
		next := at(t)
		if next.y != last.y {
			b.list = append(b.list, edge{last.x, last.y, next.x, next.y})
		}
		last = next
	}
}

// fixed rounds p to 1/256 pixel, clamped to farPixels.
func fixed(p geom.Point) fixedPoint {
	return fixedPoint{fixedFrom(p.X), fixedFrom(p.Y)}
}

func fixedFrom(v float64) int32 {
	v = min(max(v, -farPixels), farPixels)
	// The offset makes the sum positive, so that truncation is rounding down.
	return int32(int64(float64(v*one)+(1<<32+0.5)) - 1<<32)
}

func isNear(p geom.Point) bool {
	return p.X > -farPixels && p.X < farPixels && p.Y > -farPixels && p.Y < farPixels
}

// clampPoint keeps overflowed numbers finite: beyond 10^12 pixels positions mean nothing.
func clampPoint(p geom.Point) geom.Point {
	const huge = 1e12
	if !(math.Abs(p.X) <= huge && math.Abs(p.Y) <= huge) {
		return geom.Point{X: clampFinite(p.X, huge), Y: clampFinite(p.Y, huge)}
	}
	return p
}

func clampFinite(v, limit float64) float64 {
	if v != v {
		return 0
	}
	return min(max(v, -limit), limit)
}

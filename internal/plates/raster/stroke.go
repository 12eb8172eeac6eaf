package raster

import (
	"math"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// A stroke's outline is made in pen space, where the pen is a circle of radius 1, and mapped to device
// space point by point. The path itself is flattened in device space. Each vertex of the flattened
// path gives points on the left and on the right:
//
//	       outer: arc, miter or bevel
//	  left ------.
//	  path ----.  \        inner: the one point where the offset lines cross, when both segments are
//	 right --.  \  \       long enough; else out to the first offset line's end, through the vertex
//	          \  \  \      and on, which winds round the overlap a second time in the same direction
//
// so that every part of the outline winds the same way and the non-zero rule leaves no hole.

// vertex is a point of the flattened path in pixels. At a corner the join of the style is drawn; the
// other vertices lie inside curves.
type vertex struct {
	p      geom.Point
	corner bool
}

// penState is the stroke being drawn.
type penState struct {
	style    geom.StrokeStyle
	pen, inv geom.Matrix // pen space to device space and back
	radius   float64     // greatest of the pen, in pixels
	dash     dasher
	spent    int // outline points made for this stroke

	path        []vertex
	piece       []vertex // one dash
	first       []vertex // the first dash of a closed subpath
	left, right []geom.Point
}

// Stroke adds the outline of a stroke: path is in list space, pen maps the style's user space to
// list space (linear part), dev maps list space to device space. Widths below one device pixel are
// drawn as hairlines by the rule written at hairline(). ok is false when a limit cut the stroke short.
func (b *Builder) Stroke(path *geom.Path, style geom.StrokeStyle, pen, dev geom.Matrix) (ok bool) {
	if path.Empty() {
		return true
	}
	s := &b.pen
	s.style = style
	lin := pen.Mul(dev)
	if s.pen, ok = hairline(style, lin, dev.Expansion()*72); !ok {
		return false
	}
	if s.pen.Det() < 0 {
		s.pen.C, s.pen.D = -s.pen.C, -s.pen.D // the same circle, and all outlines wind one way
	}
	if s.inv, ok = s.pen.Invert(); !ok {
		return false
	}
	s.radius = math.Sqrt(max(float64(s.pen.A*s.pen.A)+float64(s.pen.B*s.pen.B), float64(s.pen.C*s.pen.C)+float64(s.pen.D*s.pen.D)))
	s.dash.reset(style, lin)
	s.spent = 0

	ok = true
	s.path = s.path[:0]
	drawn, closed := false, false
	end := func() {
		if drawn {
			ok = b.strokeSubpath(closed) && ok
		}
		s.path = s.path[:0]
		drawn, closed = false, false
	}
	i := 0
	for _, v := range path.Verbs {
		switch v {
		case geom.MoveTo:
			end()
			s.path = append(s.path, vertex{clampPoint(dev.Apply(path.Points[i])), true})
			i++
		case geom.LineTo:
			s.path = append(s.path, vertex{clampPoint(dev.Apply(path.Points[i])), true})
			drawn = true
			i++
		case geom.CubicTo:
			p := path.Points[i : i+3]
			s.curve(clampPoint(dev.Apply(p[0])), clampPoint(dev.Apply(p[1])), clampPoint(dev.Apply(p[2])))
			drawn = true
			i += 3
		case geom.Close:
			if len(s.path) == 0 {
				continue
			}
			start := s.path[0]
			drawn, closed = true, true
			end()
			s.path = append(s.path, start)
		}
	}
	end()
	b.open = false
	return ok && s.spent <= limits.MaxEdges
}

// curve adds a flattened Bezier segment.
func (s *penState) curve(p1, p2, p3 geom.Point) {
	if len(s.path) == 0 {
		return
	}
	p0 := s.path[len(s.path)-1].p
	x1, y1, x2, y2, x3, y3 := p1.X-p0.X, p1.Y-p0.Y, p2.X-p0.X, p2.Y-p0.Y, p3.X-p0.X, p3.Y-p0.Y
	ux, uy := x2-2*x1, y2-2*y1
	vx, vy := x3-2*x2+x1, y3-2*y2+y1
	second := max(float64(ux*ux)+float64(uy*uy), float64(vx*vx)+float64(vy*vy))
	// What stands square to a chord, the sides of tight bends and the ends of dashes, depends on its
	// direction the more the wider the pen is.
	second = math.Sqrt(second) * min(max(s.radius, 1), 16)
	if s.dash.on {
		second *= 2
	}
	n := pieces(second)
	if len(s.path)+n > maxStrokeVertices {
		n = 1
	}
	ax, ay, bx, by := 3*x1, 3*y1, 3*ux, 3*uy
	cx, cy := x3-3*x2+3*x1, y3-3*y2+3*y1
	step := 1 / float64(n)
	at := func(t float64) {
		s.path = append(s.path, vertex{p: geom.Point{
			X: p0.X + float64((float64((float64(cx*t)+bx)*t)+ax)*t),
			Y: p0.Y + float64((float64((float64(cy*t)+by)*t)+ay)*t),
		}})
	}
	// Caps and joins at the ends stand on the first and the last chord: a short one has the direction
	// of the curve.
	short := step / 16
	if s.radius > 0.5 && n > 1 {
		at(short)
	}
	for i := 1; i < n; i++ {
		at(float64(i) * step)
	}
	if s.radius > 0.5 && n > 1 {
		at(1 - short)
	}
	s.path = append(s.path, vertex{p3, true})
}

// maxStrokeVertices of one subpath; past it curves become their chords.
const maxStrokeVertices = 4 << 20

// strokeSubpath draws s.path, whole or in dashes.
func (b *Builder) strokeSubpath(closed bool) bool {
	s := &b.pen
	if s.dash.on {
		return b.dashSubpath(closed)
	}
	b.strokeLine(s.path, closed)
	return true
}

// strokeLine draws one run of vertices, which it may shorten.
func (b *Builder) strokeLine(v []vertex, closed bool) {
	s := &b.pen
	v = s.distinct(v, closed)
	if len(v) == 1 {
		// A point has no direction: only round caps mark it (8.5.3.2).
		if s.style.Cap == geom.RoundCap {
			b.strokeDot(v[0].p, geom.Point{X: 1})
		}
		return
	}
	if len(v) == 2 && closed {
		// There and back: the joins at both ends are all that differs from an open line.
		style := s.style
		s.style.Cap = geom.ButtCap
		if style.Join == geom.RoundJoin {
			s.style.Cap = geom.RoundCap
		}
		b.strokeLine(v, false)
		s.style = style
		return
	}
	s.left, s.right = s.left[:0], s.right[:0]
	if closed {
		d0, l0 := s.direction(v[len(v)-1].p, v[0].p)
		for i := range v {
			d1, l1 := s.direction(v[i].p, v[(i+1)%len(v)].p)
			s.join(v[i], d0, d1, l0, l1)
			d0, l0 = d1, l1
		}
		b.loop(s.left, false)
		b.loop(s.right, true)
		return
	}
	d0, l0 := s.direction(v[0].p, v[1].p)
	first := d0
	n := normal(d0)
	s.left = append(s.left, s.at(v[0].p, n, 1))
	s.right = append(s.right, s.at(v[0].p, n, -1))
	for i := 1; i+1 < len(v); i++ {
		d1, l1 := s.direction(v[i].p, v[i+1].p)
		s.join(v[i], d0, d1, l0, l1)
		d0, l0 = d1, l1
	}
	end := v[len(v)-1].p
	n = normal(d0)
	s.left = append(s.left, s.at(end, n, 1))
	s.left = s.capTo(s.left, end, d0)
	s.right = append(s.right, s.at(end, n, -1))
	b.moveTo(s.left[0])
	for _, p := range s.left[1:] {
		b.lineTo(p)
	}
	for i := len(s.right) - 1; i >= 0; i-- {
		b.lineTo(s.right[i])
	}
	s.left = s.capTo(s.left[:0], v[0].p, geom.Point{X: -first.X, Y: -first.Y})
	for _, p := range s.left {
		b.lineTo(p)
	}
	b.close()
}

// strokeDot draws a run of no length at p whose direction in pen space is d.
func (b *Builder) strokeDot(p, d geom.Point) {
	s := &b.pen
	n := normal(d)
	s.left = append(s.left[:0], s.at(p, n, 1))
	s.left = s.capTo(s.left, p, d)
	s.left = append(s.left, s.at(p, n, -1))
	s.left = s.capTo(s.left, p, geom.Point{X: -d.X, Y: -d.Y})
	b.loop(s.left, false)
}

// loop adds a closed polygon.
func (b *Builder) loop(p []geom.Point, reverse bool) {
	if len(p) == 0 {
		return
	}
	if reverse {
		b.moveTo(p[len(p)-1])
		for i := len(p) - 2; i >= 0; i-- {
			b.lineTo(p[i])
		}
	} else {
		b.moveTo(p[0])
		for _, q := range p[1:] {
			b.lineTo(q)
		}
	}
	b.close()
}

// samePoint is the distance in pixels under which two vertices are one.
const samePoint = 1e-7

// distinct drops vertices that repeat the one before, and of a closed run the last ones that repeat
// the first. It works in place.
func (s *penState) distinct(v []vertex, closed bool) []vertex {
	same := func(p, q geom.Point) bool {
		return math.Abs(p.X-q.X) <= samePoint && math.Abs(p.Y-q.Y) <= samePoint
	}
	n := 1
	for _, w := range v[1:] {
		if same(w.p, v[n-1].p) {
			v[n-1].corner = v[n-1].corner || w.corner
			continue
		}
		v[n] = w
		n++
	}
	for closed && n > 1 && same(v[n-1].p, v[0].p) {
		n--
	}
	return v[:n]
}

// direction is the unit vector from p to q in pen space and the distance there.
func (s *penState) direction(p, q geom.Point) (geom.Point, float64) {
	d := s.inv.ApplyVector(geom.Point{X: q.X - p.X, Y: q.Y - p.Y})
	l := math.Sqrt(float64(d.X*d.X) + float64(d.Y*d.Y))
	return geom.Point{X: d.X / l, Y: d.Y / l}, l
}

// normal points to the left of d, in pen space.
func normal(d geom.Point) geom.Point { return geom.Point{X: -d.Y, Y: d.X} }

// at is p moved by side x offset, where offset is in pen space.
func (s *penState) at(p, offset geom.Point, side float64) geom.Point {
	s.spent++
	o := s.pen.ApplyVector(geom.Point{X: side * offset.X, Y: side * offset.Y})
	return clampPoint(geom.Point{X: p.X + o.X, Y: p.Y + o.Y})
}

// join adds the outline at vertex v between directions d0 and d1, of segments l0 and l1 long.
func (s *penState) join(v vertex, d0, d1 geom.Point, l0, l1 float64) {
	cross := float64(d0.X*d1.Y) - float64(d0.Y*d1.X)
	dot := float64(d0.X*d1.X) + float64(d0.Y*d1.Y)
	n0, n1 := normal(d0), normal(d1)
	inner, outer, side := &s.left, &s.right, 1.0 // side of the inner one
	if cross < 0 {
		inner, outer, side = outer, inner, -1
	}
	// The lines offset by 1 cross at (n0+n1)/(1+dot).
	k := 1 / (1 + dot)
	miter := geom.Point{X: (n0.X + n1.X) * k, Y: (n0.Y + n1.Y) * k}

	if math.Abs(cross) < (1+dot)*min(l0, l1)/2 {
		*inner = append(*inner, s.at(v.p, miter, side))
	} else {
		*inner = append(*inner, s.at(v.p, n0, side), v.p, s.at(v.p, n1, side))
	}

	switch {
	case !v.corner || s.style.Join == geom.RoundJoin:
		o0, o1 := geom.Point{X: -side * n0.X, Y: -side * n0.Y}, geom.Point{X: -side * n1.X, Y: -side * n1.Y}
		*outer = append(*outer, s.at(v.p, o0, 1))
		*outer = s.arc(*outer, v.p, o0, o1, d0, 0)
	case s.style.Join == geom.MiterJoin && float64(s.style.MiterLimit*s.style.MiterLimit)*(1+dot)/2 >= 1-1e-12:
		// Miter length / width = 1/sin(half the angle between the segments), and its square is 2/(1+dot).
		*outer = append(*outer, s.at(v.p, miter, -side))
	default:
		*outer = append(*outer, s.at(v.p, n0, -side), s.at(v.p, n1, -side))
	}
}

// capTo adds the cap at the end p of a line that arrives in direction d, between its left and right.
func (s *penState) capTo(out []geom.Point, p, d geom.Point) []geom.Point {
	n := normal(d)
	switch s.style.Cap {
	case geom.SquareCap:
		out = append(out, s.at(p, geom.Point{X: n.X + d.X, Y: n.Y + d.Y}, 1), s.at(p, geom.Point{X: d.X - n.X, Y: d.Y - n.Y}, 1))
	case geom.RoundCap:
		out = s.arc(out, p, n, d, d, 0)
		out = s.arc(out, p, d, geom.Point{X: -n.X, Y: -n.Y}, d, 0)
	}
	return out
}

// arc adds points on the pen's outline round p after unit vector u up to v, the short way round, through
// forward when they are opposite. It halves until chords are within tolerance; square roots are the
// same on every machine, which sines need not be. Past limits.MaxEdges arcs become chords, and pens
// greater than all that can be drawn are coarse.
func (s *penState) arc(out []geom.Point, p, u, v, forward geom.Point, depth int) []geom.Point {
	m := geom.Point{X: u.X + v.X, Y: u.Y + v.Y}
	l := math.Sqrt(float64(m.X*m.X) + float64(m.Y*m.Y)) // twice the cosine of half the angle
	if depth >= 12 || (depth >= 4 && s.radius > farPixels) || s.spent > limits.MaxEdges || s.radius*(1-l/2) <= tolerance {
		return append(out, s.at(p, v, 1))
	}
	if l < 1e-6 {
		m = forward
	} else {
		m.X, m.Y = m.X/l, m.Y/l
	}
	out = s.arc(out, p, u, m, forward, depth+1)
	return s.arc(out, p, m, v, forward, depth+1)
}

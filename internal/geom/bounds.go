package geom

import "math"

// TightBounds returns the box of the path itself, in which curves count by their extremes and not
// by their control points. A subpath of a single point counts.
func (p *Path) TightBounds() Rect {
	if len(p.Points) == 0 {
		return Rect{}
	}
	b := Rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	add := func(q Point) {
		b = Rect{min(b.X0, q.X), min(b.Y0, q.Y), max(b.X1, q.X), max(b.Y1, q.Y)}
	}
	var start, cur Point
	i := 0
	for _, v := range p.Verbs {
		switch v {
		case MoveTo, LineTo:
			cur = p.Points[i]
			if v == MoveTo {
				start = cur
			}
			add(cur)
			i++
		case CubicTo:
			if i > 0 {
				c := [4]Point{cur, p.Points[i], p.Points[i+1], p.Points[i+2]}
				for _, t := range append(extremes(c[0].X, c[1].X, c[2].X, c[3].X), extremes(c[0].Y, c[1].Y, c[2].Y, c[3].Y)...) {
					add(pointOnCubic(c, t))
				}
			}
			cur = p.Points[i+2]
			add(cur)
			i += 3
		case Close:
			cur = start
		}
	}
	return b
}

// extremes returns the parameters between 0 and 1 where a cubic in one coordinate turns.
func extremes(p0, p1, p2, p3 float64) []float64 {
	lo, hi := min(p0, p3), max(p0, p3)
	if p1 >= lo && p1 <= hi && p2 >= lo && p2 <= hi {
		return nil // it cannot leave the span of its ends
	}
	// A third of the derivative: a t^2 + 2 b t + c.
	a := p3 - 3*p2 + 3*p1 - p0
	b := p2 - 2*p1 + p0
	c := p1 - p0
	var out []float64
	add := func(t float64) {
		if t > 0 && t < 1 {
			out = append(out, t)
		}
	}
	root := float64(b*b) - float64(a*c)
	if root < 0 {
		return nil
	}
	// The form that does not cancel; a may be 0.
	q := -(b + math.Copysign(math.Sqrt(root), b))
	if a != 0 {
		add(q / a)
	}
	if q != 0 {
		add(c / q)
	}
	return out
}

// pointOnCubic is the point of a cubic at parameter t.
func pointOnCubic(c [4]Point, t float64) Point {
	lerp := func(p, q Point) Point {
		return Point{p.X + float64(t*(q.X-p.X)), p.Y + float64(t*(q.Y-p.Y))}
	}
	q0, q1, q2 := lerp(c[0], c[1]), lerp(c[1], c[2]), lerp(c[2], c[3])
	return lerp(lerp(q0, q1), lerp(q1, q2))
}

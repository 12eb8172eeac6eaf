// Package slowpaint is a slow painter whose rightness can be seen by reading it. Tests hold the fast
// paths of plates/raster and plates/paint against it. Nothing here is optimised and nothing here is
// shared with them but the nouns they import.
package slowpaint

import (
	"math"
	"sort"

	"laydown/internal/geom"
)

// Line is a straight piece of a path in pixels.
type Line struct{ P, Q geom.Point }

// Lines returns the pieces of path mapped by m, every subpath closed, every curve cut into steps
// equal in parameter.
func Lines(path *geom.Path, m geom.Matrix, steps int) []Line {
	var out []Line
	for _, sub := range subpaths(path, m, steps) {
		for i, p := range sub.points {
			out = append(out, Line{p, sub.points[(i+1)%len(sub.points)]})
		}
	}
	return out
}

// subpath is a flattened subpath; corner[i] is false inside curves.
type subpath struct {
	points []geom.Point
	corner []bool
	closed bool
	drawn  bool // it has a segment, perhaps of no length
}

func subpaths(path *geom.Path, m geom.Matrix, steps int) []subpath {
	var out []subpath
	var cur subpath
	end := func() {
		if len(cur.points) > 0 {
			out = append(out, cur)
		}
		cur = subpath{}
	}
	add := func(p geom.Point, corner bool) {
		cur.points, cur.corner = append(cur.points, p), append(cur.corner, corner)
	}
	i := 0
	for _, v := range path.Verbs {
		switch v {
		case geom.MoveTo:
			end()
			add(m.Apply(path.Points[i]), true)
			i++
		case geom.LineTo:
			add(m.Apply(path.Points[i]), true)
			cur.drawn = true
			i++
		case geom.CubicTo:
			p0 := cur.points[len(cur.points)-1]
			p1, p2, p3 := m.Apply(path.Points[i]), m.Apply(path.Points[i+1]), m.Apply(path.Points[i+2])
			for k := 1; k <= steps; k++ {
				t := float64(k) / float64(steps)
				u := 1 - t
				b0, b1, b2, b3 := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
				add(geom.Point{
					X: b0*p0.X + b1*p1.X + b2*p2.X + b3*p3.X,
					Y: b0*p0.Y + b1*p1.Y + b2*p2.Y + b3*p3.Y,
				}, k == steps)
			}
			cur.drawn = true
			i += 3
		case geom.Close:
			if len(cur.points) == 0 {
				continue
			}
			start := cur.points[0]
			cur.closed, cur.drawn = true, true
			end()
			add(start, true)
		}
	}
	end()
	return out
}

// sublines is how many lines are laid through each row of pixels: as many as there are steps of the
// rasteriser's coordinates in a pixel, so that its horizontal edges fall between two of them.
const sublines = 256

// Coverage returns the covered share, 0..1, of every pixel of a w x h canvas, row by row. Along each of 256
// lines through a row of pixels the length inside the path is exact.
func Coverage(lines []Line, rule geom.FillRule, w, h int) []float64 {
	out := make([]float64, w*h)
	type crossing struct {
		x    float64
		sign int
	}
	var here []Line // those that meet the row of pixels
	for i := range h * sublines {
		y := (float64(i) + 0.5) / sublines
		if row := float64(i / sublines); i%sublines == 0 {
			here = here[:0]
			for _, l := range lines {
				if min(l.P.Y, l.Q.Y) < row+1 && max(l.P.Y, l.Q.Y) > row {
					here = append(here, l)
				}
			}
		}
		var at []crossing
		for _, l := range here {
			p, q, sign := l.P, l.Q, 1
			if p.Y > q.Y {
				p, q, sign = q, p, -1
			}
			if p.Y <= y && y < q.Y {
				at = append(at, crossing{p.X + (y-p.Y)/(q.Y-p.Y)*(q.X-p.X), sign})
			}
		}
		sort.Slice(at, func(a, b int) bool { return at[a].x < at[b].x })
		winding := 0
		for k := 0; k+1 < len(at); k++ {
			winding += at[k].sign
			inside := winding != 0
			if rule == geom.EvenOdd {
				inside = k%2 == 0
			}
			if inside {
				addRun(out[i/sublines*w:][:w], at[k].x, at[k+1].x, 1.0/sublines)
			}
		}
	}
	return out
}

// addRun adds share x the length of x0..x1 in each pixel of a row.
func addRun(row []float64, x0, x1, share float64) {
	x0, x1 = max(x0, 0), min(x1, float64(len(row)))
	if x0 >= x1 {
		return
	}
	for x := int(x0); x < len(row) && float64(x) < x1; x++ {
		row[x] += share * (math.Min(x1, float64(x+1)) - math.Max(x0, float64(x)))
	}
}

// Area returns the signed area inside lines.
func Area(lines []Line) float64 {
	sum := 0.0
	for _, l := range lines {
		sum += (l.P.X*l.Q.Y - l.Q.X*l.P.Y) / 2
	}
	return sum
}

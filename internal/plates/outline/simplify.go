package outline

import (
	"math"

	"laydown/internal/geom"
)

// simplifier drops points of closed polygons in one pass: from a point that stays, the cone of directions that pass all
// points since within the tolerance narrows with every point; when the next one lies outside, or lies back, the last
// one stays (J. Sklansky and V. Gonzalez, "Fast polygonal approximation of digitized curves", Pattern Recognition 12, 1980).
type simplifier struct{ out []geom.Point }

// simplify returns points of the polygon; every other one is within tolerance of the side that replaces it. The slice is
// valid until the next call.
func (s *simplifier) simplify(pts []geom.Point, tolerance float64) []geom.Point {
	s.out = append(s.out[:0], pts[0])
	anchor, last := pts[0], pts[0]
	var left, right geom.Point // bounds of the cone
	open, far := true, 0.0
	limit := square(tolerance)
	n := len(pts)
	for i := 1; i <= n; i++ {
		q := pts[i%n]
		for {
			d := geom.Point{X: q.X - anchor.X, Y: q.Y - anchor.Y}
			long := square(d.X) + square(d.Y)
			length := math.Sqrt(long)
			if open && long <= limit {
				far = max(far, length)
				break
			}
			if length >= far && (open || cross(right, d) >= 0 && cross(d, left) >= 0) {
				far = max(far, length)
				if long > limit {
					sin := tolerance / length
					cos := math.Sqrt(1 - square(sin))
					l := geom.Point{X: float64(d.X*cos) - float64(d.Y*sin), Y: float64(d.Y*cos) + float64(d.X*sin)}
					r := geom.Point{X: float64(d.X*cos) + float64(d.Y*sin), Y: float64(d.Y*cos) - float64(d.X*sin)}
					if open || cross(l, left) > 0 {
						left = l
					}
					if open || cross(right, r) > 0 {
						right = r
					}
					open = false
				}
				break
			}
			s.out = append(s.out, last)
			anchor, open, far = last, true, 0
		}
		last = q
	}
	return s.out
}

func cross(a, b geom.Point) float64 { return float64(a.X*b.Y) - float64(a.Y*b.X) }

func square(x float64) float64 { return float64(x * x) }

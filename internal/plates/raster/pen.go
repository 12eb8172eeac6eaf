package raster

import (
	"math"

	"laydown/internal/geom"
)

// thinnest is the least width in pixels a stroke of positive width is drawn with.
const thinnest = 0.25

// pressDPI is the resolution of the press a line of width 0 is thought for.
const pressDPI = 600

// hairline returns the pen of a stroke as the map from the circle of radius 1 to device space. lin maps
// the stroke's user space to device space of a resolution of dpi.
//
// The rule for thin strokes:
//
//   - Width 0 asks for the thinnest line the device can mark (8.4.3.2): one pixel of a press of 600 dpi, and so one
//     pixel at 600 dpi and above, 1/4 pixel at 150 dpi and below.
//   - Other widths are drawn true to area: a line 0.4 pixel wide covers 0.4 of each pixel it runs along, which is
//     what a device of finer pixels lays down when looked at from the distance of these. A pen thinner than
//     1/4 pixel, in any direction, is drawn 1/4 pixel wide in that direction: every printer makes a line of any width at
//     least one of its own pixels wide (10.7.4), and plates of 150 dpi stand for a device of 600. So a
//     line never vanishes, and a thin one is not made four times its weight. (Two independent interpreters run at 600
//     dpi and averaged to 150 give thin lines 1/4 and 1/2 of a pixel.)
//   - With stroke adjustment (SA, 10.7.5) a pen under half a pixel is one pixel wide. Positions are
//     not moved: coverage by area gives lines the same weight wherever they fall.
//
// ok is false when lin is not finite.
func hairline(style geom.StrokeStyle, lin geom.Matrix, dpi float64) (pen geom.Matrix, ok bool) {
	lin.E, lin.F = 0, 0
	w := math.Abs(style.Width)
	m := geom.Matrix{A: lin.A * w / 2, B: lin.B * w / 2, C: lin.C * w / 2, D: lin.D * w / 2}
	if !m.Finite() {
		return geom.Identity, false
	}
	if w == 0 {
		r := min(max(dpi/pressDPI, thinnest), 1) / 2
		if style.Adjust {
			r = 0.5
		}
		return geom.Scale(r, r), true
	}
	// The pen is an ellipse with the axes of m x transposed m = [a b; b d].
	a := float64(m.A*m.A) + float64(m.C*m.C)
	b := float64(m.A*m.B) + float64(m.C*m.D)
	d := float64(m.B*m.B) + float64(m.D*m.D)
	root := math.Sqrt(float64((a-d)*(a-d)) + float64(4*b*b))
	major := math.Sqrt((a + d + root) / 2)
	minor := 0.0
	if major > 0 {
		minor = math.Abs(m.Det()) / major // (a+d-root)/2 would cancel
	}
	if math.IsInf(major, 0) || math.IsNaN(minor) {
		return geom.Identity, false
	}
	widen := func(r float64) float64 {
		switch {
		case style.Adjust && r < 0.25:
			return 0.5
		case r < thinnest/2:
			return thinnest / 2
		}
		return r
	}
	s1, s2 := widen(major), widen(minor)
	if s1 == major && s2 == minor {
		return m, true
	}
	// The long axis is the eigenvector of the greater eigenvalue; of its two forms the longer is exact.
	x, y := (a-d+root)/2, b
	if a < d {
		x, y = b, (d-a+root)/2
	}
	n := math.Sqrt(float64(x*x) + float64(y*y))
	if n == 0 {
		return geom.Scale(s1, s1), true
	}
	x, y = x/n, y/n
	return geom.Matrix{A: x * s1, B: y * s1, C: -y * s2, D: x * s2}, true
}

// Package outline turns planes of bytes into vector outlines: closed contours within a part of a pixel of where coverage
// passes one half, simplified within a stated tolerance.
package outline

import (
	"fmt"
	"math"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// How the pieces fit:
//
//	bytes --march--> crossings between pixel centres, each knowing the next (march.go)
//	      --loop---> closed polygons --simplify--> fewer points (simplify.go) --or fit--> cubics (fit.go)
//
// Contours have the inside on their right as seen (y down): outer ones run clockwise, holes the other way, and contours of
// one plane do not cross before they are simplified, so that the nonzero and the even-odd rule fill the same.

// Plane is what is traced: coverage or tint, 0 nothing to 255 full, row by row. Beyond it there is nothing: what reaches the
// border is closed along it.
type Plane struct {
	Pix  []uint8 // W*H bytes; one-bit masks hold 0 and 255
	W, H int
	DPI  float64 // pixels per inch, both ways
	// OriginX, OriginY is the top left corner of pixel (0, 0) in list space (points).
	OriginX, OriginY float64
}

// Options of Trace. The zero value is ready.
type Options struct {
	// Threshold says what is inside. 0: the plane is coverage, inside is what is covered by half and more, and edges are found
	// from the covered areas within 0.02 pixel. 1..255: the plane is a tone, inside is Threshold and more, and the contour is interpolated.
	Threshold uint8
	// Tolerance in millimetres: no crossing of the contour is farther from the result than that. 0 takes 0.005 mm, and
	// never less than 1/100 pixel. What is nowhere wider than twice the tolerance may disappear.
	Tolerance float64
	// Curves fits cubics by least squares where the contour bends, instead of lines only, within the same tolerance; contours that
	// lines describe with fewer points keep them.
	Curves bool
	// MaxPoints of the result; 0 takes limits.MaxPathPoints.
	MaxPoints int
}

// defaultTolerance is a quarter of a pixel of 1200 dpi.
const defaultTolerance = 0.005 // mm

// maxCrossings found of one plane (12 bytes each): a screen of 150 lines per inch on A4 has some 20 million at 600 dpi.
const maxCrossings = 40_000_000

// Trace returns the outline in list space (points, y down), contours from the top down. Errors: a malformed plane; more points
// than allowed. Memory: 12 bytes a crossing, and the result.
func Trace(p Plane, o Options) (*geom.Path, error) {
	if err := check(p, o); err != nil {
		return nil, err
	}
	m := &marcher{p: p, level: 128, area: true}
	if o.Threshold != 0 {
		m.level, m.area = o.Threshold, false
	}
	if err := m.march(); err != nil {
		return nil, err
	}
	mm := o.Tolerance
	if mm == 0 {
		mm = defaultTolerance
	}
	w := &writer{most: o.MaxPoints, scale: 72 / p.DPI, x: p.OriginX, y: p.OriginY, path: &geom.Path{}}
	if w.most == 0 {
		w.most = limits.MaxPathPoints
	}
	tolerance := max(mm*p.DPI/25.4, 0.01) // pixels
	var s simplifier
	f := fitter{tolerance: tolerance}
	var loop []geom.Point
	for i := range m.nodes {
		if m.nodes[i].next < 0 {
			continue
		}
		loop = m.loop(i, loop[:0])
		lines := s.simplify(loop, tolerance)
		if o.Curves {
			// Rough contours take fewer lines than curves.
			if c := f.fit(loop); c.points() < len(lines) {
				w.curves(c)
				lines = nil
			}
		}
		w.polygon(lines)
		if w.full {
			return nil, fmt.Errorf("outline: more than %d points within %.4f mm after %d of %d crossings: this is grain or a screen; threshold or smooth the plane, allow a larger tolerance, or keep it as an image",
				w.most, mm, i, len(m.nodes))
		}
	}
	return w.path, nil
}

func check(p Plane, o Options) error {
	switch {
	case p.W < 1 || p.H < 1:
		return fmt.Errorf("outline: a plane of %d x %d pixels is empty", p.W, p.H)
	case p.W > limits.MaxPlateSide || p.H > limits.MaxPlateSide || p.W*p.H > limits.MaxPagePixels:
		return fmt.Errorf("outline: a plane of %d x %d pixels is too large; at most %d a side and %d in all",
			p.W, p.H, limits.MaxPlateSide, limits.MaxPagePixels)
	case len(p.Pix) != p.W*p.H:
		return fmt.Errorf("outline: %d bytes for a plane of %d x %d pixels", len(p.Pix), p.W, p.H)
	case !(p.DPI >= 1 && p.DPI <= 100_000):
		return fmt.Errorf("outline: a resolution of %v dpi; it must lie between 1 and 100000", p.DPI)
	case !(math.Abs(p.OriginX) < 1e9 && math.Abs(p.OriginY) < 1e9):
		return fmt.Errorf("outline: an origin of %v, %v points is out of range", p.OriginX, p.OriginY)
	case !(o.Tolerance >= 0 && o.Tolerance <= 100):
		return fmt.Errorf("outline: a tolerance of %v mm; it must lie between 0 and 100", o.Tolerance)
	case o.MaxPoints < 0:
		return fmt.Errorf("outline: at most %d points; it must be 0 or more", o.MaxPoints)
	}
	return nil
}

// writer puts contours into list space and counts their points.
type writer struct {
	path  *geom.Path
	most  int
	full  bool
	scale float64 // points per pixel
	x, y  float64
}

// list maps a place in pixels, whole numbers at centres.
func (w *writer) list(p geom.Point) geom.Point {
	return geom.Point{X: float64((p.X+0.5)*w.scale) + w.x, Y: float64((p.Y+0.5)*w.scale) + w.y}
}

// room reports whether n more points are allowed.
func (w *writer) room(n int) bool {
	w.full = w.full || len(w.path.Points)+n > w.most
	return !w.full
}

// polygon writes a closed contour; fewer than three points enclose nothing.
func (w *writer) polygon(pts []geom.Point) {
	if len(pts) < 3 || !w.room(len(pts)) {
		return
	}
	w.path.Move(w.list(pts[0]))
	for _, q := range pts[1:] {
		w.path.Line(w.list(q))
	}
	w.path.ClosePath()
}

// curves writes a closed contour of pieces, each from the end of the one before.
func (w *writer) curves(c contour) {
	if !w.room(c.points()) {
		return
	}
	w.path.Move(w.list(c.start))
	for i, s := range c.pieces {
		switch {
		case s.curved:
			w.path.Cubic(w.list(s.a), w.list(s.b), w.list(s.end))
		case i < len(c.pieces)-1: // the last line is the closing one
			w.path.Line(w.list(s.end))
		}
	}
	w.path.ClosePath()
}

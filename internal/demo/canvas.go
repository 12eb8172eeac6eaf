package demo

import (
	"fmt"
	"math"
	"strings"

	"laydown/internal/geom"
)

// canvas writes one page's content stream. Positions are in millimetres from the top left corner of
// the trim, y down, as a designer measures; PDF points are made here.
type canvas struct {
	b      strings.Builder
	margin float64 // mm from the MediaBox edge to the trim edge
	height float64 // mm of the MediaBox
}

func (c *canvas) pt(x, y float64) string {
	return fmt.Sprintf("%.3f %.3f", (x+c.margin)*geom.PointsPerMM, (c.height-y-c.margin)*geom.PointsPerMM)
}

func (c *canvas) op(format string, args ...any) {
	fmt.Fprintf(&c.b, format+"\n", args...)
}

// spot selects a named colourant and its tint (0..1) for fills, or for strokes too.
func (c *canvas) spot(resource string, tint float64) {
	c.op("/%s cs %.3g scn /%s CS %.3g SCN", resource, tint, resource, tint)
}

func (c *canvas) overprint(on bool) {
	if on {
		c.op("/Keep gs")
	} else {
		c.op("/Knock gs")
	}
}

func (c *canvas) rect(x, y, w, h float64) {
	c.op("%s m %s l %s l %s l h", c.pt(x, y), c.pt(x+w, y), c.pt(x+w, y+h), c.pt(x, y+h))
}

// circle adds a circle of radius r mm.
func (c *canvas) circle(x, y, r float64) {
	const k = 0.5522847498
	c.op("%s m", c.pt(x+r, y))
	c.op("%s %s %s c", c.pt(x+r, y+k*r), c.pt(x+k*r, y+r), c.pt(x, y+r))
	c.op("%s %s %s c", c.pt(x-k*r, y+r), c.pt(x-r, y+k*r), c.pt(x-r, y))
	c.op("%s %s %s c", c.pt(x-r, y-k*r), c.pt(x-k*r, y-r), c.pt(x, y-r))
	c.op("%s %s %s c h", c.pt(x+k*r, y-r), c.pt(x+r, y-k*r), c.pt(x+r, y))
}

func (c *canvas) polygon(points ...[2]float64) {
	for i, p := range points {
		verb := "l"
		if i == 0 {
			verb = "m"
		}
		c.op("%s %s", c.pt(p[0], p[1]), verb)
	}
	c.op("h")
}

// star adds a star with n points between the radii r0 < r1.
func (c *canvas) star(x, y, r0, r1 float64, n int) {
	pts := make([][2]float64, 0, 2*n)
	for i := range 2 * n {
		r := r1
		if i%2 == 1 {
			r = r0
		}
		a := math.Pi * float64(i) / float64(n)
		pts = append(pts, [2]float64{x + r*math.Sin(a), y - r*math.Cos(a)})
	}
	c.polygon(pts...)
}

func (c *canvas) line(x0, y0, x1, y1 float64) { c.op("%s m %s l", c.pt(x0, y0), c.pt(x1, y1)) }

// comet adds a tail: a wedge from the head (x, y) to a point dx, dy away, bent sideways.
func (c *canvas) comet(x, y, r, dx, dy float64) {
	l := math.Hypot(dx, dy)
	nx, ny := -dy/l*r, dx/l*r
	c.op("%s m", c.pt(x+nx, y+ny))
	c.op("%s %s %s c", c.pt(x+nx+dx*.3, y+ny+dy*.3), c.pt(x+nx*2+dx*.6, y+ny*2+dy*.6), c.pt(x+dx+nx*2, y+dy+ny*2))
	c.op("%s %s %s c h", c.pt(x+dx*.6-nx*.2, y+dy*.6-ny*.2), c.pt(x-nx+dx*.3, y-ny+dy*.3), c.pt(x-nx, y-ny))
}

// text shows a line with its baseline's left end at (x, y) mm in font resource F1.
func (c *canvas) text(x, y, size float64, s string) { c.textIn("F1", x, y, size, s) }

func (c *canvas) textIn(font string, x, y, size float64, s string) {
	esc := strings.NewReplacer(`\`, `\\`, `(`, `\(`, `)`, `\)`).Replace(s)
	c.op("BT /%s %g Tf %s Td (%s) Tj ET", font, size, c.pt(x, y), esc)
}

// image places the XObject so that it fills the rectangle.
func (c *canvas) image(name string, x, y, w, h float64) {
	c.op("q %.3f 0 0 %.3f %s cm /%s Do Q", w*geom.PointsPerMM, h*geom.PointsPerMM, c.pt(x, y+h), name)
}

func (c *canvas) layer(name string, draw func()) {
	c.op("/OC /%s BDC", name)
	draw()
	c.op("EMC")
}

package raster

import (
	"math"
	"testing"

	"laydown/internal/geom"
)

// across returns the coverage a horizontal line of the style puts on one column of pixels.
func across(style geom.StrokeStyle, pen geom.Matrix) float64 {
	p := &geom.Path{}
	p.Move(geom.Point{X: -20, Y: 10.3})
	p.Line(geom.Point{X: 40, Y: 10.3})
	var b Builder
	b.Stroke(p, style, pen, geom.Identity)
	sum := 0.0
	for _, c := range render(b.Edges(geom.NonZero), IntRect{5, 0, 6, 20}) {
		sum += float64(c) / 255
	}
	return sum
}

func TestThinStrokesFollowTheHairlineRule(t *testing.T) {
	for _, c := range []struct {
		name   string
		width  float64
		adjust bool
		pen    geom.Matrix
		want   float64
	}{
		{"no width at 72 dpi is a quarter", 0, false, geom.Identity, 0.25},
		{"no width does not scale with the pen", 0, false, geom.Scale(100, 100), 0.25},
		{"thin is true to area", 0.5, false, geom.Identity, 0.5},
		{"thin by scale", 3, false, geom.Scale(0.1, 0.1), 0.3},
		{"never thinner than a quarter", 0.01, false, geom.Identity, 0.25},
		{"wide is true", 3.25, false, geom.Identity, 3.25},
		{"adjusted under half a pixel is one", 0.4, true, geom.Identity, 1},
		{"adjusted over half a pixel is true", 0.75, true, geom.Identity, 0.75},
		{"a flat pen keeps its height", 2, false, geom.Scale(0, 1), 2},
		{"a pen without height", 2, false, geom.Scale(1, 0), 0.25},
		{"a pen without size", 2, false, geom.Matrix{}, 0.25},
		{"a slanted pen of no width", 2, false, geom.Matrix{A: 1, B: 1, C: 1, D: 1}, 2 * math.Sqrt(2+0.0078125)},
		{"mirrored", 2, false, geom.Scale(1, -1), 2},
	} {
		got := across(geom.StrokeStyle{Width: c.width, MiterLimit: 10, Adjust: c.adjust}, c.pen)
		if math.Abs(got-c.want) > 0.02 {
			t.Errorf("%s: %.4f pixels wide, want %.4f", c.name, got, c.want)
		}
	}
}

func TestNoWidthIsOnePixelOfThePress(t *testing.T) {
	for _, c := range []struct{ dpi, want float64 }{{150, 0.25}, {300, 0.5}, {600, 1}, {1200, 1}} {
		pen, ok := hairline(geom.StrokeStyle{}, geom.Identity, c.dpi)
		if got := 2 * pen.A; !ok || got != c.want {
			t.Errorf("%g dpi: %g pixels wide, want %g", c.dpi, got, c.want)
		}
	}
}

func TestStrokesOfNoLength(t *testing.T) {
	point := func(verbs ...geom.Verb) *geom.Path {
		p := &geom.Path{Verbs: verbs}
		for _, v := range verbs {
			if v != geom.Close {
				p.Points = append(p.Points, geom.Point{X: 3, Y: 3})
			}
		}
		return p
	}
	line := &geom.Path{}
	line.Move(geom.Point{X: 2, Y: 3})
	line.Line(geom.Point{X: 9, Y: 3})
	dot := "...... .3883. .8998. .8998. .3883. ......"
	none := "...... ...... ...... ...... ...... ......"
	for _, c := range []struct {
		name  string
		path  *geom.Path
		style geom.StrokeStyle
		want  string
	}{
		{"round caps make a dot", point(geom.MoveTo, geom.LineTo), geom.StrokeStyle{Width: 4, Cap: geom.RoundCap}, dot},
		{"a closed point too", point(geom.MoveTo, geom.Close), geom.StrokeStyle{Width: 4, Cap: geom.RoundCap}, dot},
		{"a move alone does not", point(geom.MoveTo), geom.StrokeStyle{Width: 4, Cap: geom.RoundCap}, none},
		{"butt caps make nothing", point(geom.MoveTo, geom.LineTo), geom.StrokeStyle{Width: 4}, none},
		{"square caps have no direction", point(geom.MoveTo, geom.LineTo), geom.StrokeStyle{Width: 4, Cap: geom.SquareCap}, none},
		{"dashes of no length with square caps", line, geom.StrokeStyle{Width: 2, Cap: geom.SquareCap, Dash: []float64{0, 4}},
			"......... ......... .99..99.. .99..99.. ........."},
		{"dashes of no length with butt caps", line, geom.StrokeStyle{Width: 2, Dash: []float64{0, 4}}, none},
		{"a negative phase", line, geom.StrokeStyle{Width: 2, Dash: []float64{2, 2}, DashPhase: -1}, "......... ......... ...99..99 ...99..99 ........."},
		{"an odd number of dashes", line, geom.StrokeStyle{Width: 2, Dash: []float64{1}, DashPhase: 7}, "......... ......... ...9.9.9. ...9.9.9. ........."},
	} {
		t.Run(c.name, func(t *testing.T) { checkGrid(t, stroke(c.path, c.style), c.want) })
	}
}

func TestMiterLimitIsExact(t *testing.T) {
	corner := &geom.Path{}
	corner.Move(geom.Point{X: 0, Y: 6})
	corner.Line(geom.Point{X: 6, Y: 6})
	corner.Line(geom.Point{X: 6, Y: 0})
	for _, c := range []struct {
		limit float64
		want  byte // coverage of the pixel at the tip
	}{{1.41421, 0}, {1.414214, 255}} { // a right angle's ratio is the square root of 2
		e := stroke(corner, geom.StrokeStyle{Width: 4, MiterLimit: c.limit})
		if got := render(e, IntRect{7, 7, 8, 8})[0]; got != c.want {
			t.Errorf("limit %v: %d at the tip, want %d", c.limit, got, c.want)
		}
	}
}

func TestTooManyDashesAreReported(t *testing.T) {
	p := &geom.Path{}
	p.Move(geom.Point{})
	p.Line(geom.Point{X: 1e6})
	var b Builder
	if b.Stroke(p, geom.StrokeStyle{Width: 1, MiterLimit: 10, Dash: []float64{1e-4}}, geom.Identity, geom.Identity) {
		t.Error("a stroke of 10^10 dashes is said to be whole")
	}
}

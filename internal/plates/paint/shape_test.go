package paint

import (
	"context"
	"errors"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// box is a unit square as a glyph outline; hole cuts one out of its middle.
func box(hole bool) *geom.Path {
	p := &geom.Path{}
	p.Rect(geom.Rect{X1: 1, Y1: 1})
	if hole {
		p.Move(geom.Point{X: .25, Y: .25})
		p.Line(geom.Point{X: .25, Y: .75})
		p.Cubic(geom.Point{X: .25, Y: .75}, geom.Point{X: .75, Y: .75}, geom.Point{X: .75, Y: .75})
		p.Line(geom.Point{X: .75, Y: .25})
		p.ClosePath()
	}
	return p
}

func run(p displist.Paint, glyphs ...displist.Glyph) displist.Item {
	it := displist.Item{Kind: displist.Fill, Paint: p, Alpha: 1, Bounds: geom.Rect{X1: 100, Y1: 100}}
	it.Shape.Glyphs = glyphs
	return it
}

// Are glyphs of one run painted as their union, once, whichever way each is turned?
func TestGlyphsOfARunAreAUnion(t *testing.T) {
	at := func(x, w float64, hole bool) displist.Glyph {
		return displist.Glyph{Outline: box(hole), M: geom.Matrix{A: w, D: 4, E: x}}
	}
	cases := []struct {
		name   string
		glyphs []displist.Glyph
		want   string
	}{
		{"one with a hole", []displist.Glyph{at(0, 4, true)}, "44440000\n40040000\n40040000\n44440000"},
		{"one mirrored with a hole", []displist.Glyph{at(4, -4, true)}, "44440000\n40040000\n40040000\n44440000"},
		{"two overlapping", []displist.Glyph{at(0, 4, false), at(2, 4, false)}, "44444400\n44444400\n44444400\n44444400"},
		{"two overlapping, one mirrored", []displist.Glyph{at(0, 4, false), at(6, -4, false)}, "44444400\n44444400\n44444400\n44444400"},
		{"the first mirrored", []displist.Glyph{at(4, -4, false), at(2, 4, false)}, "44444400\n44444400\n44444400\n44444400"},
		{"one mirrored over the hole of another", []displist.Glyph{at(0, 4, true), at(6, -4, true)},
			"44444400\n40440400\n40440400\n44444400"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			it := run(paintOf(white, 1), c.glyphs...)
			it.Alpha = .5
			got := plate.TextGrid(render(t, jobOf(list(8, 4, it))))
			want := strings.ReplaceAll(c.want, "4", "5") // half of full tint, as ninths
			if !strings.Contains(got, "White\n"+want) {
				t.Errorf("plates are\n%swant White\n%s", got, want)
			}
		})
	}
}

// Is a stroke as wide as its pen, does it follow glyphs as well, and is none too thin to be seen?
func TestStrokes(t *testing.T) {
	line := &geom.Path{}
	line.Move(geom.Point{X: 1, Y: 2})
	line.Line(geom.Point{X: 7, Y: 2})
	pen := func(width float64) *displist.Pen {
		return &displist.Pen{Style: geom.StrokeStyle{Width: width, MiterLimit: 10}, M: geom.Identity}
	}
	it := displist.Item{Kind: displist.Stroke, Shape: displist.Shape{Path: line}, Pen: pen(2), Paint: paintOf(white, 1), Alpha: 1,
		Bounds: geom.Rect{X0: 0, Y0: 0, X1: 8, Y1: 4}}
	s := render(t, jobOf(list(8, 4, it)))
	if got := plate.TextGrid(s); !strings.Contains(got, "White\n00000000\n09999990\n09999990\n00000000") {
		t.Errorf("a line 2 wide is\n%s", got)
	}
	it.Pen = pen(0)
	s = render(t, jobOf(list(8, 4, it)))
	sum := 0
	for y := range 4 {
		sum += int(s.At(4, 4, y))
	}
	if sum == 0 {
		t.Error("a line of no width is not painted")
	}
	it.Shape = displist.Shape{Glyphs: []displist.Glyph{{Outline: box(false), M: geom.Matrix{A: 4, D: 2, E: 2, F: 1}}}}
	it.Pen = pen(1)
	s = render(t, jobOf(list(8, 4, it)))
	if in, edge := s.At(4, 4, 1), s.At(4, 2, 2); in == 0 || edge == 0 {
		t.Errorf("the outline of a glyph is not drawn: %d, %d", in, edge)
	}
	it.Pen = nil
	if s = render(t, jobOf(list(8, 4, it))); s.At(4, 4, 1) != 0 {
		t.Error("a stroke without a pen paints")
	}
}

// Is an item left out on request, a group with all its members?
func TestSkip(t *testing.T) {
	g := closed(group(displist.Group{Isolated: true}, []displist.Item{rect(0, 0, 4, 1, cmyk(0, 1, 0, 0))}, alpha(.5)), 1)
	l := list(4, 1, rect(0, 0, 4, 1, cmyk(1, 0, 0, 0)), g, rect(0, 0, 1, 1, paintOf(gold, 1), overprint(0)))
	j := jobOf(l)
	for skipped, want := range map[int][]byte{-1: {128, 128, 0, 0, 0, 255}, 0: {0, 128, 0, 0, 0, 255}, 1: {255, 0, 0, 0, 0, 255}, 3: {128, 128, 0, 0, 0, 0}} {
		j.Skip = func(i int) bool { return i == skipped }
		got := tintsAt(render(t, j), 0, 0)
		for c := range want {
			if d := int(got[c]) - int(want[c]); d < -1 || d > 1 {
				t.Errorf("without item %d: %v, want %v", skipped, got, want)
				break
			}
		}
	}
}

// Are groups nested beyond the limit reported once, and their members still painted?
func TestGroupsTooDeep(t *testing.T) {
	const deep = limits.MaxGroupDepth + 30
	items := make([]displist.Item, deep, deep+1)
	for i := range items {
		items[i] = displist.Item{Kind: displist.BeginGroup, Alpha: 1, Bounds: geom.Rect{X1: 2, Y1: 2}, Blend: displist.Multiply,
			Group: &displist.Group{End: deep + 1, Isolated: true}}
	}
	items = append(items, rect(0, 0, 2, 2, paintOf(white, 1)))
	var c finding.Collector
	j := jobOf(list(2, 2, items))
	j.Sink = &c
	if got := render(t, j).At(4, 1, 1); got != 255 {
		t.Errorf("the innermost item has tint %d", got)
	}
	if f := c.Sorted(); len(f) != 1 || f[0].ID != "groups-too-deep" || !f[0].Incomplete {
		t.Errorf("findings: %v", f)
	}
}

// Are pages without area, and pages beyond the limits, refused with an error?
func TestSizeLimits(t *testing.T) {
	for name, change := range map[string]func(*Job){
		"empty":     func(j *Job) { j.Region = geom.Rect{X0: 1, Y0: 1, X1: 1, Y1: 2} },
		"too wide":  func(j *Job) { j.Region.X1 = limits.MaxPlateSide + 1 },
		"too large": func(j *Job) { j.Region = geom.Rect{X1: 100_000, Y1: 100_000} },
		"no dpi":    func(j *Job) { j.DPI = 0 },
	} {
		j := jobOf(list(4, 4, rect(0, 0, 4, 4, cmyk(1, 0, 0, 0))))
		change(&j)
		var s plate.Stack
		if err := Render(context.Background(), j, &s); err == nil {
			t.Errorf("%s: no error", name)
		}
		if _, err := Explain(context.Background(), j, 0, 0); err == nil {
			t.Errorf("%s: no error from Explain", name)
		}
	}
}

type failing struct{ nowhere }

var errFull = errors.New("disk full")

func (failing) Band(*plate.Band) error { return errFull }

// Do a context that has ended and a sink that fails end the rendering with their error?
func TestRenderEnds(t *testing.T) {
	j := jobOf(list(400, 4000, rect(0, 0, 400, 4000, cmyk(1, 0, 0, 0))))
	j.Workers = 3
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := Render(ctx, j, nowhere{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if err := Render(context.Background(), j, failing{}); !errors.Is(err, errFull) {
		t.Errorf("failing sink: %v", err)
	}
}

// Are items outside groups painted in the page group's space only when something blends?
func TestRootContext(t *testing.T) {
	l := list(1, 1)
	l.Group = &displist.Group{Space: colour.RGB}
	for blending, want := range map[bool]separate.BlendSpace{true: separate.BlendRGB, false: separate.BlendCMYK} {
		l.Blending = blending
		if got := RootContext(l).Space; got != want {
			t.Errorf("blending %v: %v, want %v", blending, got, want)
		}
	}
}

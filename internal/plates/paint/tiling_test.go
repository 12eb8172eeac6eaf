package paint

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// tiling is a coloured tiling whose box is one step, in list space.
func tiling(xstep, ystep float64, items ...any) *displist.Tiling {
	t := &displist.Tiling{Items: join(items...), BBox: geom.Rect{X1: xstep, Y1: ystep}, XStep: xstep, YStep: ystep, M: geom.Identity, Coloured: true}
	for i := range t.Items {
		t.Bounds = t.Bounds.Union(t.Items[i].Bounds)
	}
	return t
}

func tiled(x0, y0, x1, y1 float64, t *displist.Tiling, change ...func(*displist.Item)) displist.Item {
	return rect(x0, y0, x1, y1, displist.Paint{Tiling: t}, change...)
}

// What does a plain pattern paint, and what does it knock out?
func TestTilesStandOnTheirLattice(t *testing.T) {
	over := mode(displist.Multiply)
	for _, c := range []struct {
		name string
		m    geom.Matrix
		want string
		each string // tile by tile, where that differs: on whole pixels
	}{
		{"upright", geom.Identity, "90090090\n00000000\n90090090\n00000000", ""},
		{"shifted", geom.Translate(1, 1), "00000000\n09009009\n00000000\n09009009", ""},
		{"mirrored", geom.Matrix{A: -1, D: 1}, "00900900\n00000000\n00900900\n00000000", ""},
		{"turned by 90 degrees", geom.Matrix{B: 1, C: -1}, "09090909\n00000000\n00000000\n09090909", ""},
		{"shifted by half a pixel", geom.Translate(0.5, 0), "55055055\n00000000\n55055055\n00000000", "09009009\n00000000\n09009009\n00000000"},
		{"half the size", geom.Scale(0.5, 0.5), "22022022\n22022022\n22022022\n22022022", "30130130\n30130130\n30130130\n30130130"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for k, o := range []func(*displist.Item){func(*displist.Item) {}, over} { // as a raster, and tile by tile
				x := tiling(3, 2, rect(0, 0, 1, 1, paintOf(white, 1), o))
				x.M = c.m
				got := plate.TextGrid(render(t, jobOf(list(8, 4, rect(0, 0, 8, 4, paintOf(gold, 1)), tiled(0, 0, 8, 4, x)))))
				i, j := strings.Index(got, "White\n"), strings.Index(got, "Gold")
				want := c.want
				if k == 1 && c.each != "" {
					want = c.each
				}
				if got := got[i+6 : j-1]; got != want {
					t.Errorf("white is\n%s\nwant\n%s", got, want)
				}
			}
		})
	}
}

// spread writes a tiling out as a group of all its tiles, moved by whole pixels.
func spread(t *displist.Tiling, w, h int) []displist.Item {
	var all []displist.Item
	for y := 0; y < h; y += int(t.YStep) {
		for x := 0; x < w; x += int(t.XStep) {
			for _, it := range t.Items {
				m := geom.Translate(float64(x), float64(y))
				it.Bounds = m.Bounds(it.Bounds)
				it.Shape.Path = it.Shape.Path.Transform(m)
				if it.Clip != nil {
					c := *it.Clip
					c.Bounds, c.Shape.Path = m.Bounds(c.Bounds), c.Shape.Path.Transform(m)
					it.Clip = &c
				}
				all = append(all, it)
			}
		}
	}
	return group(displist.Group{}, all)
}

// Does a pattern give what its tiles written out as a group give, with alpha, blend modes and overprint in the cell, at
// the page's root and in groups of all kinds?
func TestTilesAreOneGroup(t *testing.T) {
	const w, h = 16, 12
	for seed := range uint64(150) {
		r := &randomList{Rand: rand.New(rand.NewPCG(seed, 3)), w: 4, h: 3, aligned: true, clips: true, overline: seed%2 == 0}
		if seed%3 == 0 {
			r.blends = steady
		}
		r.opaque = seed%5 == 0
		cell := tiling(4, 3, r.items(1+r.IntN(3), 0))
		cell.Blending = !r.opaque
		page := &randomList{Rand: r.Rand, w: w, h: h, aligned: true, overline: true}
		under := page.items(3, 0)
		whole := func(it *displist.Item) {
			if seed%4 != 0 {
				it.Alpha, it.AlphaIsShape = float64(r.IntN(11))/10, seed%8 < 4
			}
		}
		item := tiled(0, 0, w, h, cell, whole)
		out := spread(cell, w, h)
		out[0].Alpha, out[0].AlphaIsShape, out[0].Bounds = item.Alpha, item.AlphaIsShape, item.Bounds
		around := displist.Group{Isolated: r.IntN(2) == 0, Knockout: r.IntN(3) == 0}
		inGroup := r.IntN(3) > 0
		pageOf := func(parts []displist.Item) *displist.List {
			items := append([]displist.Item{}, parts...)
			if inGroup {
				items = group(around, append([]displist.Item{rect(2, 1, 9, 9, cmyk(.5, 0, .3, .2), alpha(.6))}, items...))
			}
			all := append(append([]displist.Item{}, under...), items...)
			for i := len(under); i < len(all); i++ {
				if all[i].Kind == displist.BeginGroup {
					g := *all[i].Group
					g.End = len(all)
					all[i].Group = &g
				}
			}
			return list(w, h, all)
		}
		got, want := render(t, jobOf(pageOf([]displist.Item{item}))), render(t, jobOf(pageOf(out)))
		worst := 0
		for c := range got.Set.Len() {
			for y := range h {
				for x := range w {
					d := int(got.At(c, x, y)) - int(want.At(c, x, y))
					worst = max(worst, d, -d)
				}
			}
		}
		if worst > 1 {
			t.Errorf("seed %d: off by %d\ntiling\n%s\nwritten out\n%s", seed, worst, plate.HexGrid(got), plate.HexGrid(want))
			return
		}
	}
}

// Is an uncoloured pattern painted by the item's overprint?
func TestUncolouredTilesOverprint(t *testing.T) {
	under := rect(0, 0, 8, 1, paintOf(gold, 1))
	for _, c := range []struct {
		name   string
		change func(*displist.Item)
		want   string
	}{
		{"knockout", func(*displist.Item) {}, "White\n90909090\nGold\n09090909"},
		{"overprint", overprint(0), "White\n90909090\nGold\n99999999"},
		{"half", alpha(0.5), "White\n50505050\nGold\n49494949"},
	} {
		t.Run(c.name, func(t *testing.T) {
			cell := tiling(2, 1, rect(0, 0, 1, 1, paintOf(white, 1)))
			cell.Coloured = false
			item := tiled(0, 0, 8, 1, cell, c.change)
			item.Paint.Space, item.Paint.Comps = white, []float64{1}
			sameGrid(t, plate.TextGrid(render(t, jobOf(list(8, 1, under, item)))), "Cyan -\nMagenta -\nYellow -\nBlack -\n"+c.want)
		})
	}
}

// Do tiles that touch leave no seam, whatever their step and matrix, and do tiles smaller than a pixel give their mean?
func TestTilesHaveNoSeams(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for k := range 60 {
		xs, ys := 0.01+r.Float64()*9, 0.01+r.Float64()*9
		if k%4 == 0 {
			xs, ys = xs/40, ys/40
		}
		half := tiling(xs, ys, rect(0, 0, xs, ys, paintOf(white, 0.6)), rect(0, 0, xs, ys/2, paintOf(gold, 1), overprint(0)))
		sin, cos := math.Sincos(r.Float64() * 7)
		half.M = geom.Matrix{A: cos, B: sin, C: -sin, D: cos, E: r.Float64(), F: r.Float64()}
		if k%2 == 0 {
			half.M = geom.Matrix{A: 0.3 + r.Float64(), D: 0.3 + r.Float64(), E: r.Float64(), F: r.Float64()}
		}
		s := render(t, jobOf(list(40, 40, tiled(0, 0, 40, 40, half))))
		sum := 0
		for y := range 40 {
			for x := range 40 {
				if v := s.At(4, x, y); v != 153 {
					t.Fatalf("steps %g x %g under %v: white is %d at %d,%d", xs, ys, half.M, v, x, y)
				}
				v := int(s.At(5, x, y))
				if sum += v; (xs*half.M.Expansion() < 0.2 && ys*half.M.Expansion() < 0.2) && (v < 100 || v > 155) {
					t.Fatalf("steps %g x %g under %v: gold is %d at %d,%d", xs, ys, half.M, v, x, y)
				}
			}
		}
		if mean := float64(sum) / 1600; math.Abs(mean-127.5) > 127.5*0.5*ys*half.M.Expansion()/40*2+3 {
			t.Errorf("steps %g x %g under %v: the mean of gold is %.1f", xs, ys, half.M, mean)
		}
	}
}

// Are rows of cells that overlap painted upwards in pattern space, each from left to right?
func TestTilesOverlapInOrder(t *testing.T) {
	wide := tiling(2, 1, rect(0, 0, 1, 1, paintOf(white, 1)), rect(1, 0, 3, 1, paintOf(white, .4)))
	wide.BBox.X1 = 3
	wide.Bounds = wide.BBox
	sameGrid(t, plate.TextGrid(render(t, jobOf(list(8, 1, tiled(0, 0, 8, 1, wide))))), "Cyan -\nMagenta -\nYellow -\nBlack -\nWhite\n94949494\nGold -")
}

// Do patterns fill strokes, glyphs and stencils, and cells of other patterns?
func TestTilesFillAnyShape(t *testing.T) {
	stripes := func() *displist.Tiling { return tiling(2, 1, rect(0, 0, 1, 1, paintOf(white, 1))) }
	stroke := tiled(0, 0, 8, 4, stripes())
	line := &geom.Path{}
	line.Move(geom.Point{X: 0, Y: 2})
	line.Line(geom.Point{X: 8, Y: 2})
	stroke.Kind, stroke.Shape.Path, stroke.Pen = displist.Stroke, line, &displist.Pen{Style: geom.StrokeStyle{Width: 2, MiterLimit: 10}, M: geom.Identity}
	text := tiled(0, 0, 8, 4, stripes())
	square := &geom.Path{}
	square.Rect(geom.Rect{X1: 1, Y1: 1})
	text.Shape = displist.Shape{Glyphs: []displist.Glyph{{Outline: square, M: geom.Matrix{A: 3, D: 3, E: 1, F: 1}}, {Outline: square, M: geom.Matrix{A: 2, D: 2, E: 6}}}}
	sten := picture(stencil(2, 1, []byte{0x40}), upright(0, 0, 8, 4))
	sten.Paint = displist.Paint{Tiling: stripes()}
	nested := tiled(0, 0, 8, 4, tiling(4, 4, tiled(0, 0, 3, 2, stripes())))
	for _, c := range []struct {
		name string
		item displist.Item
		want string
	}{
		{"stroke", stroke, "00000000\n90909090\n90909090\n00000000"},
		{"text", text, "00000090\n00900090\n00900000\n00900000"},
		{"stencil", sten, "90900000\n90900000\n90900000\n90900000"},
		{"nested", nested, "90909090\n90909090\n00000000\n00000000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			sameGrid(t, plate.TextGrid(render(t, jobOf(list(8, 4, c.item)))), "Cyan -\nMagenta -\nYellow -\nBlack -\nWhite\n"+c.want+"\nGold -")
		})
	}
}

// What does the explanation of a pixel tell of shadings and patterns: the item, why each plate is as it is, and the tints?
func TestPatternsAreExplained(t *testing.T) {
	shape := tiling(2, 1, rect(0, 0, 1, 1, paintOf(white, 0.5)))
	shape.Coloured = false
	stencilled := tiled(0, 0, 8, 1, shape, overprint(0))
	stencilled.Paint.Space, stencilled.Paint.Comps = white, []float64{0.5}
	l := list(8, 1, rect(0, 0, 8, 1, paintOf(gold, 1)),
		shaded(0, 0, 8, 1, axialOf(white, ramp([]float64{0}, []float64{1}), 0, 0, 8, 0), overprint(0)),
		tiled(0, 0, 8, 1, tiling(4, 1, rect(0, 0, 2, 1, cmyk(0, 1, 0, 0)))),
		stencilled)
	for _, c := range []struct {
		x     int
		items []int
	}{{0, []int{0, 1, 2, 3}}, {2, []int{0, 1, 3}}, {3, []int{0, 1}}} {
		e, err := Explain(context.Background(), jobOf(l), c.x, 0)
		if err != nil {
			t.Fatal(err)
		}
		var items []int
		for _, r := range e.Rows {
			items = append(items, r.Item)
			switch r.Item {
			case 1:
				if r.Effects[4] != separate.Paint || r.Reasons[4] != separate.ReasonNamed || r.Effects[5] != separate.Leave || r.Reasons[5] != separate.ReasonOverprint {
					t.Errorf("pixel %d: the shading does %v for %v", c.x, r.Effects, r.Reasons)
				}
				if want := (float64(c.x) + 0.5) / 8 * 65535; math.Abs(float64(r.Values[4])-want) > 200 {
					t.Errorf("pixel %d: the shading's white is %d, want %.0f", c.x, r.Values[4], want)
				}
			case 2:
				if r.Alpha != 1 || r.Values[1] != full {
					t.Errorf("pixel %d: the tiles have alpha %g, magenta %d", c.x, r.Alpha, r.Values[1])
				}
			case 3:
				if r.Alpha != 1 || r.Effects[1] != separate.Leave || r.Effects[4] != separate.Paint {
					t.Errorf("pixel %d: the stencilled tiles have alpha %g and do %v", c.x, r.Alpha, r.Effects)
				}
			}
		}
		if fmt.Sprint(items) != fmt.Sprint(c.items) {
			t.Errorf("pixel %d: touched by %v, want %v", c.x, items, c.items)
		}
	}
}

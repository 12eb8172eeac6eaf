package paint

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

type nowhere struct{}

func (nowhere) Begin(plate.Header) error { return nil }
func (nowhere) Band(*plate.Band) error   { return nil }
func (nowhere) End() error               { return nil }

// glyph is a ring of curves in a unit square.
func glyph() *geom.Path {
	p := &geom.Path{}
	ring := func(r float64, turn int) {
		at := func(k float64) geom.Point {
			a := k * math.Pi / 2 * float64(turn)
			return geom.Point{X: .5 + r*math.Cos(a), Y: .5 + r*math.Sin(a)}
		}
		p.Move(at(0))
		for k := range 4 {
			p.Cubic(at(float64(k)+.3), at(float64(k)+.7), at(float64(k)+1))
		}
		p.ClosePath()
	}
	ring(.5, 1)
	ring(.3, -1)
	return p
}

// benchPages are synthetic pages of A4.
func benchPages() map[string]*displist.List {
	const w, h = 595, 842
	r := rand.New(rand.NewPCG(9, 9))
	pages := map[string]*displist.List{}

	var text []any
	ring := glyph()
	for line := range 60 {
		it := displist.Item{Kind: displist.Fill, Paint: cmyk(0, 0, 0, 1), Alpha: 1, Bounds: geom.Rect{X0: 40, Y0: 40 + float64(line)*12, X1: 560, Y1: 52 + float64(line)*12}}
		for k := range 85 {
			it.Shape.Glyphs = append(it.Shape.Glyphs, displist.Glyph{Outline: ring, M: geom.Matrix{A: 5, D: 9, E: 40 + float64(k)*6, F: 41 + float64(line)*12}})
		}
		text = append(text, it)
	}
	pages["text"] = list(w, h, text...)

	var shapes []any
	for range 2000 {
		x, y := r.Float64()*w, r.Float64()*h
		shapes = append(shapes, rect(x, y, x+r.Float64()*60, y+r.Float64()*60, [...]displist.Paint{cmyk(.3, .2, 0, 0), paintOf(white, 1), paintOf(gold, .6)}[r.IntN(3)], func(it *displist.Item) {
			it.Overprint = r.IntN(2) == 0
		}))
	}
	pages["shapes"] = list(w, h, shapes...)

	data := noise(r, 2480*3508*3)
	photo := picture(&image.Image{Width: 2480, Height: 3508, Bits: 8, Space: colour.RGB, Decode: []float64{0, 1, 0, 1, 0, 1}, Data: data}, upright(0, 0, w, h))
	pages["photo RGB 300 ppi"] = list(w, h, photo)
	data4 := noise(r, 2480*3508*4)
	pages["photo CMYK 300 ppi"] = list(w, h, picture(&image.Image{Width: 2480, Height: 3508, Bits: 8, Space: colour.CMYK, Decode: []float64{0, 1, 0, 1, 0, 1, 0, 1}, Data: data4}, upright(0, 0, w, h)))

	var groups []any
	n := 0
	for range 60 {
		x, y := r.Float64()*400, r.Float64()*600
		g := closed(group(displist.Group{Isolated: true}, []displist.Item{
			rect(x, y, x+150, y+150, cmyk(.5, .2, 0, 0)), rect(x+50, y+50, x+200, y+200, paintOf(white, .7))}, alpha(.5), mode(displist.Multiply)), n)
		n += len(g)
		groups = append(groups, g)
	}
	pages["groups multiply"] = list(w, h, groups...)
	return pages
}

func BenchmarkPages(b *testing.B) {
	pages := benchPages()
	for _, name := range []string{"text", "shapes", "photo RGB 300 ppi", "photo CMYK 300 ppi", "groups multiply"} {
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/%d", name, workers), func(b *testing.B) {
				j := jobOf(pages[name])
				j.DPI, j.Workers = 300, workers
				for b.Loop() {
					if err := Render(context.Background(), j, nowhere{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

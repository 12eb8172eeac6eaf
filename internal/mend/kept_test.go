package mend

import (
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// TestLettersPutIntoAFileStayTheSameLetters: they may get narrower or wider along their line, turned or not, and nothing else.
func TestLettersPutIntoAFileStayTheSameLetters(t *testing.T) {
	outline := func(p ...geom.Point) *geom.Path {
		g := &geom.Path{}
		g.Move(p[0])
		for _, q := range p[1:] {
			g.Line(q)
		}
		g.ClosePath()
		return g
	}
	letter := outline(geom.Point{X: .1, Y: 0}, geom.Point{X: .6, Y: 0}, geom.Point{X: .4, Y: .7})
	other := outline(geom.Point{X: .1, Y: 0}, geom.Point{X: .6, Y: 0}, geom.Point{X: .2, Y: .7})
	more := outline(geom.Point{X: .1, Y: 0}, geom.Point{X: .6, Y: 0}, geom.Point{X: .4, Y: .7}, geom.Point{X: .1, Y: .7})
	at := geom.Matrix{A: 8, B: 6, C: 6, D: -8, E: 30, F: 40}
	place := func(o *geom.Path, m geom.Matrix) []displist.Glyph { return []displist.Glyph{{Outline: o, M: m}} }
	for _, c := range []struct {
		name  string
		after []displist.Glyph
		lost  bool
	}{
		{"the same", place(letter, at), false},
		{"narrower", place(letter, geom.Matrix{A: .8, D: 1}.Mul(at)), false},
		{"higher", place(letter, geom.Matrix{A: 1, D: 1.1}.Mul(at)), true},
		{"elsewhere", place(letter, geom.Matrix{A: 1, D: 1, E: .1}.Mul(at)), true},
		{"another letter", place(other, at), true},
		{"another outline", place(more, at), true},
		{"no outline", place(nil, at), true},
		{"no letter", nil, true},
	} {
		list := func(g []displist.Glyph, embedded bool) *displist.List {
			return &displist.List{Items: []displist.Item{{Shape: displist.Shape{Glyphs: g}, Text: &displist.Text{String: "A", Embedded: embedded}}}}
		}
		e := &Edit{}
		e.Keep(AltersLetters)
		if got := e.Lost(list(place(letter, at), false), list(c.after, true)); (len(got) > 0) != c.lost {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

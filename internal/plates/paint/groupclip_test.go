package paint

import (
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// What does a pixel hold that a clip passes, when the same two objects lie in the group that is clipped and under it? What it holds
// beside the clip: the group as a whole covers the part of the pixel that the clip leaves. Were each member clipped, the
// white under the tint would show.
func TestAClipOfAGroupLeavesNoSeam(t *testing.T) {
	triangle := &geom.Path{}
	triangle.Move(geom.Point{X: -1, Y: -1})
	triangle.Line(geom.Point{X: 9.3, Y: -1})
	triangle.Line(geom.Point{X: -1, Y: 12.7})
	triangle.ClosePath()
	upright := &geom.Path{}
	upright.Rect(geom.Rect{X0: 0, Y0: 0, X1: 4.4, Y1: 5.7})
	for name, path := range map[string]*geom.Path{"rectangle": upright, "triangle": triangle} {
		for _, g := range []displist.Group{{Isolated: true}, {Isolated: true, Knockout: true}, {Isolated: true, Space: colour.CMYK}} {
			clip := &displist.Clip{Shape: displist.Shape{Path: path}, Bounds: path.Bounds()}
			box := &displist.Clip{Shape: displist.Shape{Path: upright}, Bounds: upright.Bounds(), Parent: clip}
			pair := func(c *displist.Clip) []displist.Item {
				on := func(it *displist.Item) { it.Clip = c }
				return []displist.Item{rect(0, 0, 8, 8, paintOf(white, 1), on), rect(0, 0, 8, 8, cmyk(0, .6, 0, 0), on)}
			}
			whole := closed(group(g, pair(box), func(it *displist.Item) { it.Clip = clip }), 2)
			got := render(t, jobOf(list(8, 8, pair(nil), whole)))
			m, _ := got.Lookup("Magenta")
			w, _ := got.Lookup("White")
			for i := range m {
				if m[i] != 153 || w[i] != 0 {
					t.Fatalf("%s, %+v: pixel %d, %d holds magenta %d and white %d, want 153 and 0", name, g, i%8, i/8, m[i], w[i])
				}
			}
		}
	}
}

package paint

import (
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// What does each kind of colour do to every plate, painted over toner? Digits are ninths of full tint.
func TestEffectsOnPlates(t *testing.T) {
	under := []any{rect(0, 0, 4, 3, cmyk(.5, 0, 0, 0)), rect(0, 0, 4, 3, paintOf(white, 1), overprint(0))}
	inner := func(p displist.Paint, change ...func(*displist.Item)) displist.Item {
		return rect(1, 1, 3, 2, p, change...)
	}
	cases := []struct {
		name string
		item displist.Item
		want string
	}{
		{"V1 Separation in its initial colour is solid", inner(paintOf(white, white.Initial()...)),
			"Cyan\n5555\n5005\n5555\nMagenta -\nYellow -\nBlack -\nWhite\n9999\n9999\n9999\nGold -"},
		{"V2 tint 0 of a named colourant wipes it though overprint is on", inner(paintOf(white, 0), overprint(0)),
			"Cyan\n5555\n5555\n5555\nMagenta -\nYellow -\nBlack -\nWhite\n9999\n9009\n9999\nGold -"},
		{"V3 black in overprint mode 1 keeps cyan and white", inner(cmyk(0, 0, 0, 1), overprint(1)),
			"Cyan\n5555\n5555\n5555\nMagenta -\nYellow -\nBlack\n0000\n0990\n0000\nWhite\n9999\n9999\n9999\nGold -"},
		{"V4 black in overprint mode 0 wipes cyan and keeps white", inner(cmyk(0, 0, 0, 1), overprint(0)),
			"Cyan\n5555\n5005\n5555\nMagenta -\nYellow -\nBlack\n0000\n0990\n0000\nWhite\n9999\n9999\n9999\nGold -"},
		{"V5 black without overprint knocks out all others", inner(cmyk(0, 0, 0, 1)),
			"Cyan\n5555\n5005\n5555\nMagenta -\nYellow -\nBlack\n0000\n0990\n0000\nWhite\n9999\n9009\n9999\nGold -"},
		{"V7 gray specifies all process colourants, overprint keeps white", inner(paintOf(colour.Gray, .5), overprint(1)),
			"Cyan\n5555\n5005\n5555\nMagenta -\nYellow -\nBlack\n0000\n0550\n0000\nWhite\n9999\n9999\n9999\nGold -"},
		{"All paints every plate", inner(paintOf(&colour.Separation{Name: "All", Alternate: colour.Gray}, 1)),
			"Cyan\n5555\n5995\n5555\nMagenta\n0000\n0990\n0000\nYellow\n0000\n0990\n0000\nBlack\n0000\n0990\n0000\nWhite\n9999\n9999\n9999\nGold\n0000\n0990\n0000"},
		{"None marks nothing", inner(paintOf(&colour.Separation{Name: "None", Alternate: colour.Gray}, 1)),
			"Cyan\n5555\n5555\n5555\nMagenta -\nYellow -\nBlack -\nWhite\n9999\n9999\n9999\nGold -"},
		{"hidden items do nothing", inner(cmyk(0, 0, 0, 1), func(it *displist.Item) { it.Hidden = true }),
			"Cyan\n5555\n5555\n5555\nMagenta -\nYellow -\nBlack -\nWhite\n9999\n9999\n9999\nGold -"},
		{"half a toner thins what it knocks out by half", inner(paintOf(gold, 1), alpha(.5)),
			"Cyan\n5555\n5225\n5555\nMagenta -\nYellow -\nBlack -\nWhite\n9999\n9449\n9999\nGold\n0000\n0550\n0000"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			sameGrid(t, plate.TextGrid(render(t, jobOf(list(4, 3, append(under, c.item)...)))), c.want)
		})
	}
}

// V6: do samples that are 0 in overprint mode 1 knock out, unlike fills?
func TestImageIgnoresOverprintMode(t *testing.T) {
	im := displist.Item{Kind: displist.Image, Bounds: geom.Rect{X0: 1, Y0: 0, X1: 3, Y1: 2}, Alpha: 1, Overprint: true, OverprintMode: 1,
		Image: &displist.Picture{M: geom.Matrix{A: 2, D: -2, E: 1, F: 2}, Image: &image.Image{Width: 2, Height: 2, Bits: 8, Space: colour.CMYK,
			Decode: colour.DefaultDecode(colour.CMYK, 8), Data: []byte{0, 255, 0, 0, 0, 0, 0, 0, 0, 0, 0, 255, 255, 0, 0, 0}}}}
	l := list(4, 2, rect(0, 0, 4, 2, cmyk(.5, 0, 0, 0)), rect(0, 0, 4, 2, paintOf(white, 1), overprint(0)), im)
	sameGrid(t, plate.TextGrid(render(t, jobOf(l))),
		"Cyan\n5005\n5095\nMagenta\n0900\n0000\nYellow -\nBlack\n0000\n0900\nWhite\n9999\n9999\nGold -")
}

// V8, V9: do spots take part in Multiply, and not in Difference?
func TestSpotOverSpotBlends(t *testing.T) {
	for b, want := range map[displist.Blend]byte{displist.Multiply: 209, displist.Difference: 179, displist.Luminosity: 179, displist.Screen: 71} {
		l := list(1, 1, rect(0, 0, 1, 1, paintOf(white, .4)), rect(0, 0, 1, 1, paintOf(white, .7), mode(b)))
		if got := render(t, jobOf(l)).At(4, 0, 0); got != want {
			t.Errorf("%v of 40 %% and 70 %%: %d, want %d", b, got, want)
		}
	}
}

// V10: does a spot travel beside the colours of an RGB group, which are converted for the plates?
func TestSpotBesideRGBGroup(t *testing.T) {
	g := group(displist.Group{Isolated: true, Space: colour.RGB}, []displist.Item{
		rect(1, 0, 3, 2, paintOf(colour.RGB, 1, 0, 0)),
		rect(2, 0, 4, 2, paintOf(white, 1), overprint(0)),
	})
	l := list(4, 2, closed(g, 0))
	sameGrid(t, plate.TextGrid(render(t, jobOf(l))),
		"Cyan -\nMagenta\n0990\n0990\nYellow\n0990\n0990\nBlack -\nWhite\n0099\n0099\nGold -")
}

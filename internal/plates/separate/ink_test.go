package separate

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
)

func TestPlanFollowsGroupsAndKindsOfItems(t *testing.T) {
	rect := func(space colour.Space, comps ...float64) displist.Item {
		return displist.Item{Kind: displist.Fill, Paint: displist.Paint{Space: space, Comps: comps}}
	}
	white := testSeparation("White")
	over := rect(white, .5)
	over.Overprint = true
	hidden := rect(white, 1)
	hidden.Hidden = true
	picture := displist.Item{Kind: displist.Image, Image: &displist.Picture{Image: &image.Image{Space: white}}}
	stencil := rect(white, 1)
	stencil.Kind, stencil.Image = displist.Image, &displist.Picture{Image: &image.Image{Stencil: true}}
	list := &displist.List{Items: []displist.Item{
		rect(colour.CMYK, 0, 0, 0, 1),
		{Kind: displist.BeginGroup, Group: &displist.Group{End: 4, Isolated: true, Space: colour.RGB}},
		rect(colour.RGB, 1, 0, 0),
		{Kind: displist.BeginGroup, Group: &displist.Group{End: 4}},
		over, hidden, picture, stencil,
		{Kind: displist.Shade, Shading: &displist.Shading{Space: colour.Gray}},
		{Kind: displist.Fill, Paint: displist.Paint{Space: &colour.Pattern{}, Tiling: &displist.Tiling{Coloured: true}}},
		rect(testSeparation("None"), 1),
	}}
	target := testTarget(t)
	var got []string
	for _, s := range target.Plan(list) {
		line := []string{"", " ", "  "}[s.Depth] + s.Context.Space.String() + ": "
		if s.Ink != nil {
			line += s.Ink.Describe(target.ComponentNames(s.Context), s.Sampled)
		}
		got = append(got, line)
	}
	want := []string{
		"CMYK: paints Cyan 0 %, Magenta 0 %, Yellow 0 %, Black 100 %; clears White, Silver, Gold",
		"CMYK: ",
		" RGB: paints R 0 %, G 100 %, B 100 %; clears White, Silver, Gold",
		" RGB: ",
		"CMYK: paints White 50 %; leaves Cyan, Magenta, Yellow, Black, Silver, Gold",
		"CMYK: ",
		"CMYK: paints White; clears Cyan, Magenta, Yellow, Black, Silver, Gold",
		"CMYK: paints White 100 %; clears Cyan, Magenta, Yellow, Black, Silver, Gold",
		"CMYK: paints Cyan, Magenta, Yellow, Black; clears White, Silver, Gold",
		"CMYK: ",
		"CMYK: marks nothing",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("plan (-want +got):\n%s", d)
	}
}

func TestInkerRemembersWithoutConfusingColours(t *testing.T) {
	target := testTarget(t)
	k := target.NewInker()
	wide := testSpace(t, "DeviceN:White,Silver,Gold,Black")
	five := testSpace(t, "DeviceN:White,Silver,Gold,Black,Cyan")
	paints := []displist.Paint{
		{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}, {Space: colour.CMYK, Comps: []float64{0, 0, 1, 0}},
		{Space: wide, Comps: []float64{0, 0, 0, 1}}, {Space: five, Comps: []float64{0, 0, 0, 1, 0}}, {Space: five, Comps: []float64{0, 0, 0, 1, 1}},
	}
	for range 2 {
		for _, p := range paints {
			for _, overprint := range []bool{false, true} {
				for mode := range 2 {
					for _, ctx := range []Context{{BlendCMYK}, {BlendRGB}} {
						want := target.Colour(p, overprint, mode, false, 0, ctx)
						if d := cmp.Diff(&want, k.Colour(p, overprint, mode, false, 0, ctx)); d != "" {
							t.Errorf("%v %v overprint %v mode %d: (-fresh +remembered)\n%s", p.Space, p.Comps, overprint, mode, d)
						}
					}
				}
			}
		}
	}
	if a, b := k.Colour(paints[0], true, 1, false, 0, Context{}), k.Colour(paints[0], true, 1, false, 0, Context{}); a != b {
		t.Error("the same colour was separated twice")
	}
}

// Whatever the numbers: nothing is cleared under overprint nor left without it, except by None and
// mode 1; values stand only where there is paint; and the order of asking does not matter.
func FuzzEffectsKeepTheirPromises(f *testing.F) {
	f.Add(uint8(0), true, uint8(1), uint8(0), []byte{0, 0, 0, 0, 0, 0, 0, 0})
	f.Add(uint8(7), false, uint8(0), uint8(1), []byte("\x00\x00\x00\x00\x00\x00\xf8\x7f"))
	names := []string{"DeviceGray", "DeviceRGB", "DeviceCMYK", "Indexed:CMYK", "Separation:White", "Separation:Missing", "Separation:All", "Separation:pale",
		"DeviceN:Black,Silver", "DeviceN:White,Missing", "NChannel:Cyan,White,Missing", "NChannel:Red,Green,Blue,White", "Separation:None"}
	f.Fuzz(func(t *testing.T, which uint8, overprint bool, mode, space uint8, data []byte) {
		p := displist.Paint{Space: testSpace(t, names[int(which)%len(names)])}
		for ; len(data) >= 8 && len(p.Comps) < 6; data = data[8:] {
			p.Comps = append(p.Comps, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		target := testTarget(t)
		ctx := Context{BlendSpace(space % 3)}
		ink := target.Colour(p, overprint, int(mode%2), false, 0, ctx)
		if len(ink.Effects) != target.Components(ctx) || len(ink.Values) != len(ink.Effects) || len(ink.Reasons) != len(ink.Effects) {
			t.Fatalf("%d effects, %d values, %d reasons for %d components", len(ink.Effects), len(ink.Values), len(ink.Reasons), target.Components(ctx))
		}
		for i, e := range ink.Effects {
			switch r := ink.Reasons[i]; {
			case e == Clear && overprint, e == Leave && !overprint && r != ReasonNone:
				t.Errorf("component %d: %v with overprint %v", i, e, overprint)
			case e != Paint && ink.Values[i] != 0:
				t.Errorf("component %d: a value of %d without paint", i, ink.Values[i])
			case (e == Paint) != (r == ReasonNamed || r == ReasonAll || r == ReasonAlternate || r == ReasonMix || r == ReasonUnmounted):
				t.Errorf("component %d: %v because %q", i, e, r)
			case ink.Nothing && e != Leave:
				t.Errorf("component %d: %v by an ink that does nothing", i, e)
			}
		}
		k := target.NewInker()
		k.Colour(p, !overprint, 1, false, 0, ctx)
		if got := k.Colour(p, overprint, int(mode%2), false, 0, ctx); !cmp.Equal(got, &ink) {
			t.Errorf("an Inker says %v, Colour %v", got, ink)
		}
	})
}

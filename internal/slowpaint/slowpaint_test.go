package slowpaint

import (
	"math"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

// Worked values: backdrop tint 0.4, source tint 0.7, result as a tint.
func TestBlendModesGiveWorkedTints(t *testing.T) {
	for mode, want := range map[displist.Blend]float64{
		displist.Normal: 0.7, displist.Multiply: 0.82, displist.Screen: 0.28, displist.Overlay: 0.56,
		displist.Darken: 0.7, displist.Lighten: 0.4, displist.ColorDodge: 0.142857142857, displist.ColorBurn: 1,
		displist.HardLight: 0.64, displist.SoftLight: 0.496, displist.Difference: 0.7, displist.Exclusion: 0.46,
	} {
		got := 1 - Blend(mode, 1-0.4, 1-0.7)
		if mode == displist.Difference {
			// On process components; the table gives the spot's value, which is Normal.
			if spot := 1 - BlendAll(mode, 0, []float64{0.6}, []float64{0.3})[0]; !near(spot, 0.7) {
				t.Errorf("Difference on a spot: %v", spot)
			}
			continue
		}
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%v: %v, want %v", mode, got, want)
		}
		if b := Blend(mode, 1, 1); mode.WhitePreserving() != near(b, 1) {
			t.Errorf("%v: B(1,1) = %v", mode, b)
		}
	}
}

func TestNonSeparableModesKeepWhatTheyPromise(t *testing.T) {
	b, s := [3]float64{0.9, 0.3, 0.2}, [3]float64{0.1, 0.5, 0.8}
	for _, c := range []struct {
		mode     displist.Blend
		lum, sat [3]float64
	}{
		{displist.Color, b, s}, {displist.Hue, b, b}, {displist.Saturation, b, s}, {displist.Luminosity, s, b},
	} {
		got := BlendRGB(c.mode, b, s)
		if !near(lum(got), lum(c.lum)) {
			t.Errorf("%v: luminosity %v, want %v", c.mode, lum(got), lum(c.lum))
		}
		if sat(got) > sat(c.sat)+1e-9 {
			t.Errorf("%v: saturation %v, want at most %v", c.mode, sat(got), sat(c.sat))
		}
	}
	grey := BlendAll(displist.Color, 4, []float64{0.9, 0.3, 0.2, 0.25}, []float64{0.1, 0.5, 0.8, 0.75})
	if grey[3] != 0.25 {
		t.Errorf("black under Color is %v, want the backdrop's", grey[3])
	}
}

// one paints a group on a canvas of one pixel, one process component and one spot.
func one(g Group) [2]float64 {
	out := Canvas{W: 1, H: 1, Process: 1, Components: 2}.Paint(g)
	return [2]float64{out[0][0], out[1][0]}
}

func ink(process, spot float64) func(int, int) ([]separate.Effect, []float64) {
	return Flat([]separate.Effect{separate.Paint, separate.Paint}, []float64{process, spot})
}

func TestGroups(t *testing.T) {
	half := func(int, int) float64 { return 0.5 }
	base := Element{Ink: ink(0.4, 0.8), Alpha: 1}
	over := Element{Ink: ink(1, 0), Alpha: 0.5}
	leave := Element{Ink: Flat([]separate.Effect{separate.Paint, separate.Leave}, []float64{0.6, 0}), Alpha: 0.5}
	multiply := Element{Ink: ink(0.5, 0.5), Alpha: 1, Blend: displist.Multiply}
	group := func(isolated, knockout bool, e ...Element) Element {
		return Element{Group: &Group{Isolated: isolated, Knockout: knockout, Elements: e}, Alpha: 1}
	}
	for _, c := range []struct {
		name     string
		elements []Element
		want     [2]float64
	}{
		{"an opaque object", []Element{base}, [2]float64{0.4, 0.8}},
		{"half alpha thins what is below too", []Element{base, over}, [2]float64{0.7, 0.4}},
		{"half covered is half alpha", []Element{base, {Ink: ink(1, 0), Alpha: 1, Shape: half}}, [2]float64{0.7, 0.4}},
		{"overprint leaves the spot", []Element{base, leave}, [2]float64{0.5, 0.8}},
		{"overprint in a group leaves the spot below it", []Element{base, group(false, false, leave)}, [2]float64{0.5, 0.8}},
		{"overprint in an isolated group has no spot to leave", []Element{base, group(true, false, leave)}, [2]float64{0.5, 0.4}},
		{"multiply", []Element{base, multiply}, [2]float64{1 - 0.6*0.5, 1 - 0.2*0.5}},
		{"multiply in a non-isolated group", []Element{base, group(false, false, multiply)}, [2]float64{1 - 0.6*0.5, 1 - 0.2*0.5}},
		{"multiply in an isolated group", []Element{base, group(true, false, multiply)}, [2]float64{0.5, 0.5}},
		{"knockout: the last one alone counts", []Element{base, group(false, true, over, leave)}, [2]float64{0.5, 0.8}},
		{"no knockout", []Element{base, group(false, false, over, leave)}, [2]float64{0.65, 0.4}},
		{"an empty group", []Element{base, group(false, false)}, [2]float64{0.4, 0.8}},
		{"knockout by shape", []Element{group(true, true, Element{Ink: ink(1, 1), Alpha: 1}, Element{Ink: ink(0.5, 0), Alpha: 0.5, AlphaIsShape: true})}, [2]float64{0.75, 0.5}},
		{"knockout by opacity", []Element{group(true, true, Element{Ink: ink(1, 1), Alpha: 1}, Element{Ink: ink(0.5, 0), Alpha: 0.5})}, [2]float64{0.25, 0}},
	} {
		got := one(Group{Elements: c.elements})
		if !near(got[0], c.want[0]) || !near(got[1], c.want[1]) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// A non-isolated, non-knockout group of alpha 1 and mode Normal is as if it were not there.
func TestPlainGroupsAreTransparent(t *testing.T) {
	e := []Element{
		{Ink: ink(0.4, 0.8), Alpha: 0.7},
		{Ink: ink(0.5, 0.1), Alpha: 0.6, Blend: displist.Multiply},
		{Ink: Flat([]separate.Effect{separate.Leave, separate.Paint}, []float64{0, 0.3}), Alpha: 0.9, Shape: func(int, int) float64 { return 0.3 }},
		{Ink: ink(0.2, 0.9), Alpha: 0.5, Blend: displist.SoftLight},
	}
	plain := one(Group{Elements: e})
	for split := range e {
		grouped := one(Group{Elements: append(append([]Element{}, e[:split]...), Element{Alpha: 1, Group: &Group{Elements: e[split:]}})})
		if !near(plain[0], grouped[0]) || !near(plain[1], grouped[1]) {
			t.Errorf("group from %d on: %v, without it %v", split, grouped, plain)
		}
	}
}

func TestCoverageOfSimpleShapes(t *testing.T) {
	p := &geom.Path{}
	p.Rect(geom.Rect{X0: 0.5, Y0: 0.25, X1: 2, Y1: 1})
	p.Rect(geom.Rect{X0: 1, Y0: 0, X1: 2, Y1: 1})
	for rule, want := range [][]float64{{0.375, 1, 0}, {0.375, 0.25, 0}} {
		got := Coverage(Lines(p, geom.Identity, 1), geom.FillRule(rule), 3, 1)
		for i := range want {
			if !near(got[i], want[i]) {
				t.Errorf("rule %d: %v, want %v", rule, got, want)
			}
		}
	}
}

func TestElementsOfAList(t *testing.T) {
	square := &geom.Path{}
	square.Rect(geom.Rect{X1: 2, Y1: 1})
	narrow := &geom.Path{}
	narrow.Rect(geom.Rect{X0: 0.5, X1: 2, Y1: 1})
	item := func(k displist.Kind) displist.Item {
		return displist.Item{Kind: k, Shape: displist.Shape{Path: square}, Alpha: 1}
	}
	items := []displist.Item{item(displist.Fill), item(displist.BeginGroup), item(displist.Fill), item(displist.Fill)}
	items[1].Group = &displist.Group{End: 4, Knockout: true}
	items[1].Alpha = 0.5
	items[2].Hidden = true
	items[3].Clip = &displist.Clip{Shape: displist.Shape{Path: narrow}}
	s := Source{Canvas: Canvas{W: 2, H: 1, Process: 1, Components: 1}, Device: geom.Identity,
		Ink: func(i *displist.Item, _, _ int) separate.Ink {
			v := uint16(0)
			if i == &items[3] {
				v = 65535
			}
			return separate.Ink{Effects: []separate.Effect{separate.Paint}, Values: []uint16{v}}
		}}
	got := s.Canvas.Paint(Group{Elements: s.Elements(items)})
	if !near(got[0][0], 0.25) || !near(got[0][1], 0.5) {
		t.Errorf("got %v, want 0.25 0.5", got[0])
	}
}

package truth

import "testing"

// decided is what the standard asks for where the interpreters differ from each other, by probe: the
// clause, and tints at points (see probe.want), worked out by hand. stripes are, from y = 75, 50, 25 and 0
// up: C 50 Y 20 K 10; the same with Frost 60; Frost 60; nothing.
var decided = map[string][2]string{
	"overprint: None": {"8.6.6.4: None never marks, so it does not knock out either", `
		15 88: C 50 Y 20 K 10
		15 62: C 50 Y 20 K 10 Frost 60
		50 37: Frost 60
		85 12:`},
	"overprint: All": {"8.6.6.4: All names every colourant of the device, spots not painted yet included", `
		15 88: C 30 M 30 Y 30 K 30 Frost 30 Flash 30
		50 12: C 30 M 30 Y 30 K 30 Frost 30 Flash 30
		85 37: C 30 M 30 Y 30 K 30 Frost 30 Flash 30
		30 88: C 50 Y 20 K 10`},
	// c0 of ff is 75.29 %.
	"overprint: Indexed spot": {"8.6.6.3: an index stands for a colour of the base space, so the spot has its plate", `
		15 88: Frost 75.29
		50 88: C 50 Y 20 K 10 Frost 75.29
		85 62: C 50 Y 20 K 10 Frost 75.29
		50 12: Frost 75.29`},
	"overprint: fill and stroke": {"11.7.4.4: with overprint, fill and stroke are a group without knockout; the stroke keeps the fill's spot", `
		50 62: C 50 Y 20 K 10 Frost 60 Flash 100
		22 62: K 100 Frost 60 Flash 100
		17 62: K 100 Frost 60`},
	// The upper of the two at half on what was there before the group.
	"group: knockout with alpha inside": {"11.4.6: in a knockout group each object meets the group's backdrop, not what lies below in the group", `
		50 45: M 40 K 10 Frost 30
		50 55: C 25 M 40 Y 10 K 15 Frost 30
		20 30: Frost 60
		20 15: Frost 30`},
	"group at half: knockout with alpha inside": {"11.4.6: in a knockout group each object meets the group's backdrop, not what lies below in the group", `
		50 45: M 20 K 5 Frost 45
		50 55: C 37.5 M 20 Y 15 K 12.5 Frost 45
		20 15: Frost 15`},
	"alpha: fill and stroke": {"11.7.4.4: without overprint, fill and stroke are a knockout group; the fill does not show through the stroke", `
		50 62: C 25 Y 10 K 5 Frost 30 Flash 50
		22 62: C 25 Y 10 K 55 Frost 30
		17 62: C 25 Y 10 K 55 Frost 30`},
	// M at 45 55: .3 and .8 multiplied give .86; half of each is .58, and half of it lands on the page.
	"group: nested": {"11.4.8: a group's result is its own colour without the backdrop, composited by its mode and alpha", `
		45 55: C 25 M 29 Y 10 K 10 Frost 30
		55 45: M 20 K 5 Frost 45
		20 55: C 25 M 15 Y 10 K 5 Frost 45`},
	"group: isolated RGB": {"11.7.3: spots travel beside the group's space and are not converted", `
		20 60: Frost 60
		20 30: Frost 60
		70 60: M 100 Y 100
		50 60: C 50 Y 20 K 10 Frost 60`},
	// Y at 70 88: .2 and .5 multiplied give .6, and half of that and half of .2 is .4.
	"page group: CMYK": {"11.7.4.3: what overprint leaves is the backdrop's at any alpha", `
		20 88: C 50 Y 20 K 10 Flash 80
		20 62: C 50 Y 20 K 10 Frost 60 Flash 80
		70 88: C 50 M 25 Y 40 K 10
		70 62: C 50 M 25 Y 40 K 10 Frost 60
		70 12: M 25 Y 25
		50 55: C 50 Y 20 K 55 Frost 60
		35 55: C 50 Y 20 K 55 Frost 60 Flash 80
		65 55: C 50 M 25 Y 40 K 55 Frost 60`},
	"page group: isolated": {"11.4.7: the page group is isolated whatever it says", `
		20 88: C 50 Y 20 K 10 Flash 80
		20 62: C 50 Y 20 K 10 Frost 60 Flash 80
		70 88: C 50 M 25 Y 40 K 10
		70 62: C 50 M 25 Y 40 K 10 Frost 60
		70 12: M 25 Y 25
		50 55: C 50 Y 20 K 55 Frost 60
		35 55: C 50 Y 20 K 55 Frost 60 Flash 80
		65 55: C 50 M 25 Y 40 K 55 Frost 60`},
	"page group: knockout": {"11.4.6 and 11.4.7: all objects of the page meet paper without toner, so that overprint and modes find nothing", `
		50 88: C 50 Y 20 K 10
		50 70: Frost 60
		50 30: Frost 60
		20 88: Flash 80
		20 62: Flash 80
		70 88: M 25 Y 25
		50 55: K 50
		65 55: K 50`},
	"page group: RGB": {"11.7.4.3: overprint keeps spots in groups of any space, only OPM 1 asks for DeviceCMYK", `
		50 25: M 50 Frost 60
		50 75: M 50
		80 25: M 50
		20 25: Frost 60`},
	"group: isolated RGB with OPM 1 inside": {"11.7.4.3: OPM 1 asks for a DeviceCMYK group; spots are left in groups of any space", `
		20 30: Frost 60
		20 55: Frost 60
		50 45: M 80 K 20 Frost 60
		70 62: M 80 K 20`},
	"group at half: isolated RGB with OPM 1 inside": {"11.7.4.3: OPM 1 asks for a DeviceCMYK group; spots are left in groups of any space", `
		20 55: C 25 Y 10 K 5 Frost 60
		50 45: M 40 K 10 Frost 60
		70 62: C 25 M 40 Y 10 K 15 Frost 30`},
	"group: isolated gray": {"11.7.4.3 with 10.4.2.3: spots are left in groups of any space, and gray is black alone", `
		20 55: Frost 60
		50 45: K 60 Frost 60
		70 62: K 60`},
	"group at half: isolated gray": {"11.7.4.3 with 10.4.2.3: spots are left in groups of any space, and gray is black alone", `
		20 55: C 25 Y 10 K 5 Frost 60
		50 45: K 30 Frost 60
		70 62: C 25 Y 10 K 35 Frost 30`},
	"group: isolated RGB with DeviceN of process names": {"11.7.2 and 8.6.6.5: process toners cannot be named in an RGB group, so the space goes through its alternate", `
		30 88: C 40
		30 62: C 40
		30 37: C 40
		80 62: C 50 Y 20 K 10 Frost 60`},
	"group at half: isolated RGB with DeviceN of process names": {"11.7.2 and 8.6.6.5: process toners cannot be named in an RGB group, so the space goes through its alternate", `
		30 88: C 45 Y 10 K 5
		30 62: C 45 Y 10 K 5 Frost 30
		30 37: C 20 Frost 30`},
	// Shape .5 takes half of the Flash below away, and puts half of the magenta in its place.
	"group: alpha is shape in a knockout group": {"11.6.4.3 and 11.4.6: alpha that is shape knocks out in part, alpha that is opacity in full", `
		50 30: M 50 Flash 50
		50 62: M 50 Flash 50
		75 62: C 25 M 50 Y 10 K 5 Frost 30
		20 62: Flash 100`},
	// SetLum of no toner to the luminosity of M 80 is C M Y 47.2; of C 50 Y 20 it is C 80 M 30 Y 50. K is the source's.
	"group: in Luminosity at half": {"11.7.4.2: spots are composited by Normal where the mode is not separable", `
		50 45: C 23.6 M 23.6 Y 23.6 K 10 Frost 30
		20 30: Frost 60
		20 15: Frost 30
		20 55: C 25 Y 10 K 5 Frost 60
		70 62: C 65 M 15 Y 35 K 15 Frost 30`},
	"stroke: of no width": {"8.4.3.2: the thinnest line the device has, a pixel of 600 dpi", `
		50 10: Frost 25
		50 9:
		50 11:`},
	// Alpha 80 and 40 are .502 and .251, gray 33 and 88 are K 80 and 46.67.
	"image: two kinds of mask": {"11.6.5.3: a soft mask overrides the image's other mask", `
		20 80: K 100
		80 80: C 24.9 Y 9.96 K 45.14
		20 35: Frost 44.94 K 11.71
		80 30: Frost 60
		80 20:`},
	"soft mask: alpha": {"11.5.2: the mask is the group's alpha, its colour does not matter", `
		20 88: Flash 100
		20 60: C 25 Y 10 K 5 Frost 30 Flash 50
		20 30: Frost 60
		70 60: C 25 Y 10 K 55 Frost 30`},
	"soft mask: luminosity with transfer": {"11.6.5.2: TR maps the mask's values; here it turns them round", `
		20 88: C 50 Y 20 K 10
		20 60: C 25 Y 10 K 5 Frost 30 Flash 50
		20 30: Flash 100
		70 30: K 100`},
	"soft mask: alpha with transfer": {"11.6.5.2: TR maps the mask's values, also where the group has no marks", `
		20 88: Flash 100
		20 60: C 50 Y 20 K 10 Frost 60
		20 30: Flash 100`},
	"Type 3: glyph in its own colour": {"9.6.4: after d0 the glyph's own colours count", `
		12 30: Frost 50
		12 51: Frost 50
		25 36: K 100
		45 36: Frost 60
		52 30: Frost 50`},
}

// againstBoth are plates on which the clause named above is against both interpreters, which agree: under
// an additive group neither does any overprint, and neither takes constant alpha as shape.
var againstBoth = map[[2]string]bool{
	{"page group: RGB", "Frost"}:                               true,
	{"group: isolated RGB with OPM 1 inside", "Frost"}:         true,
	{"group at half: isolated RGB with OPM 1 inside", "Frost"}: true,
	{"group: isolated gray", "Frost"}:                          true,
	{"group at half: isolated gray", "Frost"}:                  true,

	{"group: alpha is shape in a knockout group", "Black"}:  true,
	{"group: alpha is shape in a knockout group", "Cyan"}:   true,
	{"group: alpha is shape in a knockout group", "Yellow"}: true,
	{"group: alpha is shape in a knockout group", "Frost"}:  true,
	{"group: alpha is shape in a knockout group", "Flash"}:  true,
}

// decide puts what is decided into the table of probes.
func decide(all []probe) {
	for i := range all {
		d := decided[all[i].name]
		all[i].clause, all[i].want = d[0], d[1]
	}
}

// Every decision is about a probe there is, and no two probes share a name.
func TestProbes_names(t *testing.T) {
	names := map[string]bool{}
	for _, p := range probes() {
		if names[p.name] {
			t.Errorf("two probes are called %q", p.name)
		}
		names[p.name] = true
	}
	for name := range decided {
		if !names[name] {
			t.Errorf("a clause decides %q, which is no probe", name)
		}
	}
}

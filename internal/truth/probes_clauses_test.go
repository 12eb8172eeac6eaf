package truth

import "fmt"

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

// decide puts what is decided into the table of probes.
func decide(all []probe) {
	found := 0
	for i := range all {
		if d, ok := decided[all[i].name]; ok {
			all[i].clause, all[i].want = d[0], d[1]
			found++
		}
	}
	if found != len(decided) {
		panic(fmt.Sprintf("%d of %d decided probes are in the table", found, len(decided)))
	}
}

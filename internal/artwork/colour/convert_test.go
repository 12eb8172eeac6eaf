package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// 10.4.2 by hand: gray from RGB by .3, .59, .11, from CMYK with black added; RGB from CMYK with black added.
func TestDeviceConversionsByHand(t *testing.T) {
	c := NewConverter(nil)
	for _, tt := range []struct {
		name      string
		space     Space
		in        []float64
		cmyk, rgb []float64
		gray      float64
	}{
		{"gray", Gray, []float64{.25}, []float64{0, 0, 0, .75}, []float64{.25, .25, .25}, .25},
		{"red", RGB, []float64{1, 0, 0}, []float64{0, 1, 1, 0}, []float64{1, 0, 0}, .3},
		{"dark green", RGB, []float64{.2, .6, .4}, []float64{.4, 0, .2, .4}, []float64{.2, .6, .4}, .06 + .354 + .044},
		{"cyan and black", CMYK, []float64{.5, 0, 0, .25}, []float64{.5, 0, 0, .25}, []float64{.25, .75, .75}, 1 - .15 - .25},
		{"more than full", CMYK, []float64{.9, .8, 0, .4}, []float64{.9, .8, 0, .4}, []float64{0, 0, .6}, 1 - .27 - .472 - .4 + .142},
		{"beyond the range", RGB, []float64{2, -1, .5}, []float64{0, 1, .5, 0}, []float64{1, 0, .5}, .3 + .055},
	} {
		cmyk, rgb := c.CMYK(tt.space, tt.in, 0), c.RGB(tt.space, tt.in, 0)
		gray := c.Gray(tt.space, tt.in, 0)
		if !near(cmyk[:], tt.cmyk, 1e-12) || !near(rgb[:], tt.rgb, 1e-12) || math.Abs(gray-max(tt.gray, 0)) > 1e-12 {
			t.Errorf("%s: CMYK %v, RGB %v, gray %v", tt.name, cmyk, rgb, gray)
		}
	}
}

func mustProfile(t testing.TB, data []byte) *Profile {
	t.Helper()
	p, err := ParseProfile(data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// madeConverters make converters that convert through output profiles of both versions.
func madeConverters(t testing.TB) map[string]func() *Converter {
	two, four := mustProfile(t, madeCMYK(2)), mustProfile(t, madeCMYK(4))
	rgb := mustProfile(t, buildICC(4, "mntr", "RGB ", "XYZ ", map[string][]byte{"rTRC": gammaTag(1.8), "gTRC": gammaTag(1.8), "bTRC": gammaTag(1.8),
		"rXYZ": xyzTag([3]float64{.6, .3, 0}), "gXYZ": xyzTag([3]float64{.2, .6, .1}), "bXYZ": xyzTag([3]float64{.16, .1, .72})}))
	made := map[string]func() *Converter{}
	for name, p := range map[string]Printing{"version 2": {Output: two}, "version 4": {Output: four}, "black kept": {Output: two, KeepBlack: true},
		"own RGB": {Output: four, RGB: rgb}, "naive": {}} {
		made[name] = func() *Converter { return NewConverterFor(p) }
	}
	return made
}

var everyIntent = []Intent{RelativeColorimetric, AbsoluteColorimetric, Perceptual, Saturation,
	RelativeColorimetric | CompensateBlack, AbsoluteColorimetric | CompensateBlack, Perceptual | CompensateBlack, Saturation | CompensateBlack,
	RelativeColorimetric | KeepBlack, Perceptual | KeepBlack, Saturation | KeepBlack}

// Whatever the numbers, tints lie in 0..1, and a converter gives the same whether new or used.
func TestConversionStaysInRangeAndRemembersNothing(t *testing.T) {
	spaces := bulkSpaces(t)
	own := mustProfile(t, madeCMYK(4))
	spaces = append(spaces, &ICCBased{N: 4, Profile: own, Alternate: CMYK, Limits: []float64{0, 1, 0, 1, 0, 1, -2, 3}},
		&ICCBased{N: 1, Profile: mustProfile(t, buildICC(2, "mntr", "GRAY", "XYZ ", map[string][]byte{"kTRC": gammaTag(1.8)})), Alternate: Gray, Limits: []float64{0, 1}})
	made, used := madeConverters(t), map[string]*Converter{}
	for name, f := range made {
		used[name] = f()
	}
	rapid.Check(t, func(rt *rapid.T) {
		s := spaces[rapid.IntRange(0, len(spaces)-1).Draw(rt, "space")]
		intent := everyIntent[rapid.IntRange(0, len(everyIntent)-1).Draw(rt, "intent")]
		comps := make([]float64, s.Components())
		for i := range comps {
			comps[i] = rapid.OneOf(rapid.Float64Range(-1, 2), rapid.Float64(), rapid.SampledFrom([]float64{0, 1, 100, -128, math.NaN(), math.Inf(1)})).Draw(rt, "component")
		}
		for name, fresh := range made {
			got := used[name].CMYK(s, comps, intent)
			for _, v := range got {
				if !(v >= 0 && v <= 1) {
					rt.Fatalf("%s, %s %v, %v: %v", name, s, comps, intent, got)
				}
			}
			if again := fresh().CMYK(s, comps, intent); again != got {
				rt.Fatalf("%s, %s %v, %v: used %v, new %v", name, s, comps, intent, got, again)
			}
			for _, v := range used[name].RGB(s, comps, intent) {
				if !(v >= 0 && v <= 1) {
					rt.Fatalf("%s, %s %v, %v: RGB %v", name, s, comps, intent, v)
				}
			}
			if v := used[name].Gray(s, comps, intent); !(v >= -1e-12 && v <= 1+1e-12) {
				rt.Fatalf("%s, %s %v, %v: gray %v", name, s, comps, intent, v)
			}
		}
	})
}

// A lighter gray never prints darker by more than the steps of a real profile's table.
func TestGrayStaysMonotone(t *testing.T) {
	for _, r := range realProfiles(t) {
		if r.err != nil || r.p.n != 4 || !r.p.CanPrint() {
			continue
		}
		c := NewConverter(r.p)
		for _, s := range []Space{RGB, &CalGray{White: d50, Gamma: 2.2}, &Lab{White: d50, Limits: [4]float64{-100, 100, -100, 100}}} {
			for _, intent := range everyIntent {
				before := -1.0
				for i := range 513 {
					v := float64(i) / 512
					comps := []float64{v, v, v}[:s.Components()]
					if s.Family() == FamilyLab {
						comps = []float64{100 * v, 0, 0}
					}
					tints := c.CMYK(s, comps, intent)
					l := labFromXYZ(r.p.XYZ(tints[:], RelativeColorimetric), d50)[0]
					if l < before-.3 {
						t.Errorf("%s, %s, %v: gray %.3f prints at L* %.2f after %.2f", r.name, s, intent, v, l, before)
					}
					before = max(before, l)
				}
			}
		}
	}
}

// Compensation leaves white alone, takes the source's black to the darkest neutral toner, and lets dark
// colours keep apart that would print alike without it.
func TestBlackPointCompensationOpensShadows(t *testing.T) {
	p, _ := systemProfile(t, "default_cmyk.icc")
	c := NewConverter(p)
	printed := func(v float64, intent Intent) float64 {
		tints := c.CMYK(RGB, []float64{v, v, v}, intent)
		return labFromXYZ(p.XYZ(tints[:], RelativeColorimetric), d50)[0]
	}
	with, without := RelativeColorimetric|CompensateBlack, RelativeColorimetric|KeepBlack
	if d := printed(1, with) - printed(1, without); math.Abs(d) > .01 {
		t.Errorf("white moves by %.2f", d)
	}
	if d := printed(.12, without) - printed(0, without); d > 1 {
		t.Errorf("without compensation the shadows are apart by %.2f already: the profile proves nothing", d)
	}
	if d := printed(.12, with) - printed(0, with); d < 3 {
		t.Errorf("with compensation the shadows are apart by %.2f only", d)
	}
	if printed(.12, RelativeColorimetric) != printed(.12, with) {
		t.Error("relative colorimetric does not compensate by default")
	}
	if printed(.12, AbsoluteColorimetric|CompensateBlack) != printed(.12, AbsoluteColorimetric) {
		t.Error("absolute colorimetric compensates")
	}
	kept := NewConverterFor(Printing{Output: p, KeepBlack: true})
	if kept.CMYK(RGB, []float64{.12, .12, .12}, RelativeColorimetric) != c.CMYK(RGB, []float64{.12, .12, .12}, without) {
		t.Error("a press that keeps black compensates by default")
	}
}

// Absolute colorimetric: the colour of the paper itself needs no toner; white light needs none either.
func TestAbsoluteColorimetricKnowsThePaper(t *testing.T) {
	p, _ := systemProfile(t, "default_cmyk.icc")
	c := NewConverter(p)
	lab := &Lab{White: d50, Limits: [4]float64{-100, 100, -100, 100}}
	paper := labFromXYZ(p.MediaWhite(), d50)
	for name, v := range map[string][3]float64{"paper": paper, "white": {100, 0, 0}} {
		for _, tint := range c.CMYK(lab, v[:], AbsoluteColorimetric) {
			if tint > .02 {
				t.Errorf("%s: %v prints %v", name, v, c.CMYK(lab, v[:], AbsoluteColorimetric))
				break
			}
		}
	}
	if got := c.CMYK(lab, paper[:], RelativeColorimetric); got[0]+got[1]+got[2]+got[3] < .1 {
		t.Errorf("relative colorimetric prints the paper's gray as %v", got)
	}
}

// Damaged tables: another one stands in, and only a profile without any is refused.
func TestDamagedTablesAreReplaced(t *testing.T) {
	tags := func(change func(map[string][]byte)) (*Profile, error) {
		m := map[string][]byte{"A2B0": oldTable(4, 7, 3, 2, unitMatrix, same, same, toLab), "A2B1": oldTable(4, 6, 3, 2, unitMatrix, same, same, toLab),
			"B2A0": oldTable(3, 9, 4, 2, unitMatrix, same, same, fromLab)}
		change(m)
		return ParseProfile(buildICC(2, "prtr", "CMYK", "Lab ", m))
	}
	p, err := tags(func(m map[string][]byte) { m["A2B1"] = m["A2B1"][:200] })
	if err != nil || p.pcs(RelativeColorimetric) == nil || !p.CanPrint() {
		t.Errorf("a cut A2B1 was not replaced: %v", err)
	}
	p, err = tags(func(m map[string][]byte) {
		m["A2B1"][10] = 1
		m["A2B0"][9] = 4
		m["A2B2"] = oldTable(4, 4, 3, 2, unitMatrix, same, same, toLab)
	})
	if err != nil || p.pcs(Perceptual) == nil {
		t.Errorf("A2B2 did not stand in: %v", err)
	}
	if p, err = tags(func(m map[string][]byte) { m["B2A0"] = nil }); err != nil || p.CanPrint() {
		t.Errorf("a profile without B2A prints: %v", err)
	}
	if _, err = tags(func(m map[string][]byte) { delete(m, "A2B0"); m["A2B1"] = []byte("mft2") }); err == nil {
		t.Error("a profile without any table was accepted")
	}
}

// No cut or changed byte may break the reading or the conversion.
func TestProfilesCutAndChangedAreBounded(t *testing.T) {
	for _, data := range [][]byte{madeCMYK(2), madeCMYK(4)} {
		for n := 0; n < len(data); n += 1 + len(data)/211 {
			for _, d := range [][]byte{data[:n], append(append(append([]byte(nil), data[:n]...), data[n]^0xff), data[n+1:]...)} {
				p, err := ParseProfile(d)
				if err != nil {
					continue
				}
				c := NewConverter(p)
				for _, intent := range []Intent{0, 1, 2, 3} {
					for _, v := range c.CMYK(RGB, []float64{.2, .4, .9}, intent) {
						if !(v >= 0 && v <= 1) {
							t.Fatalf("byte %d: %v", n, v)
						}
					}
				}
			}
		}
	}
}

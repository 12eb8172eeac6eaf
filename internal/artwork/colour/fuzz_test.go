package colour

import (
	"math"
	"testing"

	"laydown/internal/artwork/pdf"
)

// objectFrom makes an object of fuzzed text: a stream when there are data, else a direct object.
func objectFrom(text string, data []byte) object {
	if len(data) > 0 {
		return object{text, data}
	}
	return object{text: text}
}

// ranges tells the Range of a function of this package, nil when it has none.
func ranges(f Function) limits2 {
	switch f := f.(type) {
	case *sampled:
		return f.rng
	case *calculator:
		return f.rng
	case *exponential:
		return f.rng
	case *stitching:
		return f.rng
	}
	return nil
}

// Outputs are numbers, lie in Range, and come out the same again and from a second reading.
func FuzzFunctionStaysInRange(f *testing.F) {
	for _, b := range benchFunctions {
		if len(b.fn.data) < 2000 {
			f.Add(b.fn.text, b.fn.data, .3, -2.0, 7.0)
		}
	}
	f.Add("/FunctionType 0 /Domain [0 1] /Range [-1 1] /Size [3] /BitsPerSample 1 /Order 3 /Encode [2 0] /Decode [1 -1]", []byte("\xa0"), 0.0, 1.0, .5)
	f.Add("<< /FunctionType 3 /Domain [0 1] /Bounds [1 0] /Encode [0 1 1 0 5 5] /Functions [3 0 R 3 0 R 3 0 R] >>", []byte(nil), 0.0, 1.0, .5)
	f.Add("[<< /FunctionType 2 /Domain [-1 1] /N -3.5 /C0 [1 2] /C1 [3 4] >> << /FunctionType 2 /Domain [0 1] /N 1e9 >>]", []byte(nil), 0.0, 1.0, .5)
	f.Fuzz(func(t *testing.T, text string, data []byte, a, b, c float64) {
		if len(text) > 2000 || len(data) > 1<<16 {
			return
		}
		fx := newFixture(t, objectFrom(text, data))
		fn, err := fx.Function(pdf.Ref{Num: 3})
		if err != nil {
			return
		}
		in := make([]float64, fn.Inputs())
		for i := range in {
			in[i] = [3]float64{a, b, c}[i%3]
		}
		out, again := make([]float64, fn.Outputs()), make([]float64, fn.Outputs())
		fn.Eval(out, in)
		rng := ranges(fn)
		for i, v := range out {
			if math.IsNaN(v) {
				t.Fatalf("output %d is no number", i)
			}
			if 2*i+1 < len(rng) && (v < rng[2*i] || v > rng[2*i+1]) {
				t.Fatalf("output %d is %v, the range %v", i, v, rng)
			}
		}
		second, err := newFixture(t, objectFrom(text, data)).Function(pdf.Ref{Num: 3})
		if err != nil || !EqualFunctions(fn, second) {
			t.Fatalf("read again it is another function: %v", err)
		}
		second.Eval(again, in)
		if !near(out, again, 0) {
			t.Fatalf("%v, then %v", out, again)
		}
	})
}

// tinyICC are profiles small enough to be changed byte by byte.
func tinyICC() [][]byte {
	return [][]byte{
		buildICC(2, "prtr", "CMYK", "Lab ", map[string][]byte{"A2B0": oldTable(4, 2, 3, 2, unitMatrix, same, same, toLab),
			"B2A0": oldTable(3, 3, 4, 2, unitMatrix, same, same, fromLab), "wtpt": xyzTag(d50)}),
		buildICC(4, "prtr", "CMYK", "Lab ", map[string][]byte{
			"A2B1": newTable("mAB ", 4, 3, [][]byte{gammaTag(1.5), formulaTag(0, 1.2), curveTag(3, math.Sqrt), gammaTag(2)}, 2, 1, toLab, nil, nil,
				[][]byte{formulaTag(4, 1.1, 1, 0, .9, .1, .01, .02), gammaTag(1), gammaTag(1)}),
			"B2A1": newTable("mBA ", 3, 4, nil, 2, 1, fromLab, nil, nil, [][]byte{gammaTag(1), gammaTag(1), gammaTag(1)})}),
		buildICC(4, "mntr", "RGB ", "XYZ ", map[string][]byte{"rTRC": formulaTag(3, 2.4, .9, .1, .08, .04), "gTRC": gammaTag(2), "bTRC": curveTag(4, math.Sqrt),
			"rXYZ": xyzTag([3]float64{.44, .22, .01}), "gXYZ": xyzTag([3]float64{.38, .72, .1}), "bXYZ": xyzTag([3]float64{.14, .06, .71})}),
		buildICC(2, "mntr", "GRAY", "Lab ", map[string][]byte{"kTRC": gammaTag(1.25)}),
	}
}

// Whatever a profile says, colours are numbers, tints lie in 0..1, and two readings agree.
func FuzzProfileStaysInRange(f *testing.F) {
	for _, data := range tinyICC() {
		f.Add(data, uint8(0), .2, .5)
		f.Add(data, uint8(6), 1.0, 0.0)
	}
	f.Fuzz(func(t *testing.T, data []byte, intent uint8, a, b float64) {
		if len(data) > 1<<16 {
			return
		}
		p, err := ParseProfile(data)
		if err != nil {
			return
		}
		q, err := ParseProfile(data)
		if err != nil || !SameProfile(p, q) {
			t.Fatalf("read again it is another profile: %v", err)
		}
		limits := []float64{0, 1, 0, 1, 0, 1, 0, 1}[:2*p.n]
		s := &ICCBased{N: p.n, Profile: p, Alternate: [5]Space{1: Gray, 3: RGB, 4: CMYK}[p.n], Limits: limits}
		comps := []float64{a, b, 1 - a, b * a}[:p.n]
		for _, v := range p.XYZ(Clip(s, comps), Intent(intent)) {
			if math.IsNaN(v) {
				t.Fatal("a colour is no number")
			}
		}
		_ = p.Description()
		if !p.CanPrint() {
			return
		}
		c, d := NewConverter(p), NewConverter(q)
		for _, s := range []Space{RGB, s, &Lab{White: d50, Limits: [4]float64{-100, 100, -100, 100}}} {
			got := c.CMYK(s, comps, Intent(intent&15))
			for _, v := range got {
				if !(v >= 0 && v <= 1) {
					t.Fatalf("%s: a tint of %v", s, v)
				}
			}
			if d.CMYK(s, comps, Intent(intent&15)) != got {
				t.Fatalf("%s: two readings differ", s)
			}
			if rgb := c.RGB(s, comps, Intent(intent&15)); !(rgb[0] >= 0 && rgb[0] <= 1 && rgb[1] >= 0 && rgb[1] <= 1 && rgb[2] >= 0 && rgb[2] <= 1) {
				t.Fatalf("%s: RGB %v", s, rgb)
			}
		}
	})
}

// Whatever a colour space says, its initial colour is legal, its tints lie in 0..1, and a second reading is equal.
func FuzzSpaceIsLegal(f *testing.F) {
	for _, text := range []string{"/DeviceRGB", "[/CalRGB << /WhitePoint [.95 1 1.09] /Gamma [2 2 2] /Matrix [1 0 0 0 1 0 0 0 1] >>]", "[/Lab << /WhitePoint [.95 1 1.09] /Range [-9 9 5 127] >>]",
		"[/CalGray << /WhitePoint [.95 1 1.09] /Gamma 9 >>]", "[/ICCBased 4 0 R]", "[/Indexed [/ICCBased 4 0 R] 2 <000102030405060708090A0B>]", "[/Pattern /DeviceCMYK]",
		"[/Separation /Seal [/Lab << /WhitePoint [.96 1 .82] >>] << /FunctionType 2 /Domain [0 1] /N 1 /C0 [100 0 0] /C1 [40 60 -20] >>]",
		"[/DeviceN [/Cyan /None /Seal] /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 >> << /Subtype /NChannel /Process << /ColorSpace /DeviceCMYK /Components [/Cyan /Magenta /Yellow /Black] >> >>]"} {
		f.Add(text, "/N 3 /Alternate /DeviceRGB", tinyICC()[2])
	}
	f.Fuzz(func(t *testing.T, text, dict string, data []byte) {
		if len(text) > 2000 || len(dict) > 500 || len(data) > 1<<15 || len(data) == 0 {
			return
		}
		objects := []object{{text: text}, {dict, data}}
		s, err := newFixture(t, objects...).Space(pdf.Ref{Num: 3}, nil)
		if err != nil {
			return
		}
		first := s.Initial()
		if len(first) != s.Components() {
			t.Fatalf("%s: %d initial numbers for %d components", s, len(first), s.Components())
		}
		for i, v := range first {
			if lo, hi := s.Range(i); !(v >= lo && v <= hi) {
				t.Fatalf("%s: initial %v outside %v to %v", s, v, lo, hi)
			}
		}
		for _, v := range NewConverter(nil).CMYK(s, first, 0) {
			if !(v >= 0 && v <= 1) {
				t.Fatalf("%s: a tint of %v", s, v)
			}
		}
		again, err := newFixture(t, objects...).Space(pdf.Ref{Num: 3}, nil)
		if err != nil || !Equal(s, again) {
			t.Fatalf("%s: read again it is %v, %v", s, again, err)
		}
	})
}

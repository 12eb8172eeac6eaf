package colour

import (
	"math"
	"os"
	"path/filepath"
	"testing"
)

// Every kind of table and curve, made for the purpose, read by both engines: each number of device and
// connection space within 0.02 of 100. Tables of X, Y, Z have 0.1: weights are whole 65536ths, and L* is steep
// in the darkest colours.
func TestEveryKindOfTableAgreesWithIndependentEngine(t *testing.T) {
	identity := [][]byte{curveTag(0, nil), curveTag(0, nil), curveTag(0, nil)}
	rgbToXYZ := func(v []float64) []float64 {
		return []float64{(.4*v[0] + .35*v[1] + .2*v[2]) / 2, (.2*v[0] + .7*v[1] + .1*v[2]) / 2, (.1*v[1] + .7*v[2]) / 2}
	}
	matrixTags := func(curve []byte) map[string][]byte {
		return map[string][]byte{"rTRC": curve, "gTRC": curve, "bTRC": curve, "rXYZ": xyzTag([3]float64{.44, .22, .01}),
			"gXYZ": xyzTag([3]float64{.38, .72, .1}), "bXYZ": xyzTag([3]float64{.14, .06, .71})}
	}
	tests := []struct {
		name      string
		data      []byte
		n         int
		tolerance float64
	}{
		{"version 2, 16 bits", madeCMYK(2), 4, .02},
		{"version 4, mixed widths", madeCMYK(4), 4, .02},
		{"8 bits", buildICC(2, "prtr", "CMYK", "Lab ", map[string][]byte{"A2B0": oldTable(4, 7, 3, 1, unitMatrix, raised(.8), raised(1), toLab),
			"B2A0": oldTable(3, 9, 4, 1, unitMatrix, raised(1.2), same, fromLab)}), 4, .02},
		{"X, Y, Z and a matrix", buildICC(2, "prtr", "CMYK", "XYZ ", map[string][]byte{
			"A2B0": oldTable(4, 7, 3, 2, unitMatrix, same, same, func(v []float64) []float64 { return rgbToXYZ([]float64{1 - v[0], 1 - v[1], 1 - v[2]}) }),
			"B2A0": oldTable(3, 9, 4, 2, [9]float64{1.5, -.2, 0, -.1, 1.4, .1, 0, .1, 1.6}, raised(.5), same, fromLab)}), 4, .1},
		{"RGB by a table", buildICC(2, "scnr", "RGB ", "XYZ ", map[string][]byte{"A2B0": oldTable(3, 9, 3, 2, unitMatrix, raised(2), same, rgbToXYZ)}), 3, .1},
		{"RGB by matrix and curves in the new type", buildICC(4, "mntr", "RGB ", "XYZ ", map[string][]byte{
			"A2B0": newTable("mAB ", 3, 3, nil, 0, 0, nil, [][]byte{gammaTag(2.2), gammaTag(1.8), formulaTag(2, 2, .9, .1, .01)},
				[]float64{.22, .19, .07, .11, .36, .03, .005, .05, .35, 0, 0, 0}, identity)}), 3, .02},
		{"gray of L*", buildICC(2, "mntr", "GRAY", "Lab ", map[string][]byte{"kTRC": gammaTag(1.25)}), 1, .02},
		{"gray of Y", buildICC(2, "mntr", "GRAY", "XYZ ", map[string][]byte{"kTRC": curveTag(17, math.Sqrt)}), 1, .02},
		{"formula 0", buildICC(4, "mntr", "RGB ", "XYZ ", matrixTags(formulaTag(0, 2.2))), 3, .02},
		{"formula 1", buildICC(4, "mntr", "RGB ", "XYZ ", matrixTags(formulaTag(1, 2, 1.1, -.1))), 3, .02},
		{"formula 2", buildICC(4, "mntr", "RGB ", "XYZ ", matrixTags(formulaTag(2, 2, .9, .05, .02))), 3, .02},
		{"formula 3", buildICC(4, "mntr", "RGB ", "XYZ ", matrixTags(formulaTag(3, 2.4, 1/1.055, .055/1.055, 1/12.92, .04045))), 3, .02},
		{"formula 4", buildICC(4, "mntr", "RGB ", "XYZ ", matrixTags(formulaTag(4, 2, .9, .1, .2, .1, .01, .02))), 3, .02},
	}
	for _, tt := range tests {
		p, err := ParseProfile(tt.data)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		path := filepath.Join(t.TempDir(), "made.icc")
		if err := os.WriteFile(path, tt.data, 0o600); err != nil {
			t.Fatal(err)
		}
		rows, scale := grid(6, tt.n), 255.0
		if tt.n == 4 {
			scale = 100
		}
		worst := 0.0
		for i, want := range transicc(t, scaled(rows, scale), "-i", path, "-o", "*Lab2", "-t1") {
			lab := labFromXYZ(p.XYZ(rows[i], RelativeColorimetric), d50)
			for k := range lab {
				worst = max(worst, math.Abs(lab[k]-want[k]))
			}
		}
		back := 0.0
		if p.CanPrint() {
			labs := sourcesFrom(nil)[1].rows
			for i, want := range transicc(t, labs, "-i", "*Lab2", "-o", path, "-t1") {
				device := p.Device(xyzFromLab([3]float64(labs[i]), d50), RelativeColorimetric)
				for k := range device {
					back = max(back, math.Abs(100*device[k]-clamp(want[k], 0, 100)))
				}
			}
		}
		t.Logf("%s: to the connection space %.4f, to the device %.4f", tt.name, worst, back)
		if worst > tt.tolerance || back > tt.tolerance {
			t.Errorf("%s: off by %.4f to the connection space, %.4f to the device", tt.name, worst, back)
		}
	}
}

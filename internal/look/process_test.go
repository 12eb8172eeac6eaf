package look

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/cgats"
)

// published reads a characterisation of the package icc-profiles-free: measured colours of standard printing conditions.
func published(t testing.TB, name string) *cgats.Set {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("/usr/share/color/icc", name+".ti3"))
	if errors.Is(err, os.ErrNotExist) {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("the package icc-profiles-free is required and not installed: %v", err)
		}
		t.Skip("icc-profiles-free is not installed")
	}
	if err != nil {
		t.Fatal(err)
	}
	f, err := cgats.Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	set, err := f.Tables[0].Set()
	if err != nil {
		t.Fatal(err)
	}
	return set
}

func processOf(t testing.TB, set *cgats.Set) *Process {
	t.Helper()
	p, err := ProcessFromSet(set, ThreeLevels)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// spread is mean, 95th percentile and maximum of differences.
type spread struct{ mean, p95, most float64 }

func spreadOf(d []float64) (s spread) {
	slices.Sort(d)
	for _, v := range d {
		s.mean += v / float64(len(d))
	}
	return spread{s.mean, d[len(d)*95/100], d[len(d)-1]}
}

func (s spread) String() string {
	return fmt.Sprintf("mean %.3f, 95 %% %.2f, most %.2f", s.mean, s.p95, s.most)
}

func (s spread) within(o spread) bool { return s.mean <= o.mean && s.p95 <= o.p95 && s.most <= o.most }

// heldOut tells patches that took no part: neither one of the 81 nodes (each ink at 0, 40, 100 %) nor of one ink alone.
func heldOut(tints []float64) bool {
	node, inks := true, 0
	for _, v := range tints {
		node = node && (v == 0 || v == .4 || v == 1)
		if v != 0 {
			inks++
		}
	}
	return !node && inks > 1
}

// What took part: the 81 nodes, and the ramps of single inks for the curves. The limits are what was found, and a tenth;
// the first three sets were looked at when the numbers of the method were chosen, the others were not. The published
// sets are smoothed averages of presses.
func TestHeldOutPatchesComeOut(t *testing.T) {
	for _, c := range []struct {
		name  string
		limit spread
	}{
		{"FOGRA39L", spread{.31, .75, 1.45}},
		{"FOGRA29L", spread{.155, .32, .52}},
		{"TR006", spread{.25, .56, .92}},
		{"FOGRA28L", spread{.225, .64, 1.40}},
		{"FOGRA30L", spread{.20, .46, .73}},
		{"FOGRA40L", spread{.20, .38, .61}},
		{"TR003", spread{.155, .38, .66}},
		{"TR005", spread{.16, .33, .68}},
	} {
		set := published(t, c.name)
		p := processOf(t, set)
		var d []float64
		for i := range set.Patches {
			if patch := &set.Patches[i]; heldOut(patch.Tints) {
				d = append(d, Difference(p.Lab([4]float64(patch.Tints)), patch.Lab))
			}
		}
		s := spreadOf(d)
		if len(d) < 1000 || !s.within(c.limit) {
			t.Errorf("%s: %v, want %v", c.name, s, c.limit)
		}
	}
}

// Nodes are exact but for the tolerance of the lift. A ramp has one coverage for each third of the spectrum, held together, so it is
// near, not exact.
func TestNodesComeOutExactly(t *testing.T) {
	set := published(t, "FOGRA39L")
	p := processOf(t, set)
	if p.Nodes() != 81 {
		t.Fatalf("%d nodes", p.Nodes())
	}
	for i := range set.Patches {
		patch := &set.Patches[i]
		if heldOut(patch.Tints) {
			continue
		}
		limit := .15
		if inNodes := func(v float64) bool { return v == 0 || v == .4 || v == 1 }; !slices.ContainsFunc(patch.Tints, func(v float64) bool { return !inNodes(v) }) {
			limit = 1e-6
		}
		if d := Difference(p.Lab([4]float64(patch.Tints)), patch.Lab); d > limit {
			t.Errorf("the patch in line %d is off by %g, want %g at most", patch.Line, d, limit)
		}
	}
	if d := Difference(p.White(), set.Patches[0].Lab); d > 1e-6 {
		t.Errorf("the stock is off by %g", d)
	}
}

// labSet makes a set of patches whose colours come from a function.
func labSet(tints [][4]float64, lab func([4]float64) [3]float64) *cgats.Set {
	s := &cgats.Set{Colourants: []string{"Cyan", "Magenta", "Yellow", "Black"}, HasColour: true, Illuminant: "D50"}
	for i, t := range tints {
		s.Patches = append(s.Patches, cgats.Patch{ID: fmt.Sprint(i), Line: i + 1, Tints: slices.Clone(t[:]), Lab: lab(t)})
	}
	return s
}

// greys are weak colours, all of which a surface can have.
func greys(t [4]float64) [3]float64 {
	light := (1 - .2*t[0]) * (1 - .3*t[1]) * (1 - .05*t[2]) * (1 - .8*t[3])
	return [3]float64{95 * light, (30*t[1] - 20*t[0]) * light, 40 * t[2] * light}
}

func factorial(levels ...[]float64) (out [][4]float64) {
	eachNode([4][]float64(levels), func(t [4]float64) { out = append(out, t) })
	return out
}

func TestGridIsWhatTheTableHolds(t *testing.T) {
	ends, three := []float64{0, 1}, []float64{0, .5, 1}
	black := []float64{0, .2, .4, .6, .8, 1}
	fine := []float64{0, .1, .4, .7, 1}
	for name, c := range map[string]struct {
		tints [][4]float64
		grid  ProcessGrid
		want  [4][]float64
	}{
		"solids":            {factorial(ends, ends, ends, ends), ThreeLevels, [4][]float64{ends, ends, ends, ends}},
		"halves":            {factorial(three, three, three, three), ThreeLevels, [4][]float64{three, three, three, three}},
		"blacks":            {factorial(three, three, three, black), ThreeLevels, [4][]float64{three, three, three, {0, .4, 1}}},
		"blacks, all":       {factorial(three, three, three, black), FullestGrid, [4][]float64{three, three, three, black}},
		"one ink has steps": {append(factorial(ends, ends, ends, ends), factorial(fine, ends, ends, ends)...), ThreeLevels, [4][]float64{{0, .4, 1}, ends, ends, ends}},
		"a grid with holes": {append(factorial(ends, ends, ends, ends), factorial(fine, fine, fine, []float64{0})...), FullestGrid, [4][]float64{ends, ends, ends, ends}},
	} {
		p, err := ProcessFromSet(labSet(c.tints, greys), c.grid)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for i, want := range c.want {
			if !slices.Equal(p.Levels()[i], want) {
				t.Errorf("%s: %v, want %v", name, p.Levels(), c.want)
				break
			}
		}
		for _, tint := range factorial(c.want[0], c.want[1], c.want[2], c.want[3]) {
			if d := Difference(p.Lab(tint), greys(tint)); d > 1e-6 {
				t.Errorf("%s: %v is off by %g", name, tint, d)
			}
		}
	}
}

func TestSetsThatCannotCharacteriseAreRefused(t *testing.T) {
	good := func() *cgats.Set {
		ends := []float64{0, 1}
		return labSet(factorial(ends, ends, ends, ends), greys)
	}
	for _, c := range []struct {
		change func(*cgats.Set)
		want   string
	}{
		{func(s *cgats.Set) { s.Patches = s.Patches[:15] }, "the patch C 100 M 100 Y 100 K 100 % is missing"},
		{func(s *cgats.Set) { s.Colourants[3] = "Gold" }, "no tints of Black"},
		{func(s *cgats.Set) { s.PaperRelative = true }, "relative to the white of the stock"},
		{func(s *cgats.Set) { s.Illuminant = "A" }, "hold under A"},
		{func(s *cgats.Set) { s.Wavelengths = []float64{500, 600} }, "span 500 to 600 nm"},
	} {
		s := good()
		c.change(s)
		if _, err := ProcessFromSet(s, ThreeLevels); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
	flat := labSet(factorial([]float64{0, .5, 1}, []float64{0, .5, 1}, []float64{0, .5, 1}, []float64{0, .5, 1}), func(t [4]float64) [3]float64 {
		if t[0] == .5 {
			t[0] = 0
		}
		return greys(t)
	})
	if _, err := ProcessFromSet(flat, ThreeLevels); err == nil || !strings.Contains(err.Error(), "the ramp of Cyan does not go on from 0 % to 50 %") {
		t.Errorf("a ramp without a step: %v", err)
	}
}

// Reflectances measured count as they are, at the bands and straight between wavelengths.
func TestSpectraAreTakenAsMeasured(t *testing.T) {
	s := labSet(factorial([]float64{0, 1}, []float64{0, 1}, []float64{0, 1}, []float64{0, 1}), greys)
	s.HasColour = false
	s.Wavelengths = []float64{400, 500, 700}
	for i := range s.Patches {
		v := .8
		for _, t := range s.Patches[i].Tints {
			v *= 1 - .6*t
		}
		s.Patches[i].Spectrum = []float64{v / 2, v, v}
	}
	// Twice the same patch: the mean counts.
	twin := s.Patches[0]
	twin.Spectrum = []float64{.2, .6, .6}
	s.Patches[0].Spectrum = []float64{.6, 1, 1}
	s.Patches = append(s.Patches, twin)
	p, err := ProcessFromSet(s, ThreeLevels)
	if err != nil {
		t.Fatal(err)
	}
	r := p.reflectance([4]float64{})
	for b, w := range wavelengths {
		want := .8
		if w < 500 {
			want = .4 + .4*(max(w, 400)-400)/100 // level beyond the ends
		}
		if math.Abs(r[b]-want) > 1e-12 {
			t.Errorf("%g nm: %.4f, want %.4f", w, r[b], want)
		}
	}
}

// A colour that no surface can have is lifted paler, and said so.
func TestVividPatchesAreTold(t *testing.T) {
	s := labSet(factorial([]float64{0, 1}, []float64{0, 1}, []float64{0, 1}, []float64{0, 1}), func(t [4]float64) [3]float64 {
		if t == [4]float64{0, 0, 1, 0} {
			return [3]float64{95, 0, 190}
		}
		return greys(t)
	})
	p, err := ProcessFromSet(s, ThreeLevels)
	if err != nil {
		t.Fatal(err)
	}
	if n := p.Notes(); len(n) != 1 || !strings.Contains(n[0], "One colour of the characterisation is more vivid") {
		t.Errorf("notes %q", n)
	}
}

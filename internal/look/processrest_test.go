package look

import (
	"slices"
	"strings"
	"testing"

	"laydown/internal/cgats"
)

// Every fifth patch took no part: neither node nor ramp nor teacher. The limits are what was found, and a tenth.
func TestOtherPatchesTeachTheRest(t *testing.T) {
	for _, c := range []struct {
		name  string
		limit spread
	}{
		{"FOGRA39L", spread{.10, .21, .37}},
		{"FOGRA29L", spread{.044, .125, .22}},
		{"TR006", spread{.056, .155, .31}},
	} {
		set := published(t, c.name)
		part := *set
		part.Patches = nil
		var out []cgats.Patch
		for i, q := range set.Patches {
			if heldOut(q.Tints) && i%5 == 0 {
				out = append(out, q)
			} else {
				part.Patches = append(part.Patches, q)
			}
		}
		p, err := ProcessFromSet(&part, AllPatches)
		if err != nil {
			t.Fatal(err)
		}
		var d []float64
		for _, q := range out {
			d = append(d, Difference(p.Lab([4]float64(q.Tints)), q.Lab))
		}
		if s := spreadOf(d); len(d) < 250 || !s.within(c.limit) {
			t.Errorf("%s, %d patches: %v, want %v", c.name, len(d), s, c.limit)
		}
	}
}

// A misprint is told and does not spread; the nodes keep their colours.
func TestMisprintTeachesNothing(t *testing.T) {
	set := published(t, "TR003")
	part := *set
	part.Patches = slices.Clone(set.Patches)
	at := slices.IndexFunc(part.Patches, func(q cgats.Patch) bool { return heldOut(q.Tints) })
	part.Patches[at].Lab[0] -= 25
	p, err := ProcessFromSet(&part, AllPatches)
	if err != nil {
		t.Fatal(err)
	}
	if n := p.Notes(); len(n) != 1 || !strings.Contains(n[0], "One patch of the characterisation does not fit") {
		t.Errorf("notes %q", n)
	}
	if d := Difference(p.Lab([4]float64(part.Patches[at].Tints)), set.Patches[at].Lab); d > .5 {
		t.Errorf("the place of the misprint is off by %.2f", d)
	}
	for _, q := range set.Patches {
		if heldOut(q.Tints) {
			continue
		}
		if d := Difference(p.Lab([4]float64(q.Tints)), q.Lab); d > .15 {
			t.Errorf("the node or ramp in line %d is off by %.2f", q.Line, d)
		}
	}
}

func TestNothingIsLearntFromNodesAlone(t *testing.T) {
	three := []float64{0, .4, 1}
	p, err := ProcessFromSet(labSet(factorial(three, three, three, three), greys), AllPatches)
	if err != nil {
		t.Fatal(err)
	}
	if p.rest != nil {
		t.Errorf("%d patches teach", len(p.rest.at))
	}
}

// Of more patches than the solution has room for some are taken.
func TestTooManyPatchesAreThinned(t *testing.T) {
	seven := []float64{0, .15, .35, .5, .65, .8, 1}
	set := labSet(append(factorial(seven, seven, seven, seven), factorial([]float64{.1, .3, .55, .7, .9}, []float64{.1, .3, .55, .7, .9}, []float64{.1, .3, .55, .7, .9}, []float64{.1, .3, .55, .7, .9})...), greys)
	p, err := ProcessFromSet(set, FullestGrid)
	if err != nil {
		t.Fatal(err)
	}
	samples, err := samplesOf(set)
	if err != nil {
		t.Fatal(err)
	}
	taught, _ := p.teachers(samples)
	if n := len(taught.at); n > mostPatches || n < mostPatches/3 {
		t.Errorf("%d patches of %d teach", n, len(samples))
	}
}

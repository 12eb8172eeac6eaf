package separate

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/press"
)

func plateNames(t *Target) string {
	var names []string
	for _, c := range t.Set.All() {
		names = append(names, c.Name)
	}
	return strings.Join(names, " ")
}

func TestPlatesAreProcessThenSpecialsInLaydownOrder(t *testing.T) {
	for _, c := range []struct {
		question string
		sets     []string
		want     string
	}{
		{"one set", []string{"White Cyan Black Clear"}, "White Clear"},
		{"a set that replaces the process set", []string{"Cyan Magenta Yellow Black", "White Silver Gold Clear"}, "White Silver Gold Clear"},
		{"sets that share toners keep both orders", []string{"White Cyan Clear", "White Silver Gold Clear"}, "White Silver Gold Clear"},
		{"sets with no common order keep the order met", []string{"Gold White", "Silver Clear"}, "Gold White Silver Clear"},
		{"sets that contradict each other lose no toner", []string{"Gold White", "White Gold"}, "Gold White"},
		{"a process toner may carry order", []string{"White Black", "Black Gold", "Gold Silver"}, "White Gold Silver"},
	} {
		p := testPress()
		p.Sets = nil
		for _, s := range c.sets {
			p.Sets = append(p.Sets, press.Set{Stations: strings.Fields(s)})
		}
		target, err := NewTarget(p, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := plateNames(target), "Cyan Magenta Yellow Black "+c.want; got != want {
			t.Errorf("%s: got %q, want %q", c.question, got, want)
		}
	}
}

func TestProcessTonersOfNoSetKeepAnUnmountedPlate(t *testing.T) {
	p := testPress()
	p.Sets = []press.Set{{Stations: []string{"White", "Black", "Gold"}}}
	target, err := NewTarget(p, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := []bool{false, false, false, true, true, true}; !slices.Equal(target.Mounted, want) {
		t.Errorf("mounted %v, want %v", target.Mounted, want)
	}
	if kind := target.Set.At(4).Kind; kind != colourant.OpaqueWhite {
		t.Errorf("White is of kind %v", kind)
	}
}

func TestNamesReachPlatesByteForByte(t *testing.T) {
	target := testTarget(t)
	for name, want := range map[string]int{"White": 4, "white": -1, "White ": -1, "Gold": 6, "oro": 6, "Clear": -1, "Black": 3} {
		got, ok := target.Names[name]
		if !ok {
			got = -1
		}
		if got != want {
			t.Errorf("%q reaches plate %d, want %d", name, got, want)
		}
	}
	if _, ok := target.Mixes["pale"]; !ok {
		t.Error("the mix of mounted toners is missing")
	}
	if _, ok := target.Mixes["frost"]; ok {
		t.Error("a mix with a toner in no set can be used")
	}
}

func TestAssignmentsAreFollowedOrRefused(t *testing.T) {
	for _, c := range []struct {
		name, toner string
		wantErr     string
	}{
		{"oro", "Gold", ""},
		{"white", "White", ""},
		{"moon", "pale", ""},
		{"Gold", "Silver", ""},
		{"dark", "Black", ""},
		{"oro", "Clear", `"Clear", which press "bench" does not carry; it carries Cyan, Magenta, Yellow, Black, White, Silver, Gold, pale`},
		{"oro", "silver", "does not carry"},
		{"Black", "White", "fixed meaning"},
		{"All", "White", "fixed meaning"},
	} {
		target, err := NewTarget(testPress(), map[string]string{c.name: c.toner}, nil)
		if c.wantErr != "" {
			if err == nil || !strings.Contains(err.Error(), c.wantErr) {
				t.Errorf("%q to %q: error %v, want %q", c.name, c.toner, err, c.wantErr)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q to %q: %v", c.name, c.toner, err)
			continue
		}
		got := target.Colour(displist.Paint{Space: testSeparation(c.name), Comps: []float64{1}}, false, 0, false, 0, Context{})
		want := target.Colour(displist.Paint{Space: testSeparation(c.toner), Comps: []float64{1}}, false, 0, false, 0, Context{})
		if c.name != "Gold" && inkText(got) != inkText(want) {
			t.Errorf("%q is painted %q, %q %q", c.name, inkText(got), c.toner, inkText(want))
		}
	}
}

// Two assignments must not depend on each other's order.
func TestAssignmentsDoNotChain(t *testing.T) {
	target, err := NewTarget(testPress(), map[string]string{"Gold": "Silver", "Silver": "Gold"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if target.Names["Gold"] != 5 || target.Names["Silver"] != 6 {
		t.Errorf("Gold reaches plate %d and Silver %d, want them swapped: 5 and 6", target.Names["Gold"], target.Names["Silver"])
	}
}

func TestImpossiblePressesAreRefused(t *testing.T) {
	for _, names := range [][]string{{"All"}, {"None"}, {""}, manyNames(limits.MaxColourants)} {
		p := &press.Press{Name: "bench", Sets: []press.Set{{Stations: names}}}
		if _, err := NewTarget(p, nil, nil); err == nil {
			t.Errorf("a press with %d toners, first %q, is taken", len(names), names[0])
		}
	}
	p := testPress()
	p.Mixes = append(p.Mixes, press.Mix{Name: "Gold"})
	if _, err := NewTarget(p, nil, nil); err == nil {
		t.Error("a mix with the name of a toner is taken")
	}
}

func manyNames(n int) []string {
	names := make([]string, n)
	for i := range names {
		names[i] = fmt.Sprintf("toner %d", i)
	}
	return names
}

func TestWithoutPressEveryNameGetsAPlateUpToTheLimit(t *testing.T) {
	list := func(names ...string) *displist.List {
		l := &displist.List{}
		for _, n := range names {
			l.Names = append(l.Names, displist.NamedColourant{Name: n})
		}
		return l
	}
	target := NewTargetFromLists(nil, finding.Discard, list("b", "a", "Black"), list("a", "A"))
	if got, want := plateNames(target), "Cyan Magenta Yellow Black b a A"; got != want {
		t.Errorf("plates %q, want %q", got, want)
	}
	var sink finding.Collector
	room := limits.MaxColourants - len(colourant.ProcessNames)
	target = NewTargetFromLists(nil, &sink, list(manyNames(room)...))
	if n := len(sink.Sorted()); n != 0 || target.Set.Len() != limits.MaxColourants {
		t.Errorf("at the limit: %d findings, %d plates", n, target.Set.Len())
	}
	target = NewTargetFromLists(nil, &sink, list(manyNames(room+1)...))
	fs := sink.Sorted()
	if len(fs) != 1 || fs[0].Class != finding.OverLimit || !fs[0].Incomplete || target.Set.Len() != limits.MaxColourants {
		t.Errorf("past the limit: findings %v, %d plates", fs, target.Set.Len())
	}
}

func TestGroupsSetTheBlendSpaceWhenIsolated(t *testing.T) {
	rgb := Context{BlendRGB}
	for _, c := range []struct {
		question string
		group    *displist.Group
		want     BlendSpace
	}{
		{"no space of its own", &displist.Group{Isolated: true}, BlendRGB},
		{"not isolated", &displist.Group{Space: colour.CMYK}, BlendRGB},
		{"isolated CMYK", &displist.Group{Isolated: true, Space: colour.CMYK}, BlendCMYK},
		{"isolated gray", &displist.Group{Isolated: true, Space: colour.Gray}, BlendGray},
		{"isolated ICC RGB", &displist.Group{Isolated: true, Space: &colour.ICCBased{N: 3, Alternate: colour.RGB}}, BlendRGB},
	} {
		if got := rgb.Within(c.group).Space; got != c.want {
			t.Errorf("%s: %v, want %v", c.question, got, c.want)
		}
	}
	page := &displist.List{Group: &displist.Group{Space: colour.RGB}}
	if got := PageContext(page).Space; got != BlendRGB {
		t.Errorf("page group in RGB, not isolated: %v, want RGB", got)
	}
}

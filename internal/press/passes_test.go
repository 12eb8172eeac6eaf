package press

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"laydown/internal/colourant"
	_ "laydown/internal/sameseed"
)

func mustFind(t *testing.T, name string) *Press {
	t.Helper()
	p, err := FindPress(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// wording is passes as text: toners of a pass from the stock upwards, passes parted by bars.
func wording(passes []Pass) string {
	var out []string
	for _, p := range passes {
		out = append(out, p.Set.Name+": "+strings.Join(p.Toners, " "))
	}
	return strings.Join(out, " | ")
}

func TestPassesOfShippedPresses(t *testing.T) {
	whiteUnderProcess := []Under{{"White", "Cyan"}, {"White", "Magenta"}, {"White", "Yellow"}, {"White", "Black"}}
	for _, c := range []struct {
		press string
		used  string
		under []Under
		want  string
	}{
		{"two-set", "", nil, ""},
		{"two-set", "Cyan,Black", nil, "process: Cyan Black"},
		{"two-set", "Cyan,White", nil, "special: White | process: Cyan"},
		{"two-set", "Clear,Cyan", nil, "process: Cyan | special: Clear"},
		{"two-set", "Gold,White", nil, "special: White Gold"},
		{"two-set", "White,Gold", []Under{{"Gold", "White"}}, "special: Gold | special: White"},
		{"two-set", "Clear,White,Cyan", nil, "special: White Clear | process: Cyan"},
		{"two-set", "Clear,White,Cyan", []Under{{"White", "Cyan"}, {"Cyan", "Clear"}}, "special: White | process: Cyan | special: Clear"},
		{"two-set", "Pale Gold", nil, "special: Silver Gold"},
		{"two-set", "Pale Gold,Gold", nil, "special: Silver Gold"},
		{"six-station", "Clear,White,Cyan,Yellow", nil, "all: White Yellow Cyan Clear"},
		{"six-station", "White,Cyan,Magenta,Yellow,Black", whiteUnderProcess, "all: White Yellow Magenta Cyan Black"},
		{"six-station", "White,Cyan", []Under{{"Cyan", "White"}}, "all: Cyan | all: White"},
		{"six-station", "White,Cyan", []Under{{"Clear", "White"}}, "all: White Cyan"},
		{"five-station", "Cyan,Gold", nil, "process and gold: Cyan Gold"},
		{"five-station", "Cyan,White", nil, "process and white: Cyan White"},
		{"five-station", "Cyan,Black,White", whiteUnderProcess, "process and white: White | process and white: Black Cyan"},
		{"five-station", "Cyan,Gold,White", nil, "process and white: White | process and gold: Cyan Gold"},
		{"five-station", "Clear,Cyan,White", nil, "process and white: White | process and clear: Cyan Clear"},
	} {
		var used []string
		if c.used != "" {
			used = strings.Split(c.used, ",")
		}
		passes, err := mustFind(t, c.press).Passes(used, c.under...)
		if err != nil {
			t.Errorf("%s, %s: %v", c.press, c.used, err)
			continue
		}
		if got := wording(passes); got != c.want {
			t.Errorf("%s, %s, %v:\n got %s\nwant %s", c.press, c.used, c.under, got, c.want)
		}
	}
}

func TestPassesSayWhyNot(t *testing.T) {
	for _, c := range []struct {
		press, used string
		under       []Under
		want        string
	}{
		{"two-set", "WHITE", nil, `press two-set has no toner named "WHITE"; did you mean "White"?`},
		{"two-set", "Spot Gold", nil, `did you mean "Gold"?`},
		{"six-station", "Gold", nil, `press six-station has no toner named "Gold"; rename the colourant`},
		{"two-set", "White,Cyan", []Under{{"White", "Cyan"}, {"Cyan", "White"}}, `with "White" under "Cyan", "Cyan" under "White"; give up one`},
	} {
		_, err := mustFind(t, c.press).Passes(strings.Split(c.used, ","), c.under...)
		var pe *PassError
		if !errors.As(err, &pe) || !strings.Contains(err.Error(), c.want) || pe.Remedy == "" {
			t.Errorf("%s, %s: %v, want %s", c.press, c.used, err, c.want)
		}
	}
}

func TestMoreSpecialsThanPassesAreRefused(t *testing.T) {
	p := &Press{Name: "narrow"}
	var used []string
	for i := range maxPasses + 1 {
		n := fmt.Sprintf("S%d", i)
		p.Toners = append(p.Toners, Toner{Name: n})
		p.Sets = append(p.Sets, Set{Name: n, Stations: []string{n}})
		used = append(used, n)
	}
	if _, err := p.Passes(used); err == nil || !strings.Contains(err.Error(), "more than 6 passes") {
		t.Errorf("%v", err)
	}
	if passes, err := p.Passes(used[1:]); err != nil || len(passes) != maxPasses {
		t.Errorf("%v %v", passes, err)
	}
}

func TestLaysListEverySequence(t *testing.T) {
	for _, c := range []struct {
		press    string
		q        PassQuestion
		want     string
		refusing string
	}{
		{"two-set", PassQuestion{Used: []string{"White", "Cyan"}}, "process: Cyan | special: White; special: White | process: Cyan", ""},
		{"two-set", PassQuestion{Used: []string{"White", "Cyan"}, Under: []Under{{"White", "Cyan"}}}, "special: White | process: Cyan", ""},
		{"two-set", PassQuestion{Used: []string{"White", "Cyan"}, Together: [][2]string{{"White", "Cyan"}}}, "", "in one pass"},
		{"six-station", PassQuestion{Used: []string{"White", "Clear"}, Together: [][2]string{{"White", "Clear"}}}, "all: White Clear", ""},
		{"five-station", PassQuestion{Used: []string{"Gold", "White"}, Under: []Under{{"White", "Gold"}}}, "process and white: White | process and gold: Gold", ""},
	} {
		lays, err := mustFind(t, c.press).Lays(c.q)
		var got []string
		for _, l := range lays {
			got = append(got, wording(l.Passes))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s, %v:\n got %s\nwant %s", c.press, c.q, s, c.want)
		}
		if c.refusing != "" && (err == nil || !strings.Contains(err.Error(), c.refusing)) {
			t.Errorf("%s, %v: %v", c.press, c.q, err)
		}
	}
}

// bruteLeast counts the fewest sets that carry all toners by trying every subset.
func bruteLeast(p *Press, used []string) int {
	best := 1 << 30
	for mask := range 1 << len(p.Sets) {
		n, carried := 0, map[string]bool{}
		for i := range p.Sets {
			if mask>>i&1 == 1 {
				n++
				for _, s := range p.Sets[i].Stations {
					carried[s] = true
				}
			}
		}
		if !slices.ContainsFunc(used, func(u string) bool { return !carried[u] }) {
			best = min(best, n)
		}
	}
	return best
}

func TestPassesAreFewestAndComplete(t *testing.T) {
	names := []string{"Cyan", "Magenta", "White", "Gold", "Clear", "Extra"}
	kinds := []colourant.Kind{colourant.Process, colourant.Process, colourant.OpaqueWhite, colourant.Metallic, colourant.Clear, colourant.Spot}
	rapid.Check(t, func(t *rapid.T) {
		p := &Press{Name: "any"}
		for i, n := range names {
			p.Toners = append(p.Toners, Toner{Name: n, Kind: kinds[i]})
		}
		for i := range rapid.IntRange(1, 5).Draw(t, "sets") {
			s := rapid.Permutation(names).Draw(t, "stations")
			p.Sets = append(p.Sets, Set{Name: fmt.Sprint(i), Stations: s[:rapid.IntRange(1, 4).Draw(t, "n")]})
		}
		used := rapid.Permutation(names).Draw(t, "used")[:rapid.IntRange(1, 6).Draw(t, "n used")]
		least := bruteLeast(p, used)
		passes, err := p.Passes(used)
		if (err != nil) != (least > len(p.Sets)) {
			t.Fatalf("error %v, fewest sets %d", err, least)
		}
		if err != nil {
			return
		}
		if len(passes) != least {
			t.Fatalf("%d passes, fewest are %d", len(passes), least)
		}
		order := LaydownOrder(passes)
		slices.Sort(order)
		want := slices.Sorted(slices.Values(used))
		if !slices.Equal(order, want) {
			t.Fatalf("laid %v, used %v", order, want)
		}
		for _, pass := range passes {
			last := -1
			for _, n := range pass.Toners {
				at := slices.Index(pass.Set.Stations, n)
				if at <= last {
					t.Fatalf("%v is not in the order of %v", pass.Toners, pass.Set.Stations)
				}
				last = at
			}
		}
		again, _ := p.Passes(used)
		if wording(again) != wording(passes) {
			t.Fatal("the second answer differs")
		}
	})
}

func TestLargestPressIsSearchedSoon(t *testing.T) {
	p := &Press{Name: "large"}
	process := []string{"Cyan", "Magenta", "Yellow", "Black"}
	for _, n := range process {
		p.Toners = append(p.Toners, Toner{Name: n, Kind: colourant.Process})
	}
	used := slices.Clone(process)
	for i := range 24 {
		n := fmt.Sprintf("S%d", i)
		p.Toners = append(p.Toners, Toner{Name: n})
		p.Sets = append(p.Sets, Set{Name: n, Stations: append(slices.Clone(process), n)})
		if i >= 18 {
			used = append(used, n)
		}
	}
	start := time.Now()
	passes, err := p.Passes(used, Under{"S18", "S20"}, Under{"S23", "S20"})
	if err != nil || len(passes) != 6 {
		t.Errorf("%v %v", passes, err)
	}
	if d := time.Since(start); d > 5*time.Second {
		t.Errorf("took %v", d)
	}
}

func TestSpecialsAndLookUps(t *testing.T) {
	p := mustFind(t, "two-set")
	var names []string
	for _, c := range p.SpecialsInLaydown() {
		names = append(names, c.Name+"/"+c.Kind.String())
	}
	if got := strings.Join(names, " "); got != "White/opaque white Silver/metallic Gold/metallic Clear/clear" {
		t.Errorf("specials are %s", got)
	}
	if sets := p.SetsCarrying([]string{"Pale Gold", "White"}); len(sets) != 1 || sets[0].Name != "special" {
		t.Errorf("sets carrying the mix: %v", sets)
	}
	if sets := p.SetsCarrying([]string{"Cyan", "White"}); len(sets) != 0 {
		t.Errorf("sets carrying both: %v", sets)
	}
	if k, ok := p.KindOf("Pale Gold"); !ok || k != colourant.Metallic {
		t.Errorf("kind of the mix is %v", k)
	}
	if _, ok := p.KindOf("gold"); ok {
		t.Error("names are told apart by case")
	}
	for name, want := range map[string]string{"GOLD": "Gold", "spot white": "White", "champagne": "Pale Gold", "Silver": "", "Glod": "Gold"} {
		if got := p.Suggest(name); want != "" && (len(got) == 0 || got[0] != want) || want == "" && got != nil {
			t.Errorf("%q suggests %v, want %q", name, got, want)
		}
	}
	white, _ := p.Toner("White")
	if l, m, a := white.Tint.Held(); l != 20 || m != 100 || a != 0 {
		t.Errorf("white holds %v to %v, advised %v", l, m, a)
	}
	clear, _ := p.Toner("Clear")
	if l, _, _ := clear.Tint.Held(); l != 100 || clear.Tint.Tints() {
		t.Errorf("clear holds tints from %v", l)
	}
	if f := (&Toner{Kind: colourant.Metallic}).FinestHeld(); f.Line.Points() < 0.49 || f.Line.Points() > 0.51 {
		t.Errorf("default line of a metal is %v", f.Line)
	}
}

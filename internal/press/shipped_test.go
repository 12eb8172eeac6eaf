package press

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/colourant"
)

func TestShippedDefinitionsAreValid(t *testing.T) {
	if n := len(PressNames()); n != 3 {
		t.Errorf("%d presses, want 3: %v", n, PressNames())
	}
	if n := len(StockNames()); n != 10 {
		t.Errorf("%d stocks, want 10: %v", n, StockNames())
	}
	for _, name := range PressNames() {
		if p, err := FindPress(name); err != nil {
			t.Error(err)
		} else if p.Name != name {
			t.Errorf("file %s holds press %s", name, p.Name)
		}
	}
	for _, name := range StockNames() {
		if s, err := FindStock(name); err != nil {
			t.Error(err)
		} else if s.Name != name {
			t.Errorf("file %s holds stock %s", name, s.Name)
		}
	}
}

func TestShippedPressesAreWhatTheySay(t *testing.T) {
	press := func(name string) *Press {
		p, err := FindPress(name)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	two := press("two-set")
	if len(two.Sets) != 2 || len(two.SetsCarrying(colourant.ProcessNames[:])) != 1 || len(two.SetsCarrying([]string{"White", "Silver", "Gold", "Clear"})) != 1 {
		t.Errorf("two-set has sets %v", two.Sets)
	}
	six := press("six-station")
	if len(six.Sets) != 1 || six.Sets[0].Stations[0] != "White" || six.Sets[0].Stations[5] != "Clear" {
		t.Errorf("six-station has sets %v", six.Sets)
	}
	five := press("five-station")
	for _, set := range five.Sets {
		if len(set.Stations) != 5 {
			t.Errorf("five-station has a set of %v", set.Stations)
		}
	}
	for _, p := range []*Press{two, six, five} {
		for _, toner := range p.Toners {
			switch toner.Kind {
			case colourant.Metallic:
				if toner.Tint.Advised != 70 {
					t.Errorf("%s: %s is advised at %v", p.Name, toner.Name, toner.Tint.Advised)
				}
			case colourant.Clear:
				if !toner.MustOverprint {
					t.Errorf("%s: %s may knock out", p.Name, toner.Name)
				}
			}
		}
		if len(p.Cautions) == 0 && p.Name != "six-station" {
			t.Errorf("%s has no cautions", p.Name)
		}
	}
}

func TestFindSuggestsNearNames(t *testing.T) {
	for _, c := range []struct {
		find func(string) error
		name string
		want string
	}{
		{findPress, "two-sets", `did you mean "two-set"?`},
		{findPress, "Five Station", `did you mean "five-station"?`},
		{findStock, "midnight-blue", `did you mean "midnight-blue-board"?`},
		{findPress, "zzz", `known are "five-station", "six-station", "two-set"`},
		{findStock, "../../etc", "no such file"},
		{findStock, "", `no stock is named ""`},
	} {
		if err := c.find(c.name); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %s", c.name, err, c.want)
		}
	}
}

func findPress(name string) error { _, err := FindPress(name); return err }
func findStock(name string) error { _, err := FindStock(name); return err }

func TestShippedTextStartsAnOwnDefinition(t *testing.T) {
	text, ok := ShippedPress("two-set")
	if !ok {
		t.Fatal("no text")
	}
	file := filepath.Join(t.TempDir(), "mine.yaml")
	if err := os.WriteFile(file, append(text, "profile: cmyk.icc\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	p, err := FindPress(file)
	if err != nil {
		t.Fatal(err)
	}
	if want := filepath.Join(filepath.Dir(file), "cmyk.icc"); p.Profile != want {
		t.Errorf("profile is %s, want it beside the definition", p.Profile)
	}
	if _, ok := ShippedPress("../stocks/kraft"); ok {
		t.Error("a name led out of its folder")
	}
}

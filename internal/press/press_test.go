package press

import "testing"

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

package app

import (
	"slices"
	"testing"

	"laydown/internal/press"
)

// Where print on film is looked at through the film, white has to be laid after the process toners, else before.
func TestWhiteIsLaidLastWhereFilmIsLookedThrough(t *testing.T) {
	film, err := press.FindStock("clear-film")
	if err != nil {
		t.Fatal(err)
	}
	board, err := press.FindStock("black-board")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		press, seen string
		stock       *press.Stock
		last        bool
	}{
		{"two-set", press.SeenThrough, film, true},
		{"six-station", press.SeenThrough, film, true},
		{"two-set", press.SeenFace, film, false},
		{"two-set", "", film, false},
		{"two-set", press.SeenThrough, board, false},
	} {
		p, err := press.FindPress(c.press)
		if err != nil {
			t.Fatal(err)
		}
		s := &Setup{Press: p, Stock: c.stock, Job: &press.Job{Seen: c.seen}}
		passes, err := p.Passes([]string{"Cyan", "Black", "White"}, s.whiteLast()...)
		if err != nil {
			t.Fatal(err)
		}
		order := press.LaydownOrder(passes)
		if last := slices.Index(order, "White") == len(order)-1; last != c.last {
			t.Errorf("%s, seen %q on %s: %v", c.press, c.seen, c.stock.Name, order)
		}
	}
}

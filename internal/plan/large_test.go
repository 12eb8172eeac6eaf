package plan

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// large is a press of four process toners and eight specials in sets of its own kind.
func large(sets func(process, special []string) []press.Set) *press.Press {
	p := &press.Press{Name: "large", Register: press.Register{Between: .4}}
	process := colourant.ProcessNames[:]
	for _, n := range process {
		p.Toners = append(p.Toners, press.Toner{Name: n, Kind: colourant.Process, Mass: 5})
	}
	var special []string
	for i, k := range []colourant.Kind{colourant.OpaqueWhite, colourant.Metallic, colourant.Metallic, colourant.Clear, colourant.Spot, colourant.Spot, colourant.Spot, colourant.Spot} {
		special = append(special, fmt.Sprintf("S%d", i))
		p.Toners = append(p.Toners, press.Toner{Name: special[i], Kind: k, Mass: 5})
	}
	p.Sets = sets(process, special)
	return p
}

// swapped has a set of the process toners and two of four specials.
func swapped(process, special []string) []press.Set {
	return []press.Set{{Name: "process", Stations: process}, {Name: "a", Stations: special[:4]}, {Name: "b", Stations: special[4:]}}
}

// paired has 24 sets, each of the process toners between two specials.
func paired(process, special []string) (out []press.Set) {
	for i := range special {
		for k := range i {
			if len(out) < 24 {
				out = append(out, press.Set{Name: special[i] + special[k], Stations: slices.Concat(special[i:i+1], process, special[k:k+1])})
			}
		}
	}
	return out
}

// alone has a set for each special, with the process toners.
func alone(process, special []string) (out []press.Set) {
	for _, n := range special {
		out = append(out, press.Set{Name: n, Stations: append(slices.Clone(process), n)})
	}
	return out
}

// twelve is a job of twelve toners on two sides with six wishes.
func twelve(p *press.Press, hits int) *Request {
	r := &Request{Press: p, Quantity: 100, Up: 2, Stock: &press.Stock{Title: "board", Hits: hits}}
	var all []string
	for i := range p.Toners {
		all = append(all, p.Toners[i].Name)
	}
	r.Sides = []Side{side(1, all...), side(2, all...)}
	wish(r, "S0 under process", "S0", "process")
	wish(r, "S3 over process", "process", "S3")
	wish(r, "S1 under process", "S1", "process")
	wish(r, "S2 over process", "process", "S2")
	wish(r, "S4 over S1", "S1", "S4")
	wish(r, "S5 under S6", "S5", "S6")
	return r
}

// Whatever the press, the largest jobs are planned, or found impossible with the least to give up, while one waits. Each takes
// less than a second alone on a core; the limit leaves room for a busy machine, and is far from the minutes of a search
// that tries everything.
func TestTwelveTonersArePlannedWhileOneWaits(t *testing.T) {
	for _, c := range []struct {
		name    string
		sets    func(process, special []string) []press.Set
		hits    int
		giveUp  int // things, of which so many have to go; 0 = none
		atLeast int // plans
		passes  int // of both sides together
		waysOut int // told
	}{
		{"swapped", swapped, 0, 0, 5, 8, 0},
		{"swapped", swapped, 3, 8, 1, 0, 1},
		{"paired", paired, 0, 0, 5, 8, 0},
		{"paired", paired, 3, 6, 1, 0, 6},
		{"alone", alone, 0, 2, 1, 0, 6},
		{"alone", alone, 3, 7, 1, 0, 6},
	} {
		r := twelve(large(c.sets), c.hits)
		begin := time.Now()
		plans, err := Alternatives(r)
		if d := time.Since(begin); d > 20*time.Second {
			t.Errorf("%s, %d hits: took %v", c.name, c.hits, d)
		}
		if len(plans) < c.atLeast {
			t.Errorf("%s, %d hits: %d plans", c.name, c.hits, len(plans))
		}
		var e *Impossible
		if errors.As(err, &e) != (c.giveUp > 0) {
			t.Errorf("%s, %d hits: %v", c.name, c.hits, err)
			continue
		}
		if e == nil {
			if len(plans[0].Passes) != c.passes {
				t.Errorf("%s: %d passes, want %d", c.name, len(plans[0].Passes), c.passes)
			}
			continue
		}
		if len(e.Relax) != c.waysOut {
			t.Errorf("%s, %d hits: %d ways out: %v", c.name, c.hits, len(e.Relax), e.Relax)
		}
		for _, set := range e.Relax {
			if len(set) != c.giveUp {
				t.Errorf("%s, %d hits: gives up %v, want %d things", c.name, c.hits, set, c.giveUp)
			}
		}
	}
}

// Where sequences for all pages are too many, what is told is to plan fewer pages, not to give up a wish, which would not help.
func TestTooManyOrdersAskForFewerPages(t *testing.T) {
	r := &Request{Press: large(paired)}
	for n := range 200 {
		used := []string{"Cyan"}
		for i := range 8 {
			if (n*7919+n*n*31)>>i&1 == 1 {
				used = append(used, fmt.Sprintf("S%d", i))
			}
		}
		r.Sides = append(r.Sides, side(n+1, used...))
	}
	wish(r, "S0 under process", "S0", "process")
	s := newSearcher(r)
	s.most = 1000
	_, err := s.solve(nil)
	var e *Impossible
	if err = s.impossible(err); !errors.As(err, &e) || len(e.Relax) > 0 || e.Remedy != "plan fewer pages at a time" {
		t.Errorf("%v", err)
	}
}

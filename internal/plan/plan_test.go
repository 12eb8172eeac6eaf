package plan

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

func mustPress(t *testing.T, name string) *press.Press {
	t.Helper()
	p, err := press.FindPress(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// side makes a page whose toners all lie on each other.
func side(page int, toners ...string) Side {
	s := Side{Page: page, Leaf: (page - 1) / 2, AreaMM2: 20000}
	for i, n := range toners {
		s.Toners = append(s.Toners, Laid{n, 25})
		for _, o := range toners[:i] {
			s.Meet = append(s.Meet, Meeting{A: o, B: n, AreaMM2: 100, EdgeMM: 10})
		}
	}
	return s
}

// wish asks for an order on all sides; process stands for all process toners.
func wish(r *Request, text, lower, upper string) {
	w := Wish{Text: text}
	list := func(n string) []string {
		if n == press.UnderProcess {
			return colourant.ProcessNames[:]
		}
		return []string{n}
	}
	for range r.Sides {
		var orders []press.Under
		for _, l := range list(lower) {
			for _, u := range list(upper) {
				orders = append(orders, press.Under{Lower: l, Upper: u})
			}
		}
		w.Orders = append(w.Orders, orders)
	}
	r.Wishes = append(r.Wishes, w)
}

// planetarium is the ticket: a photograph on white with clear over it outside, metals and planets inside.
func planetarium(t *testing.T, name string, specials ...string) *Request {
	process := []string{"Cyan", "Magenta", "Yellow", "Black"}
	r := &Request{Press: mustPress(t, name), Quantity: 500, Up: 4,
		Sides: []Side{side(1, slices.Concat(process, []string{"White", "Clear"}, specials)...), side(2, slices.Concat(process, []string{"White"}, specials)...)}}
	wish(r, "White under process", "White", "process")
	wish(r, "Clear over process", "process", "Clear")
	return r
}

func lay(p *Plan) string {
	var out []string
	for _, pass := range p.Passes {
		out = append(out, strings.Join([]string{pass.Set, string(rune('0' + pass.Page)), strings.Join(pass.Toners, " ")}, ": "))
	}
	return strings.Join(out, " | ")
}

func TestSwapSetPressTakesThreePassesAndSaysWhatTwoGiveUp(t *testing.T) {
	r := planetarium(t, "two-set", "Silver", "Gold")
	plans, err := Alternatives(r)
	if err != nil {
		t.Fatal(err)
	}
	first := plans[0]
	want := "special: 1: White | special: 2: White Silver Gold | process: 1: Yellow Magenta Cyan Black | process: 2: Yellow Magenta Cyan Black | special: 1: Silver Gold Clear"
	if got := lay(first); got != want || first.SetChanges != 2 {
		t.Errorf("%d changes\n got %s\nwant %s", first.SetChanges, got, want)
	}
	if why := strings.Join(first.Why, "\n"); !strings.Contains(why, "Page 1: 3 passes, and fewer are not possible") || !strings.Contains(why, "“White under process” is wished; “Clear over process” is wished") {
		t.Errorf("the reasons are\n%s", why)
	}
	fewer := map[string]int{}
	for _, p := range plans[1:] {
		if len(p.Passes) == 4 {
			fewer[p.Name()] = p.SetChanges
		}
	}
	for _, name := range []string{"without the wish “Clear over process”", "without the wish “White under process”", "without Clear"} {
		if n, ok := fewer[name]; !ok || n != 1 {
			t.Errorf("no plan of four passes, two a page, and one change is named %s: %v", name, fewer)
		}
	}
	for _, reg := range first.Register {
		if reg.OffMM != 0.4 || reg.Passes[0] >= reg.Passes[1] {
			t.Errorf("register %+v", reg)
		}
	}
	if len(first.Register) == 0 {
		t.Error("nothing is said of the register between passes")
	}
}

func TestWhiteFirstPressTakesOnePass(t *testing.T) {
	p, err := Best(planetarium(t, "six-station"))
	if err != nil {
		t.Fatal(err)
	}
	if got := lay(p); got != "all: 1: White Yellow Magenta Cyan Black Clear | all: 2: White Yellow Magenta Cyan Black" || p.SetChanges != 0 || len(p.Register) != 0 {
		t.Errorf("%s, %d changes, register %v", got, p.SetChanges, p.Register)
	}
}

func TestImpossibleNamesTheLeastToGiveUp(t *testing.T) {
	yes, no := true, false
	for _, c := range []struct {
		name  string
		spoil func(r *Request)
		what  string
		relax string
	}{
		{"two wishes against each other", func(r *Request) { wish(r, "White over process", "process", "White") },
			"page 1: no order of the sets keeps “White under process” and “White over process” together", "wish White under process; wish White over process"},
		{"a stock that stands three passes", func(r *Request) { r.Stock = &press.Stock{Title: "Thin film", Hits: 3} },
			"the sheet of pages 1 and 2 would go through the fuser 5 times, and the stock Thin film stands 3", "toner White"},
		{"a toner the press does not have", func(r *Request) { r.Sides[1].Toners = append(r.Sides[1].Toners, Laid{"Moon Dust", 3}) },
			`page 2: press two-set has no toner named "Moon Dust"`, "toner Moon Dust"},
		{"no toner on that of an earlier pass", func(r *Request) { r.Press.PassOnPass = &no; r.Sides[1].Meet = nil; r.Wishes = r.Wishes[:1] },
			"must share a pass", "toner Clear+toner White"},
		{"toners never on each other", func(r *Request) { r.Press.PassOnPass = &yes; r.Press.Toners[4].NeverOn = []string{"Clear"} },
			"page 1: White and Clear lie on each other on 100 mm², and the press says they must not", "toner White; toner Clear; knock-out Clear and White"},
	} {
		r := planetarium(t, "two-set")
		c.spoil(r)
		_, err := Best(r)
		var e *Impossible
		if !errors.As(err, &e) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var sets []string
		for _, set := range e.Relax {
			var words []string
			for _, s := range set {
				words = append(words, s.Kind+" "+s.What)
			}
			slices.Sort(words)
			sets = append(sets, strings.Join(words, "+"))
		}
		if got := strings.Join(sets, "; "); !strings.Contains(e.What, c.what) || got != c.relax {
			t.Errorf("%s:\n%s\nrelax %s, want %s", c.name, e.Error(), got, c.relax)
		}
		plans, _ := Alternatives(r)
		if len(plans) != len(e.Relax) {
			t.Errorf("%s: %d plans for %d ways out", c.name, len(plans), len(e.Relax))
		}
	}
}

func TestTonersThatDoNotMeetNeedNoOrder(t *testing.T) {
	r := planetarium(t, "two-set")
	for i := range r.Sides {
		r.Sides[i].Meet = slices.DeleteFunc(r.Sides[i].Meet, func(m Meeting) bool { return m.A == "Clear" || m.B == "Clear" })
	}
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Passes) != 4 || p.SetChanges != 1 {
		t.Errorf("%s", lay(p))
	}
	if why := strings.Join(p.Why, "\n"); !strings.Contains(why, "The wish “Clear over process” asks for no order: its toners meet nowhere.") {
		t.Errorf("%s", why)
	}
}

func TestUnwishedOrderIsToldAndOffered(t *testing.T) {
	r := planetarium(t, "two-set")
	r.Wishes = r.Wishes[:1]
	plans, err := Alternatives(r)
	if err != nil {
		t.Fatal(err)
	}
	if u := plans[0].Unusual; len(u) != 4 || !strings.Contains(u[0].Words, "which dulls its gloss") {
		t.Errorf("%+v", u)
	}
	i := slices.IndexFunc(plans, func(p *Plan) bool { return len(p.Adds) > 0 })
	if i < 0 || len(plans[i].Passes) != 5 || plans[i].Name() != "with Clear over process" {
		t.Errorf("no plan keeps the clear on top")
	}
}

func TestSeveralAreGivenUpOnlyWhereThatSavesMore(t *testing.T) {
	r := planetarium(t, "five-station")
	plans, err := Alternatives(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range plans[1:] {
		if len(p.GivesUp) < 2 {
			continue
		}
		for _, q := range plans[1:] {
			if len(q.GivesUp) == 1 && slices.Contains(p.GivesUp, q.GivesUp[0]) && (len(q.Passes) < len(p.Passes) || len(q.Passes) == len(p.Passes) && q.SetChanges <= p.SetChanges) {
				t.Errorf("%s saves no more than %s", p.Name(), q.Name())
			}
		}
	}
}

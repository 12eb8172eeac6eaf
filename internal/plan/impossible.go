package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Impossible says why no plan keeps everything asked for, and what the least is to give up.
type Impossible struct {
	What   string
	Remedy string
	// Relax are the smallest sets of things to give up; any one of them makes the job possible. Wishes alone, where they
	// suffice; else toners and places too. Where there are too many sets to try it is one set nothing of which can be kept.
	// Empty when nothing of that kind helps.
	Relax [][]Sacrifice
}

func (e *Impossible) Error() string { return e.What + "; " + e.Remedy }

// Bounds on the search for what to give up.
const (
	maxRelaxed    = 6    // smallest sets told
	maxRelaxTried = 4000 // questions whether a job is possible
)

func (s *searcher) impossible(err error) error {
	f, ok := err.(*refusal)
	if !ok {
		return err
	}
	if errors.Is(f.err, errManyOrders) {
		return &Impossible{What: f.err.Error(), Remedy: "plan fewer pages at a time"}
	}
	e := &Impossible{What: s.refused(f), Relax: s.relax()}
	switch {
	case len(e.Relax) == 0:
		e.Remedy = "choose another press or another stock"
	default:
		var ways []string
		for _, set := range e.Relax {
			var parts []string
			for _, it := range set {
				parts = append(parts, it.advice())
			}
			ways = append(ways, strings.Join(parts, " and "))
		}
		e.Remedy = strings.Join(ways, ", or ")
	}
	if f.passes > 0 && len(e.Relax) > 0 {
		e.Remedy += fmt.Sprintf(", or take a stock that stands %d trips through the fuser or a press that needs fewer", f.passes)
	}
	return e
}

// advice says what to do to give it up.
func (s Sacrifice) advice() string {
	switch s.Kind {
	case GiveToner:
		return "leave out " + s.What
	case GiveOnEach:
		return "knock " + s.What + " out of each other"
	}
	return fmt.Sprintf("give up the wish “%s”", s.What)
}

// refused words a refusal.
func (s *searcher) refused(f *refusal) string {
	switch {
	case f.pair != nil:
		return fmt.Sprintf("page %d: %s and %s lie on each other on %s, and the press says they must not", s.r.Sides[f.side].Page, f.pair.A, f.pair.B, areaWords(f.pair.AreaMM2))
	case f.side < 0 && f.err != nil:
		return f.err.Error()
	case f.side < 0:
		var pages []string
		for _, side := range s.r.Sides {
			if side.Leaf == f.leaf {
				pages = append(pages, fmt.Sprint(side.Page))
			}
		}
		word := "page "
		if len(pages) > 1 {
			word = "pages "
		}
		return fmt.Sprintf("the sheet of %s%s would go through the fuser %d times, and the stock %s stands %d", word, listed(pages), f.passes, s.r.Stock.Title, s.r.Stock.Hits)
	}
	q := s.question(f.side, nil)
	core := s.core(q, 0)
	page := fmt.Sprintf("page %d: ", s.r.Sides[f.side].Page)
	if len(core.Used) == 1 {
		if _, err := s.r.Press.Least(core); err != nil {
			what, _, _ := strings.Cut(err.Error(), "; ")
			return page + what
		}
	}
	wishes := s.wishesOf(f.side, core, nil)
	if len(wishes) == 0 {
		return page + "no order of the sets lays " + listed(core.Used) + ": " + s.reasons(f.side, core, nil)
	}
	for i, w := range wishes {
		wishes[i] = "“" + w + "”"
	}
	return page + "no order of the sets keeps " + listed(wishes) + " together; " + s.carriers(core.Used)
}

// relax finds the smallest sets of things whose giving up makes the job possible.
func (s *searcher) relax() [][]Sacrifice {
	wishes := s.givableWishes()
	if found := s.smallest(wishes); found != nil {
		return found
	}
	return s.smallest(slices.Concat(wishes, s.givableToners(), s.givablePairs()))
}

// smallest finds all smallest sets of items whose giving up helps; nil when not even giving up all does. A core is items of
// which one has to go: while all of them are kept nothing helps. Sets grow by a member of a core they have none of, so that each
// smallest set is come to, and no other is asked about.
func (s *searcher) smallest(items []Sacrifice) [][]Sacrifice {
	if len(items) == 0 || s.feasible(items) != nil {
		return nil
	}
	tried := 0
	helps := func(given []bool) bool {
		tried++
		return s.feasible(picked(items, given)) == nil
	}
	// core is found by giving up what can be given up in vain, besides what is given.
	core := func(given []bool) (out []int) {
		vain := slices.Clone(given)
		for i := range items {
			if !vain[i] {
				vain[i] = true
				if helps(vain) {
					vain[i] = false
					out = append(out, i)
				}
			}
		}
		return out
	}
	var cores [][]int
	level := [][]bool{make([]bool, len(items))}
	for tried < maxRelaxTried {
		var found [][]Sacrifice
		next := map[string][]bool{}
		for _, given := range level {
			c := slices.IndexFunc(cores, func(c []int) bool { return !slices.ContainsFunc(c, func(i int) bool { return given[i] }) })
			if c < 0 {
				if helps(given) {
					found = append(found, picked(items, given))
					continue
				}
				c = len(cores)
				cores = append(cores, core(given))
			}
			if found != nil || tried >= maxRelaxTried {
				continue
			}
			for _, i := range cores[c] {
				more := slices.Clone(given)
				more[i] = true
				next[fmt.Sprint(more)] = more
			}
		}
		if found != nil && tried < maxRelaxTried {
			return found[:min(len(found), maxRelaxed)]
		}
		level = level[:0]
		for _, given := range next {
			level = append(level, given)
		}
		// Those with the first items first.
		slices.SortFunc(level, func(a, b []bool) int {
			for i := range a {
				if a[i] != b[i] {
					return boolRank(b[i]) - boolRank(a[i])
				}
			}
			return 0
		})
	}
	// Too many: all that can be kept is kept, one after the other, the last items first.
	given := make([]bool, len(items))
	for i := range given {
		given[i] = true
	}
	for i := range slices.Backward(given) {
		given[i] = false
		if !helps(given) {
			given[i] = true
		}
	}
	return [][]Sacrifice{picked(items, given)}
}

func picked(items []Sacrifice, given []bool) (out []Sacrifice) {
	for i, g := range given {
		if g {
			out = append(out, items[i])
		}
	}
	return out
}

// subsets calls f with every subset of a size, in order, until f returns false.
func subsets[T any](items []T, size int, f func([]T) bool) {
	pick := make([]T, 0, size)
	var rest func(from int) bool
	rest = func(from int) bool {
		if len(pick) == size {
			return f(pick)
		}
		for i := from; i <= len(items)-(size-len(pick)); i++ {
			pick = append(pick, items[i])
			if !rest(i + 1) {
				return false
			}
			pick = pick[:len(pick)-1]
		}
		return true
	}
	rest(0)
}

func (s *searcher) givableWishes() (out []Sacrifice) {
	for i, w := range s.r.Wishes {
		if it := (Sacrifice{GiveWish, w.Text}); s.acts(i, nil) && !slices.Contains(out, it) {
			out = append(out, it)
		}
	}
	return out
}

// givableToners are the specials, and whatever the press does not carry.
func (s *searcher) givableToners() (out []Sacrifice) {
	for _, side := range s.r.Sides {
		for _, t := range side.Toners {
			_, known := s.r.Press.Toner(t.Name)
			if it := (Sacrifice{GiveToner, t.Name}); (!isProcess(t.Name) || !known) && !slices.Contains(out, it) {
				out = append(out, it)
			}
		}
	}
	return out
}

// givablePairs lie on each other where the press forbids it or asks for one pass.
func (s *searcher) givablePairs() (out []Sacrifice) {
	for i := range s.r.Sides {
		for _, u := range s.question(i, nil).Together {
			if it := (Sacrifice{GiveOnEach, pairName(u[0], u[1])}); !slices.Contains(out, it) {
				out = append(out, it)
			}
		}
		for _, m := range s.forbidden(i, nil) {
			if it := (Sacrifice{GiveOnEach, pairName(m.A, m.B)}); !slices.Contains(out, it) {
				out = append(out, it)
			}
		}
	}
	return out
}

package plan

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/colourant"
	"laydown/internal/press"
	_ "laydown/internal/sameseed"
)

// The enumerator below shares nothing with the search: it lays every toner of a side into every pass of every sequence of
// sets, throws out what breaks a rule, and looks for the cheapest of all combinations of sides.

// tried is a legal lay of a side.
type tried struct {
	sets   []int // by pass
	split  int
	invert int
}

// everyLay lists all legal lays of a side in so many passes.
func everyLay(r *Request, side, passes int) (out []tried) {
	at := &r.Sides[side]
	total := 1
	for range passes {
		total *= len(r.Press.Sets)
	}
	for code := range total {
		sets := make([]int, passes)
		for i, c := 0, code; i < passes; i, c = i+1, c/len(r.Press.Sets) {
			sets[i] = c % len(r.Press.Sets)
		}
		ways := 1
		for range at.Toners {
			ways *= passes
		}
		for way := range ways {
			where := map[string]int{}
			for i, c := 0, way; i < len(at.Toners); i, c = i+1, c/passes {
				where[at.Toners[i].Name] = c % passes
			}
			if legal(r, side, sets, where) {
				out = append(out, judged(r, side, sets, where))
			}
		}
	}
	return out
}

// height of a toner in the whole laydown: pass first, then station.
func heightOf(r *Request, sets []int, where map[string]int, toner string) int {
	return where[toner]*1000 + slices.Index(r.Press.Sets[sets[where[toner]]].Stations, toner)
}

func legal(r *Request, side int, sets []int, where map[string]int) bool {
	at := &r.Sides[side]
	inUse := make([]bool, len(sets))
	for toner, pass := range where {
		if !slices.Contains(r.Press.Sets[sets[pass]].Stations, toner) {
			return false
		}
		inUse[pass] = true
	}
	if slices.Contains(inUse, false) {
		return false // a pass with nothing to lay is none
	}
	meet := func(a, b string) *Meeting {
		for i := range at.Meet {
			if at.Meet[i].A == a && at.Meet[i].B == b || at.Meet[i].A == b && at.Meet[i].B == a {
				return &at.Meet[i]
			}
		}
		return nil
	}
	for _, w := range r.Wishes {
		for _, u := range w.Orders[side] {
			_, low := where[u.Lower]
			_, up := where[u.Upper]
			if low && up && meet(u.Lower, u.Upper) != nil && heightOf(r, sets, where, u.Lower) >= heightOf(r, sets, where, u.Upper) {
				return false
			}
		}
	}
	for _, m := range at.Meet {
		if m.AreaMM2 < 0.5 {
			continue
		}
		if *r.Press.PassOnPass == false && where[m.A] != where[m.B] {
			return false
		}
		for _, t := range r.Press.Toners {
			if t.Name == m.A && slices.Contains(t.NeverOn, m.B) || t.Name == m.B && slices.Contains(t.NeverOn, m.A) {
				return false
			}
		}
	}
	return true
}

// judged counts process toners outside the pass of the first, and pairs against white, process, special, clear.
func judged(r *Request, side int, sets []int, where map[string]int) tried {
	t := tried{sets: sets}
	rank := func(name string) int {
		for _, toner := range r.Press.Toners {
			if toner.Name == name {
				switch toner.Kind {
				case colourant.OpaqueWhite:
					return 0
				case colourant.Process:
					return 1
				case colourant.Clear:
					return 3
				}
			}
		}
		return 2
	}
	names := r.Sides[side].Toners
	for i := range names {
		apart := false
		for j := range i {
			a, b := names[j].Name, names[i].Name
			if rank(a) == 1 && rank(b) == 1 && where[a] != where[b] {
				apart = true
			}
			below := heightOf(r, sets, where, a) < heightOf(r, sets, where, b)
			if rank(a) != rank(b) && below != (rank(a) < rank(b)) {
				switch {
				case min(rank(a), rank(b)) == 0:
					t.invert += 10
				case max(rank(a), rank(b)) == 3:
					t.invert += 4
				default:
					t.invert++
				}
			}
		}
		if apart {
			t.split++
		}
	}
	return t
}

// cheapest is passes, set changes, split, inversions of the cheapest way, nil when there is none.
func cheapest(r *Request) []int {
	lays := make([][]tried, len(r.Sides))
	passes := map[int]int{}
	total := 0
	for i := range r.Sides {
		if len(r.Sides[i].Toners) == 0 {
			continue
		}
		for k := 1; k <= len(r.Sides[i].Toners) && lays[i] == nil; k++ {
			if lays[i] = everyLay(r, i, k); lays[i] != nil {
				total += k
				passes[r.Sides[i].Leaf] += k
			}
		}
		if lays[i] == nil {
			return nil
		}
	}
	for _, n := range passes {
		if r.Stock.Hits > 0 && n > r.Stock.Hits {
			return nil
		}
	}
	// Sequences of set-ups, shortest first; a side fits when its sets, repeats side by side counting once, are found in order.
	for n := 0; ; n++ {
		var best []int
		count := 1
		for range n {
			count *= len(r.Press.Sets)
		}
		for code := range count {
			seq := make([]int, n)
			for i, c := 0, code; i < n; i, c = i+1, c/len(r.Press.Sets) {
				seq[i] = c % len(r.Press.Sets)
			}
			cost, fits := []int{total, max(0, n-1), 0, 0}, true
			for i := range lays {
				var mine []int
				for _, t := range lays[i] {
					if inside(t.sets, seq) && (mine == nil || slices.Compare([]int{t.split, t.invert}, mine) < 0) {
						mine = []int{t.split, t.invert}
					}
				}
				if len(lays[i]) > 0 && mine == nil {
					fits = false
					break
				}
				if mine != nil {
					cost[2] += mine[0]
					cost[3] += mine[1]
				}
			}
			if fits && (best == nil || slices.Compare(cost, best) < 0) {
				best = cost
			}
		}
		if best != nil {
			return best
		}
	}
}

func inside(sets, seq []int) bool {
	i := 0
	for k, s := range sets {
		if k > 0 && s == sets[k-1] {
			continue
		}
		for i < len(seq) && seq[i] != s {
			i++
		}
		if i == len(seq) {
			return false
		}
		i++
	}
	return true
}

// anyJob draws a small press and job.
func anyJob(t *rapid.T) *Request {
	names := []string{"Cyan", "Black", "White", "Gold", "Clear"}
	kinds := []colourant.Kind{colourant.Process, colourant.Process, colourant.OpaqueWhite, colourant.Metallic, colourant.Clear}
	onPass := rapid.IntRange(0, 3).Draw(t, "pass on pass") > 0
	p := &press.Press{Name: "any", PassOnPass: &onPass, Register: press.Register{Between: .4}}
	for i, n := range names {
		p.Toners = append(p.Toners, press.Toner{Name: n, Kind: kinds[i], Mass: 5})
	}
	if rapid.IntRange(0, 3).Draw(t, "never on") == 0 {
		p.Toners[4].NeverOn = []string{"White"}
	}
	for i := range rapid.IntRange(1, 3).Draw(t, "sets") {
		s := rapid.Permutation(names).Draw(t, "stations")
		p.Sets = append(p.Sets, press.Set{Name: fmt.Sprint("set ", i), Stations: s[:rapid.IntRange(1, 4).Draw(t, "n")]})
	}
	r := &Request{Press: p, Stock: &press.Stock{Title: "board", Hits: rapid.SampledFrom([]int{0, 0, 3, 5}).Draw(t, "hits")}, Quantity: 100, Up: 2}
	for i := range rapid.IntRange(1, 3).Draw(t, "sides") {
		side := Side{Page: i + 1, Leaf: i / 2, AreaMM2: 1000}
		used := rapid.Permutation(names).Draw(t, "used")[:rapid.IntRange(0, 4).Draw(t, "n used")]
		for _, n := range used {
			side.Toners = append(side.Toners, Laid{n, 10})
		}
		for k, a := range used {
			for _, b := range used[:k] {
				if area := rapid.SampledFrom([]float64{-1, 0.1, 3}).Draw(t, "meet"); area > 0 {
					side.Meet = append(side.Meet, Meeting{A: a, B: b, AreaMM2: area})
				}
			}
		}
		r.Sides = append(r.Sides, side)
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "wishes") {
		pair := rapid.Permutation(names).Draw(t, "wish")
		w := Wish{Text: fmt.Sprintf("wish %d", i)}
		for range r.Sides {
			w.Orders = append(w.Orders, []press.Under{{Lower: pair[0], Upper: pair[1]}})
		}
		r.Wishes = append(r.Wishes, w)
	}
	return r
}

func TestNoCheaperLegalOrderExists(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyJob(t)
		want := cheapest(r)
		s := newSearcher(r)
		f, err := s.solve(nil)
		if (err != nil) != (want == nil) {
			t.Fatalf("search says %v, trying everything %v", err, want)
		}
		if err != nil {
			return
		}
		p := s.plan(f, nil)
		got := []int{len(p.Passes), p.SetChanges, f.split, f.inver}
		if !slices.Equal(got, want) {
			t.Fatalf("passes, set changes, split, inversions: search %v, trying everything %v", got, want)
		}
		checkPlan(t, r, p)
	})
}

// checkPlan holds a plan to the rules by itself.
func checkPlan(t *rapid.T, r *Request, p *Plan) {
	names := map[string]int{}
	for i, s := range r.Press.Sets {
		names[s.Name] = i
	}
	at := 1
	for _, pass := range p.Passes {
		if pass.SetUp < at || p.Sets[pass.SetUp-1] != pass.Set {
			t.Fatalf("passes %+v do not follow sets %v", p.Passes, p.Sets)
		}
		at = pass.SetUp
	}
	for i := range r.Sides {
		var sets []int
		where := map[string]int{}
		for n, pass := range p.Side(i) {
			sets = append(sets, names[pass.Set.Name])
			for _, toner := range pass.Toners {
				where[toner] = n
			}
		}
		if len(where) != len(r.Sides[i].Toners) || len(where) > 0 && !legal(r, i, sets, where) {
			t.Fatalf("page %d is laid %v in sets %v", i+1, where, sets)
		}
	}
}

// What has to be given up is the least that can be: every smaller set of the same things is tried here.
func TestNothingSmallerMakesItPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyJob(t)
		_, err := Best(r)
		var e *Impossible
		if err == nil {
			return
		}
		if !errors.As(err, &e) || e.What == "" || e.Remedy == "" {
			t.Fatalf("%v", err)
		}
		possible := func(gone []Sacrifice) bool { return cheapest(given(r, gone)) != nil }
		for _, set := range e.Relax {
			if !possible(set) {
				t.Fatalf("giving up %v does not help", set)
			}
			for i := range set {
				if possible(slices.Delete(slices.Clone(set), i, i+1)) {
					t.Fatalf("of %v, number %d need not be given up", set, i)
				}
			}
		}
		// Sets of wishes, all sizes: the smallest that helps is as large as those told, and when none helps other things are told.
		fewest := 0
		all := everyWish(r)
		for mask := 1; mask < 1<<len(all); mask++ {
			var set []Sacrifice
			for i := range all {
				if mask>>i&1 == 1 {
					set = append(set, all[i])
				}
			}
			if possible(set) && (fewest == 0 || len(set) < fewest) {
				fewest = len(set)
			}
		}
		for _, set := range e.Relax {
			onlyWishes := !slices.ContainsFunc(set, func(s Sacrifice) bool { return s.Kind != GiveWish })
			if onlyWishes != (fewest > 0) || onlyWishes && len(set) != fewest {
				t.Fatalf("told to give up %v; the fewest wishes that help are %d", set, fewest)
			}
		}
		if len(e.Relax) == 0 && fewest > 0 {
			t.Fatal("giving up wishes would help")
		}
		// Where wishes do not help, no smaller set of anything does.
		if fewest == 0 && len(e.Relax) > 0 {
			items := append(all, everyThing(r)...)
			for n := range len(e.Relax[0]) {
				subsets(items, n, func(set []Sacrifice) bool {
					if possible(set) {
						t.Fatalf("told to give up %v, and %v would do", e.Relax[0], set)
					}
					return true
				})
			}
		}
	})
}

func everyWish(r *Request) (out []Sacrifice) {
	for _, w := range r.Wishes {
		out = append(out, Sacrifice{GiveWish, w.Text})
	}
	return out
}

// everyThing is the special toners and the pairs that lie on each other.
func everyThing(r *Request) (out []Sacrifice) {
	add := func(s Sacrifice) {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for _, s := range r.Sides {
		for _, l := range s.Toners {
			if l.Name != "Cyan" && l.Name != "Black" || !slices.ContainsFunc(r.Press.Sets, func(set press.Set) bool { return slices.Contains(set.Stations, l.Name) }) {
				add(Sacrifice{GiveToner, l.Name})
			}
		}
		for _, m := range s.Meet {
			if m.AreaMM2 >= 0.5 {
				add(Sacrifice{GiveOnEach, min(m.A, m.B) + " and " + max(m.A, m.B)})
			}
		}
	}
	return out
}

// given is the job with things given up, rewritten from scratch.
func given(r *Request, gone []Sacrifice) *Request {
	out := &Request{Press: r.Press, Stock: r.Stock}
	for _, w := range r.Wishes {
		if !slices.Contains(gone, Sacrifice{GiveWish, w.Text}) {
			out.Wishes = append(out.Wishes, w)
		}
	}
	for _, s := range r.Sides {
		s.Toners = slices.DeleteFunc(slices.Clone(s.Toners), func(l Laid) bool { return slices.Contains(gone, Sacrifice{GiveToner, l.Name}) })
		s.Meet = slices.DeleteFunc(slices.Clone(s.Meet), func(m Meeting) bool {
			return slices.Contains(gone, Sacrifice{GiveToner, m.A}) || slices.Contains(gone, Sacrifice{GiveToner, m.B})
		})
		for i, m := range s.Meet {
			if slices.Contains(gone, Sacrifice{GiveOnEach, min(m.A, m.B) + " and " + max(m.A, m.B)}) {
				s.Meet[i].AreaMM2 = 0 // beside each other from now on
			}
		}
		out.Sides = append(out.Sides, s)
	}
	return out
}

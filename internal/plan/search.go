package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/press"
)

// searcher answers one request with this or that given up, and remembers the sides it has answered.
type searcher struct {
	r     *Request
	ways  map[string]waysAnswer
	lays  map[string]laysAnswer
	steps int // spent on sequences for all sides
	most  int // that may be spent
	facts []facts
}

// facts of a side that hold whatever is given up.
type facts struct {
	under    []wishedUnder
	together []Meeting // must share a pass
	never    []Meeting // must not lie on each other
}

type wishedUnder struct {
	press.Under
	wish string
}

func (s *searcher) factsOf(side *Side, n int) (f facts) {
	for _, wish := range s.r.Wishes {
		if n >= len(wish.Orders) {
			continue
		}
		for _, u := range wish.Orders[n] {
			if _, meet := side.meets(u.Lower, u.Upper); meet {
				f.under = append(f.under, wishedUnder{u, wish.Text})
			}
		}
	}
	apart := s.r.Press.PassOnPass != nil && !*s.r.Press.PassOnPass
	for _, m := range side.Meet {
		if m.AreaMM2 < leastLying {
			continue
		}
		if apart {
			f.together = append(f.together, m)
		}
		if s.never(m.A, m.B) || s.never(m.B, m.A) {
			f.never = append(f.never, m)
		}
	}
	return f
}

type waysAnswer struct {
	ways *press.Ways
	err  error
}

type laysAnswer struct {
	options []option
	err     error
}

func newSearcher(r *Request) *searcher {
	s := &searcher{r: r, ways: map[string]waysAnswer{}, lays: map[string]laysAnswer{}, most: maxJointSteps}
	for i := range r.Sides {
		s.facts = append(s.facts, s.factsOf(&r.Sides[i], i))
	}
	return s
}

// without is what is given up: nil gives up nothing.
type without []Sacrifice

func (w without) has(kind, what string) bool { return slices.Contains(w, Sacrifice{kind, what}) }

// pairName names two toners that may be knocked out of each other.
func pairName(a, b string) string {
	if a > b {
		a, b = b, a
	}
	return a + " and " + b
}

// question is what a side asks of the press.
func (s *searcher) question(side int, w without) (q press.PassQuestion) {
	at := &s.r.Sides[side]
	for _, t := range at.Toners {
		if !w.has(GiveToner, t.Name) {
			q.Used = append(q.Used, t.Name)
		}
	}
	for _, u := range s.facts[side].under {
		if !w.has(GiveWish, u.wish) && !slices.Contains(q.Under, u.Under) {
			q.Under = append(q.Under, u.Under)
		}
	}
	for _, m := range s.facts[side].together {
		if !w.has(GiveOnEach, pairName(m.A, m.B)) {
			q.Together = append(q.Together, [2]string{m.A, m.B})
		}
	}
	return q
}

// forbidden lists the pairs of a side the press never lets lie on each other.
func (s *searcher) forbidden(side int, w without) (pairs []Meeting) {
	for _, m := range s.facts[side].never {
		if !w.has(GiveToner, m.A) && !w.has(GiveToner, m.B) && !w.has(GiveOnEach, pairName(m.A, m.B)) {
			pairs = append(pairs, m)
		}
	}
	return pairs
}

func (s *searcher) never(a, b string) bool {
	t, ok := s.r.Press.Toner(a)
	return ok && (slices.Contains(t.NeverOn, b) || slices.Contains(t.NeverOn, press.UnderProcess) && isProcess(b))
}

// keyOf tells questions apart.
func keyOf(q press.PassQuestion) string {
	var b strings.Builder
	for _, t := range q.Used {
		b.WriteString(t + "\x00")
	}
	for _, u := range q.Under {
		b.WriteString("\x01" + u.Lower + "\x00" + u.Upper)
	}
	for _, u := range q.Together {
		b.WriteString("\x02" + u[0] + "\x00" + u[1])
	}
	return b.String()
}

// waysOf answers a side by sequences of sets.
func (s *searcher) waysOf(side int, w without) (*press.Ways, string, error) {
	q := s.question(side, w)
	key := keyOf(q)
	a, ok := s.ways[key]
	if !ok {
		a.ways, a.err = s.r.Press.Ways(q)
		s.ways[key] = a
	}
	return a.ways, key, a.err
}

// refusal is why a job cannot be printed with what is kept: on which side, or for which sheet.
type refusal struct {
	side   int // -1 = of the sheet
	leaf   int
	passes int // of the leaf, where the stock stands fewer
	pair   *Meeting
	err    error
}

func (f *refusal) Error() string { return fmt.Sprint("side ", f.side, " leaf ", f.leaf, ": ", f.err) }

// feasible tells whether every side can be laid and every sheet stands its passes, without asking for the order of the sides.
// To give up more never makes a job impossible.
func (s *searcher) feasible(w without) error {
	leaves := map[int]int{}
	for i := range s.r.Sides {
		ways, _, err := s.waysOf(i, w)
		if err != nil {
			return &refusal{side: i, err: err}
		}
		if bad := s.forbidden(i, w); len(bad) > 0 {
			return &refusal{side: i, pair: &bad[0]}
		}
		leaves[s.r.Sides[i].Leaf] += ways.Passes
	}
	if s.r.Stock == nil || s.r.Stock.Hits == 0 {
		return nil
	}
	for i := range s.r.Sides {
		if leaf := s.r.Sides[i].Leaf; leaves[leaf] > s.r.Stock.Hits {
			return &refusal{side: -1, leaf: leaf, passes: leaves[leaf]}
		}
	}
	return nil
}

// solution is the sets in the press one after the other and the lay of every side.
type solution struct {
	sets  []int
	lays  []press.Lay // by side; no passes where nothing is laid
	split int
	inver int
}

// asked gathers the sides that ask the same; of tells the class of each side, -1 where nothing is laid.
func (s *searcher) asked(w without) (j *joint, of []int) {
	j = &joint{sets: len(s.r.Press.Sets), steps: &s.steps, most: s.most}
	known := map[string]int{}
	for i := range s.r.Sides {
		ways, key, _ := s.waysOf(i, w)
		if ways.Passes == 0 {
			of = append(of, -1)
			continue
		}
		c, ok := known[key]
		if !ok {
			c = len(j.classes)
			known[key] = c
			j.classes = append(j.classes, newClass(ways, i))
		}
		j.classes[c].weight++
		of = append(of, c)
	}
	return j, of
}

// sizeOf is how many passes and changes of the set a job takes without what is given up.
func (s *searcher) sizeOf(w without) (size, error) {
	if err := s.feasible(w); err != nil {
		return size{}, err
	}
	j, of := s.asked(w)
	n, err := j.shortest()
	if err != nil {
		return size{}, err
	}
	out := size{changes: max(0, n-1)}
	for _, c := range of {
		if c >= 0 {
			out.passes += j.classes[c].ways.Passes
		}
	}
	return out, nil
}

// solve finds the best solution without what is given up.
func (s *searcher) solve(w without) (*solution, error) {
	if err := s.feasible(w); err != nil {
		return nil, err
	}
	j, of := s.asked(w)
	n, err := j.shortest()
	if err != nil {
		return nil, err
	}
	for c := range j.classes {
		if j.classes[c].options, err = s.options(j.classes[c].side, w); err != nil {
			return nil, &refusal{side: j.classes[c].side, err: err}
		}
	}
	best, err := j.best(n)
	if err != nil {
		return nil, err
	}
	out := &solution{sets: best.sets, lays: make([]press.Lay, len(of)), split: best.cost[0], inver: best.cost[1]}
	for i, c := range of {
		if c >= 0 {
			out.lays[i] = j.classes[c].options[best.chosen[c]].lay
		}
	}
	return out, nil
}

// option is a sequence of sets, neighbours different, with the best lay that needs it.
type option struct {
	seq  string // sets by number, a byte each
	lay  press.Lay
	rank int // among the lays of the side
}

// options are the lays of a side by the sets they put in the press, equal neighbours counting once; the best first.
func (s *searcher) options(side int, w without) ([]option, error) {
	q := s.question(side, w)
	key := keyOf(q)
	if a, ok := s.lays[key]; ok {
		return a.options, a.err
	}
	lays, err := s.r.Press.Lays(q)
	number := map[string]int{}
	for n := range s.r.Press.Sets {
		number[s.r.Press.Sets[n].Name] = n
	}
	var out []option
	at := map[string]int{}
	for rank, l := range lays {
		var seq []byte
		for _, p := range l.Passes {
			if n := byte(number[p.Set.Name]); len(seq) == 0 || seq[len(seq)-1] != n {
				seq = append(seq, n)
			}
		}
		i, ok := at[string(seq)]
		if !ok {
			at[string(seq)] = len(out)
			out = append(out, option{string(seq), l, rank})
		} else if l.Better(&out[i].lay) {
			out[i] = option{string(seq), l, rank}
		}
	}
	slices.SortFunc(out, func(a, b option) int {
		return cmp.Or(a.lay.Split-b.lay.Split, a.lay.Inversions-b.lay.Inversions, a.rank-b.rank)
	})
	s.lays[key] = laysAnswer{out, err}
	return out, err
}

// plan writes a solution out in the order of the work.
func (s *searcher) plan(f *solution, w without) *Plan {
	p := &Plan{GivesUp: w, Passes: []Pass{}, Sets: []string{}, SetChanges: max(0, len(f.sets)-1), Why: []string{}, sides: make([][]press.Pass, len(f.lays))}
	for i, l := range f.lays {
		p.sides[i] = l.Passes
		p.pages = append(p.pages, s.r.Sides[i].Page)
	}
	next := make([]int, len(f.lays))
	for n, set := range f.sets {
		name := s.r.Press.Sets[set].Name
		p.Sets = append(p.Sets, name)
		for i, passes := range p.sides {
			for next[i] < len(passes) && passes[next[i]].Set.Name == name {
				next[i]++
				p.Passes = append(p.Passes, Pass{Set: name, SetUp: n + 1, Page: s.r.Sides[i].Page, OfPage: next[i], Toners: passes[next[i]-1].Toners, side: i})
			}
		}
	}
	s.unusual(p)
	s.register(p)
	p.Why = s.why(p, w)
	p.Reckoning = s.r.reckon(p)
	return p
}

// register lists the pairs that meet across two passes.
func (s *searcher) register(p *Plan) {
	for i, passes := range p.sides {
		at := &s.r.Sides[i]
		for hi := range passes {
			for lo := range hi {
				for _, a := range passes[lo].Toners {
					for _, b := range passes[hi].Toners {
						if m, ok := at.meets(a, b); ok {
							p.Register = append(p.Register, Register{Page: at.Page, Lower: a, Upper: b, Passes: [2]int{lo + 1, hi + 1},
								OffMM: float64(s.r.Press.Register.Between), AreaMM2: m.AreaMM2, EdgeMM: m.EdgeMM, Box: m.Box})
						}
					}
				}
			}
		}
	}
}

// carriers names the sets that carry any of the toners, with which of them.
func (s *searcher) carriers(toners []string) string {
	var parts []string
	for _, set := range s.r.Press.Sets {
		var here []string
		for _, t := range set.Stations {
			if slices.Contains(toners, t) {
				here = append(here, t)
			}
		}
		if len(here) > 0 {
			parts = append(parts, fmt.Sprintf("the set %s carries %s", set.Name, listed(here)))
		}
	}
	return strings.Join(parts, ", ")
}

package plan

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/press"
)

// searcher answers one request with this or that given up, and remembers the sides it has answered.
type searcher struct {
	r     *Request
	sides map[string]sideAnswer
}

type sideAnswer struct {
	lays []press.Lay
	err  error
}

func newSearcher(r *Request) *searcher { return &searcher{r, map[string]sideAnswer{}} }

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
	for _, wish := range s.r.Wishes {
		if side >= len(wish.Orders) || w.has(GiveWish, wish.Text) {
			continue
		}
		for _, u := range wish.Orders[side] {
			if _, meet := at.meets(u.Lower, u.Upper); meet && !slices.Contains(q.Under, u) {
				q.Under = append(q.Under, u)
			}
		}
	}
	if p := s.r.Press.PassOnPass; p != nil && !*p {
		for _, m := range at.Meet {
			if m.AreaMM2 >= leastLying && !w.has(GiveOnEach, pairName(m.A, m.B)) {
				q.Together = append(q.Together, [2]string{m.A, m.B})
			}
		}
	}
	return q
}

// forbidden lists the pairs of a side the press never lets lie on each other.
func (s *searcher) forbidden(side int, w without) (pairs []Meeting) {
	for _, m := range s.r.Sides[side].Meet {
		gone := w.has(GiveToner, m.A) || w.has(GiveToner, m.B) || w.has(GiveOnEach, pairName(m.A, m.B))
		if m.AreaMM2 >= leastLying && !gone && (s.never(m.A, m.B) || s.never(m.B, m.A)) {
			pairs = append(pairs, m)
		}
	}
	return pairs
}

func (s *searcher) never(a, b string) bool {
	t, ok := s.r.Press.Toner(a)
	return ok && (slices.Contains(t.NeverOn, b) || slices.Contains(t.NeverOn, press.UnderProcess) && isProcess(b))
}

// lays answers a side.
func (s *searcher) lays(side int, w without) ([]press.Lay, error) {
	q := s.question(side, w)
	key := fmt.Sprintf("%q %q %q", q.Used, q.Under, q.Together)
	a, ok := s.sides[key]
	if !ok {
		a.lays, a.err = s.r.Press.Lays(q)
		s.sides[key] = a
	}
	return a.lays, a.err
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
func (s *searcher) feasible(w without) error {
	leaves := map[int]int{}
	for i := range s.r.Sides {
		lays, err := s.lays(i, w)
		if err != nil {
			return &refusal{side: i, err: err}
		}
		if bad := s.forbidden(i, w); len(bad) > 0 {
			return &refusal{side: i, pair: &bad[0]}
		}
		if len(lays) > 0 {
			leaves[s.r.Sides[i].Leaf] += len(lays[0].Passes)
		}
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
	rank  int
}

// solve finds the best solution without what is given up.
func (s *searcher) solve(w without) (*solution, error) {
	if err := s.feasible(w); err != nil {
		return nil, err
	}
	j := &joint{sets: len(s.r.Press.Sets)}
	of := make([]int, len(s.r.Sides))
	known := map[string]int{}
	for i := range s.r.Sides {
		lays, _ := s.lays(i, w)
		of[i] = -1
		if len(lays) == 0 {
			continue
		}
		q := s.question(i, w)
		key := fmt.Sprintf("%q %q %q", q.Used, q.Under, q.Together)
		c, ok := known[key]
		if !ok {
			c = len(j.classes)
			known[key] = c
			j.classes = append(j.classes, class{options: s.options(lays)})
		}
		j.classes[c].weight++
		of[i] = c
	}
	best, err := j.shortest()
	if err != nil {
		return nil, err
	}
	out := &solution{sets: best.sets, lays: make([]press.Lay, len(of)), split: best.split, inver: best.inver}
	for i, c := range of {
		if c >= 0 {
			out.lays[i] = j.classes[c].options[best.chosen[c]].lay
		}
	}
	return out, nil
}

// option is a sequence of sets, neighbours different, with the best lay that needs it.
type option struct {
	seq  []int
	lay  press.Lay
	rank int // among the lays of the side
}

// options are the lays of a side by the sets they put in the press, equal neighbours counting once.
func (s *searcher) options(lays []press.Lay) (out []option) {
	at := map[string]int{}
	for rank, l := range lays {
		var seq []int
		for _, p := range l.Passes {
			n := slices.IndexFunc(s.r.Press.Sets, func(set press.Set) bool { return set.Name == p.Set.Name })
			if len(seq) == 0 || seq[len(seq)-1] != n {
				seq = append(seq, n)
			}
		}
		key := fmt.Sprint(seq)
		i, ok := at[key]
		if !ok {
			at[key] = len(out)
			out = append(out, option{seq, l, rank})
		} else if l.Better(&out[i].lay) {
			out[i] = option{seq, l, rank}
		}
	}
	return out
}

// joint searches the shortest sequence of sets in which every class of sides finds one of its options as a subsequence.
type joint struct {
	sets    int
	classes []class
	steps   int
	best    *jointBest
}

// class is the sides that ask the same.
type class struct {
	options []option
	weight  int
}

type jointBest struct {
	sets   []int
	chosen []int // option of each class
	split  int
	inver  int
	rank   int
}

// maxJointSteps bounds the search over sequences for all sides; jobs of a few kinds of pages need some hundreds.
const maxJointSteps = 2_000_000

func (j *joint) shortest() (*jointBest, error) {
	least, most := 0, 0
	for _, c := range j.classes {
		short := len(c.options[0].seq)
		for _, o := range c.options {
			short = min(short, len(o.seq))
		}
		least, most = max(least, short), most+short
	}
	for n := least; n <= most; n++ {
		done := make([][]int, len(j.classes))
		for i, c := range j.classes {
			done[i] = make([]int, len(c.options))
		}
		j.extend(nil, n, done)
		if j.steps > maxJointSteps {
			return nil, &refusal{side: -1, err: fmt.Errorf("the pages ask for so many different orders that not all can be tried; plan fewer pages at a time")}
		}
		if j.best != nil {
			return j.best, nil
		}
	}
	return &jointBest{}, nil // nothing is laid
}

// extend tries every set as the next; done is how much of each option lies in seq already. Taking the next set of an option
// as soon as it comes never makes the rest longer.
func (j *joint) extend(seq []int, n int, done [][]int) {
	if j.steps++; j.steps > maxJointSteps {
		return
	}
	left := n - len(seq)
	for i, c := range j.classes {
		if !slices.ContainsFunc(indices(c.options), func(o int) bool { return len(c.options[o].seq)-done[i][o] <= left }) {
			return
		}
	}
	if left == 0 {
		j.judge(seq, done)
		return
	}
	for set := range j.sets {
		if len(seq) > 0 && seq[len(seq)-1] == set {
			continue
		}
		next, helps := make([][]int, len(done)), false
		for i, c := range j.classes {
			next[i] = slices.Clone(done[i])
			for o := range c.options {
				if d := done[i][o]; d < len(c.options[o].seq) && c.options[o].seq[d] == set {
					next[i][o]++
					helps = true
				}
			}
		}
		if helps {
			j.extend(append(slices.Clone(seq), set), n, next)
		}
	}
}

func indices[T any](list []T) []int {
	out := make([]int, len(list))
	for i := range out {
		out[i] = i
	}
	return out
}

// judge takes the best option of each class that the sequence holds.
func (j *joint) judge(seq []int, done [][]int) {
	b := &jointBest{sets: seq, chosen: make([]int, len(j.classes))}
	for i, c := range j.classes {
		at := -1
		for o := range c.options {
			if done[i][o] == len(c.options[o].seq) && (at < 0 || c.options[o].lay.Better(&c.options[at].lay)) {
				at = o
			}
		}
		b.chosen[i] = at
		o := &c.options[at]
		b.split += c.weight * o.lay.Split
		b.inver += c.weight * o.lay.Inversions
		b.rank += o.rank
	}
	if j.best == nil || slices.Compare([]int{b.split, b.inver, b.rank}, []int{j.best.split, j.best.inver, j.best.rank}) < 0 {
		j.best = b
	}
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

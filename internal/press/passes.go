package press

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

// Pass is one trip of the sheet through the press.
type Pass struct {
	Set    *Set
	Toners []string // those used in this pass, first laid first
}

// Under asks for one toner to be laid before another, as a white under the process toners.
type Under struct{ Lower, Upper string }

// PassError says why no sequence of passes lays down what is asked for.
type PassError struct {
	What   string
	Remedy string
}

func (e *PassError) Error() string { return e.What + "; " + e.Remedy }

// maxPasses searched; a stock that stands more trips through a fuser is not known.
const maxPasses = 6

// Passes finds the fewest passes that lay down the used colourants, and among those the one with the fewest
// changes of the set, then the one that keeps the process toners in one pass, then comes nearest to the usual order (white, process,
// metals and fluorescents, clear), then takes sets in the order of the definition. Mixes count as
// their parts. Each order asked for in under is kept, with more passes if need be; an order between
// toners that are not used is ignored. The error is a *PassError.
//
// The search is exact: it rules out every shorter sequence of sets, and looks at all of the fewest passes.
func (p *Press) Passes(used []string, under ...Under) ([]Pass, error) {
	return p.Fewest(PassQuestion{Used: used, Under: under})
}

// Fewest is Passes with all that may be asked.
func (p *Press) Fewest(q PassQuestion) ([]Pass, error) {
	s, err := p.fewest(q, false)
	if err != nil || s == nil {
		return nil, err
	}
	return s.passes(s.best, s.where), nil
}

// PassQuestion is what one side of a sheet asks of a press.
type PassQuestion struct {
	Used     []string    // toners and mixes
	Under    []Under     // orders to keep; those of toners not used are ignored
	Together [][2]string // toners that must be laid in one pass
}

// Lay is one way to lay a side in the fewest passes. Split and Inversions tell how far it is from the usual: process toners
// laid in another pass than the first of them, and toners laid against the usual order, weighted by how much that spoils.
type Lay struct {
	Passes            []Pass
	Split, Inversions int
}

// Better tells whether a lay is nearer to the usual than another of as many passes.
func (l *Lay) Better(m *Lay) bool {
	return passCost{0, l.Split, l.Inversions}.less(passCost{0, m.Split, m.Inversions})
}

// Lays lists, for the fewest passes that answer a question, every sequence of sets that does, each with the lay nearest to
// the usual. Nothing used gives no lays. The error is a *PassError.
func (p *Press) Lays(q PassQuestion) ([]Lay, error) {
	s, err := p.fewest(q, true)
	if err != nil || s == nil {
		return nil, err
	}
	return s.lays, nil
}

// prepared finds how many passes a question takes; nil when nothing is used.
func (p *Press) prepared(q PassQuestion) (*passSearch, error) {
	toners := p.parts(q.Used)
	if len(toners) == 0 {
		return nil, nil
	}
	if len(toners) > limits.MaxColourants {
		return nil, &PassError{fmt.Sprintf("%d toners are more than can be laid (%d)", len(toners), limits.MaxColourants), "leave some out"}
	}
	for _, name := range toners {
		if err := p.known(name); err != nil {
			return nil, err
		}
	}
	s := newPassSearch(p, toners, q)
	if !s.contradicts() {
		for k := 1; k <= maxPasses; k++ {
			if s.fits(0, k) {
				s.least = k
				return s, nil
			}
		}
	}
	if s.steps > maxPassSteps {
		return nil, s.tooMany()
	}
	return nil, s.explain()
}

func (s *passSearch) tooMany() error {
	return &PassError{fmt.Sprintf("press %s has too many ways to lay %s for all to be tried", s.p.Name, joinAnd(quoted(s.toners))),
		"strike sets from the definition that the job does not need"}
}

// fewest finds the best lay of all sequences of the fewest passes, or of each of them; nil when nothing is used.
func (p *Press) fewest(q PassQuestion, all bool) (*passSearch, error) {
	s, err := p.prepared(q)
	if err != nil || s == nil {
		return nil, err
	}
	list := s.ways().sequences()
	if list == nil {
		return nil, s.tooMany()
	}
	for _, seq := range list {
		s.first, s.last = s.window(seq)
		s.assign(seq, make([]int, 0, len(s.toners)), passCost{changes: changes(seq)})
		if all && s.best != nil {
			s.lays = append(s.lays, Lay{s.passes(s.best, s.where), s.cost.split, s.cost.inversions})
			s.best = nil
		}
	}
	if s.steps > maxPassSteps {
		return nil, s.tooMany()
	}
	return s, nil
}

func (p *Press) known(name string) error {
	if _, ok := p.Toner(name); !ok {
		remedy := "rename the colourant in the artwork or assign it to a toner of the press"
		if near := p.Suggest(name); len(near) > 0 {
			remedy = "did you mean " + joinOr(quoted(near)) + "? Rename the colourant or assign it"
		}
		return &PassError{fmt.Sprintf("press %s has no toner named %q", p.Name, name), remedy}
	}
	if len(p.SetsCarrying([]string{name})) == 0 {
		return &PassError{fmt.Sprintf("no set of press %s carries %q", p.Name, name), "add it to a set of the definition"}
	}
	return nil
}

// LaydownOrder lists the toners of all passes, the one that touches the stock first.
func LaydownOrder(passes []Pass) []string {
	var out []string
	for _, ps := range passes {
		out = append(out, ps.Toners...)
	}
	return out
}

// passSearch assigns toners to the places of a sequence of sets. Toner and set numbers are small,
// so it walks all assignments, cutting those already worse than the best.
type passSearch struct {
	p       *Press
	toners  []string
	rank    []int   // usual height in the stack, by kind
	process []bool  //
	station [][]int // [set][toner] -> station, -1 = not carried
	sets    []int   // sets that carry anything used
	under   [][2]int
	united  [][2]int // toners that must share a pass
	masks            // the same as bits
	least   int      // passes
	first   []int    // of the sequence at hand, pass each toner can be laid in
	last    []int
	lays    []Lay
	best    []int // set sequence
	where   []int // toner -> pass
	cost    passCost
	steps   int
}

// maxPassSteps bounds the search; a press of MaxSets sets with six specials in use needs a tenth.
const maxPassSteps = 1_000_000

// passCost counts changes of the set, process toners laid in another pass than the first of them, and pairs laid
// against the usual order by how much it spoils: a white on top hides the artwork.
type passCost struct{ changes, split, inversions int }

func inversionWeight(rankA, rankB int) int {
	switch {
	case min(rankA, rankB) == heightWhite:
		return 10
	case max(rankA, rankB) == heightClear:
		return 4
	}
	return 1
}

func (c passCost) less(d passCost) bool {
	if c.changes != d.changes {
		return c.changes < d.changes
	}
	return c.split < d.split || c.split == d.split && c.inversions < d.inversions
}

func changes(seq []int) (n int) {
	for i := 1; i < len(seq); i++ {
		if seq[i] != seq[i-1] {
			n++
		}
	}
	return n
}

// UsualHeight orders kinds from the stock upwards: common practice for opaque stock, no source.
func UsualHeight(k colourant.Kind) int {
	switch k {
	case colourant.OpaqueWhite:
		return heightWhite
	case colourant.Process:
		return heightProcess
	case colourant.Clear:
		return heightClear
	}
	return heightSpecial
}

const (
	heightWhite = iota
	heightProcess
	heightSpecial
	heightClear
)

func newPassSearch(p *Press, toners []string, q PassQuestion) *passSearch {
	s := &passSearch{p: p, toners: toners}
	for _, name := range toners {
		t, _ := p.Toner(name)
		s.rank = append(s.rank, UsualHeight(t.Kind))
		s.process = append(s.process, t.Kind == colourant.Process)
	}
	for i, set := range p.Sets {
		row := make([]int, len(toners))
		any := false
		for t, name := range toners {
			row[t] = slices.Index(set.Stations, name)
			any = any || row[t] >= 0
		}
		s.station = append(s.station, row)
		if any {
			s.sets = append(s.sets, i)
		}
	}
	pairs := func(list [][2]int, one, other string) [][2]int {
		for _, a := range p.parts([]string{one}) {
			for _, b := range p.parts([]string{other}) {
				if a, b := slices.Index(toners, a), slices.Index(toners, b); a >= 0 && b >= 0 && a != b {
					list = append(list, [2]int{a, b})
				}
			}
		}
		return list
	}
	for _, u := range q.Under {
		s.under = pairs(s.under, u.Lower, u.Upper)
	}
	for _, u := range q.Together {
		s.united = pairs(s.united, u[0], u[1])
	}
	s.mask()
	return s
}

// contradicts tells whether the orders asked for form a circle: then no number of passes helps.
func (s *passSearch) contradicts() bool {
	left := slices.Clone(s.under)
	for {
		// Drop orders whose lower toner has nothing asked for below it; a circle never gets dropped.
		rest := slices.DeleteFunc(slices.Clone(left), func(u [2]int) bool {
			return !slices.ContainsFunc(left, func(v [2]int) bool { return v[1] == u[0] })
		})
		if len(rest) == 0 || len(rest) == len(left) {
			return len(rest) > 0
		}
		left = rest
	}
}

// assign puts toner len(where) into each pass that carries it.
func (s *passSearch) assign(seq, where []int, cost passCost) {
	if s.steps++; s.steps > maxPassSteps || s.best != nil && !cost.less(s.cost) {
		return
	}
	t := len(where)
	if t == len(s.toners) {
		s.best, s.where, s.cost = slices.Clone(seq), slices.Clone(where), cost
		return
	}
	for pass := s.first[t]; pass <= s.last[t]; pass++ {
		if s.station[seq[pass]][t] < 0 {
			continue
		}
		next := append(where, pass)
		if !s.keepsOrder(seq, next, t) {
			continue
		}
		s.assign(seq, next, s.add(seq, next, t, cost))
	}
}

// below tells whether toner a is laid before toner b.
func (s *passSearch) below(seq, where []int, a, b int) bool {
	if where[a] != where[b] {
		return where[a] < where[b]
	}
	return s.station[seq[where[a]]][a] < s.station[seq[where[b]]][b]
}

func (s *passSearch) keepsOrder(seq, where []int, t int) bool {
	for _, u := range s.under {
		if max(u[0], u[1]) == t && !s.below(seq, where, u[0], u[1]) {
			return false
		}
	}
	for _, u := range s.united {
		if max(u[0], u[1]) == t && where[u[0]] != where[u[1]] {
			return false
		}
	}
	return true
}

// add is the cost with toner t in place beside those before it.
func (s *passSearch) add(seq, where []int, t int, c passCost) passCost {
	apart := false
	for o := range t {
		if s.process[t] && s.process[o] && where[t] != where[o] {
			apart = true
		}
		if s.rank[o] != s.rank[t] && s.below(seq, where, o, t) != (s.rank[o] < s.rank[t]) {
			c.inversions += inversionWeight(s.rank[o], s.rank[t])
		}
	}
	if apart {
		c.split++
	}
	return c
}

func (s *passSearch) passes(sets, where []int) []Pass {
	out := make([]Pass, len(sets))
	for i, set := range sets {
		out[i].Set = &s.p.Sets[set]
		for _, name := range out[i].Set.Stations {
			if t := slices.Index(s.toners, name); t >= 0 && where[t] == i {
				out[i].Toners = append(out[i].Toners, name)
			}
		}
	}
	return out
}

func (s *passSearch) explain() error {
	names := joinAnd(quoted(s.toners))
	var wants []string
	for _, u := range s.under {
		wants = append(wants, fmt.Sprintf("%q under %q", s.toners[u[0]], s.toners[u[1]]))
	}
	for _, u := range s.united {
		wants = append(wants, fmt.Sprintf("%q and %q in one pass", s.toners[u[0]], s.toners[u[1]]))
	}
	if len(wants) > 0 {
		return &PassError{fmt.Sprintf("no %d passes on press %s lay down %s with %s", maxPasses, s.p.Name, names, strings.Join(wants, ", ")),
			"give up one of the orders asked for"}
	}
	return &PassError{fmt.Sprintf("press %s needs more than %d passes for %s", s.p.Name, maxPasses, names),
		"leave out a special toner or choose a press that carries more at once"}
}

package press

import (
	"cmp"
	"math/bits"
	"slices"
)

// Ways are all sequences of sets that answer a question in the fewest passes, as a graph: each path from the first node to
// the last is one, and no other sequence does. A node stands for the toners that are laid by then at most; to lay
// whatever can be laid is never worse, since what may be laid stays so.
type Ways struct {
	Passes int
	Next   [][]Way // by node; the last has none. One node alone: nothing is used
}

// Way leads from a node to another by a pass with a set, by its number in the definition.
type Way struct{ Set, To int }

// Ways finds the fewest passes that answer a question, and every sequence of sets that does in so many. The error is a *PassError.
func (p *Press) Ways(q PassQuestion) (*Ways, error) {
	s, err := p.prepared(q)
	if err != nil {
		return nil, err
	}
	if s == nil {
		return &Ways{Next: [][]Way{nil}}, nil
	}
	return s.ways(), nil
}

// Least is how many passes a question takes. The error is a *PassError.
func (p *Press) Least(q PassQuestion) (int, error) {
	s, err := p.prepared(q)
	if err != nil || s == nil {
		return 0, err
	}
	return s.least, nil
}

// masks are the facts of a question as bits, one a toner.
type masks struct {
	full    uint64
	carries []uint64 // by set: toners it carries
	beneath []uint64 // by toner: those asked for below it
	atop    []uint64 // by toner: those asked for above it
	with    []uint64 // by toner: those it must share a pass with
	mates   []uint64 // by toner: those that some set carries besides it, and itself
	order   []int    // toners with the fewest mates first
	failed  map[uint64]int
}

func (s *passSearch) mask() {
	n := len(s.toners)
	s.masks = masks{full: 1<<n - 1, beneath: make([]uint64, n), atop: make([]uint64, n), with: make([]uint64, n), mates: make([]uint64, n), failed: map[uint64]int{}}
	for _, row := range s.station {
		var m uint64
		for t, at := range row {
			if at >= 0 {
				m |= 1 << t
			}
		}
		s.carries = append(s.carries, m)
		for t := range row {
			if m>>t&1 == 1 {
				s.mates[t] |= m
			}
		}
	}
	for _, u := range s.under {
		s.beneath[u[1]] |= 1 << u[0]
		s.atop[u[0]] |= 1 << u[1]
	}
	for _, u := range s.united {
		s.with[u[0]] |= 1 << u[1]
		s.with[u[1]] |= 1 << u[0]
	}
	for t := range n {
		s.order = append(s.order, t)
	}
	slices.SortStableFunc(s.order, func(a, b int) int { return bits.OnesCount64(s.mates[a]) - bits.OnesCount64(s.mates[b]) })
}

// layable are the most toners a pass with a set can lay when others are laid already.
func (s *passSearch) layable(set int, done uint64) uint64 {
	return s.most(set, done, s.beneath, func(other, t int) bool { return s.station[set][other] < s.station[set][t] })
}

// lastly are the most toners a pass can be left to lay when others are laid later.
func (s *passSearch) lastly(set int, later uint64) uint64 {
	return s.most(set, later, s.atop, func(other, t int) bool { return s.station[set][other] > s.station[set][t] })
}

// most leaves out toners until every one has those it asks for laid already, or in the same pass on the right side.
func (s *passSearch) most(set int, done uint64, asked []uint64, right func(other, t int) bool) uint64 {
	lay := s.carries[set] &^ done
	for {
		before := lay
		for m := lay; m != 0; m &= m - 1 {
			t := bits.TrailingZeros64(m)
			ok := s.with[t]&^lay == 0
			for a := asked[t] &^ done; a != 0 && ok; a &= a - 1 {
				o := bits.TrailingZeros64(a)
				ok = lay>>o&1 == 1 && right(o, t)
			}
			if !ok {
				lay &^= 1 << t
			}
		}
		if lay == before {
			return lay
		}
	}
}

// atLeast is a number of passes that what is left takes at least: toners no two of which share a set.
func (s *passSearch) atLeast(done uint64) (n int) {
	taken := done
	for _, t := range s.order {
		if taken>>t&1 == 0 {
			n++
			taken |= s.mates[t]
		}
	}
	return n
}

// fits tells whether so many passes lay what is left.
func (s *passSearch) fits(done uint64, left int) bool {
	if done == s.full {
		return true
	}
	if left <= s.failed[done] || left < s.atLeast(done) {
		return false
	}
	if s.steps++; s.steps > maxPassSteps {
		return false
	}
	for _, set := range s.sets {
		if lay := s.layable(set, done); lay != 0 && s.fits(done|lay, left-1) {
			return true
		}
	}
	s.failed[done] = left
	return false
}

// ways draws up the graph. Of the fewest passes every one is needed, so that a node has one number of passes left to the end.
func (s *passSearch) ways() *Ways {
	w := &Ways{Passes: s.least, Next: [][]Way{nil}}
	at := map[uint64]int{0: 0}
	level := []uint64{0}
	for left := s.least; left > 0; left-- {
		var next []uint64
		for _, done := range level {
			for _, set := range s.sets {
				lay := s.layable(set, done)
				if lay == 0 || !s.fits(done|lay, left-1) {
					continue
				}
				to, known := at[done|lay]
				if !known {
					to = len(w.Next)
					at[done|lay] = to
					w.Next = append(w.Next, nil)
					next = append(next, done|lay)
				}
				w.Next[at[done]] = append(w.Next[at[done]], Way{set, to})
			}
		}
		level = next
	}
	return w
}

// maxSequences of sets are looked at; a press of MaxSets sets with six specials in use has some thousands.
const maxSequences = 50_000

// sequences lists the paths of the graph: by which sets they take, then by the order they take them in. It is nil when they are too many.
func (w *Ways) sequences() (out [][]int) {
	count := make([]int, len(w.Next))
	count[len(count)-1] = 1
	for n := len(w.Next) - 2; n >= 0; n-- {
		for _, way := range w.Next[n] {
			count[n] = min(count[n]+count[way.To], maxSequences+1)
		}
	}
	if count[0] > maxSequences {
		return nil
	}
	seq := make([]int, 0, w.Passes)
	var walk func(n int)
	walk = func(n int) {
		if n == len(w.Next)-1 {
			out = append(out, slices.Clone(seq))
			return
		}
		for _, way := range w.Next[n] {
			seq = append(seq, way.Set)
			walk(way.To)
			seq = seq[:len(seq)-1]
		}
	}
	walk(0)
	slices.SortFunc(out, func(a, b []int) int {
		return cmp.Or(slices.Compare(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b))), slices.Compare(a, b))
	})
	return out
}

// window is the first and the last pass of a sequence that each toner can be laid in.
func (s *passSearch) window(seq []int) (first, last []int) {
	first, last = make([]int, len(s.toners)), make([]int, len(s.toners))
	done := uint64(0)
	for pass, set := range seq {
		lay := s.layable(set, done)
		done |= lay
		for ; lay != 0; lay &= lay - 1 {
			first[bits.TrailingZeros64(lay)] = pass
		}
	}
	done = 0
	for pass := len(seq) - 1; pass >= 0; pass-- {
		lay := s.lastly(seq[pass], done)
		done |= lay
		for ; lay != 0; lay &= lay - 1 {
			last[bits.TrailingZeros64(lay)] = pass
		}
	}
	return first, last
}

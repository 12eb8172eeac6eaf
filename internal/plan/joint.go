package plan

import (
	"errors"
	"math/bits"
	"slices"

	"laydown/internal/press"
)

// joint searches the shortest sequence of sets in the press in which every class of sides finds one of its own sequences, with
// other sets between where others want them.
type joint struct {
	sets    int
	classes []class
	steps   *int
	most    int             // steps
	failed  map[string]bool // states from which so many more sets do not do
}

// class is the sides that ask the same.
type class struct {
	side    int // one of them
	weight  int // how many
	ways    *press.Ways
	least   []int // by node of ways: sets that must come at least until its end
	options []option
	at      map[string]int // option by its sequence
}

func newClass(ways *press.Ways, side int) class {
	c := class{side: side, ways: ways, least: make([]int, len(ways.Next))}
	for n := len(ways.Next) - 2; n >= 0; n-- {
		c.least[n] = ways.Passes
		for _, way := range ways.Next[n] {
			c.least[n] = min(c.least[n], 1+c.leastAfter(way))
		}
	}
	return c
}

// leastAfter is the fewest sets after that of a way, which may stay in for passes to come.
func (c *class) leastAfter(way press.Way) int {
	least := c.least[way.To]
	for _, next := range c.ways.Next[way.To] {
		if next.Set == way.Set {
			least = min(least, c.leastAfter(next))
		}
	}
	return least
}

// state is which nodes each class can have come to: bits, one a node, class after class.
type state []uint64

func words(c *class) int { return (len(c.ways.Next) + 63) / 64 }

func (j *joint) begin() (st state) {
	for i := range j.classes {
		st = append(st, make(state, words(&j.classes[i]))...)
		st[len(st)-words(&j.classes[i])] = 1
	}
	return st
}

// after is the state after a set has been in the press: each side has passed, as often as it may, or not. moved tells
// whether that leads anywhere new. Nodes lead to later ones only.
func (j *joint) after(st state, set int) (next state, moved bool) {
	*j.steps += len(j.classes)
	next = slices.Clone(st)
	from := 0
	for i := range j.classes {
		c := &j.classes[i]
		part := next[from : from+words(c)]
		from += words(c)
		for k := range part {
			for seen := uint64(0); part[k]&^seen != 0; {
				bit := bits.TrailingZeros64(part[k] &^ seen)
				seen |= 1 << bit
				for _, way := range c.ways.Next[k*64+bit] {
					if to := way.To; way.Set == set && part[to/64]>>(to%64)&1 == 0 {
						part[to/64] |= 1 << (to % 64)
						moved = true
					}
				}
			}
		}
	}
	return next, moved
}

// least is how many more sets a state needs at least.
func (j *joint) least(st state) (most int) {
	from := 0
	for i := range j.classes {
		c := &j.classes[i]
		least := c.ways.Passes
		for k, part := range st[from : from+words(c)] {
			for ; part != 0; part &= part - 1 {
				least = min(least, c.least[k*64+bits.TrailingZeros64(part)])
			}
		}
		from += words(c)
		most = max(most, least)
	}
	return most
}

// maxJointSteps bounds the search over sequences for all sides, a step for each kind of page and each set that is tried next,
// alternatives included: some seconds. Jobs of a few kinds of pages need some thousands.
const maxJointSteps = 20_000_000

var errManyOrders = errors.New("the pages ask for so many different orders that not all can be tried")

// shortest is the fewest sets one after the other.
func (j *joint) shortest() (int, error) {
	if len(j.classes) == 0 {
		return 0, nil
	}
	begin := j.begin()
	for n := j.least(begin); ; n++ {
		j.failed = map[string]bool{}
		if j.fits(begin, n) {
			return n, nil
		}
		if *j.steps > j.most {
			return 0, &refusal{side: -1, err: errManyOrders}
		}
	}
}

// key tells states apart, with how many sets may still come.
func (st state) key(left int) string {
	b := make([]byte, 0, 8*len(st)+1)
	for _, w := range st {
		for k := range 8 {
			b = append(b, byte(w>>(8*k)))
		}
	}
	return string(append(b, byte(left)))
}

// fits tells whether so many more sets bring every side to its end.
func (j *joint) fits(st state, left int) bool {
	if j.least(st) > left {
		return false
	}
	if left == 0 {
		return true
	}
	key := st.key(left)
	if j.failed[key] {
		return false
	}
	if *j.steps > j.most {
		return false
	}
	for set := range j.sets {
		if next, moved := j.after(st, set); moved && j.fits(next, left-1) {
			return true
		}
	}
	j.failed[key] = true
	return false
}

// jointBest is a sequence of sets with the option of each class and the cost: toners split, pairs against the usual order, rank.
type jointBest struct {
	sets   []int
	chosen []int
	cost   [3]int
}

// best looks at all sequences of the fewest sets.
func (j *joint) best(n int) (*jointBest, error) {
	for i := range j.classes {
		c := &j.classes[i]
		c.at = map[string]int{}
		for o := range c.options {
			c.at[c.options[o].seq] = o
		}
	}
	best := &jointBest{}
	if n > 0 {
		best = nil
		j.extend(make([]byte, 0, n), j.begin(), n, &best)
	}
	if *j.steps > j.most {
		return nil, &refusal{side: -1, err: errManyOrders}
	}
	return best, nil
}

func (j *joint) extend(seq []byte, st state, left int, best **jointBest) {
	if j.least(st) > left || j.failed[st.key(left)] {
		return
	}
	if *j.steps > j.most {
		return
	}
	if left == 0 {
		j.judge(seq, best)
		return
	}
	for set := range j.sets {
		if next, moved := j.after(st, set); moved {
			j.extend(append(seq, byte(set)), next, left-1, best)
		}
	}
}

// judge takes the best option of each class that the sequence holds.
func (j *joint) judge(seq []byte, best **jointBest) {
	b := &jointBest{chosen: make([]int, len(j.classes))}
	for i := range j.classes {
		c := &j.classes[i]
		b.chosen[i] = c.bestIn(seq)
		o := &c.options[b.chosen[i]]
		b.cost[0] += c.weight * o.lay.Split
		b.cost[1] += c.weight * o.lay.Inversions
		b.cost[2] += o.rank
	}
	if *best == nil || slices.Compare(b.cost[:], (*best).cost[:]) < 0 {
		for _, set := range seq {
			b.sets = append(b.sets, int(set))
		}
		*best = b
	}
}

// bestIn is the best option that a sequence holds. Options are in order, the best first; where there are many, parts of the
// sequence are fewer.
func (c *class) bestIn(seq []byte) int {
	if len(c.options) < 1<<len(seq) {
		return slices.IndexFunc(c.options, func(o option) bool { return holds(seq, o.seq) })
	}
	best := len(c.options)
	part := make([]byte, 0, len(seq))
	for pick := range 1 << len(seq) {
		part = part[:0]
		for k, set := range seq {
			if pick>>k&1 == 1 {
				part = append(part, set)
			}
		}
		if o, ok := c.at[string(part)]; ok {
			best = min(best, o)
		}
	}
	return best
}

// holds tells whether a sequence has another's sets in their order.
func holds(seq []byte, other string) bool {
	k := 0
	for _, set := range seq {
		if k < len(other) && other[k] == set {
			k++
		}
	}
	return k == len(other)
}

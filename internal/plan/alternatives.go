package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/press"
)

// Bounds on alternatives.
const (
	maxAlternatives = 12
	maxGivenUp      = 3    // things given up at once
	maxTried        = 2000 // sets of things tried
)

// Alternatives lists the plan as wished and then others: without each wish and each special toner, without several where
// only that saves passes or set changes, and with the usual order kept where the first does not keep it. Those with
// the fewest passes come first after it. Where the job cannot be printed as wished, err is the *Impossible and the plans are
// those that give up the least.
func Alternatives(r *Request) (plans []*Plan, err error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	s := newSearcher(r)
	base, failed := s.solve(nil)
	if failed != nil {
		err = s.impossible(failed)
		if e, ok := err.(*Impossible); ok {
			for _, w := range e.Relax {
				if f, failed := s.solve(w); failed == nil {
					plans = append(plans, s.plan(f, w))
				}
			}
		}
		order(plans)
		return plans, err
	}
	first := s.plan(base, nil)
	plans = []*Plan{first}
	others := s.others(first)
	if usual := usualKept(r, first); usual != nil {
		others = append(others, usual)
	}
	order(others)
	return append(plans, others[:min(len(others), maxAlternatives-1)]...), nil
}

func order(plans []*Plan) {
	slices.SortStableFunc(plans, func(a, b *Plan) int {
		return cmp.Or(len(a.Passes)-len(b.Passes), a.SetChanges-b.SetChanges, len(a.GivesUp)-len(b.GivesUp))
	})
}

// size is what the search makes least.
type size struct{ passes, changes int }

func (a size) less(b size) bool {
	return a.passes < b.passes || a.passes == b.passes && a.changes < b.changes
}

// others gives up one thing, and several where no part of them saves as much.
func (s *searcher) others(first *Plan) (out []*Plan) {
	items := slices.Concat(s.givableWishes(), s.givableToners())
	sizes := map[string]size{"": {len(first.Passes), first.SetChanges}}
	key := func(w []Sacrifice) string { return fmt.Sprintf("%q", w) }
	tried := 0
	for n := 1; n <= min(maxGivenUp, len(items)); n++ {
		subsets(items, n, func(w []Sacrifice) bool {
			if tried++; tried > maxTried {
				return false
			}
			got, err := s.sizeOf(w)
			if err != nil {
				return s.steps <= s.most
			}
			sizes[key(w)] = got
			if n > 1 {
				for skip := range w {
					if part, ok := sizes[key(slices.Delete(slices.Clone(w), skip, skip+1))]; ok && !got.less(part) {
						return true
					}
				}
			}
			if got.passes == 0 {
				return true // nothing would be printed
			}
			f, err := s.solve(w)
			if err != nil {
				return true
			}
			if p := s.plan(f, slices.Clone(w)); n > 1 || !sameWork(p, first) {
				out = append(out, p)
			}
			return true
		})
	}
	return out
}

// sameWork tells whether two plans lay the same in the same passes.
func sameWork(a, b *Plan) bool {
	return slices.EqualFunc(a.Passes, b.Passes, func(p, q Pass) bool {
		return p.Set == q.Set && p.Page == q.Page && slices.Equal(p.Toners, q.Toners)
	})
}

// usualKept plans the job with the usual order kept where the first plan does not; nil when that is nowhere or cannot be done.
func usualKept(r *Request, first *Plan) *Plan {
	if len(first.Unusual) == 0 {
		return nil
	}
	wish := Wish{Orders: make([][]press.Under, len(r.Sides))}
	var words []string
	for _, u := range first.Unusual {
		for i := range r.Sides {
			if r.Sides[i].Page == u.Page {
				wish.Orders[i] = append(wish.Orders[i], press.Under{Lower: u.Upper, Upper: u.Lower})
			}
		}
		upper := u.Upper
		if isProcess(upper) {
			upper = press.UnderProcess
		}
		lower := u.Lower
		if isProcess(lower) {
			lower = press.UnderProcess
		}
		if text := lower + " over " + upper; !slices.Contains(words, text) {
			words = append(words, text)
		}
	}
	wish.Text = "with " + strings.Join(words, ", ")
	more := *r
	more.Wishes = append(slices.Clone(r.Wishes), wish)
	s := newSearcher(&more)
	f, err := s.solve(nil)
	if err != nil {
		return nil
	}
	p := s.plan(f, nil)
	p.Adds = []string{wish.Text}
	return p
}

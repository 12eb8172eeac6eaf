package sheet

import (
	"math/bits"
	"slices"
)

// Ganging: versions of one size share a sheet, each in as many places as its quantity asks for. A form is one such
// filling of the sheet; each version lies on one form.

// Form is a filling of the sheet with versions.
type Form struct {
	Places []int `json:"places"` // by version: how many places it has; 0 = it is not on this form
	Sheets int   `json:"sheets"`
}

// exactVersions is up to how many versions every way to share them out among forms is looked at: 3^12 pairs of sets.
const exactVersions = 12

// Gang shares versions out among sheets of so many places so that the fewest sheets give every quantity, and of such ways
// takes one with the fewest forms. Up to 12 versions it is exact; of more, those next to each other in quantity share
// a form. It returns nil when there is nothing to place.
func Gang(places int, quantities []int) []Form {
	if places <= 0 || len(quantities) == 0 {
		return nil
	}
	g := gang{places, quantities}
	var sets [][]int
	if len(quantities) <= exactVersions {
		sets = g.partition()
	} else {
		sets = g.neighbours()
	}
	var out []Form
	for _, set := range sets {
		out = append(out, g.form(set))
	}
	return out
}

type gang struct {
	places int
	q      []int
}

// sheets is the fewest sheets one form needs for a set of versions; ok is false when they are more than the places.
func (g *gang) sheets(set []int) (n int, ok bool) {
	if len(set) > g.places {
		return 0, false
	}
	lo, hi := 1, 1
	for _, v := range set {
		hi = max(hi, g.q[v])
	}
	fits := func(n int) bool {
		need := 0
		for _, v := range set {
			need += max(1, (g.q[v]+n-1)/n)
		}
		return need <= g.places
	}
	for lo < hi {
		if mid := lo + (hi-lo)/2; fits(mid) {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo, true
}

// form fills the places; those left over go where most pieces are asked of one place.
func (g *gang) form(set []int) Form {
	n, _ := g.sheets(set)
	f := Form{Places: make([]int, len(g.q)), Sheets: n}
	left := g.places
	for _, v := range set {
		f.Places[v] = max(1, (g.q[v]+n-1)/n)
		left -= f.Places[v]
	}
	for ; left > 0; left-- {
		best := set[0]
		for _, v := range set[1:] {
			if g.q[v]*f.Places[best] > g.q[best]*f.Places[v] {
				best = v
			}
		}
		f.Places[best]++
	}
	return f
}

// partition looks at every way to share the versions out.
func (g *gang) partition() [][]int {
	n := len(g.q)
	type way struct{ sheets, forms, first int }
	const none = -1
	cost := make([]int, 1<<n)
	for m := 1; m < 1<<n; m++ {
		cost[m] = none
		if s, ok := g.sheets(members(m)); ok {
			cost[m] = s
		}
	}
	best := make([]way, 1<<n)
	for m := 1; m < 1<<n; m++ {
		best[m] = way{sheets: none}
		low := m & -m
		// Subsets that hold the first version of m.
		for rest := m ^ low; ; rest = (rest - 1) & (m ^ low) {
			sub := rest | low
			if c, r := cost[sub], best[m^sub]; c != none && r.sheets != none {
				w := way{c + r.sheets, r.forms + 1, sub}
				if b := best[m]; b.sheets == none || w.sheets < b.sheets || w.sheets == b.sheets && w.forms < b.forms {
					best[m] = w
				}
			}
			if rest == 0 {
				break
			}
		}
	}
	var out [][]int
	for m := 1<<n - 1; m != 0; m ^= best[m].first {
		out = append(out, members(best[m].first))
	}
	return out
}

func members(m int) (out []int) {
	for ; m != 0; m &= m - 1 {
		out = append(out, bits.TrailingZeros(uint(m)))
	}
	return out
}

// neighbours puts versions that come next to each other by quantity on one form.
func (g *gang) neighbours() [][]int {
	order := make([]int, len(g.q))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return g.q[b] - g.q[a] })
	type way struct{ sheets, forms, from int }
	best := make([]way, len(order)+1)
	for i := 1; i <= len(order); i++ {
		best[i].sheets = -1
		for j := i - 1; j >= max(0, i-g.places); j-- {
			c, _ := g.sheets(order[j:i])
			w := way{best[j].sheets + c, best[j].forms + 1, j}
			if b := best[i]; b.sheets < 0 || w.sheets < b.sheets || w.sheets == b.sheets && w.forms < b.forms {
				best[i] = w
			}
		}
	}
	var out [][]int
	for i := len(order); i > 0; i = best[i].from {
		set := slices.Clone(order[best[i].from:i])
		slices.Sort(set)
		out = append(out, set)
	}
	slices.Reverse(out)
	return out
}

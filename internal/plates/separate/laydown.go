package separate

import (
	"cmp"
	"maps"
	"slices"
)

// laydownOrder merges the station orders of several sets: every name once, and no name before one
// that lies under it in some set. Where sets leave the order open, or contradict each other, the
// name met first comes first.
func laydownOrder(sets [][]string) []string {
	var met []string
	below := map[string]map[string]bool{} // name to the names that must come before it
	for _, set := range sets {
		for i, name := range set {
			if below[name] == nil {
				below[name] = map[string]bool{}
				met = append(met, name)
			}
			if i > 0 && set[i-1] != name {
				below[name][set[i-1]] = true
			}
		}
	}
	var order []string
	for len(met) > 0 {
		next := slices.IndexFunc(met, func(name string) bool { return len(below[name]) == 0 })
		next = max(next, 0) // a contradiction: take the first met
		name := met[next]
		order = append(order, name)
		met = slices.Delete(met, next, next+1)
		for _, b := range below {
			delete(b, name)
		}
	}
	return order
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

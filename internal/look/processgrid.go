package look

import (
	"fmt"
	"math"
	"slices"
)

// gridLevels finds the tints of each ink whose combinations are all among the samples. No tint and the solid must be
// there: without the sixteen overprints of solids nothing can be interpolated.
func gridLevels(samples []sample, grid ProcessGrid) (levels [4][]float64, err error) {
	known := map[[4]int]bool{}
	var tints [4][]float64
	for _, s := range samples {
		known[tintKey(s.tints)] = true
		for i, v := range s.tints {
			if !slices.Contains(tints[i], v) {
				tints[i] = append(tints[i], v)
			}
		}
	}
	for i := range levels {
		slices.Sort(tints[i])
		levels[i] = []float64{0, 1}
	}
	eachNode(levels, func(t [4]float64) {
		if err == nil && !known[tintKey(t)] {
			err = fmt.Errorf("the patch %s is missing; the sixteen overprints of bare stock and solids must be there", percents(t))
		}
	})
	if err != nil {
		return levels, err
	}
	// One level more at a time: the one that adds most nodes, in doubt the one nearest the middle of what the eye sees. A wide
	// ink set is looked at ink by ink, so the result does not depend on the order of patches.
	complete := func(l [4][]float64) bool {
		whole := true
		eachNode(l, func(t [4]float64) { whole = whole && known[tintKey(t)] })
		return whole
	}
	if grid == ThreeLevels {
		// The same middle for all inks where there is one.
		for _, mid := range byDistance(tints[0]) {
			l := levels
			for i := range l {
				l[i] = []float64{0, mid, 1}
			}
			if complete(l) {
				return l, nil
			}
		}
	}
	for {
		best, bestInk, gain := levels, -1, 0
		for i := range levels {
			if grid == ThreeLevels && len(levels[i]) == 3 {
				continue
			}
			others := 1
			for j := range levels {
				if j != i {
					others *= len(levels[j])
				}
			}
			if others <= gain {
				continue
			}
			for _, v := range byDistance(tints[i]) {
				if slices.Contains(levels[i], v) {
					continue
				}
				l := levels
				l[i] = append(slices.Clone(levels[i]), v)
				slices.Sort(l[i])
				if complete(l) {
					best, bestInk, gain = l, i, others
					break
				}
			}
		}
		if bestInk < 0 {
			return levels, nil
		}
		levels = best
	}
}

// byDistance lists tints between none and solid, the nearest to 40 % first: there half of the way in lightness lies.
func byDistance(tints []float64) (out []float64) {
	for _, v := range tints {
		if v > 0.05 && v < 0.95 {
			out = append(out, v)
		}
	}
	slices.SortStableFunc(out, func(a, b float64) int {
		da, db := math.Abs(a-.4), math.Abs(b-.4)
		switch {
		case da < db:
			return -1
		case da > db:
			return 1
		}
		return 0
	})
	return out
}

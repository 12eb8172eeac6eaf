package look

import (
	"math"
	"runtime"
	"slices"
	"sync"
)

// A chart holds many more patches than the nodes of its fullest grid. What the interpolation misses at them is small and smooth:
// it is learnt from all patches by regularised interpolation with a radial kernel (kriging), in the coordinates of
// effective coverage. The miss of a patch is told by three factors on the root of reflectance, for short, middle and
// long waves, with which its colour comes out. Patches that took no part are then 0.05 to 0.1 off in the mean, where the grid alone
// gives 0.14 to 0.29; noise of single patches is averaged out by half.

const (
	restReach    = 1.4     // of the kernel, in coverage
	restNoise    = 0.1     // variance of the noise of a patch, of that of the misses
	nodeNoise    = 0.01    // of a node: it has been given its colour already
	restLargest  = 0.1     // factor; a patch that is further off is a misprint
	mostPatches  = 2000    // used; the matrix of more takes too much room
	restAccuracy = 1e-2    // of the solution: a hundredth of what the grid misses
	restRounds   = 400     // to it
	restGrain    = 1 << 20 // factors are kept to this part, so that last bits do not reach a pixel
)

// rest is the correction.
type rest struct {
	at     [][4]float64
	weight [][groups]float64
}

// kernel falls from 1 to 0 at the reach; positive definite in up to five dimensions (Wendland 1995, twice continuous).
func kernel(a, b *[4]float64) float64 {
	d2 := 0.0
	for i, v := range a {
		d := v - b[i]
		d2 += float64(d * d)
	}
	if d2 >= restReach*restReach {
		return 0
	}
	r := math.Sqrt(d2) / restReach
	u := 1 - r
	u2 := u * u
	return u2 * u2 * u * (float64(5*r) + 1)
}

// learn makes the correction from all samples; the process must be without one. skipped tells how many were too far off to
// belong to it.
func (p *Process) learn(samples []sample) (skipped int) {
	t, skipped := p.teachers(samples)
	if len(t.at) > 0 {
		p.rest = &rest{t.at, krige(t.at, t.misses, t.noise)}
	}
	return skipped
}

// teachers are the patches to learn from, and what the interpolation misses there.
type teachers struct {
	at     [][4]float64
	misses [][groups]float64
	noise  []float64
}

func (p *Process) teachers(samples []sample) (t teachers, skipped int) {
	nodes := map[[4]int]bool{}
	eachNode(p.levels, func(t [4]float64) { nodes[tintKey(t)] = true })
	others := len(samples) - len(nodes)
	if others <= 0 {
		return t, 0
	}
	// Of too many patches every so manieth is taken.
	ceil := func(n, most int) int { return max(1, (n+most-1)/most) }
	everyNode := ceil(len(nodes), mostPatches/2)
	every := ceil(others, mostPatches-min(len(nodes), mostPatches/2))
	seenNodes, seen := 0, 0
	for i := range samples {
		s := &samples[i]
		node := nodes[tintKey(s.tints)]
		if node {
			if seenNodes++; seenNodes%everyNode != 0 {
				continue
			}
		} else if seen++; seen%every != 0 {
			continue
		}
		var miss [groups]float64
		if !node {
			root := p.root(s.tints)
			miss = fitCoverage(s.lab, miss, 0.1, func(x *[groups]float64) spectrum { return factored(root, x) })
			if far := max(math.Abs(miss[0]), math.Abs(miss[1]), math.Abs(miss[2])); far >= restLargest {
				skipped++
				continue
			}
		}
		noise := restNoise
		if node {
			noise = nodeNoise
		}
		t.at = append(t.at, p.place(s.tints))
		t.misses = append(t.misses, miss)
		t.noise = append(t.noise, noise)
	}
	return t, skipped
}

// place of tints among the patches.
func (p *Process) place(t [4]float64) (u [4]float64) {
	for i, v := range t {
		u[i] = p.coverage(i, v)
	}
	return u
}

// factored multiplies a root of reflectance by 1 + the groups' factors.
func factored(root spectrum, x *[groups]float64) spectrum {
	for b := range root {
		f := 1.0
		for g, v := range groupShare[b] {
			f += float64(v * x[g])
		}
		root[b] *= f
	}
	return root
}

// factors at a place.
func (r *rest) factors(u *[4]float64) (x [groups]float64) {
	for i := range r.at {
		if k := kernel(u, &r.at[i]); k > 0 {
			for g, w := range r.weight[i] {
				x[g] += float64(k * w)
			}
		}
	}
	for g := range x {
		x[g] = math.Round(x[g]*restGrain) / restGrain
	}
	return x
}

// krige solves (K + noise) w = values by conjugate gradients, all groups in one pass over the matrix.
func krige(at [][4]float64, values [][groups]float64, noise []float64) (weight [][groups]float64) {
	n := len(at)
	matrix := make([]float64, n*n)
	for i := range n {
		for j := range i {
			v := kernel(&at[i], &at[j])
			matrix[i*n+j], matrix[j*n+i] = v, v
		}
		matrix[i*n+i] = 1 + noise[i]
	}
	weight = make([][groups]float64, n)
	left, way, image := slices.Clone(values), slices.Clone(values), make([][groups]float64, n)
	var size, goal [groups]float64
	for _, v := range values {
		for g := range v {
			size[g] += float64(v[g] * v[g])
		}
	}
	for g := range goal {
		goal[g] = size[g] * restAccuracy * restAccuracy
	}
	for range restRounds {
		if size[0] <= goal[0] && size[1] <= goal[1] && size[2] <= goal[2] {
			break
		}
		times(matrix, way, image)
		var along, step, next [groups]float64
		for i := range image {
			for g := range along {
				along[g] += float64(image[i][g] * way[i][g])
			}
		}
		for g := range step {
			if size[g] > goal[g] {
				step[g] = size[g] / along[g]
			}
		}
		for i := range weight {
			for g := range step {
				weight[i][g] += float64(step[g] * way[i][g])
				left[i][g] -= float64(step[g] * image[i][g])
				next[g] += float64(left[i][g] * left[i][g])
			}
		}
		for g := range step {
			if step[g] == 0 {
				continue
			}
			turn := next[g] / size[g]
			size[g] = next[g]
			for i := range way {
				way[i][g] = left[i][g] + float64(turn*way[i][g])
			}
		}
	}
	return weight
}

// times multiplies the symmetric matrix with three columns, rows shared among the processors.
func times(matrix []float64, columns, out [][groups]float64) {
	n := len(columns)
	workers := max(1, min(runtime.GOMAXPROCS(0), n/64))
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := n * w / workers; i < n*(w+1)/workers; i++ {
				var s0, s1, s2 float64
				row := matrix[i*n:][:n]
				for j, v := range row {
					c := &columns[j]
					s0 += float64(v * c[0])
					s1 += float64(v * c[1])
					s2 += float64(v * c[2])
				}
				out[i] = [groups]float64{s0, s1, s2}
			}
		})
	}
	wg.Wait()
}

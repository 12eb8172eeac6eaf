package look

import (
	"math"

	"laydown/internal/press"
)

// Lifting finds a reflectance for a Lab colour: r = (tanh z + 1)/2 with the least sum of squared slopes of z that
// integrates to the colour's XYZ, solved by Newton's method on the Lagrangian (Scott Burns, arXiv:1710.05732). Where a
// shape is known beforehand, the slopes are those of the departure from it.

// lift returns a reflectance of colour c. A colour no surface can have is pulled towards the grey
// of its lightness in steps of 5 % until it lifts; kept is the share of its chroma that remains.
func lift(c press.Lab) (r spectrum, kept float64) {
	return liftTarget(xyzFromLab(c), nil)
}

// liftTarget is lift for XYZ; shape, unless nil, is a reflectance the result should resemble.
func liftTarget(target [3]float64, shape *spectrum) (r spectrum, kept float64) {
	y := target[1]
	for step := range 20 {
		kept = 1 - float64(step)*0.05
		var t [3]float64
		for k := range t {
			t[k] = float64(kept*target[k]) + float64((1-kept)*white[k]*y)
		}
		if min(t[0], t[1], t[2]) <= 0 {
			continue
		}
		if r, ok := liftNear(t, shape); ok {
			return r, kept
		}
	}
	for b := range r {
		r[b] = min(max(y, 0), 1)
	}
	return r, 0
}

func liftXYZ(target [3]float64) (r spectrum, ok bool) { return liftNear(target, nil) }

// liftNear is the lift of one XYZ; ok is false when no reflectance has it.
func liftNear(target [3]float64, shape *spectrum) (r spectrum, ok bool) {
	const (
		tolerance = 1e-10
		rounds    = 200
		longest   = 2  // of a Newton step in z
		furthest  = 40 // z beyond which tanh is flat: the colour lies on the rim of what surfaces have
	)
	var start spectrum // where z begins and what its slopes are measured from
	for b := range start {
		v := target[1]
		if shape != nil {
			v = shape[b]
		}
		start[b] = math.Atanh(float64(2*min(max(v, 1e-4), 0.999)) - 1)
	}
	z := start
	var lambda [3]float64
	for range rounds {
		var j newtonStep
		worst := 0.0
		var reached [3]float64
		bend := 0.0 // pull of the neighbour before
		for b := range z {
			th := math.Tanh(z[b])
			r[b] = (th + 1) / 2
			d1 := (1 - float64(th*th)) / 2
			pull := 0.0
			for c := range 3 {
				w := bandWeights[c][b]
				pull += float64(w * lambda[c])
				reached[c] += float64(w * r[b])
				j.border[c][b] = d1 * w
			}
			f := float64(d1*pull) - bend
			j.diagonal[b] = float64(-2 * d1 * th * pull)
			if b > 0 {
				j.diagonal[b] += 2
			}
			if b+1 < bands {
				j.diagonal[b] += 2
				bend = float64(2 * (z[b] - z[b+1]))
				if shape != nil {
					bend -= float64(2 * (start[b] - start[b+1]))
				}
				f += bend
			}
			j.right[b] = -f
			worst = max(worst, math.Abs(f))
		}
		for c := range 3 {
			j.miss[c] = target[c] - reached[c]
			worst = max(worst, math.Abs(j.miss[c]))
		}
		if worst < tolerance {
			return r, true
		}
		dz, dl, ok := j.solve()
		if !ok {
			return r, false
		}
		far := 0.0
		for _, d := range dz {
			far = max(far, math.Abs(d))
		}
		scale := 1.0
		if far > longest {
			scale = longest / far
		}
		for b := range z {
			z[b] += float64(scale * dz[b])
			if !(math.Abs(z[b]) < furthest) {
				return r, false
			}
		}
		for c := range 3 {
			lambda[c] += float64(scale * dl[c])
		}
	}
	return r, false
}

// newtonStep is the linear system of one step: three diagonals, those beside the middle one all -2, bordered by three
// columns and the same three rows.
type newtonStep struct {
	diagonal, right spectrum
	border          [3]spectrum
	miss            [3]float64
}

// solve eliminates down the diagonals, swapping neighbours where that is steadier, and then the last band and the three
// multipliers by ordinary elimination. ok is false if the system is singular.
func (n *newtonStep) solve() (dz spectrum, dl [3]float64, ok bool) {
	type rowOf struct {
		at   [3]float64 // columns c, c+1, c+2
		tail [4]float64 // multipliers, right side
	}
	full := func(c int, first float64) (r rowOf) { // row c from column c-1 on
		r.at = [3]float64{first, n.diagonal[c], 0}
		if c+1 < bands {
			r.at[2] = -2
		}
		for k := range 3 {
			r.tail[k] = n.border[k][c]
		}
		r.tail[3] = n.right[c]
		return r
	}
	var done [bands]rowOf
	rest := n.border
	var corner [3][4]float64
	for k := range corner {
		corner[k][3] = n.miss[k]
	}
	cur := full(0, 0)
	cur.at = [3]float64{cur.at[1], cur.at[2], 0}
	for c := range bands - 1 {
		next := full(c+1, -2)
		if math.Abs(next.at[0]) > math.Abs(cur.at[0]) {
			cur, next = next, cur
		}
		p := cur.at[0]
		if p == 0 {
			return dz, dl, false
		}
		q := next.at[0] / p
		for k := 1; k < 3; k++ {
			next.at[k] -= float64(q * cur.at[k])
		}
		for k := range 4 {
			next.tail[k] -= float64(q * cur.tail[k])
		}
		for i := range rest {
			q := rest[i][c] / p
			rest[i][c+1] -= float64(q * cur.at[1])
			if c+2 < bands {
				rest[i][c+2] -= float64(q * cur.at[2])
			}
			for k := range 4 {
				corner[i][k] -= float64(q * cur.tail[k])
			}
		}
		done[c] = cur
		cur = rowOf{[3]float64{next.at[1], next.at[2], 0}, next.tail}
	}
	var m [4][5]float64
	m[0][0] = cur.at[0]
	copy(m[0][1:], cur.tail[:])
	for i := range rest {
		m[1+i][0] = rest[i][bands-1]
		copy(m[1+i][1:], corner[i][:])
	}
	if !eliminate(m[:]) {
		return dz, dl, false
	}
	dz[bands-1] = m[0][4]
	dl = [3]float64{m[1][4], m[2][4], m[3][4]}
	for c := bands - 2; c >= 0; c-- {
		r := &done[c]
		v := r.tail[3] - float64(r.at[1]*dz[c+1])
		if c+2 < bands {
			v -= float64(r.at[2] * dz[c+2])
		}
		for k, l := range dl {
			v -= float64(r.tail[k] * l)
		}
		dz[c] = v / r.at[0]
	}
	return dz, dl, true
}

// eliminate solves a system of n rows of n columns and a right side, each of which rows holds; the solution is left in
// the column after. ok is false if the system is singular.
func eliminate[R [4]float64 | [5]float64](m []R) (ok bool) {
	n := len(m)
	for col := range n {
		p := col
		for row := col + 1; row < n; row++ {
			if math.Abs(m[row][col]) > math.Abs(m[p][col]) {
				p = row
			}
		}
		if !(math.Abs(m[p][col]) > 1e-300) || math.IsInf(m[p][col], 0) {
			return false
		}
		m[col], m[p] = m[p], m[col]
		for row := range n {
			if row == col {
				continue
			}
			q := m[row][col] / m[col][col]
			for k := col; k <= n; k++ {
				m[row][k] -= float64(q * m[col][k])
			}
		}
	}
	for i := range n {
		m[i][n] /= m[i][i]
	}
	return true
}

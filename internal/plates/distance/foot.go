package distance

import "math"

// The outline is the polygon through the crossings: within each square of four pixel centres a crossing is joined to
// another of the same square. Where all four sides are crossed, the mean of the four pixels tells which.

type point struct{ x, y float64 }

// side is the line between a pixel of the window and its right or lower neighbour.
type side struct {
	x, y int
	down bool
}

// foot is a nearest point of the outline.
type foot struct {
	q        point
	d        float64 // how far it is, pixels
	interior bool    // within a segment, not at its end
	nx, ny   float64 // the unit normal of the segment, towards the inside
}

func (t *tile) inside(x, y int) bool { return t.p.Pix[(t.y0+y)*t.p.W+t.x0+x] >= t.level }

func (t *tile) cross(s side) (c uint8) {
	if s.down {
		return t.vs[s.y*t.w+s.x]
	}
	return t.hs[s.y*t.w+s.x]
}

func (t *tile) at256(s side) point {
	if s.down {
		return point{float64(s.x), float64(s.y) + float64(t.vs[s.y*t.w+s.x])/256}
	}
	return point{float64(s.x) + float64(t.hs[s.y*t.w+s.x])/256, float64(s.y)}
}

// sideOf returns side 0..3, from the top clockwise, of the square of centres (x, y) to (x+1, y+1).
func sideOf(x, y, k int) side {
	switch k {
	case 0:
		return side{x, y, false}
	case 1:
		return side{x + 1, y, true}
	case 2:
		return side{x, y + 1, false}
	}
	return side{x, y, true}
}

// partner returns the side that the outline goes on to from s in the square of centres (x, y) to (x+1, y+1).
func (t *tile) partner(s side, x, y int) (side, bool) {
	if x < 0 || y < 0 || x+1 >= t.w || y+1 >= t.h {
		return side{}, false
	}
	i := y*t.w + x
	crossed := [4]uint8{t.hs[i], t.vs[i+1], t.hs[i+t.w], t.vs[i]} // top, right, bottom, left
	me := 3
	switch {
	case !s.down && s.y == y:
		me = 0
	case !s.down:
		me = 2
	case s.x != x:
		me = 1
	}
	other, n := 0, 0
	for k, c := range crossed {
		if c != 0 && k != me {
			other = k
			n++
		}
	}
	if n == 1 {
		return sideOf(x, y, other), true
	}
	if n != 3 {
		return side{}, false
	}
	a := t.p.Pix[(t.y0+y)*t.p.W+t.x0+x:]
	b := a[t.p.W:]
	mean := 2*(int(a[0])+int(a[1])+int(b[0])+int(b[1])) >= 8*int(t.level)-4
	if r := t.p.ramps; r != nil && !t.tone {
		x, y := t.x0+x, t.y0+y
		if a, b, c, d := r.at(t.p, x, y), r.at(t.p, x+1, y), r.at(t.p, x, y+1), r.at(t.p, x+1, y+1); a != 0 && b != 0 && c != 0 && d != 0 {
			mean = a+b+c+d >= 0
		}
	}
	if (a[0] >= t.level) == mean {
		return sideOf(x, y, me^1), true // top with right, bottom with left
	}
	return sideOf(x, y, 3-me), true // top with left, right with bottom
}

// sites returns the crossings nearest to a pixel of the window: one on an upright line, one on a level line.
func (t *tile) sites(x, y int) (s [2]side, n int) {
	i := y*t.w + x
	if k := t.kv[i]; k >= 0 {
		s[n] = side{int(k), (y*256 + int(t.gv[y*t.w+int(k)])) >> 8, true}
		n++
	}
	if k := t.kh[i]; k >= 0 {
		s[n] = side{(x*256 + int(t.gh[int(k)*t.w+x])) >> 8, int(k), false}
		n++
	}
	return s, n
}

// square256 returns the square of the distance to the nearest crossing in (1/256 pixel)^2, none when it is out of reach.
func (t *tile) square256(x, y int) int64 {
	i := y*t.w + x
	best := int64(math.MaxInt64)
	if k := t.kv[i]; k >= 0 {
		dx, g := int64(256*(x-int(k))), int64(t.gv[y*t.w+int(k)])
		best = dx*dx + g*g
	}
	if k := t.kh[i]; k >= 0 {
		dy, g := int64(256*(y-int(k))), int64(t.gh[int(k)*t.w+x])
		best = min(best, dy*dy+g*g)
	}
	return best
}

// closeBy is up to where, in pixels, the neighbours' crossings are asked too; beyond, what they could tell is less than 0.03 pixel.
const closeBy = 8

// feet returns the nearest points of the segments about the crossings nearest to a pixel of the window and to its four
// neighbours. Where two parts of the outline are about as near, one pixel's nearest crossing may belong to the farther part;
// a neighbour then knows the other. The slice is valid until the next call.
func (t *tile) feet(x, y int) []foot {
	t.found = t.found[:0]
	if t.empty {
		return nil
	}
	seen, n := t.sites(x, y)
	var all [10]side
	copy(all[:], seen[:n])
	if t.square256(x, y) < 256*256*closeBy*closeBy {
		for _, at := range [4][2]int{{x - 1, y}, {x + 1, y}, {x, y - 1}, {x, y + 1}} {
			if at[0] < 0 || at[1] < 0 || at[0] >= t.w || at[1] >= t.h {
				continue
			}
			sites, k := t.sites(at[0], at[1])
		next:
			for _, s := range sites[:k] {
				for _, o := range all[:n] {
					if o == s {
						continue next
					}
				}
				all[n] = s
				n++
			}
		}
	}
	for _, s := range all[:n] {
		t.feetOf(s, float64(x), float64(y))
	}
	return t.found
}

// nearest returns the nearest point of the outline; ok is false when nothing is in reach.
func (t *tile) nearest(x, y int) (f foot, ok bool) { return nearestOf(t.feet(x, y)) }

func nearestOf(fs []foot) (f foot, ok bool) {
	for i := range fs {
		if !ok || fs[i].d < f.d {
			f, ok = fs[i], true
		}
	}
	return f, ok
}

// feetOf adds the nearest points of the segments that end at a crossing, or the crossing when there are none.
func (t *tile) feetOf(s side, px, py float64) {
	a := t.at256(s)
	// The pixel of the side that is inside gives the normal its sign.
	in := point{float64(s.x) - a.x, float64(s.y) - a.y}
	if !t.inside(s.x, s.y) {
		if s.down {
			in.y++
		} else {
			in.x++
		}
	}
	cx, cy := s.x, s.y-1
	if s.down {
		cx, cy = s.x-1, s.y
	}
	found := false
	for k := range 2 {
		if k == 1 {
			cx, cy = s.x, s.y
		}
		o, ok := t.partner(s, cx, cy)
		if !ok {
			continue
		}
		found = true
		b := t.at256(o)
		dx, dy := b.x-a.x, b.y-a.y
		length2 := square(dx) + square(dy)
		if length2 < 1e-12 {
			l := hypot(in.x, in.y)
			t.found = append(t.found, foot{q: a, d: hypot(px-a.x, py-a.y), nx: in.x / l, ny: in.y / l})
			continue
		}
		length := math.Sqrt(length2)
		f := foot{nx: -dy / length, ny: dx / length}
		if float64(f.nx*in.x)+float64(f.ny*in.y) < 0 {
			f.nx, f.ny = -f.nx, -f.ny
		}
		u := (float64((px-a.x)*dx) + float64((py-a.y)*dy)) / length2
		f.interior = u > 0 && u < 1
		u = min(max(u, 0), 1)
		f.q = point{a.x + float64(u*dx), a.y + float64(u*dy)}
		f.d = hypot(px-f.q.x, py-f.q.y)
		t.found = append(t.found, f)
	}
	if !found {
		l := hypot(in.x, in.y)
		t.found = append(t.found, foot{q: a, d: hypot(px-a.x, py-a.y), nx: in.x / l, ny: in.y / l})
	}
}

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

// partner returns the side that the outline goes on to from s in the square of centres (x, y) to (x+1, y+1).
func (t *tile) partner(s side, x, y int) (side, bool) {
	if x < 0 || y < 0 || x+1 >= t.w || y+1 >= t.h {
		return side{}, false
	}
	four := [4]side{{x, y, false}, {x + 1, y, true}, {x, y + 1, false}, {x, y, true}} // top, right, bottom, left
	me, other, n := 0, 0, 0
	for i, f := range four {
		if f == s {
			me = i
		} else if t.cross(f) != 0 {
			other = i
			n++
		}
	}
	if n == 1 {
		return four[other], true
	}
	if n != 3 {
		return side{}, false
	}
	a := t.p.Pix[(t.y0+y)*t.p.W+t.x0+x:]
	b := a[t.p.W:]
	mean := 2*(int(a[0])+int(a[1])+int(b[0])+int(b[1])) >= 8*int(t.level)-4
	if (a[0] >= t.level) == mean {
		return four[me^1], true // top with right, bottom with left
	}
	return four[3-me], true // top with left, right with bottom
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

// candidates tells the crossings nearest to a pixel of the window and to its four neighbours. Where two parts of the outline are about
// as near, one pixel's nearest crossing may belong to the farther part; a neighbour then knows the other.
func (t *tile) candidates(x, y int, tell func(side)) {
	var seen [10]side
	n := 0
	for _, at := range [5][2]int{{x, y}, {x - 1, y}, {x + 1, y}, {x, y - 1}, {x, y + 1}} {
		if at[0] < 0 || at[1] < 0 || at[0] >= t.w || at[1] >= t.h {
			continue
		}
		sites, k := t.sites(at[0], at[1])
	next:
		for _, s := range sites[:k] {
			for _, o := range seen[:n] {
				if o == s {
					continue next
				}
			}
			seen[n] = s
			n++
			tell(s)
		}
	}
}

// closeBy is up to where, in pixels, the neighbours' crossings are asked too; beyond, what they could tell is less than 0.03 pixel.
const closeBy = 8

// nearest returns the nearest point of the outline; ok is false when nothing is in reach.
func (t *tile) nearest(x, y int) (f foot, ok bool) {
	if t.empty {
		return foot{}, false
	}
	look := func(s side) {
		t.feet(s, float64(x), float64(y), func(g foot) {
			if !ok || g.d < f.d {
				f, ok = g, true
			}
		})
	}
	if t.square256(x, y) < 256*256*closeBy*closeBy {
		t.candidates(x, y, look)
		return f, ok
	}
	s, n := t.sites(x, y)
	for _, v := range s[:n] {
		look(v)
	}
	return f, ok
}

// feet tells the nearest points of the segments that end at a crossing, or the crossing when there are none.
func (t *tile) feet(s side, px, py float64, tell func(foot)) {
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
	before := side{s.x, s.y - 1, false}
	if s.down {
		before = side{s.x - 1, s.y, false}
	}
	found := false
	for _, c := range [2]side{before, {s.x, s.y, false}} {
		o, ok := t.partner(s, c.x, c.y)
		if !ok {
			continue
		}
		found = true
		b := t.at256(o)
		dx, dy := b.x-a.x, b.y-a.y
		length := hypot(dx, dy)
		if length < 1e-9 {
			tell(foot{q: a, d: hypot(px-a.x, py-a.y), nx: in.x, ny: in.y})
			continue
		}
		f := foot{nx: -dy / length, ny: dx / length}
		if float64(f.nx*in.x)+float64(f.ny*in.y) < 0 {
			f.nx, f.ny = -f.nx, -f.ny
		}
		u := (float64((px-a.x)*dx) + float64((py-a.y)*dy)) / square(length)
		f.interior = u > 0 && u < 1
		u = min(max(u, 0), 1)
		f.q = point{a.x + float64(u*dx), a.y + float64(u*dy)}
		f.d = hypot(px-f.q.x, py-f.q.y)
		tell(f)
	}
	if !found {
		l := hypot(in.x, in.y)
		tell(foot{q: a, d: hypot(px-a.x, py-a.y), nx: in.x / l, ny: in.y / l})
	}
}

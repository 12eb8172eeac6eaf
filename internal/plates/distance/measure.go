package distance

import (
	"math"

	"laydown/internal/geom"
)

// window is half the length along a stroke over which its coverage is summed, in pixels. The sum is weighted by (1-u^2)^2, u from -1 to
// 1 along the window, so that it matters little how pixels lie in it.
const (
	window    = 3.5
	weightSum = 16. / 15 * window
)

// rays are directions of half a turn. No trigonometry: its last bits depend on the machine.
var rays = func() (r [16][2]float64) {
	for i := range r {
		x, y := 8.0, float64(2*i-8)
		if i >= 8 {
			x, y = float64(2*i-22), 8
		}
		r[i] = [2]float64{x / hypot(x, y), y / hypot(x, y)}
	}
	return r
}()

// coverage reads between pixel centres; (x, y) in pixels, whole numbers at centres. Beyond the plane its border goes on.
func (m *measurer) coverage(x, y float64) float64 {
	x, y = min(max(x, 0), float64(m.p.W-1)), min(max(y, 0), float64(m.p.H-1))
	ix, iy := min(int(x), max(m.p.W-2, 0)), min(int(y), max(m.p.H-2, 0))
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*m.p.W + ix
	right, down := 1, m.p.W
	if m.p.W == 1 {
		right = 0
	}
	if m.p.H == 1 {
		down = 0
	}
	a, b := float64(m.p.Pix[i]), float64(m.p.Pix[i+right])
	c, d := float64(m.p.Pix[i+down]), float64(m.p.Pix[i+down+right])
	top := a + float64(fx*(b-a))
	bottom := c + float64(fx*(d-c))
	return (top + float64(fy*(bottom-top))) / 255
}

// across returns the unit direction across a stroke at a pixel.
func (m *measurer) across(x, y int) (nx, ny float64) {
	d := m.depthAt(x, y)
	if d < 2.5 {
		// The edges are near: the main direction of the differences.
		var xx, yy, xy float64
		r := int(math.Ceil(d)) + 2
		for j := max(y-r, 0); j <= min(y+r, m.p.H-1); j++ {
			for i := max(x-r, 0); i <= min(x+r, m.p.W-1); i++ {
				gx, gy := geom.CoverageGradient(m.p.Pix, m.p.W, m.p.H, i, j)
				xx += float64(gx * gx)
				yy += float64(gy * gy)
				xy += float64(gx * gy)
			}
		}
		larger := (xx+yy)/2 + hypot((xx-yy)/2, xy)
		if xx >= yy {
			nx, ny = larger-yy, xy
		} else {
			nx, ny = xy, larger-xx
		}
		if n := hypot(nx, ny); n > 0 {
			return nx / n, ny / n
		}
		return 1, 0
	}
	// The shortest way through.
	best := math.Inf(1)
	for _, r := range rays {
		chord := 0.0
		for _, sign := range [2]float64{1, -1} {
			s, last := 0.5, 1.0
			for ; s < m.limit+3 && chord+s < best+0.5; s += 0.5 {
				c := m.coverage(float64(x)+float64(sign*s*r[0]), float64(y)+float64(sign*s*r[1]))
				if c < 0.5 {
					s -= float64(0.5*(0.5-c)) / (last - c)
					break
				}
				last = c
			}
			chord += s
		}
		if chord < best {
			best, nx, ny = chord, r[0], r[1]
		}
	}
	return nx, ny
}

// breadth returns how far from a pixel in a direction a stroke's coverage reaches: to where there is none, or least before
// another one begins. ok is false when it does not end in reach.
func (m *measurer) breadth(x, y, nx, ny float64) (to float64, ok bool) {
	peak := m.coverage(x, y)
	least, at := peak, 0.0
	for s := 0.5; s <= m.limit+3; s += 0.5 {
		c := m.coverage(x+float64(s*nx), y+float64(s*ny))
		if c >= peak {
			peak, least = c, c
		}
		if c <= least {
			least, at = c, s
		}
		switch {
		case c == 0:
			return s, true
		case least < peak/2 && c > least+0.04:
			return at, true
		}
	}
	return m.limit + 3, least < peak/4
}

// measure returns the width at a pixel; ok is false when it belongs to nothing of the width asked for.
func (m *measurer) measure(x, y int) (sample, bool) {
	nx, ny := m.across(x, y)
	s, tilt, ok := m.measureAcross(x, y, nx, ny)
	if ok && math.Abs(tilt) > 0.02 && math.Abs(tilt) < 1 {
		// The middle runs aslant in the window: turn with it.
		nx, ny = nx-float64(tilt*-ny), ny-float64(tilt*nx)
		n := hypot(nx, ny)
		if again, _, ok := m.measureAcross(x, y, nx/n, ny/n); ok {
			return again, true
		}
	}
	return s, ok
}

// measureAcross sums the coverage in the window; tilt is how much the middle moves across per pixel along.
func (m *measurer) measureAcross(x, y int, nx, ny float64) (s sample, tilt float64, ok bool) {
	px, py := float64(x), float64(y)
	right, ok1 := m.breadth(px, py, nx, ny)
	left, ok2 := m.breadth(px, py, -nx, -ny)
	if !ok1 || !ok2 {
		return sample{}, 0, false
	}
	r := int(math.Ceil(hypot(window, max(left, right)))) + 1
	var mass, sn, sa, san, saa float64
	for j := y - r; j <= y+r; j++ {
		row := min(max(j, 0), m.p.H-1) * m.p.W
		for i := x - r; i <= x+r; i++ {
			v := m.p.Pix[row+min(max(i, 0), m.p.W-1)]
			if v == 0 {
				continue
			}
			dx, dy := float64(i-x), float64(j-y)
			along := float64(dx*-ny) + float64(dy*nx)
			n := float64(dx*nx) + float64(dy*ny)
			in := min(right-n, n+left) + 0.5
			if along <= -window || along >= window || in <= 0 {
				continue
			}
			w := float64(min(in, 1)*float64(v)) * square(1-square(along/window))
			mass += w
			sn += float64(w * n)
			sa += float64(w * along)
			san += float64(w * n * along)
			saa += float64(w * along * along)
		}
	}
	if mass == 0 {
		return sample{}, 0, false
	}
	width, off, mean := mass/(255*weightSum), sn/mass, sa/mass
	if m.depthAt(x, y) == 0 && math.Abs(off) > 0.75 {
		return sample{}, 0, false // beside a faint line
	}
	if spread := saa/mass - square(mean); spread > 0.1 {
		tilt = (san/mass - float64(off*mean)) / spread
	}
	cx, cy := px+float64(off*nx), py+float64(off*ny)
	full := m.coverage(cx, cy)
	const beyond = window + 1
	ahead := m.coverage(cx-float64(beyond*ny), cy+float64(beyond*nx))
	behind := m.coverage(cx+float64(beyond*ny), cy-float64(beyond*nx))
	end := ahead < full/2 || behind < full/2
	if end {
		// Only the part of the window that has something counts.
		there, all := 0.0, 0.0
		for k := -6; k <= 6; k++ {
			along := float64(k) / 2
			w := square(1 - square(along/window))
			all += w
			there += float64(w * min(1, m.coverage(cx-float64(along*ny), cy+float64(along*nx))/full))
		}
		width *= all / there
	}
	return sample{x: int32(x), y: int32(y), width: float32(width), cx: float32(cx + 0.5), cy: float32(cy + 0.5), end: end}, tilt, true
}

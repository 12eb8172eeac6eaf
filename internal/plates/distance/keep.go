package distance

import (
	"fmt"
	"math"
)

// ChokeKeeping is Choke, but features that would vanish keep a core: where the shape is thinner than 2 mm + core, a band as wide as
// core stays along its middle, cut by the shape itself. A stroke of width w comes out max(w - 2 mm, min(w, core)) wide, a dot alike.
// Corners are choked as by Choke (Thin tells which); a stroke joined to something thicker stays joined to it. Memory: about
// 3.3 bytes a pixel, and one more with a Threshold.
func ChokeKeeping(p Plane, mm, core float64, o Options) (Plane, error) {
	if _, err := p.pixels(mm); err != nil {
		return Plane{}, err
	}
	width, err := p.pixels(core)
	if err != nil {
		return Plane{}, err
	}
	limit, err := p.pixels(2*mm + core)
	if err != nil {
		return Plane{}, err
	}
	if limit > maxThinPixels {
		return Plane{}, fmt.Errorf("distance: a choke of %v mm that keeps %v mm looks at %.0f pixels at %v dpi; at most %d: use a lower resolution",
			mm, core, limit, p.DPI, maxThinPixels)
	}
	if o.Threshold != 0 {
		if p, err = Choke(p, 0, o); err != nil {
			return Plane{}, err
		}
		o.Threshold, o.Faint = 0, 0
	}
	out, err := Choke(p, mm, o)
	if err != nil || core == 0 {
		return out, err
	}
	m := &measurer{p: p, limit: limit, faint: o.Faint}
	m.depths(o)
	k := keeper{m: m, out: out, radius: width / 2, at: map[int]int32{}}
	k.keep(thinOf(m, m.samples(o)))
	return out, nil
}

// thinOf leaves out samples of what is wider.
func thinOf(m *measurer, ss []sample) []sample {
	kept := ss[:0:0]
	for _, s := range ss {
		if float64(s.width) < m.limit+waver {
			kept = append(kept, s)
		}
	}
	return kept
}

// keeper paints bands along middles.
type keeper struct {
	m      *measurer
	out    Plane
	radius float64
	middle []point       // pixels from the corner of the plane
	at     map[int]int32 // pixel -> place in middle
}

func (k *keeper) keep(ss []sample) {
	p := k.m.p
	for _, s := range ss {
		k.at[int(s.y)*p.W+int(s.x)] = int32(len(k.middle))
		k.middle = append(k.middle, point{float64(s.cx), float64(s.cy)})
	}
	for i, s := range ss {
		k.band(k.middle[i], k.middle[i])
		// Each pair once: what lies behind in row order.
		for dy := -2; dy <= 0; dy++ {
			for dx := -2; dx <= 2; dx++ {
				x, y := int(s.x)+dx, int(s.y)+dy
				if dy == 0 && dx >= 0 || x < 0 || y < 0 || x >= p.W {
					continue
				}
				if j, ok := k.at[y*p.W+x]; ok && int(j) < len(ss) {
					k.band(k.middle[i], k.middle[j])
				}
			}
		}
	}
	// From the ends on along middles that widen, and straight to where it is deepest, until the choked shape is reached.
	type step struct {
		x, y int
		far  float64
	}
	var queue []step
	for _, s := range ss {
		queue = append(queue, step{int(s.x), int(s.y), 0})
	}
	for n := 0; n < len(queue); n++ {
		s := queue[n]
		from := k.middle[k.at[s.y*p.W+s.x]]
		best, most := -1, 0.0
		for i, a := range around {
			g := k.m.depthAt(s.x+a[0], s.y+a[1]) - k.m.depthAt(s.x, s.y)
			if i >= 4 {
				g /= math.Sqrt2
			}
			if g > most {
				best, most = i, g
			}
		}
		for i, a := range around {
			x, y := s.x+a[0], s.y+a[1]
			if x < 0 || y < 0 || x >= p.W || y >= p.H || k.m.depth[y*p.W+x] == 0 {
				continue
			}
			if _, ok := k.at[y*p.W+x]; ok {
				continue
			}
			far := s.far + 1
			if i >= 4 {
				far = s.far + math.Sqrt2
			}
			if d := k.m.depthAt(x, y); far > k.m.limit || d < k.m.depthAt(s.x, s.y)-0.5 || d < k.m.goal() && i != best && !k.m.ridge(x, y) {
				continue
			}
			to := point{float64(x) + 0.5, float64(y) + 0.5}
			k.band(from, to)
			k.at[y*p.W+x] = int32(len(k.middle))
			k.middle = append(k.middle, to)
			if k.m.depthAt(x, y) < k.m.goal() {
				queue = append(queue, step{x, y, far})
			}
		}
	}
}

// band paints what is radius and less from the segment a to b, as far as the shape goes.
func (k *keeper) band(a, b point) {
	p, r := k.m.p, k.radius+0.5
	x0, x1 := int(math.Floor(min(a.x, b.x)-r-0.5)), int(math.Ceil(max(a.x, b.x)+r-0.5))
	y0, y1 := int(math.Floor(min(a.y, b.y)-r-0.5)), int(math.Ceil(max(a.y, b.y)+r-0.5))
	dx, dy := b.x-a.x, b.y-a.y
	long := square(dx) + square(dy)
	for y := max(y0, 0); y <= min(y1, p.H-1); y++ {
		for x := max(x0, 0); x <= min(x1, p.W-1); x++ {
			i := y*p.W + x
			if k.out.Pix[i] >= p.Pix[i] {
				continue
			}
			px, py := float64(x)+0.5-a.x, float64(y)+0.5-a.y
			u := 0.0
			if long > 0 {
				u = min(max((float64(px*dx)+float64(py*dy))/long, 0), 1)
			}
			d := hypot(px-float64(u*dx), py-float64(u*dy))
			c := min(max(0.5+k.radius-d, 0), 1) - min(max(0.5-k.radius-d, 0), 1)
			k.out.Pix[i] = max(k.out.Pix[i], min(p.Pix[i], tone(c)))
		}
	}
}

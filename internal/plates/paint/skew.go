package paint

import (
	"math"

	"laydown/internal/geom"
)

// skew reads grids that are neither upright nor turned by 90 degrees, and smooth ones (Interpolate).
// It takes the mean of k x k points of every pixel; smooth grids are read once, between samples.
type skew struct {
	inv    geom.Matrix // pixels to samples
	k      int
	smooth bool
	tiles  [tileSlots]tile
	value  []uint64

	offset         [maxPoints]float64 // of the points inside a pixel
	ax, bx, cy, dy [maxPoints]float64 // what x and y of the points add to the sample they lie on
}

// maxPoints bounds k.
const maxPoints = 16

// Samples are fetched in tiles and remembered, since neighbouring pixels need the same ones.
const (
	tileShift = 5
	tileSide  = 1 << tileShift
	tileSlots = 128
)

type tile struct {
	used   bool
	tx, ty int
	w      int
	planes [][]uint8
}

func newSkew(inv geom.Matrix) *skew {
	step := max(math.Hypot(inv.A, inv.B), math.Hypot(inv.C, inv.D)) // samples from pixel to pixel
	s := &skew{inv: inv, k: int(max(4, min(maxPoints, math.Ceil(1.5*step))))}
	for i := range s.k {
		s.offset[i] = (float64(i) + 0.5) / float64(s.k)
	}
	return s
}

// row fills pixels x0 <= x < x1 of r.out.
func (s *skew) row(r *resampler, y, x0, x1 int) {
	if s.value == nil {
		s.value = make([]uint64, r.g.planes)
	}
	if s.smooth {
		for x := x0; x < x1; x++ {
			s.between(r, x, y)
		}
		return
	}
	for j := range s.k {
		py := float64(y) + s.offset[j]
		s.cy[j], s.dy[j] = float64(s.inv.C*py), float64(s.inv.D*py)
	}
	for x := x0; x < x1; x++ {
		s.mean(r, x, y)
	}
}

// mean takes k x k points of a pixel, those outside the grid left out.
func (s *skew) mean(r *resampler, x, y int) {
	clear(s.value)
	ax, bx := s.ax[:s.k], s.bx[:s.k]
	for i := range ax {
		px := float64(x) + s.offset[i]
		ax[i], bx[i] = float64(s.inv.A*px), float64(s.inv.B*px)
	}
	w, h := float64(r.g.w), float64(r.g.h)
	count := uint64(0)
	lastX, lastY, same := 0, 0, uint64(0) // points on one sample are added together
	for j := range s.k {
		cy, dy := s.cy[j], s.dy[j]
		for i, a := range ax {
			px, py := a+cy+s.inv.E, bx[i]+dy+s.inv.F // geom.Matrix.Apply
			if px < 0 || py < 0 || px >= w || py >= h {
				continue
			}
			count++
			if ix, iy := int(px), int(py); ix != lastX || iy != lastY {
				s.add(r, lastX, lastY, same)
				lastX, lastY, same = ix, iy, 0
			}
			same++
		}
	}
	s.add(r, lastX, lastY, same)
	if count == 0 {
		p := s.inv.Apply(geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
		s.add(r, int(max(0, min(p.X, w-1))), int(max(0, min(p.Y, h-1))), 1)
		count = 1
	}
	s.put(r, x, count)
}

// between interpolates linearly at the pixel's centre.
func (s *skew) between(r *resampler, x, y int) {
	p := s.inv.Apply(geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
	px := max(0, min(p.X-0.5, float64(r.g.w-1)))
	py := max(0, min(p.Y-0.5, float64(r.g.h-1)))
	ix, iy := int(px), int(py)
	fx, fy := uint64((px-float64(ix))*256), uint64((py-float64(iy))*256)
	jx, jy := min(ix+1, r.g.w-1), min(iy+1, r.g.h-1)
	clear(s.value)
	s.add(r, ix, iy, (256-fx)*(256-fy))
	s.add(r, jx, iy, fx*(256-fy))
	s.add(r, ix, jy, (256-fx)*fy)
	s.add(r, jx, jy, fx*fy)
	s.put(r, x, 1<<16)
}

// put writes value, a sum of count shares, as pixel x.
func (s *skew) put(r *resampler, x int, count uint64) {
	if count <= maxPoints*maxPoints && !r.g.alpha { // short numbers divide faster
		n := uint32(count)
		for c, v := range s.value {
			r.out[c][x-r.box.X0] = uint16((uint32(v)*257 + n/2) / n)
		}
		return
	}
	for c, v := range s.value {
		n := count
		if r.g.alpha && c < len(s.value)-1 {
			n *= 255
		}
		r.out[c][x-r.box.X0] = uint16((v*257 + n/2) / n)
	}
}

// add adds a sample to value.
func (s *skew) add(r *resampler, x, y int, share uint64) {
	if share == 0 {
		return
	}
	tx, ty := x>>tileShift, y>>tileShift
	t := &s.tiles[(uint(tx)+uint(ty)*11)%tileSlots]
	if !t.used || t.tx != tx || t.ty != ty {
		s.load(r, t, tx, ty)
	}
	at := (y-ty<<tileShift)*t.w + x - tx<<tileShift
	if r.g.alpha {
		last := len(t.planes) - 1
		a := share * uint64(t.planes[last][at])
		for c, p := range t.planes[:last] {
			s.value[c] += a * uint64(p[at])
		}
		s.value[last] += a
		return
	}
	for c, p := range t.planes {
		s.value[c] += share * uint64(p[at])
	}
}

func (s *skew) load(r *resampler, t *tile, tx, ty int) {
	x0, y0 := tx<<tileShift, ty<<tileShift
	x1, y1 := min(x0+tileSide, r.g.w), min(y0+tileSide, r.g.h)
	t.used, t.tx, t.ty, t.w = true, tx, ty, x1-x0
	if t.planes == nil {
		t.planes = make([][]uint8, r.g.planes)
		for c := range t.planes {
			t.planes[c] = make([]uint8, tileSide*tileSide)
		}
	}
	dst := make([][]uint8, r.g.planes)
	for y := y0; y < y1; y++ {
		for c := range dst {
			dst[c] = t.planes[c][(y-y0)*t.w:][:t.w]
		}
		r.fetch(y, x0, x1, dst)
	}
}

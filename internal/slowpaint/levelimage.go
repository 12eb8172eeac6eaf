package slowpaint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// samples are planes of 8 bits on a grid that stands on the page by m (samples to pixels).
type samples struct {
	w, h   int
	planes [][]uint8
	alpha  bool // the last plane is alpha, by which the others are weighted
	m      geom.Matrix
}

func samplesOf(im *image.Image, m geom.Matrix, planes int, row func(y int, dst [][]uint8)) *samples {
	s := &samples{w: im.Width, h: im.Height, m: geom.Matrix{A: 1 / float64(im.Width), D: -1 / float64(im.Height), F: 1}.Mul(m)}
	for range planes {
		s.planes = append(s.planes, make([]uint8, s.w*s.h))
	}
	dst := make([][]uint8, planes)
	for y := range s.h {
		for p := range dst {
			dst[p] = s.planes[p][y*s.w : (y+1)*s.w]
		}
		row(y, dst)
	}
	return s
}

// picture is the colour of an image at a pixel.
func (l *Levels) picture(it *displist.Item, ctx separate.Context) func(x, y int) Sample {
	im, m, smooth := it.Image.Image, it.Image.M.Mul(l.Device), it.Image.Interpolate
	none := func(int, int) Sample { return Sample{} }
	one := func(of *image.Image, row func(*image.Image, int, int, int, []uint8)) *samples {
		return samplesOf(of, m, 1, func(y int, dst [][]uint8) { row(of, y, 0, of.Width, dst[0]) })
	}
	if im.Stencil {
		ink := l.Target.Colour(it.Paint, it.Overprint, it.OverprintMode, false, it.Intent, ctx)
		if ink.Nothing {
			return none
		}
		where := one(im, separate.StencilRow)
		return func(x, y int) Sample {
			a := where.at(x, y, smooth)[0]
			return Sample{Effects: ink.Effects, Alpha: a, Shape: a, Premult: ink.Values, Flat: true}
		}
	}
	ink := l.Target.Image(im, it.Overprint, it.Intent, ctx)
	if ink.Nothing {
		return none
	}
	colours := samplesOf(im, m, len(ink.Painted), func(y int, dst [][]uint8) { ink.Rows().Row(y, 0, im.Width, dst) })
	var mask *samples
	switch {
	case im.SoftMask != nil:
		mask = one(im.SoftMask, separate.AlphaRow)
	case im.Mask != nil:
		mask = one(im.Mask, separate.StencilRow)
	case im.ColourKey != nil:
		mask = one(im, separate.KeyRow)
	}
	if mask != nil && mask.w == colours.w && mask.h == colours.h {
		colours.planes, colours.alpha = append(colours.planes, mask.planes[0]), true
		mask = nil
	}
	masked := mask != nil || colours.alpha
	return func(x, y int) Sample {
		s := Sample{Effects: ink.Effects, Premult: make([]uint16, len(ink.Effects)), Alpha: top, Shape: top, Eight: !masked}
		v := colours.at(x, y, smooth)
		if colours.alpha {
			s.Alpha = v[len(v)-1]
		} else if mask != nil {
			s.Alpha = mask.at(x, y, smooth)[0]
		}
		for i, c := range ink.Painted {
			s.Premult[c] = v[i]
			if mask != nil {
				s.Premult[c] = times(v[i], s.Alpha)
			}
		}
		if masked && (im.SoftMask == nil || it.AlphaIsShape) {
			s.Shape = s.Alpha
		}
		return s
	}
}

// stencil is the part of a pixel a stencil paints.
func (l *Levels) stencil(it *displist.Item, x, y int) uint16 {
	s := l.parts[it]
	if s == nil {
		im := it.Image.Image
		s = samplesOf(im, it.Image.M.Mul(l.Device), 1, func(y int, dst [][]uint8) { separate.StencilRow(im, y, 0, im.Width, dst[0]) })
		l.parts[it] = s
	}
	return s.at(x, y, it.Image.Interpolate)[0]
}

// at is the mean of the samples under a pixel, or what lies between samples.
func (s *samples) at(x, y int, smooth bool) []uint16 {
	inv, ok := s.m.Invert()
	if !ok {
		inv = geom.Matrix{}
	}
	magnified := math.Hypot(inv.A, inv.B) < 1 && math.Hypot(inv.C, inv.D) < 1
	switch {
	case smooth && magnified && ok:
		return s.between(inv, x, y)
	case inv.B == 0 && inv.C == 0:
		fx, sx := parts(x, inv.A, inv.E, s.w)
		fy, sy := parts(y, inv.D, inv.F, s.h)
		return s.mean(sx, sy, func(i, j int) int { return (fy+j)*s.w + fx + i })
	case inv.A == 0 && inv.D == 0: // x on the page runs along y of the samples
		fy, sy := parts(x, inv.B, inv.F, s.h)
		fx, sx := parts(y, inv.C, inv.E, s.w)
		return s.mean(sy, sx, func(i, j int) int { return (fy+i)*s.w + fx + j })
	}
	return s.points(inv, x, y)
}

// parts is the samples a*i+b .. a*(i+1)+b of n, and each one's part of 65536.
func parts(i int, a, b float64, n int) (first int, out []uint64) {
	lo, hi := float64(float64(i)*a)+b, float64(float64(i+1)*a)+b
	if lo > hi {
		lo, hi = hi, lo
	}
	near := func(v float64) float64 {
		if r := math.Round(v); math.Abs(v-r) < 1e-5 {
			v = r
		}
		return max(0, min(v, float64(n)))
	}
	lo, hi = near(lo), near(hi)
	if hi-lo < 1e-9 {
		return int(min((lo+hi)/2, float64(n)-0.5)), []uint64{65536}
	}
	first = int(math.Floor(lo))
	before := uint64(0)
	for k := first; float64(k) < hi; k++ {
		to := uint64(65536)
		if float64(k+1) < hi {
			to = uint64(float64((float64(k+1)-lo)/(hi-lo)*65536) + 0.5)
		}
		out = append(out, to-before)
		before = to
	}
	return first, out
}

// mean weights samples by their parts along x, rounds to 24 bits, and then along y, to 16.
func (s *samples) mean(sx, sy []uint64, index func(i, j int) int) []uint16 {
	out := make([]uint16, len(s.planes))
	last := len(s.planes) - 1
	for p, plane := range s.planes {
		total := uint64(0)
		for j, dy := range sy {
			row := uint64(0)
			for i, dx := range sx {
				v := dx * uint64(plane[index(i, j)])
				if s.alpha && p != last {
					v *= uint64(s.planes[last][index(i, j)])
				}
				row += v
			}
			if s.alpha && p != last {
				row = (row*257 + 255*128) / (255 * 256)
			} else {
				row = (row*257 + 128) >> 8
			}
			total += row * dy
		}
		out[p] = uint16((total + 1<<23) >> 24)
	}
	return out
}

// points takes the mean of k x k points of a pixel, those outside the grid left out.
func (s *samples) points(inv geom.Matrix, x, y int) []uint16 {
	k := int(max(4, min(16, math.Ceil(1.5*max(math.Hypot(inv.A, inv.B), math.Hypot(inv.C, inv.D))))))
	sum := make([]uint64, len(s.planes))
	count := uint64(0)
	for j := range k {
		for i := range k {
			p := inv.Apply(geom.Point{X: float64(x) + (float64(i)+0.5)/float64(k), Y: float64(y) + (float64(j)+0.5)/float64(k)})
			if p.X >= 0 && p.Y >= 0 && p.X < float64(s.w) && p.Y < float64(s.h) {
				s.add(sum, int(p.X), int(p.Y), 1)
				count++
			}
		}
	}
	if count == 0 {
		p := inv.Apply(geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
		s.add(sum, int(max(0, min(p.X, float64(s.w-1)))), int(max(0, min(p.Y, float64(s.h-1)))), 1)
		count = 1
	}
	return s.quotient(sum, count)
}

// between interpolates linearly at the pixel's centre, in 256 steps each way.
func (s *samples) between(inv geom.Matrix, x, y int) []uint16 {
	p := inv.Apply(geom.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
	px, py := max(0, min(p.X-0.5, float64(s.w-1))), max(0, min(p.Y-0.5, float64(s.h-1)))
	ix, iy := int(px), int(py)
	fx, fy := uint64((px-float64(ix))*256), uint64((py-float64(iy))*256)
	jx, jy := min(ix+1, s.w-1), min(iy+1, s.h-1)
	sum := make([]uint64, len(s.planes))
	s.add(sum, ix, iy, (256-fx)*(256-fy))
	s.add(sum, jx, iy, fx*(256-fy))
	s.add(sum, ix, jy, (256-fx)*fy)
	s.add(sum, jx, jy, fx*fy)
	return s.quotient(sum, 65536)
}

func (s *samples) add(sum []uint64, x, y int, part uint64) {
	last := len(s.planes) - 1
	for p, plane := range s.planes {
		v := part * uint64(plane[y*s.w+x])
		if s.alpha && p != last {
			v *= uint64(s.planes[last][y*s.w+x])
		}
		sum[p] += v
	}
}

func (s *samples) quotient(sum []uint64, count uint64) []uint16 {
	out := make([]uint16, len(sum))
	for p, v := range sum {
		n := count
		if s.alpha && p != len(sum)-1 {
			n *= 255
		}
		out[p] = uint16((v*257 + n/2) / n)
	}
	return out
}

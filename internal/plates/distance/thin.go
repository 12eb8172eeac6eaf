package distance

import (
	"fmt"
	"math"
	"slices"
)

// What is thin. Walk from a point of the shape along the steepest growth of the distance to the outline. In a stroke the walk
// comes to the middle and ends there, or goes on with hardly any growth; at a corner it runs along the bisector and gains the
// sine of half the corner's angle per step until it is in the large shape. So a place is thin when the walk does
// not reach half the width asked for, or gains less than taper on the way: the two sides then run within 15 degrees of parallel. Corners
// from 30 degrees up are no thin features, spikes up to 15 degrees are; in between it depends on how the pixels lie. The measure is that of F. Chazal, D. Cohen-Steiner and A. Lieutier, "A
// sampling theory for compact sets in Euclidean space" (2009), whose critical function is the least growth of the distance.
//
// How thin. The coverage summed over a window about the middle, of a soft length along the stroke and all of its breadth, is
// breadth times length whatever the breadth, so that lines of a third of a pixel are measured as well as lines of ten.

const taper = 0.13 // the sine of 7.5 degrees

// Region is a connected place of a plane.
type Region struct {
	X0, Y0, X1, Y1 int     // the box in pixels, half open
	X, Y           float64 // a point of it, for features and gaps where it is thin; pixels from the corner of the plane
	Width          float64 // mm, the median along its middle
	Thinnest       float64 // mm, what nine tenths of its middle exceed
	Length         float64 // mm, area by width
	Area           float64 // mm^2
}

// maxRegions of one call; a page of small type has some thousands.
const maxRegions = 100_000

// maxThinPixels bounds the width asked for, since depths are kept in 16 bits.
const maxThinPixels = 400

// Thin returns the features thinner than mm, from the top down. Corners of larger shapes are none. Bars of 0.3 to 3 pixels are
// measured within 0.1 pixel at any angle (of less than half a pixel with Options.Faint only), places shorter than 6 pixels within
// a tenth of their width. Memory: about 2.2 bytes a pixel, and one more with a Threshold.
func Thin(p Plane, mm float64, o Options) ([]Region, error) {
	px, err := p.pixels(mm)
	if err != nil {
		return nil, err
	}
	if px > maxThinPixels {
		return nil, fmt.Errorf("distance: a width of %v mm has %.0f pixels at %v dpi; widths are measured up to %d: use a lower resolution",
			mm, px, p.DPI, maxThinPixels)
	}
	if o.Threshold != 0 {
		if p, err = Choke(p, 0, o); err != nil {
			return nil, err
		}
		o.Threshold, o.Faint = 0, 0
	}
	m := &measurer{p: p, limit: px, faint: o.Faint}
	m.depths(o)
	return m.regions(m.samples(o))
}

// Gaps returns the gaps narrower than mm within and between features: the thin features of the complement.
func Gaps(p Plane, mm float64, o Options) ([]Region, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	q := Plane{Pix: make([]uint8, len(p.Pix)), W: p.W, H: p.H, DPI: p.DPI}
	for i, v := range p.Pix {
		q.Pix[i] = 255 - v
	}
	if o.Threshold != 0 {
		o.Threshold = uint8(256 - int(o.Threshold))
	}
	return Thin(q, mm, o)
}

// measurer finds what is thinner than limit pixels.
type measurer struct {
	p     Plane
	limit float64
	faint uint8
	depth []uint16 // from the outline inwards, 1/256 pixel, 0 outside
}

// sample is a pixel near the middle of something that may be thin.
type sample struct {
	x, y   int32
	width  float32 // pixels
	cx, cy float32 // the middle, pixels from the corner of the plane
	end    bool    // near an end, where the width is less sure
}

// depths fills depth as far as it matters.
func (m *measurer) depths(o Options) {
	p := m.p
	m.depth = make([]uint16, p.W*p.H)
	far := math.Floor(m.limit/2) + 3
	p.eachTile(o, far, func(t *tile) {
		t.find(0)
		for y := t.ty0; y < t.ty1; y++ {
			for x := t.tx0; x < t.tx1; x++ {
				if p.Pix[y*p.W+x] < t.level {
					continue
				}
				d := far
				if !t.empty {
					if sq := t.square256(x-t.x0, y-t.y0); sq < int64(65536*square(far+1)) {
						t.found = t.found[:0]
						s, n := t.sites(x-t.x0, y-t.y0)
						for _, v := range s[:n] {
							t.feetOf(v, float64(x-t.x0), float64(y-t.y0))
						}
						f, _ := nearestOf(t.found)
						d = min(d, f.d)
					}
				}
				m.depth[y*p.W+x] = uint16(max(d*256, 1))
			}
		}
	})
}

// samples returns the places that are thin by their shape, measured, in row order.
func (m *measurer) samples(o Options) []sample {
	p := m.p
	bands := make([][]sample, p.bands())
	p.eachBand(o, func(i, y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range p.W {
				v := p.Pix[y*p.W+x]
				thin := false
				if d := m.depth[y*p.W+x]; d != 0 {
					thin = float64(d) < m.goal()*256 && m.ridge(x, y) && m.thin(x, y)
				} else if m.faint != 0 && v >= m.faint {
					thin = m.alone(x, y)
				}
				if !thin {
					continue
				}
				if s, ok := m.measure(x, y); ok {
					bands[i] = append(bands[i], s)
				}
			}
		}
	})
	return slices.Concat(bands...)
}

var around = [8][2]int{{0, -1}, {-1, 0}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}}

func (m *measurer) depthAt(x, y int) float64 {
	x, y = min(max(x, 0), m.p.W-1), min(max(y, 0), m.p.H-1)
	return float64(m.depth[y*m.p.W+x]) / 256
}

// ridge reports whether a pixel is about as deep as any beside it: depth grows by 1 per pixel where one side of the outline alone counts, by
// 0.5 and more along the bisectors of corners from 60 degrees up, which so are left out within thin features as well.
func (m *measurer) ridge(x, y int) bool {
	d := m.depthAt(x, y)
	for k, a := range around {
		g := m.depthAt(x+a[0], y+a[1]) - d
		if k >= 4 {
			g /= math.Sqrt2
		}
		if g > 0.5 {
			return false
		}
	}
	return true
}

// alone reports whether a faint pixel belongs to no edge of something covered by half.
func (m *measurer) alone(x, y int) bool {
	for _, a := range around {
		if m.depthAt(x+a[0], y+a[1]) > 0 {
			return false
		}
	}
	return true
}

// goal is the depth at which a walk is in something thicker. Pixel centres beside the middle are up to 0.5 less deep than it, and
// strokes a little wider than asked for are measured as well.
func (m *measurer) goal() float64 { return m.limit/2 + 0.75 }

// thin walks up as told above.
func (m *measurer) thin(x, y int) bool {
	start, goal := m.depthAt(x, y), m.goal()
	d, length := start, 0.0
	for d < goal {
		if length > (goal-start)/taper+2 {
			return true
		}
		bx, by, best := 0, 0, 0.0
		for k, a := range around {
			g := m.depthAt(x+a[0], y+a[1]) - d
			if k >= 4 {
				g /= math.Sqrt2
			}
			if g > best {
				bx, by, best = a[0], a[1], g
			}
		}
		if best < taper {
			// The middle may pass between pixel centres: look farther, in a straight line within the shape.
			for dy := -3; dy <= 3; dy++ {
				for dx := -3; dx <= 3; dx++ {
					if dx*dx+dy*dy < 3 {
						continue
					}
					g := (m.depthAt(x+dx, y+dy) - d) / hypot(float64(dx), float64(dy))
					if g > max(best, taper) && m.within(x, y, dx, dy) {
						bx, by, best = dx, dy, g
					}
				}
			}
		}
		nx, ny := min(max(x+bx, 0), m.p.W-1), min(max(y+by, 0), m.p.H-1)
		if nx == x && ny == y {
			return true // the top
		}
		length += hypot(float64(nx-x), float64(ny-y))
		x, y = nx, ny
		d = m.depthAt(x, y)
	}
	return length > (d-start)/taper
}

// within reports whether the way from (x, y) to (x+dx, y+dy) stays in the shape.
func (m *measurer) within(x, y, dx, dy int) bool {
	const steps = 4
	for k := 1; k < steps; k++ {
		if m.depthAt(x+int(math.Round(float64(dx*k)/steps)), y+int(math.Round(float64(dy*k)/steps))) == 0 {
			return false
		}
	}
	return true
}

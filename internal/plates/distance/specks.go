package distance

import (
	"fmt"
	"math"
)

// run is what of one row of a component is in one piece.
type run struct{ x0, x1, y int32 }

// components joins runs of rows to components. Features join across corners, holes do not. Memory: 16 bytes a run.
type components struct {
	runs []run
	id   sets
	rows []int32 // the first run of each row
}

// label finds the runs of pixels where in holds.
func label(p Plane, in func(v uint8) bool, corners bool) components {
	var c components
	c.rows = make([]int32, p.H+1)
	reach := int32(0)
	if corners {
		reach = 1
	}
	for y := range p.H {
		c.rows[y] = int32(len(c.runs))
		row := p.Pix[y*p.W : (y+1)*p.W]
		above := 0
		if y > 0 {
			above = int(c.rows[y-1])
		}
		for x := 0; x < p.W; {
			if !in(row[x]) {
				x++
				continue
			}
			x0 := x
			for x < p.W && in(row[x]) {
				x++
			}
			r := run{int32(x0), int32(x), int32(y)}
			k := int32(len(c.runs))
			c.runs, c.id = append(c.runs, r), append(c.id, k)
			if y == 0 {
				continue
			}
			for above < int(c.rows[y]) && c.runs[above].x1+reach <= r.x0 {
				above++
			}
			for i := above; i < int(c.rows[y]) && c.runs[i].x0 < r.x1+reach; i++ {
				c.id.join(int32(i), k)
			}
		}
	}
	c.rows[p.H] = int32(len(c.runs))
	for i := range c.id {
		c.id[i] = c.id.root(int32(i))
	}
	return c
}

// find returns the run that holds a pixel, -1 when none does.
func (c *components) find(x, y int32) int32 {
	lo, hi := c.rows[y], c.rows[y+1]
	for lo < hi {
		mid := (lo + hi) / 2
		if c.runs[mid].x1 <= x {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo < c.rows[y+1] && c.runs[lo].x0 <= x {
		return lo
	}
	return -1
}

// blob sums up a component.
type blob struct {
	area           float64 // pixels
	sx, sy         float64
	x0, y0, x1, y1 int32
	edge           bool // it touches the border of the plane
}

// blobs sums the coverage of components by their number. Pixels beside one belong to it with what they are covered, once each, to the
// run above or left of them first.
func (c *components) blobs(p Plane, value func(v uint8) float64) []blob {
	out := make([]blob, len(c.runs))
	at := func(r run, k int32) *blob {
		b := &out[k]
		if b.x1 == 0 {
			b.x0, b.y0 = math.MaxInt32, math.MaxInt32
		}
		b.x0, b.y0, b.x1, b.y1 = min(b.x0, r.x0), min(b.y0, r.y), max(b.x1, r.x1), max(b.y1, r.y+1)
		b.edge = b.edge || r.x0 == 0 || r.y == 0 || int(r.x1) == p.W || int(r.y) == p.H-1
		return b
	}
	add := func(b *blob, x, y int32) {
		if v := value(p.Pix[int(y)*p.W+int(x)]); v > 0 {
			b.area += v
			b.sx += float64(v * (float64(x) + 0.5))
			b.sy += float64(v * (float64(y) + 0.5))
		}
	}
	for i, r := range c.runs {
		b := at(r, c.id[i])
		for x := r.x0; x < r.x1; x++ {
			add(b, x, r.y)
		}
		// The fringe: left and right of the run, and the rows above and below from one pixel left of it to one right.
		for y := max(r.y-1, 0); y <= min(r.y+1, int32(p.H)-1); y++ {
			for x := max(r.x0-1, 0); x < min(r.x1+1, int32(p.W)); x++ {
				if y == r.y && x >= r.x0 && x < r.x1 {
					x = r.x1 - 1
					continue
				}
				if p.Pix[int(y)*p.W+int(x)] != 0 && c.find(x, y) < 0 && c.owner(x, y) == int32(i) {
					add(b, x, y)
				}
			}
		}
	}
	return out
}

// owner returns the first run that a pixel of no run touches.
func (c *components) owner(x, y int32) int32 {
	for j := max(y-1, 0); j <= min(y+1, int32(len(c.rows))-2); j++ {
		for i := x - 1; i <= x+1; i++ {
			if k := c.find(i, j); k >= 0 {
				return k
			}
		}
	}
	return -1
}

// Specks returns the connected features of less than area mm^2, from the top down; pixels that touch by a corner are connected. With
// Options.Faint features that cover no pixel by half count too. Memory: 70 bytes for each run of a row.
func Specks(p Plane, area float64, o Options) ([]Region, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	if !(area >= 0) {
		return nil, fmt.Errorf("distance: an area of %v mm^2; it must be 0 or more", area)
	}
	level := o.level()
	value := func(v uint8) float64 { return float64(v) / 255 }
	if o.Threshold != 0 {
		value = func(v uint8) float64 {
			if v >= level {
				return 1
			}
			return 0
		}
	} else if o.Faint != 0 {
		level = min(level, o.Faint)
	}
	c := label(p, func(v uint8) bool { return v >= level }, true)
	var out []Region
	mm := p.PerMM()
	for i, b := range c.blobs(p, value) {
		if c.id[i] != int32(i) || b.area/square(mm) >= area {
			continue
		}
		if len(out) == maxRegions {
			return nil, fmt.Errorf("distance: more than %d specks of less than %v mm^2: this is grain or a screen, not line work", maxRegions, area)
		}
		// As wide and long as the rectangle of that area in the shape of the box.
		w, h := float64(b.x1-b.x0), float64(b.y1-b.y0)
		scale := math.Sqrt(b.area / float64(w*h))
		out = append(out, Region{X0: int(b.x0), Y0: int(b.y0), X1: int(b.x1), Y1: int(b.y1), X: b.sx / b.area, Y: b.sy / b.area,
			Width: min(w, h) * scale / mm, Thinnest: min(w, h) * scale / mm, Length: max(w, h) * scale / mm, Area: b.area / square(mm)})
	}
	return out, nil
}

// FillHoles returns the shape with the holes of less than area mm^2 filled. A hole is a connected gap (by sides, not by corners) that
// does not reach the border of the plane. The result has the bytes of the plane elsewhere.
func FillHoles(p Plane, area float64, o Options) (Plane, error) {
	if err := p.check(); err != nil {
		return Plane{}, err
	}
	if !(area >= 0) {
		return Plane{}, fmt.Errorf("distance: an area of %v mm^2; it must be 0 or more", area)
	}
	level := o.level()
	value := func(v uint8) float64 { return 1 - float64(v)/255 }
	if o.Threshold != 0 {
		value = func(v uint8) float64 {
			if v < level {
				return 1
			}
			return 0
		}
	}
	c := label(p, func(v uint8) bool { return v < level }, false)
	out := p
	out.Pix = append([]uint8(nil), p.Pix...)
	blobs := c.blobs(p, value)
	limit := area * square(p.PerMM())
	for i, r := range c.runs {
		if b := blobs[c.id[i]]; b.edge || b.area >= limit {
			continue
		}
		for y := max(r.y-1, 0); y <= min(r.y+1, int32(p.H)-1); y++ {
			for x := max(r.x0-1, 0); x < min(r.x1+1, int32(p.W)); x++ {
				// The hole and its fringe, but not what touches another gap, which stays.
				if k := c.find(x, y); k >= 0 {
					if c.id[k] == c.id[i] {
						out.Pix[int(y)*p.W+int(x)] = 255
					}
				} else if o.Threshold == 0 && c.alone(x, y, blobs, limit) {
					out.Pix[int(y)*p.W+int(x)] = 255
				}
			}
		}
	}
	return out, nil
}

// alone reports whether a pixel of no run touches holes below limit only.
func (c *components) alone(x, y int32, blobs []blob, limit float64) bool {
	for j := max(y-1, 0); j <= min(y+1, int32(len(c.rows))-2); j++ {
		for i := x - 1; i <= x+1; i++ {
			if k := c.find(i, j); k >= 0 {
				if b := blobs[c.id[k]]; b.edge || b.area >= limit {
					return false
				}
			}
		}
	}
	return true
}

package outline

import (
	"fmt"
	"math"

	"laydown/internal/geom"
)

// Marching squares: W. Lorensen and H. Cline, "Marching Cubes", SIGGRAPH 1987, in the plane. In each square of four pixel centres the
// contour goes from where, clockwise, the inside ends to where it begins. With two of each, the mean of the four pixels
// tells which belong together.

// node is a crossing; next is -1 once it is in a loop.
type node struct{ x, y, next int32 } // 1/256 pixel, whole pixels at centres

// marcher walks the squares row by row, keeping the crossings of a row.
type marcher struct {
	p     Plane
	level uint8
	area  bool
	nodes []node
}

// march finds and links all crossings. Squares reach one pixel beyond the plane, where there is nothing.
func (m *marcher) march() error {
	w, h := m.p.W, m.p.H
	blank := make([]uint8, w)
	row := func(y int) []uint8 {
		if y < 0 || y >= h {
			return blank
		}
		return m.p.Pix[y*w : (y+1)*w]
	}
	// The number of the crossing right of pixel x-1 in the upper and the lower row, and below pixel x-1; only where there is one.
	top, bottom, side := make([]int32, w+2), make([]int32, w+2), make([]int32, w+2)
	for y := -1; y < h; y++ {
		above, below := row(y), row(y+1)
		if len(m.nodes) > maxCrossings {
			return fmt.Errorf("outline: more than %d crossings in the first %d of %d rows: this is grain or a screen; threshold or smooth the plane, or keep it as an image",
				maxCrossings, y, h)
		}
		m.across(below, y+1, bottom)
		for x, v := range above {
			if (v >= m.level) != (below[x] >= m.level) {
				side[x+1] = m.add(x, y, true, v, below[x])
			}
		}
		m.link(above, below, top, bottom, side)
		top, bottom = bottom, top
	}
	return nil
}

// across adds the crossings within a row.
func (m *marcher) across(row []uint8, y int, ids []int32) {
	last := uint8(0)
	in := false
	for x, v := range row {
		if (v >= m.level) != in {
			in = !in
			ids[x] = m.add(x-1, y, false, last, v)
		}
		last = v
	}
	if in {
		ids[len(row)] = m.add(len(row)-1, y, false, last, 0)
	}
}

// add notes the crossing between pixel (x, y) of value a and its right or lower neighbour of value b.
func (m *marcher) add(x, y int, down bool, a, b uint8) int32 {
	p := &m.p
	var t float64
	switch {
	case !m.area:
		t = (float64(m.level) - 0.5 - float64(a)) / (float64(b) - float64(a))
	case x < 0 || y < 0 || down && y+1 == p.H || !down && x+1 == p.W:
		t = (127.5 - float64(a)) / (float64(b) - float64(a)) // at the border
	default:
		t = geom.CoverageCrossing(p.Pix, p.W, p.H, x, y, down)
	}
	// Not at a centre, so that no two crossings are one point.
	at := int32(min(max(math.Round(t*256), 1), 255))
	n := node{x: int32(x) * 256, y: int32(y) * 256}
	if down {
		n.y += at
	} else {
		n.x += at
	}
	m.nodes = append(m.nodes, n)
	return int32(len(m.nodes) - 1)
}

// link joins the crossings of a row of squares. ids[i] of top and bottom belong to the line between pixels i-1 and i, those of side
// to the line below pixel i-1.
func (m *marcher) link(above, below []uint8, top, bottom, side []int32) {
	level := m.level
	w := len(above)
	tl, bl := uint8(0), uint8(0)
	for i := 0; i <= w; i++ {
		tr, br := uint8(0), uint8(0)
		if i < w {
			tr, br = above[i], below[i]
		}
		kind := 0
		if tl >= level {
			kind |= 1
		}
		if tr >= level {
			kind |= 2
		}
		if br >= level {
			kind |= 4
		}
		if bl >= level {
			kind |= 8
		}
		if kind != 0 && kind != 15 {
			ids := [4]int32{top[i], side[i+1], bottom[i], side[i]} // top, right, bottom, left
			if kind == 5 || kind == 10 {
				together := 2*(int(tl)+int(tr)+int(br)+int(bl)) >= 8*int(level)-4
				m.saddle(kind == 5, together, ids)
			} else {
				l := links[kind]
				m.nodes[ids[l[0]]].next = ids[l[1]]
			}
		}
		tl, bl = tr, br
	}
}

// links tells for each set of corners inside (1 top left, 2 top right, 4 bottom right, 8 bottom left) on which side, clockwise, the inside
// ends and on which it begins.
var links = [16][2]uint8{
	1: {0, 3}, 2: {1, 0}, 3: {1, 3}, 4: {2, 1}, 6: {2, 0}, 7: {2, 3},
	8: {3, 2}, 9: {0, 2}, 11: {1, 2}, 12: {3, 1}, 13: {0, 1}, 14: {3, 0},
}

func (m *marcher) saddle(topLeft, together bool, ids [4]int32) {
	var pairs [2][2]int
	switch {
	case topLeft && together:
		pairs = [2][2]int{{0, 1}, {2, 3}}
	case topLeft:
		pairs = [2][2]int{{0, 3}, {2, 1}}
	case together:
		pairs = [2][2]int{{3, 0}, {1, 2}}
	default:
		pairs = [2][2]int{{1, 0}, {3, 2}}
	}
	for _, l := range pairs {
		m.nodes[ids[l[0]]].next = ids[l[1]]
	}
}

// loop appends the contour through a crossing to pts and takes it out.
func (m *marcher) loop(i int, pts []geom.Point) []geom.Point {
	for at := int32(i); m.nodes[at].next >= 0; {
		n := &m.nodes[at]
		pts = append(pts, geom.Point{X: float64(n.x) / 256, Y: float64(n.y) / 256})
		at, n.next = n.next, -1
	}
	return pts
}

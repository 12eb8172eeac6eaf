package plate

import (
	"image"
	"slices"
)

// Where two plates differ is told by a few rectangles. While rows go by, a coarse grid of cells keeps the
// tight box of what differs in each; at the end cells that touch become one box, boxes that
// overlap are joined, and the nearest are joined until few enough are left.

const (
	maxCells = 256 // of the grid, each way: at most 2 MB a plate, whatever the page
	maxBoxes = 6   // told of a plate
	fewCells = 64  // boxes that are compared each with each
)

// cells is the grid of one plate; it takes no memory until something is marked.
type cells struct {
	size image.Point // pixels
	side int         // of a cell, pixels
	w, h int
	tint []image.Rectangle // per cell: what differs in it; nil = nothing anywhere
}

func newCells(size image.Point, side int) *cells {
	side = max(side, 1, (max(size.X, size.Y)+maxCells-1)/maxCells)
	return &cells{size: size, side: side, w: (size.X + side - 1) / side, h: (size.Y + side - 1) / side}
}

// mark notes that pixels x0..x1 of row y, all in one cell, have a difference at both ends.
func (c *cells) mark(x0, x1, y int) {
	if c.tint == nil {
		c.tint = make([]image.Rectangle, c.w*c.h)
	}
	r := &c.tint[y/c.side*c.w+x0/c.side]
	*r = r.Union(image.Rect(x0, y, x1+1, y+1))
}

// boxes returns at most n rectangles that hold all that was marked, by rows.
func (c *cells) boxes(n int) []image.Rectangle {
	if c.tint == nil {
		return nil
	}
	g := *c
	out := g.connected()
	for len(out) > fewCells {
		g = g.coarser()
		out = g.connected()
	}
	out = joinOverlapping(out)
	for len(out) > n {
		out = joinOverlapping(joinNearest(out))
	}
	slices.SortFunc(out, func(a, b image.Rectangle) int {
		if a.Min.Y != b.Min.Y {
			return a.Min.Y - b.Min.Y
		}
		return a.Min.X - b.Min.X
	})
	return out
}

// connected joins cells that touch, at corners too.
func (c *cells) connected() []image.Rectangle {
	var out []image.Rectangle
	seen := make([]bool, len(c.tint))
	var stack []int
	for start := range c.tint {
		if seen[start] || c.tint[start].Empty() {
			continue
		}
		seen[start] = true
		stack = append(stack[:0], start)
		var box image.Rectangle
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			box = box.Union(c.tint[i])
			x, y := i%c.w, i/c.w
			for ny := max(y-1, 0); ny <= min(y+1, c.h-1); ny++ {
				for nx := max(x-1, 0); nx <= min(x+1, c.w-1); nx++ {
					if k := ny*c.w + nx; !seen[k] && !c.tint[k].Empty() {
						seen[k] = true
						stack = append(stack, k)
					}
				}
			}
		}
		out = append(out, box)
	}
	return out
}

// coarser is the grid with four cells in one.
func (c *cells) coarser() cells {
	g := cells{size: c.size, side: c.side * 2, w: (c.w + 1) / 2, h: (c.h + 1) / 2}
	g.tint = make([]image.Rectangle, g.w*g.h)
	for i, r := range c.tint {
		k := i/c.w/2*g.w + i%c.w/2
		g.tint[k] = g.tint[k].Union(r)
	}
	return g
}

// joinOverlapping joins rectangles until none overlaps another.
func joinOverlapping(list []image.Rectangle) []image.Rectangle {
	for i := 0; i < len(list); i++ {
		for k := i + 1; k < len(list); k++ {
			if list[i].Overlaps(list[k]) {
				list[i] = list[i].Union(list[k])
				list = slices.Delete(list, k, k+1)
				i = -1 // the larger one may overlap those before
				break
			}
		}
	}
	return list
}

// joinNearest joins the two rectangles whose common box holds the least that neither holds.
func joinNearest(list []image.Rectangle) []image.Rectangle {
	area := func(r image.Rectangle) int { return r.Dx() * r.Dy() }
	bi, bk, least := 0, 1, -1
	for i := range list {
		for k := i + 1; k < len(list); k++ {
			waste := area(list[i].Union(list[k])) - area(list[i]) - area(list[k])
			if least < 0 || waste < least {
				bi, bk, least = i, k, waste
			}
		}
	}
	list[bi] = list[bi].Union(list[bk])
	return slices.Delete(list, bk, bk+1)
}

package check

import (
	"math"

	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

// letterMM is the height up to which shapes in a row may be small type drawn as outlines: 12 pt, as for type in a font.
var letterMM = float64(press.LengthFromPoints(12))

// betweenLetters leaves out the spaces between outlined letters of small type: those whose box holds nothing but two or more
// letters of one row.
func (w *lineWork) betweenLetters(gaps []distance.Region) (out []distance.Region) {
	const most = 2000 // places told apart; a page of more has other faults
	for i, r := range gaps {
		if i >= most || !w.spaceInRow(r) {
			out = append(out, r)
		}
	}
	return out
}

// blot is a connected shape of the work.
type blot struct {
	x0, y0, x1, y1 int // half open
	pixels         int
	cut            bool // by the edge of what was looked at
	beside         bool // it lies in the box of the gap
}

// spaceInRow reports whether the shapes about a gap are letters in a row.
func (w *lineWork) spaceInRow(r distance.Region) bool {
	size := letterMM * w.PerMM()
	reach := int(math.Ceil(size)) + 2
	x0, y0, x1, y1 := max(0, r.X0-reach), max(0, r.Y0-reach), min(w.W, r.X1+reach), min(w.H, r.Y1+reach)
	if (x1-x0)*(y1-y0) > 1<<22 {
		return false // longer than any space between letters
	}
	blots := w.blots(x0, y0, x1, y1, r)
	for i := range blots {
		if b := &blots[i]; b.beside && (b.cut || float64(max(b.x1-b.x0, b.y1-b.y0)) > 1.5*size || float64(min(b.x1-b.x0, b.y1-b.y0)) > size) {
			return false
		}
	}
	if inRow(blots) {
		return true
	}
	for i := range blots { // type may run up the page
		b := &blots[i]
		b.x0, b.y0, b.x1, b.y1 = b.y0, b.x0, b.y1, b.x1
	}
	return inRow(blots)
}

// inRow reports whether the shapes beside a gap are two or more letters of one line of three or more: side by side, of like heights,
// and not just bars, of which codes are made.
func inRow(blots []blot) bool {
	tallest, top, bottom := 0, 0, 0
	for _, b := range blots {
		if h := b.y1 - b.y0; b.beside && h > tallest {
			tallest, top, bottom = h, b.y0, b.y1
		}
	}
	var line []blot
	beside, curved := 0, 0
	for _, b := range blots {
		h, share := b.y1-b.y0, min(b.y1, bottom)-max(b.y0, top)
		switch {
		case b.cut || 5*h < 2*tallest: // dots and accents
			continue
		case 2*share < h || h > 2*tallest: // above or below
			if b.beside {
				return false
			}
			continue
		}
		for _, o := range line {
			if common := min(b.x1, o.x1) - max(b.x0, o.x0); (b.beside || o.beside) && 5*common > min(b.x1-b.x0, o.x1-o.x0) {
				return false // one within or upon the other
			}
		}
		line = append(line, b)
		if b.beside {
			beside++
		}
		if 4*b.pixels < 3*(b.x1-b.x0)*h {
			curved++
		}
	}
	return beside >= 2 && len(line) >= 3 && 2*curved >= len(line)
}

// blots are the connected shapes of a part of the work.
func (w *lineWork) blots(x0, y0, x1, y1 int, r distance.Region) (out []blot) {
	wide, high := x1-x0, y1-y0
	seen := make([]bool, wide*high)
	solid := func(x, y int) bool { return w.Pix[(y0+y)*w.W+x0+x] >= 128 }
	var stack []int
	for at := range seen {
		if seen[at] || !solid(at%wide, at/wide) {
			continue
		}
		b := blot{x0: x1, y0: y1}
		seen[at] = true
		for stack = append(stack[:0], at); len(stack) > 0; {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := p%wide, p/wide
			b.pixels++
			b.x0, b.y0, b.x1, b.y1 = min(b.x0, x0+x), min(b.y0, y0+y), max(b.x1, x0+x+1), max(b.y1, y0+y+1)
			for _, q := range [4][2]int{{x - 1, y}, {x + 1, y}, {x, y - 1}, {x, y + 1}} {
				if q[0] < 0 || q[1] < 0 || q[0] >= wide || q[1] >= high {
					b.cut = true
				} else if n := q[1]*wide + q[0]; !seen[n] && solid(q[0], q[1]) {
					seen[n] = true
					stack = append(stack, n)
				}
			}
		}
		b.beside = b.x0 < r.X1+2 && b.x1 > r.X0-2 && b.y0 < r.Y1 && b.y1 > r.Y0
		out = append(out, b)
	}
	return out
}

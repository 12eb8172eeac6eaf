package check

import (
	"laydown/internal/geom"
)

// A mask is one byte a pixel of the page's plates, not 0 = inside.
type mask []byte

func (p *Page) newMask() mask { return make(mask, p.Plates.Width*p.Plates.Height) }

// areaMM2 is the area of the mask.
func (p *Page) areaMM2(m mask) float64 {
	n := 0
	for _, v := range m {
		if v != 0 {
			n++
		}
	}
	return float64(n) * p.px() * p.px()
}

// bounds is the box of the mask in list space; empty when the mask is.
func (p *Page) bounds(m mask) geom.Rect {
	w := p.Plates.Width
	x0, y0, x1, y1 := w, p.Plates.Height, 0, 0
	for i, v := range m {
		if v != 0 {
			x, y := i%w, i/w
			x0, x1, y0, y1 = min(x0, x), max(x1, x+1), min(y0, y), max(y1, y+1)
		}
	}
	if x1 <= x0 {
		return geom.Rect{}
	}
	return p.listRect(x0, y0, x1, y1)
}

// patch is a connected part of a mask.
type patch struct {
	area           int // pixels
	x0, y0, x1, y1 int
	at             [2]int // one of its pixels
}

// patches finds the parts connected by edges, largest first is not promised; the mask is consumed.
func (p *Page) patches(m mask, least int) []patch {
	w, h := p.Plates.Width, p.Plates.Height
	var out []patch
	var stack []int
	for start, v := range m {
		if v == 0 {
			continue
		}
		q := patch{x0: w, y0: h, at: [2]int{start % w, start / w}}
		m[start] = 0
		stack = append(stack[:0], start)
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := i%w, i/w
			q.area++
			q.x0, q.x1, q.y0, q.y1 = min(q.x0, x), max(q.x1, x+1), min(q.y0, y), max(q.y1, y+1)
			if x > 0 && m[i-1] != 0 {
				m[i-1] = 0
				stack = append(stack, i-1)
			}
			if x+1 < w && m[i+1] != 0 {
				m[i+1] = 0
				stack = append(stack, i+1)
			}
			if y > 0 && m[i-w] != 0 {
				m[i-w] = 0
				stack = append(stack, i-w)
			}
			if y+1 < h && m[i+w] != 0 {
				m[i+w] = 0
				stack = append(stack, i+w)
			}
		}
		if q.area >= least {
			out = append(out, q)
		}
	}
	return out
}

// thickOnly removes parts of the mask thinner than 2 x mm: it keeps what lies within mm of a pixel that
// is deeper than mm inside, so that rims of anti-aliasing, chokes and register do not count.
func (p *Page) thickOnly(m mask, mm float64) mask {
	w, h := p.Plates.Width, p.Plates.Height
	r := mm / p.px()
	depth := geom.Distance(inverse(m), w, h)
	core := make(mask, len(m))
	any := false
	for i, d := range depth {
		if m[i] != 0 && float64(d) > r {
			core[i], any = 1, true
		}
	}
	if !any {
		return core
	}
	reach := geom.Distance(core, w, h)
	for i := range m {
		core[i] = 0
		if m[i] != 0 && float64(reach[i]) <= r+1 {
			core[i] = 1
		}
	}
	return core
}

func inverse(m mask) mask {
	out := make(mask, len(m))
	for i, v := range m {
		if v == 0 {
			out[i] = 1
		}
	}
	return out
}

// itemsIn lists the printing items, groups left out, whose bounds meet the box and for which keep says yes.
func (p *Page) itemsIn(box geom.Rect, keep func(i int) bool) []int {
	var out []int
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if !it.Hidden && !it.Bounds.Intersect(box).Empty() && keep(i) {
			out = append(out, i)
		}
	}
	return out
}

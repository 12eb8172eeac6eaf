package sheet

import (
	"math"
	"slices"
)

// MarkKind is what a mark is for.
type MarkKind string

// The marks. Crop and fold marks are lines outside the trim; register marks and the label are boxes the writer draws in,
// as is the colour bar.
const (
	MarkCrop     MarkKind = "crop"
	MarkFold     MarkKind = "fold"
	MarkRegister MarkKind = "register"
	MarkBar      MarkKind = "bar"
	MarkLabel    MarkKind = "label"
)

// Mark is one mark on a side of a sheet.
type Mark struct {
	Kind MarkKind `json:"kind"`
	A    Point    `json:"a"`  // ends of a line
	B    Point    `json:"b"`  //
	Box  Rect     `json:"in"` // of what is no line
}

// Choice says which marks a sheet gets.
type Choice struct{ Crop, Fold, Register, Bar, Label bool }

// AllMarks are all there are.
var AllMarks = Choice{true, true, true, true, true}

// Sizes of marks in mm: common practice, no source.
const (
	markLength    = 5.0 // of crop and fold marks
	markLeast     = 1.5 // a mark cut shorter than this is left out
	markOffset    = 2.0 // from the trim where there is less bleed
	registerSize  = 5.0
	barHeight     = 5.0
	labelHeight   = 2.8
	stripOfBar    = 5.2
	stripOfLabel  = 2.8
	registerClear = 0.7 // kept between a register mark and a line
)

// Room is what marks ask for: outside the outermost trims, and along the trail edge.
func (c Choice) Room(bleed float64) (edge, strip float64) {
	edge = bleed
	if c.Crop || c.Fold || c.Register {
		edge = max(bleed, markOffset) + markLength
	}
	if c.Bar {
		strip += stripOfBar
	}
	if c.Label {
		strip += stripOfLabel
	}
	return edge, strip
}

// marks draws up the marks of a side with pieces at places.
func (l *Layout) marks(places []Place, j Job) (out []Mark) {
	m := &marker{l: l, places: places, offset: max(j.Bleed, markOffset), seen: map[Mark]bool{}}
	_, strip := j.Marks.Room(j.Bleed)
	for _, p := range places {
		if j.Marks.Crop {
			m.crop(p)
		}
		if j.Marks.Fold {
			for _, f := range j.Folds {
				m.fold(p, f)
			}
		}
	}
	u := l.Usable
	if j.Marks.Register {
		m.registers(strip)
	}
	bottom := u.Y + u.H
	if j.Marks.Label {
		bottom -= labelHeight
		m.out = append(m.out, Mark{Kind: MarkLabel, Box: Rect{u.X, bottom, u.W, labelHeight}})
	}
	if j.Marks.Bar {
		m.out = append(m.out, Mark{Kind: MarkBar, Box: Rect{u.X, bottom - barHeight, u.W, barHeight}})
	}
	return m.out
}

type marker struct {
	l      *Layout
	places []Place
	offset float64
	seen   map[Mark]bool
	out    []Mark
}

// printed is what may be printed of a piece.
func printed(p Place) Rect {
	return Rect{p.X - p.Bleed[0], p.Y - p.Bleed[1], p.W + p.Bleed[0] + p.Bleed[2], p.H + p.Bleed[1] + p.Bleed[3]}
}

func (m *marker) crop(p Place) {
	for _, x := range []float64{p.X, p.X + p.W} {
		m.line(MarkCrop, Point{x, p.Y}, Point{0, -1})
		m.line(MarkCrop, Point{x, p.Y + p.H}, Point{0, 1})
	}
	for _, y := range []float64{p.Y, p.Y + p.H} {
		m.line(MarkCrop, Point{p.X, y}, Point{-1, 0})
		m.line(MarkCrop, Point{p.X + p.W, y}, Point{1, 0})
	}
}

// fold marks the ends of a line that lie on the trim.
func (m *marker) fold(p Place, s Segment) {
	a, b := p.OnSheet(s.A), p.OnSheet(s.B)
	for _, e := range [2][2]Point{{a, b}, {b, a}} {
		at, d := e[0], Point{sign0(e[0].X - e[1].X), sign0(e[0].Y - e[1].Y)}
		const near = 0.01
		onTrim := d.X != 0 && (math.Abs(at.X-p.X) < near || math.Abs(at.X-p.X-p.W) < near) ||
			d.Y != 0 && (math.Abs(at.Y-p.Y) < near || math.Abs(at.Y-p.Y-p.H) < near)
		if onTrim {
			m.line(MarkFold, at, d)
		}
	}
}

func sign0(v float64) float64 {
	switch {
	case v > 1e-9:
		return 1
	case v < -1e-9:
		return -1
	}
	return 0
}

// line draws a mark that begins beside at, in the direction d, as far as no piece is in its way.
func (m *marker) line(kind MarkKind, at, d Point) {
	from, to := m.offset, m.offset+markLength
	for _, p := range m.places {
		r := printed(p)
		// Where the ray from at meets what is printed of another piece.
		lo, hi := math.Inf(-1), math.Inf(1)
		for _, ax := range [2][4]float64{{at.X, d.X, r.X, r.X + r.W}, {at.Y, d.Y, r.Y, r.Y + r.H}} {
			const eps = 1e-6
			if ax[1] == 0 {
				if ax[0] <= ax[2]+eps || ax[0] >= ax[3]-eps {
					lo = math.Inf(1)
				}
				continue
			}
			a, b := (ax[2]-ax[0])/ax[1], (ax[3]-ax[0])/ax[1]
			lo, hi = max(lo, min(a, b)), min(hi, max(a, b))
		}
		if lo < hi && hi > from && lo < to {
			if lo <= from {
				return // a piece begins before the mark could
			}
			to = min(to, lo)
		}
	}
	u := m.l.Usable
	end := func(t float64) Point { return Point{at.X + float64(d.X*t), at.Y + float64(d.Y*t)} }
	inside := func(p Point) bool {
		const eps = 1e-6
		return p.X >= u.X-eps && p.X <= u.X+u.W+eps && p.Y >= u.Y-eps && p.Y <= u.Y+u.H+eps
	}
	for to-from >= markLeast && !inside(end(to)) {
		to -= 0.5
	}
	if to-from < markLeast {
		return
	}
	a, b := end(from), end(to)
	k := Mark{Kind: kind, A: Point{round(a.X, 3), round(a.Y, 3)}, B: Point{round(b.X, 3), round(b.Y, 3)}}
	if m.seen[k] {
		return
	}
	m.seen[k] = true
	m.out = append(m.out, k)
}

// registers puts a register mark near the middle of each edge, where nothing else is.
func (m *marker) registers(strip float64) {
	u := m.l.Usable
	u.H -= strip
	type try struct{ x, y, dx, dy float64 }
	half := registerSize / 2
	for _, t := range []try{
		{u.X + u.W/2, u.Y + half, 1, 0}, {u.X + u.W/2, u.Y + u.H - half, 1, 0},
		{u.X + half, u.Y + u.H/2, 0, 1}, {u.X + u.W - half, u.Y + u.H/2, 0, 1},
	} {
		for step := range 2 * int(max(u.W, u.H)) {
			d := float64((step+1)/2) * float64(1-2*(step%2)) // 0, -1, 1, -2, 2 …
			box := Rect{round(t.x+float64(t.dx*d)-half, 3), round(t.y+float64(t.dy*d)-half, 3), registerSize, registerSize}
			if box.X < u.X-1e-6 || box.Y < u.Y-1e-6 || box.X+box.W > u.X+u.W+1e-6 || box.Y+box.H > u.Y+u.H+1e-6 {
				continue
			}
			if m.free(box) {
				m.out = append(m.out, Mark{Kind: MarkRegister, Box: box})
				break
			}
		}
	}
}

// free tells whether nothing lies in a box.
func (m *marker) free(b Rect) bool {
	meets := func(r Rect, gap float64) bool {
		return r.X < b.X+b.W+gap && b.X < r.X+r.W+gap && r.Y < b.Y+b.H+gap && b.Y < r.Y+r.H+gap
	}
	if slices.ContainsFunc(m.places, func(p Place) bool { return meets(printed(p), -1e-6) }) {
		return false
	}
	return !slices.ContainsFunc(m.out, func(k Mark) bool {
		r := k.Box
		if k.Kind == MarkCrop || k.Kind == MarkFold {
			r = Rect{min(k.A.X, k.B.X), min(k.A.Y, k.B.Y), math.Abs(k.A.X - k.B.X), math.Abs(k.A.Y - k.B.Y)}
		}
		return meets(r, registerClear)
	})
}

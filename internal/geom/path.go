package geom

// Verb says what the next points of a path mean.
type Verb uint8

// The path verbs and how many points each takes.
const (
	MoveTo  Verb = iota // 1 point
	LineTo              // 1 point
	CubicTo             // 3 points: two controls, then the end
	Close               // 0 points: a straight segment back to the last MoveTo
)

// Path is a list of subpaths. Points are stored flat in verb order. A finished path is shared
// between goroutines and must not be changed.
type Path struct {
	Verbs  []Verb
	Points []Point
}

// Move starts a subpath at p.
func (p *Path) Move(pt Point) { p.Verbs = append(p.Verbs, MoveTo); p.Points = append(p.Points, pt) }

// Line adds a straight segment.
func (p *Path) Line(pt Point) { p.Verbs = append(p.Verbs, LineTo); p.Points = append(p.Points, pt) }

// Cubic adds a Bezier segment with controls a, b ending at c.
func (p *Path) Cubic(a, b, c Point) {
	p.Verbs = append(p.Verbs, CubicTo)
	p.Points = append(p.Points, a, b, c)
}

// ClosePath ends the subpath with a segment to its start.
func (p *Path) ClosePath() { p.Verbs = append(p.Verbs, Close) }

// Rect adds r as a closed subpath.
func (p *Path) Rect(r Rect) {
	p.Move(Point{r.X0, r.Y0})
	p.Line(Point{r.X1, r.Y0})
	p.Line(Point{r.X1, r.Y1})
	p.Line(Point{r.X0, r.Y1})
	p.ClosePath()
}

// Empty reports whether the path has no segment at all.
func (p *Path) Empty() bool { return p == nil || len(p.Verbs) == 0 }

// Append adds a copy of q, mapped by m.
func (p *Path) Append(q *Path, m Matrix) {
	p.Verbs = append(p.Verbs, q.Verbs...)
	for _, pt := range q.Points {
		p.Points = append(p.Points, m.Apply(pt))
	}
}

// Transform returns a mapped copy.
func (p *Path) Transform(m Matrix) *Path {
	q := &Path{Verbs: p.Verbs, Points: make([]Point, len(p.Points))}
	for i, pt := range p.Points {
		q.Points[i] = m.Apply(pt)
	}
	return q
}

// Bounds returns the box of all points, control points included: it holds the path, perhaps loosely.
func (p *Path) Bounds() Rect {
	if len(p.Points) == 0 {
		return Rect{}
	}
	b := Rect{p.Points[0].X, p.Points[0].Y, p.Points[0].X, p.Points[0].Y}
	for _, q := range p.Points[1:] {
		b = Rect{min(b.X0, q.X), min(b.Y0, q.Y), max(b.X1, q.X), max(b.Y1, q.Y)}
	}
	return b
}

// AsRect returns the rectangle when p is exactly one axis-parallel rectangle, closed or not; it may
// be empty. A fifth point must repeat the first one.
func (p *Path) AsRect() (Rect, bool) {
	v, q := p.Verbs, p.Points
	if n := len(v); n > 0 && v[n-1] == Close {
		v = v[:n-1]
	}
	if len(v) == 5 && v[4] == LineTo && len(q) == 5 && q[4] == q[0] {
		v, q = v[:4], q[:4]
	}
	if len(v) != 4 || v[0] != MoveTo || v[1] != LineTo || v[2] != LineTo || v[3] != LineTo {
		return Rect{}, false
	}
	ok := (q[0].X == q[1].X && q[1].Y == q[2].Y && q[2].X == q[3].X && q[3].Y == q[0].Y) ||
		(q[0].Y == q[1].Y && q[1].X == q[2].X && q[2].Y == q[3].Y && q[3].X == q[0].X)
	if !ok {
		return Rect{}, false
	}
	return RectOf(q[0].X, q[0].Y, q[2].X, q[2].Y), true
}

// FillRule decides which side of a path is inside (ISO 32000-2, 8.5.3.3).
type FillRule uint8

// The two fill rules.
const (
	NonZero FillRule = iota
	EvenOdd
)

// Cap is the shape of an open line end (Table 53).
type Cap uint8

// Join is the shape of a corner (Table 54).
type Join uint8

// Line caps and joins, numbered as in PDF.
const (
	ButtCap Cap = iota
	RoundCap
	SquareCap
)

// Line joins, numbered as in PDF.
const (
	MiterJoin Join = iota
	RoundJoin
	BevelJoin
)

// StrokeStyle is the pen of a stroke, in the user space of the stroke (before its matrix).
type StrokeStyle struct {
	Width      float64 // >= 0; 0 is the thinnest line the device can mark (8.4.3.2)
	Cap        Cap
	Join       Join
	MiterLimit float64   // >= 1
	Dash       []float64 // nil = solid; lengths >= 0, not all 0
	DashPhase  float64
	Adjust     bool // SA, stroke adjustment (10.7.5)
}

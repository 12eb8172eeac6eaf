package interp

import (
	"math"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// procedure is a Type 3 glyph of one font, met on this page.
type procedure struct {
	stream  *pdf.Stream
	form    *form
	outline *procOutline // nil when the procedure does more than fill a shape
}

// procOutline is what a glyph procedure marks when all it does is fill paths in the current colour.
// Such glyphs are shown like those of other fonts: one item for many.
type procOutline struct {
	path   *geom.Path // glyph space, to be filled non-zero; nil = a blank
	bounds geom.Rect
	thin   float64 // thickness of the thinnest part
	apart  bool    // no two fills touch: painting them one by one is painting their union
}

const (
	// thinOutline, in points: thinner parts are painted as paths, which press pixels never miss, and not
	// as outlines, which may fall between them (10.7.4).
	thinOutline = 0.01
	// maxOutlineParts bounds the search for overlaps in one glyph.
	maxOutlineParts = 256
)

// procedureOf finds a glyph's procedure; nil when it has none.
func (m *machine) procedureOf(r *procedureRun, g *font.Glyph) *procedure {
	if g.ID < 0 || g.ID > 255 {
		return nil
	}
	p := r.known[g.ID]
	if p == nil {
		p = m.readProcedure(r.font.Type3.Procs[g.Name])
		r.known[g.ID] = p
	}
	return p
}

// proceduresOf are the procedures of a font met so far.
func (m *machine) proceduresOf(f *font.Font) *[256]*procedure {
	known := m.procedures[f]
	if known == nil {
		known = new([256]*procedure)
		m.procedures[f] = known
	}
	return known
}

func (m *machine) readProcedure(s *pdf.Stream) *procedure {
	p := &procedure{stream: s}
	if s == nil {
		return p
	}
	fm, ok := m.forms[keyOf(s)]
	if !ok {
		data, err := m.r.Doc.Data(s)
		if err != nil {
			m.damaged("glyph procedure")
		}
		fm = &form{stream: s, data: data}
		m.forms[keyOf(s)] = fm
	}
	p.form = fm
	if fillsOnly(fm.data) {
		p.outline = m.outlineOf(fm)
	}
	return p
}

// outlineOperators may stand in a procedure that becomes an outline: those that build and fill paths,
// those that only say how lines would look, and colours, which a d1 glyph ignores.
var outlineOperators = map[string]bool{
	"q": true, "Q": true, "cm": true,
	"m": true, "l": true, "c": true, "v": true, "y": true, "h": true, "re": true,
	"f": true, "F": true, "f*": true, "n": true,
	"w": true, "J": true, "j": true, "M": true, "d": true, "i": true,
	"g": true, "G": true, "rg": true, "RG": true, "k": true, "K": true,
	"cs": true, "CS": true, "sc": true, "SC": true, "scn": true, "SCN": true,
}

// fillsOnly reports whether a procedure is sound, begins with d1 and only fills paths.
func fillsOnly(data []byte) bool {
	if len(data) > maxKeptContent {
		return false
	}
	sc := content.NewScanner(data)
	sound := true
	sc.Problem = func(int64, string) { sound = false }
	for n := 0; sound; n++ {
		op, ok := sc.Next()
		if !ok {
			return sound && n > 0
		}
		if op.Inline != nil || n == 0 && op.Name != "d1" || n > 0 && !outlineOperators[op.Name] {
			return false
		}
	}
	return false
}

// outlineOf runs a procedure of fills in its own glyph space and joins what it fills.
func (m *machine) outlineOf(fm *form) *procOutline {
	gs, items, made, stack := m.gs, m.items, m.made, m.stack
	m.gs = initialState(geom.Identity, geom.Rect{X0: -maxCoord, Y0: -maxCoord, X1: maxCoord, Y1: maxCoord})
	m.items, m.stack = nil, nil
	f := &frame{res: m.f.res, origin: displist.Origin{Page: m.page.Number, Object: fm.stream.Ref.Num}, glyph: true, source: keyOf(fm.stream)}
	m.run(fm, f)
	fills := m.items
	m.gs, m.items, m.made, m.stack = gs, items, made, stack
	if m.stopped {
		return nil
	}
	return joinFills(fills)
}

// joinFills makes one outline of fills that are painted one after the other in the same colour; nil
// when the non-zero fill of it all may differ from their union.
func joinFills(fills []displist.Item) *procOutline {
	var parts []outlinePart
	for i := range fills {
		s := &fills[i].Shape
		if apart := convexParts(s.Path); apart != nil {
			parts = append(parts, apart...)
		} else if s.Rule == geom.NonZero {
			parts = append(parts, partFrom(s.Path))
		} else {
			return nil
		}
	}
	if len(parts) > maxOutlineParts {
		return nil
	}
	o := &procOutline{thin: math.Inf(1), apart: true}
	if len(parts) == 0 {
		return o
	}
	o.path = &geom.Path{}
	for i, p := range parts {
		if !(p.thin > 0) || !holds(geom.Rect{X0: -maxCoord / 4, Y0: -maxCoord / 4, X1: maxCoord / 4, Y1: maxCoord / 4}, p.bounds) {
			return nil
		}
		for _, q := range parts[:i] {
			if !p.convex || !q.convex {
				if !p.bounds.Intersect(q.bounds).Empty() {
					return nil
				}
			}
			o.apart = o.apart && (p.bounds.X0 > q.bounds.X1 || p.bounds.X1 < q.bounds.X0 || p.bounds.Y0 > q.bounds.Y1 || p.bounds.Y1 < q.bounds.Y0)
		}
		o.thin = min(o.thin, p.thin)
		o.path.Append(p.path, geom.Identity)
	}
	o.bounds = o.path.Bounds()
	return o
}

// outlinePart is one fill of an outline, wound counterclockwise on the whole so that parts and glyphs
// in one pixel add up instead of cancelling out.
type outlinePart struct {
	path   *geom.Path
	bounds geom.Rect
	convex bool    // one convex subpath
	thin   float64 // area of the thinnest subpath over its length
}

func partFrom(path *geom.Path) outlinePart {
	p := outlinePart{path: path, bounds: path.Bounds(), thin: math.Inf(1)}
	subs := subpaths(path)
	sum := 0.0
	for _, s := range subs {
		b, a := s.Bounds(), signedArea(s)
		sum += a
		p.thin = min(p.thin, math.Abs(a)/math.Hypot(b.W(), b.H()))
		if p.thin != p.thin {
			p.thin = 0
		}
	}
	p.convex = len(subs) == 1 && isConvex(subs[0])
	if sum < 0 {
		p.path = &geom.Path{}
		for _, s := range subs {
			p.path.Append(reversed(s), geom.Identity)
		}
	}
	return p
}

// convexParts makes a part of every subpath when all are convex and none touches another: then both
// fill rules mean the same, whatever their directions; nil otherwise.
func convexParts(path *geom.Path) []outlinePart {
	subs := subpaths(path)
	if len(subs) > maxOutlineParts {
		return nil
	}
	parts := make([]outlinePart, len(subs))
	for i, s := range subs {
		parts[i] = partFrom(s)
		if !parts[i].convex {
			return nil
		}
		for _, q := range parts[:i] {
			if !parts[i].bounds.Intersect(q.bounds).Empty() {
				return nil
			}
		}
	}
	return parts
}

// subpaths cuts a path at its MoveTos. The pieces share its memory.
func subpaths(p *geom.Path) []*geom.Path {
	var subs []*geom.Path
	from, at, first := 0, 0, 0
	cut := func(to int) {
		if to > from {
			subs = append(subs, &geom.Path{Verbs: p.Verbs[from:to:to], Points: p.Points[first:at:at]})
		}
		from, first = to, at
	}
	for i, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			cut(i)
			at++
		case geom.LineTo:
			at++
		case geom.CubicTo:
			at += 3
		}
	}
	cut(len(p.Verbs))
	return subs
}

// signedArea is the area a subpath encloses, positive when it runs from x to y.
func signedArea(p *geom.Path) float64 {
	cross := func(a, b geom.Point) float64 { return float64(a.X*b.Y) - float64(a.Y*b.X) }
	q := p.Points
	sum, at := 0.0, 0 // twice the area; the current point
	for _, v := range p.Verbs {
		switch v {
		case geom.LineTo:
			sum += cross(q[at], q[at+1])
			at++
		case geom.CubicTo:
			// The integral of x dy - y dx over a Bezier segment.
			a, b, c, d := q[at], q[at+1], q[at+2], q[at+3]
			sum += 0.6*cross(a, b) + 0.3*cross(a, c) + 0.1*cross(a, d) + 0.3*cross(b, c) + 0.3*cross(b, d) + 0.6*cross(c, d)
			at += 3
		}
	}
	return (sum + cross(q[at], q[0])) / 2
}

// reversed is a subpath drawn from its end to its start.
func reversed(p *geom.Path) *geom.Path {
	r := &geom.Path{Verbs: []geom.Verb{geom.MoveTo}}
	for i := len(p.Points) - 1; i >= 0; i-- {
		r.Points = append(r.Points, p.Points[i])
	}
	closed := false
	for i := len(p.Verbs) - 1; i > 0; i-- {
		if p.Verbs[i] == geom.Close {
			closed = true
		} else {
			r.Verbs = append(r.Verbs, p.Verbs[i])
		}
	}
	if closed {
		r.ClosePath()
	}
	return r
}

// isConvex reports whether a subpath's control polygon is convex and turns once; the curve is then
// convex too. It may say no of one whose rounding says otherwise.
func isConvex(p *geom.Path) bool {
	var q []geom.Point
	for _, pt := range p.Points {
		if len(q) == 0 || q[len(q)-1] != pt {
			q = append(q, pt)
		}
	}
	for len(q) > 1 && q[len(q)-1] == q[0] {
		q = q[:len(q)-1]
	}
	n := len(q)
	if n < 3 {
		return false
	}
	turn, left, right := 0.0, false, false
	for i := range q {
		a, b, c := q[i], q[(i+1)%n], q[(i+2)%n]
		ux, uy, vx, vy := b.X-a.X, b.Y-a.Y, c.X-b.X, c.Y-b.Y
		cross, dot := float64(ux*vy)-float64(uy*vx), float64(ux*vx)+float64(uy*vy)
		t := math.Atan2(cross, dot)
		const level = 1e-4 // radians; written coordinates are rounded
		if math.Abs(t) > math.Pi-level {
			return false
		}
		left, right = left || t > level, right || t < -level
		turn += t
	}
	return left != right && math.Abs(math.Abs(turn)-2*math.Pi) < 0.1
}

// leastScale is the least by which a matrix stretches any direction, or a little less.
func leastScale(a geom.Matrix) float64 {
	n := math.Hypot(math.Hypot(a.A, a.B), math.Hypot(a.C, a.D))
	if n == 0 {
		return 0
	}
	return math.Abs(a.Det()) / n
}

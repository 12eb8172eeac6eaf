package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// pathBuilder gathers the current path (8.5.2) in list space. A moveto is written only when a
// segment follows, so that lone points neither mark nor widen the bounds.
type pathBuilder struct {
	verbs      []geom.Verb
	points     []geom.Point
	bounds     geom.Rect
	start, cur geom.Point
	begun      bool // there is a current point
	pending    bool // a moveto to start is to be written before the next segment
	full       bool // over the limit
	clip       clipUse
}

type clipUse uint8

const (
	noClip clipUse = iota
	clipNonZero
	clipEvenOdd
)

func (p *pathBuilder) reset() {
	*p = pathBuilder{verbs: p.verbs[:0], points: p.points[:0]}
}

func (p *pathBuilder) add(pt geom.Point) {
	if len(p.points) == 0 {
		p.bounds = geom.Rect{X0: pt.X, Y0: pt.Y, X1: pt.X, Y1: pt.Y}
	} else {
		b := &p.bounds
		b.X0, b.Y0, b.X1, b.Y1 = min(b.X0, pt.X), min(b.Y0, pt.Y), max(b.X1, pt.X), max(b.Y1, pt.Y)
	}
	p.points = append(p.points, pt)
}

func (p *pathBuilder) move(pt geom.Point) {
	p.start, p.cur, p.begun, p.pending = pt, pt, true, true
}

func (p *pathBuilder) flushMove() {
	if p.pending {
		p.verbs = append(p.verbs, geom.MoveTo)
		p.add(p.start)
		p.pending = false
	}
}

func (p *pathBuilder) line(pt geom.Point) {
	p.flushMove()
	p.verbs = append(p.verbs, geom.LineTo)
	p.add(pt)
	p.cur = pt
}

func (p *pathBuilder) cubic(a, b, c geom.Point) {
	p.flushMove()
	p.verbs = append(p.verbs, geom.CubicTo)
	p.add(a)
	p.add(b)
	p.add(c)
	p.cur = c
}

func (p *pathBuilder) close() {
	if !p.begun || p.pending && len(p.verbs) > 0 && p.verbs[len(p.verbs)-1] == geom.Close && p.cur == p.start {
		return // nothing open
	}
	p.flushMove()
	p.verbs = append(p.verbs, geom.Close)
	p.cur, p.pending = p.start, true
}

// room reports whether the path may grow; past the limit it is reported once.
func (m *machine) room() bool {
	p := &m.path
	if len(p.points) < limits.MaxPathPoints {
		return true
	}
	if !p.full {
		p.full = true
		m.overLimit("A path has more than five million points.", false)
	}
	return false
}

// at maps a point of user space.
func (m *machine) at(x, y float64) geom.Point {
	return clampPoint(m.gs.ctm.Apply(geom.Point{X: x, Y: y}))
}

// started makes sure there is a current point; a segment without one starts at pt, as a damaged
// file that lost its moveto means it to.
func (m *machine) started(pt geom.Point) {
	if !m.path.begun {
		m.report(finding.Finding{ID: "path-without-start", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
			What:   "A line or curve has no starting point; its first point is taken.",
			Why:    "A part of the drawing may be missing.",
			Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
		m.path.move(pt)
	}
}

func opm(m *machine, v []float64) { m.path.move(m.at(v[0], v[1])) }

func opl(m *machine, v []float64) {
	if m.room() {
		pt := m.at(v[0], v[1])
		m.started(pt)
		m.path.line(pt)
	}
}

func opc(m *machine, v []float64) {
	if m.room() {
		a := m.at(v[0], v[1])
		m.started(a)
		m.path.cubic(a, m.at(v[2], v[3]), m.at(v[4], v[5]))
	}
}

func opv(m *machine, v []float64) {
	if m.room() {
		a := m.at(v[0], v[1])
		m.started(a)
		m.path.cubic(m.path.cur, a, m.at(v[2], v[3]))
	}
}

func opy(m *machine, v []float64) {
	if m.room() {
		a, c := m.at(v[0], v[1]), m.at(v[2], v[3])
		m.started(a)
		m.path.cubic(a, c, c)
	}
}

func oph(m *machine, _ []float64) { m.path.close() }

func opre(m *machine, v []float64) {
	if !m.room() {
		return
	}
	x, y, w, h := v[0], v[1], v[2], v[3]
	p := &m.path
	p.move(m.at(x, y))
	p.line(m.at(x+w, y))
	p.line(m.at(x+w, y+h))
	p.line(m.at(x, y+h))
	p.close()
}

func opS(m *machine, _ []float64)     { m.paintPath(false, true, geom.NonZero) }
func ops(m *machine, _ []float64)     { m.path.close(); m.paintPath(false, true, geom.NonZero) }
func opf(m *machine, _ []float64)     { m.paintPath(true, false, geom.NonZero) }
func opfStar(m *machine, _ []float64) { m.paintPath(true, false, geom.EvenOdd) }
func opB(m *machine, _ []float64)     { m.paintPath(true, true, geom.NonZero) }
func opBStar(m *machine, _ []float64) { m.paintPath(true, true, geom.EvenOdd) }
func opb(m *machine, _ []float64)     { m.path.close(); m.paintPath(true, true, geom.NonZero) }
func opbStar(m *machine, _ []float64) { m.path.close(); m.paintPath(true, true, geom.EvenOdd) }
func opn(m *machine, _ []float64)     { m.paintPath(false, false, geom.NonZero) }

func opW(m *machine, _ []float64)     { m.path.clip = clipNonZero }
func opWStar(m *machine, _ []float64) { m.path.clip = clipEvenOdd }

// paintPath ends the current path: paints it, then lets a pending W take effect (8.5.4).
func (m *machine) paintPath(fill, stroke bool, rule geom.FillRule) {
	p := &m.path
	switch {
	case len(p.verbs) > 0:
		paint := (fill || stroke) && m.reaches(p.bounds, stroke)
		if !paint && p.clip == noClip {
			break
		}
		s := displist.Shape{Path: m.pathFrom(p), Rule: rule}
		if paint {
			m.paintShape(s, p.bounds, nil, fill, stroke)
		}
		if p.clip != noClip {
			s.Rule = geom.NonZero
			if p.clip == clipEvenOdd {
				s.Rule = geom.EvenOdd
			}
			m.clipTo(s, p.bounds)
		}
	case p.clip != noClip && p.begun:
		m.gs.area = geom.Rect{} // a point has no inside
	}
	p.reset()
}

// pathFrom copies the builder's path to memory that lives with the list.
func (m *machine) pathFrom(p *pathBuilder) *geom.Path {
	path := &m.arena.paths.take(1)[0]
	path.Points = m.arena.points.take(len(p.points))
	copy(path.Points, p.points)
	path.Verbs = m.arena.verbs.take(len(p.verbs))
	copy(path.Verbs, p.verbs)
	return path
}

// clipTo intersects the clip with a shape. A rectangle that holds all that is left changes nothing.
func (m *machine) clipTo(s displist.Shape, bounds geom.Rect) {
	area := m.gs.area.Intersect(bounds)
	if s.Path != nil {
		if r, ok := s.Path.AsRect(); ok && holds(r, m.gs.area) {
			return
		}
	}
	if area.Empty() {
		m.gs.area = geom.Rect{}
		return
	}
	m.gs.area = area
	m.gs.clip = &displist.Clip{Parent: m.gs.clip, Shape: s, Bounds: area}
}

func holds(r, inner geom.Rect) bool {
	return r.X0 <= inner.X0 && r.Y0 <= inner.Y0 && r.X1 >= inner.X1 && r.Y1 >= inner.Y1
}

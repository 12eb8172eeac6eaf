package interp

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// thinnest is half the width the thinnest line may have when shown at 72 dots per inch (8.4.3.2):
// bounds of hairlines hold at least it.
const thinnest = 0.5

// strokeReach is how far a stroke's marks may lie from its path, in x and y of list space; miter is
// how many half widths a corner may reach out.
func (m *machine) strokeReach(miter float64) (x, y float64) {
	st, c := &m.gs.style, &m.gs.ctm
	r := st.Width / 2
	if st.Join == geom.MiterJoin {
		r *= max(miter, 1)
	}
	if st.Cap == geom.SquareCap {
		r = max(r, st.Width/2*math.Sqrt2)
	}
	// A disc of radius r becomes an ellipse with these half extents.
	x = max(r*math.Hypot(c.A, c.C), thinnest*m.space.unit)
	y = max(r*math.Hypot(c.B, c.D), thinnest*m.space.unit)
	return min(x, maxCoord), min(y, maxCoord)
}

// strokeBounds holds the marks of a stroke along a path with the given bounds.
func (m *machine) strokeBounds(b geom.Rect, miter float64) geom.Rect {
	x, y := m.strokeReach(miter)
	return geom.Rect{X0: b.X0 - x, Y0: b.Y0 - y, X1: b.X1 + x, Y1: b.Y1 + y}
}

// sharpest is how far the sharpest corner of a shape reaches under the current line style, in half
// widths: exact for paths of straight lines under a pen that is not skewed, else the miter limit.
func (m *machine) sharpest(s displist.Shape) float64 {
	limit := m.gs.style.MiterLimit
	if m.gs.style.Join != geom.MiterJoin || s.Path == nil {
		return limit
	}
	p, c := s.Path, m.gs.ctm
	if _, ok := p.AsRect(); ok {
		return 1 // corners reach half a width along x and along y
	}
	round := math.Abs(float64(c.A*c.C)+float64(c.B*c.D)) <= 1e-6*math.Abs(c.Det()) &&
		math.Abs(math.Hypot(c.A, c.B)-math.Hypot(c.C, c.D)) <= 1e-6*math.Hypot(c.A, c.B)
	if !round {
		return limit
	}
	reach := 1.0
	corner := func(a, b, d geom.Point) {
		ux, uy, vx, vy := b.X-a.X, b.Y-a.Y, d.X-b.X, d.Y-b.Y
		n := math.Hypot(ux, uy) * math.Hypot(vx, vy)
		if n == 0 {
			reach = limit // which way a point of no length faces is the stroker's affair
			return
		}
		cos := (float64(ux*vx) + float64(uy*vy)) / n
		if k := math.Sqrt(2 / max(1+cos, 1e-12)); k <= limit*1.001 {
			reach = max(reach, k*1.001)
		}
	}
	start, at := 0, 0
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			start = at
			at++
		case geom.LineTo:
			if at-start >= 2 {
				corner(p.Points[at-2], p.Points[at-1], p.Points[at])
			}
			at++
		case geom.CubicTo:
			return limit
		case geom.Close:
			first, last := p.Points[start], p.Points[at-1]
			if n := at - start; n >= 2 {
				if last != first {
					corner(p.Points[at-2], last, first)
					corner(last, first, p.Points[start+1])
				} else {
					corner(p.Points[at-2], first, p.Points[start+1])
				}
			}
		}
	}
	return reach
}

// fillBounds gives shapes without height or width, which a press still marks as a hairline (10.7.4),
// just enough of it not to be empty. unit is that of the item space.
func fillBounds(b geom.Rect, unit float64) geom.Rect {
	hair := unit / 256
	if b.X0 == b.X1 && b.Y0 < b.Y1 {
		b.X0, b.X1 = b.X0-hair, b.X1+hair
	} else if b.Y0 == b.Y1 && b.X0 < b.X1 {
		b.Y0, b.Y1 = b.Y0-hair, b.Y1+hair
	}
	return b
}

// reaches reports whether painting a path with bounds b can mark anything.
func (m *machine) reaches(b geom.Rect, stroke bool) bool {
	if m.gs.area.Empty() {
		return false
	}
	if stroke {
		b = m.strokeBounds(b, m.gs.style.MiterLimit)
	}
	return !fillBounds(b, m.space.unit).Intersect(m.gs.area).Empty()
}

// paintShape fills and strokes a shape with the current colours; b holds the shape. When both
// happen and transparency is on, they are one object (11.7.4.4): an implicit group.
func (m *machine) paintShape(s displist.Shape, b geom.Rect, text *displist.Text, fill, stroke bool) {
	var fb, sb geom.Rect
	var fillPaint, strokePaint displist.Paint
	if fill {
		fb = fillBounds(b, m.space.unit).Intersect(m.gs.area)
		if fill = !fb.Empty(); fill {
			fillPaint, fill = m.sourceOf(&m.gs.fill, &fb)
		}
	}
	if stroke {
		sb = m.strokeBounds(b, m.sharpest(s)).Intersect(m.gs.area)
		if stroke = !sb.Empty(); stroke {
			strokePaint, stroke = m.sourceOf(&m.gs.stroke, &sb)
		}
	}
	group := -1
	inside := &m.gs
	if fill && stroke && (m.gs.transparent() || blends(fillPaint) || blends(strokePaint)) {
		if m.gs.strokeOver && m.gs.fillAlpha == m.gs.strokeAlpha {
			// Composited with the object's alpha and mode; inside only overprint acts.
			group = m.openGroup(m.item(displist.BeginGroup, fb.Union(sb)), &displist.Group{Implicit: true})
			plain := m.gs
			plain.resetTransparency()
			inside = &plain
		} else {
			it := m.item(displist.BeginGroup, fb.Union(sb))
			it.Alpha, it.Blend, it.SoftMask = 1, displist.Normal, nil
			group = m.openGroup(it, &displist.Group{Implicit: true, Knockout: true})
		}
	}
	if fill {
		it := m.itemOf(inside, displist.Fill, fb)
		it.Shape, it.Text = s, text
		m.emitPainted(it, fillPaint, m.gs.fill.pattern)
	}
	if stroke {
		it := m.itemOf(inside, displist.Stroke, sb)
		it.Shape, it.Text, it.Pen = s, text, m.penNow()
		it.Alpha, it.Overprint = inside.strokeAlpha, inside.strokeOver
		m.emitPainted(it, strokePaint, m.gs.stroke.pattern)
	}
	m.closeGroup(group)
}

// groupItem is the group that holds an item and is composited in its place.
func groupItem(it displist.Item) displist.Item {
	it.Kind, it.Shape, it.Pen, it.Paint, it.Image, it.Shading = displist.BeginGroup, displist.Shape{}, nil, displist.Paint{}, nil, nil
	return it
}

// penNow is the current line style, shared with the last stroke when nothing changed.
func (m *machine) penNow() *displist.Pen {
	lin := m.gs.ctm
	lin.E, lin.F = 0, 0
	st := &m.gs.style
	if p := m.pen; p != nil && p.M == lin && p.Style.Width == st.Width && p.Style.Cap == st.Cap && p.Style.Join == st.Join &&
		p.Style.MiterLimit == st.MiterLimit && p.Style.DashPhase == st.DashPhase && p.Style.Adjust == st.Adjust && sameSlice(p.Style.Dash, st.Dash) {
		return p
	}
	m.pen = &displist.Pen{Style: *st, M: lin}
	return m.pen
}

func sameSlice(a, b []float64) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// item starts an item from the current state, as a fill would be painted.
func (m *machine) item(kind displist.Kind, b geom.Rect) displist.Item {
	return m.itemOf(&m.gs, kind, b)
}

func (m *machine) itemOf(s *state, kind displist.Kind, b geom.Rect) displist.Item {
	f := m.f
	it := displist.Item{
		Kind: kind, Bounds: b, Clip: s.clip,
		Alpha: s.fillAlpha, AlphaIsShape: s.alphaIsShape, Blend: s.blend, SoftMask: s.softMask,
		Overprint: s.fillOver, OverprintMode: s.overprintMode, Intent: s.intent, Transfer: s.transferFunc || s.transferHT,
		Text: f.shown, Origin: f.origin,
	}
	it.Origin.Object, it.Origin.Offset = f.object(m.offset), m.offset
	if f.oc != nil {
		it.Layer, it.Hidden = f.oc.layer, f.oc.hidden
	}
	return it
}

// emit puts an item on the list. Overprint under a blend mode other than Normal needs a group of its
// own: inside, overprint acts; the group is composited with the mode (11.7.4.3).
func (m *machine) emit(it displist.Item) {
	if it.Text == nil {
		it.Text = m.f.shown
	}
	if it.Overprint && it.Blend != displist.Normal {
		g := m.openGroup(groupItem(it), &displist.Group{Implicit: true})
		it.Alpha, it.Blend, it.SoftMask = 1, displist.Normal, nil
		m.append(it)
		m.closeGroup(g)
		return
	}
	m.append(it)
}

func (m *machine) append(it displist.Item) {
	if m.made >= limits.MaxItems {
		if !m.stopped {
			m.overLimit("The page draws more than a million objects.", true)
		}
		return
	}
	m.made++
	if len(m.items) == cap(m.items) { // twice as many, so that each is moved once on average
		grown := make([]displist.Item, len(m.items), 2*cap(m.items)+16)
		copy(grown, m.items)
		m.items = grown
	}
	m.items = append(m.items, it)
	if m.f.oc != nil && m.f.oc.differs {
		m.list.ViewerDiffers = true
	}
}

// openGroup begins a transparency group and returns what closeGroup needs; -1 when groups are
// nested too deeply, in which case the members are painted without it.
func (m *machine) openGroup(it displist.Item, g *displist.Group) int {
	if m.depth >= limits.MaxGroupDepth {
		m.overLimit("Transparency groups are nested more than forty deep.", false)
		return -1
	}
	if m.made >= limits.MaxItems {
		m.append(it)
		return -1
	}
	it.Kind, it.Group, it.Overprint, it.OverprintMode = displist.BeginGroup, g, false, 0
	it.Clip = nil // its members carry the whole clip
	m.append(it)
	m.depth++
	return len(m.items) - 1
}

// closeGroup ends the group that openGroup began. A group without members is taken back; one with
// members gets their bounds.
func (m *machine) closeGroup(index int) {
	if index < 0 {
		return
	}
	m.depth--
	if index == len(m.items)-1 {
		m.items = m.items[:index]
		m.made--
		return
	}
	it := &m.items[index]
	it.Group.End = len(m.items)
	var b geom.Rect
	for i := index + 1; i < len(m.items); {
		member := &m.items[i]
		b = b.Union(member.Bounds)
		if member.Kind == displist.BeginGroup {
			i = member.Group.End
		} else {
			i++
		}
	}
	it.Bounds = b
}

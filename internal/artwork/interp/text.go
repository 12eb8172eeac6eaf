package interp

import (
	"math"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// textObject is what lives from BT to ET (9.4).
type textObject struct {
	open       bool
	tm, tlm    geom.Matrix
	number     int
	first      int              // index of the first item of it
	clip       []displist.Glyph // shown in a clipping mode
	clipBounds geom.Rect
	procedures bool // a Type 3 glyph was shown
	buffer     []font.Glyph
}

// glyphCache keeps the bounds of shared outlines.
type glyphCache map[*geom.Path]geom.Rect

func (c glyphCache) bounds(p *geom.Path) geom.Rect {
	b, ok := c[p]
	if !ok {
		b = p.Bounds()
		c[p] = b
	}
	return b
}

func opBT(m *machine, _ []float64) {
	m.endText()
	m.beginText()
}

func opET(m *machine, _ []float64) { m.endText() }

func (m *machine) beginText() {
	m.texts++
	m.text = textObject{open: true, tm: geom.Identity, tlm: geom.Identity, number: m.texts, first: len(m.items), buffer: m.text.buffer}
}

// endText ends a text object: overlapping glyphs knock each other out (9.3.8), and text shown in a
// clipping mode becomes part of the clip.
func (m *machine) endText() {
	t := &m.text
	if !t.open {
		return
	}
	t.open = false
	if m.gs.textKnockout && !t.procedures && knockoutShows(m.items, t.first) {
		m.groupFromItems(t.first)
	}
	// Only glyphs without outlines, such as blanks, clip nothing (9.3.6).
	if len(t.clip) > 0 {
		m.clipTo(displist.Shape{Glyphs: t.clip}, t.clipBounds)
	}
	t.clip = nil
}

func opTc(m *machine, v []float64) { m.gs.text.charSpace = v[0] }
func opTw(m *machine, v []float64) { m.gs.text.wordSpace = v[0] }
func opTz(m *machine, v []float64) { m.gs.text.scale = v[0] / 100 }
func opTL(m *machine, v []float64) { m.gs.text.leading = v[0] }
func opTs(m *machine, v []float64) { m.gs.text.rise = v[0] }

func opTr(m *machine, v []float64) {
	if v[0] != math.Trunc(v[0]) || v[0] < 0 || v[0] > 7 {
		m.damaged("Tr")
		return
	}
	m.gs.text.mode = int(v[0])
}

func opTf(m *machine, ops []pdf.Object) bool {
	if len(ops) < 2 {
		return false
	}
	n, ok := ops[len(ops)-2].(pdf.Name)
	size, ok2 := number(ops[len(ops)-1])
	if !ok || !ok2 {
		return false
	}
	f, known := m.f.res.fonts[n]
	if !known {
		o := m.f.res.entry("Font", n)
		if m.r.Doc.Resolve(o) == nil {
			m.missing("font", string(n))
		}
		f = m.r.Fonts.Font(o, m.here())
		m.f.res.fonts[n] = f
	}
	m.gs.text.font, m.gs.text.size = f, size
	return true
}

func (m *machine) setLine(t geom.Matrix) {
	if usable(t) {
		m.text.tm, m.text.tlm = t, t
	}
}

func opTd(m *machine, v []float64) { m.setLine(geom.Translate(v[0], v[1]).Mul(m.textLine())) }

func opTD(m *machine, v []float64) {
	m.gs.text.leading = -v[1]
	opTd(m, v)
}

func opTm(m *machine, v []float64) {
	m.textLine()
	m.setLine(geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]})
}

func opTStar(m *machine, _ []float64) { opTd(m, []float64{0, -m.gs.text.leading}) }

// textLine is the text line matrix. Text operators outside BT and ET begin a text object.
func (m *machine) textLine() geom.Matrix {
	if !m.text.open {
		m.beginText()
	}
	return m.text.tlm
}

func opTj(m *machine, ops []pdf.Object) bool {
	s, ok := lastString(ops)
	if ok {
		m.show([]pdf.Object{s})
	}
	return ok
}

func opTJ(m *machine, ops []pdf.Object) bool {
	if len(ops) == 0 {
		return false
	}
	a, ok := ops[len(ops)-1].(pdf.Array)
	if ok {
		m.show(a)
	}
	return ok
}

func opQuote(m *machine, ops []pdf.Object) bool {
	s, ok := lastString(ops)
	if ok {
		opTStar(m, nil)
		m.show([]pdf.Object{s})
	}
	return ok
}

func opDoubleQuote(m *machine, ops []pdf.Object) bool {
	s, ok := lastString(ops)
	if !ok || len(ops) < 3 {
		return false
	}
	aw, ok1 := number(ops[len(ops)-3])
	ac, ok2 := number(ops[len(ops)-2])
	if !ok1 || !ok2 {
		return false
	}
	m.gs.text.wordSpace, m.gs.text.charSpace = aw, ac
	opTStar(m, nil)
	m.show([]pdf.Object{s})
	return true
}

// show shows strings with the adjustments between them (9.4.3): one item for all the glyphs, so
// that where they overlap they paint once.
func (m *machine) show(parts []pdf.Object) {
	m.textLine()
	ts, t := &m.gs.text, &m.text
	f := ts.font
	if f == nil {
		m.missing("font", "(none selected)")
		return
	}
	toList := t.tm.Mul(m.gs.ctm)
	// The glyph space of size 1 in text space before the pen moves (9.4.4).
	lin := geom.Matrix{A: float64(ts.size * ts.scale), D: ts.size}.Mul(geom.Matrix{A: toList.A, B: toList.B, C: toList.C, D: toList.D})
	procedures := f.Type3 != nil
	draws := ts.mode != 3 && !m.gs.area.Empty() && usable(lin) || ts.mode >= 4
	if procedures {
		t.procedures = true
		m.shown.begin(f, m.proceduresOf(f), m.textInfo(parts, toList), toList, lin)
	}

	var run []displist.Glyph
	var bounds geom.Rect
	x, y := 0.0, 0.0 // pen, text space
	for _, part := range parts {
		if !m.count() {
			return
		}
		s, isString := part.(pdf.String)
		if !isString {
			if v, ok := number(part); ok {
				if f.Vertical {
					y -= float64(v / 1000 * ts.size)
				} else {
					x -= float64(float64(v/1000*ts.size) * ts.scale)
				}
			}
			continue
		}
		t.buffer = f.Glyphs(t.buffer[:0], s)
		if draws && !procedures && run == nil {
			run = make([]displist.Glyph, 0, len(t.buffer))
		}
		for i := range t.buffer {
			g := &t.buffer[i]
			if !m.count() {
				return
			}
			if draws {
				gx, gy := x, y+ts.rise
				if f.Vertical {
					gx -= float64(float64(g.OriginX*ts.size) * ts.scale)
					gy -= float64(g.OriginY * ts.size)
				}
				if procedures {
					m.showProcedure(g, gx, gy)
				} else if g.ID >= 0 {
					gm := lin
					o := toList.Apply(geom.Point{X: gx, Y: gy})
					gm.E, gm.F = o.X, o.Y
					if outline := f.Outline(g.ID); !outline.Empty() && usable(gm) {
						b := clampRect(gm.Bounds(m.glyphs.bounds(outline)))
						if b.X0 < b.X1 || b.Y0 < b.Y1 {
							run = append(run, displist.Glyph{Outline: outline, M: gm})
							bounds = bounds.Union(b)
						}
					}
				}
			}
			extra := ts.charSpace
			if g.Space {
				extra += ts.wordSpace
			}
			if f.Vertical {
				y += float64(g.AdvanceY*ts.size) + extra
			} else {
				x += float64((float64(g.Advance*ts.size) + extra) * ts.scale)
			}
		}
		if m.stopped {
			return
		}
	}
	if tm := geom.Translate(x, y).Mul(t.tm); usable(tm) {
		t.tm = tm
	}
	if procedures {
		m.paintProcedures()
	}
	if len(run) > 0 {
		m.paintGlyphs(run, bounds, parts, toList)
	}
}

// paintGlyphs paints a run by the text rendering mode (Table 104).
func (m *machine) paintGlyphs(run []displist.Glyph, bounds geom.Rect, parts []pdf.Object, toList geom.Matrix) {
	mode := m.gs.text.mode
	fill := mode == 0 || mode == 2 || mode == 4 || mode == 6
	stroke := mode == 1 || mode == 2 || mode == 5 || mode == 6
	if (fill || stroke) && m.reaches(bounds, stroke) {
		text := m.textInfo(parts, toList)
		if m.gs.textKnockout || len(run) == 1 || !m.gs.transparent() && !m.blends(&m.gs.fill) && !m.blends(&m.gs.stroke) {
			m.paintShape(displist.Shape{Glyphs: run}, bounds, text, fill, stroke)
		} else {
			// Without text knockout glyphs that overlap paint one on the other.
			for i := range run {
				b := run[i].M.Bounds(m.glyphs.bounds(run[i].Outline))
				if b = clampRect(b); m.reaches(b, stroke) {
					m.paintShape(displist.Shape{Glyphs: run[i : i+1 : i+1]}, b, text, fill, stroke)
				}
			}
		}
	}
	if mode >= 4 {
		m.text.clip = append(m.text.clip, run...)
		m.text.clipBounds = m.text.clipBounds.Union(bounds)
	}
}

// textInfo describes what a show operator shows.
func (m *machine) textInfo(parts []pdf.Object, toList geom.Matrix) *displist.Text {
	ts := &m.gs.text
	up := m.space.toList.ApplyVector(toList.ApplyVector(geom.Point{Y: ts.size}))
	t := &displist.Text{Font: ts.font.Name, Size: math.Hypot(up.X, up.Y), Mode: ts.mode, Embedded: ts.font.Embedded, Object: m.text.number}
	if len(parts) == 1 {
		s, _ := parts[0].(pdf.String)
		t.String = string(s)
		return t
	}
	var b strings.Builder
	for _, p := range parts {
		if s, ok := p.(pdf.String); ok {
			b.WriteString(string(s))
		}
	}
	t.String = b.String()
	return t
}

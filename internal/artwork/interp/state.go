package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// state is the graphics state (8.4), copied by q.
type state struct {
	ctm  geom.Matrix // user space to list space
	clip *displist.Clip
	area geom.Rect // of clip and page, list space: what can still be marked

	fill, stroke ink
	intent       colour.Intent

	style geom.StrokeStyle

	fillAlpha, strokeAlpha   float64
	alphaIsShape             bool
	blend                    displist.Blend
	softMask                 *displist.SoftMask
	fillOver, strokeOver     bool // op, OP
	overprintMode            int
	textKnockout             bool
	transferFunc, transferHT bool

	text textState
}

// ink is a current colour. comps are shared: never changed in place.
type ink struct {
	space   colour.Space
	comps   []float64
	pattern *patternInk // nil for a plain colour
	broken  bool        // the space could not be read: colour operators are ignored until the next cs
}

// emptyPattern is the Pattern space without a pattern: it paints nothing (Table 73).
var emptyPattern = &patternInk{}

// textState is the text state (9.3).
type textState struct {
	font                 *font.Font
	size                 float64
	charSpace, wordSpace float64
	scale                float64 // Tz / 100
	leading, rise        float64
	mode                 int
}

// initialState is the state at the start of a page (Table 51, 52).
func initialState(ctm geom.Matrix, area geom.Rect) state {
	black := ink{space: colour.Gray, comps: []float64{0}}
	return state{
		ctm: ctm, area: area, fill: black, stroke: black,
		style:     geom.StrokeStyle{Width: 1, MiterLimit: 10},
		fillAlpha: 1, strokeAlpha: 1, textKnockout: true,
		text: textState{scale: 1},
	}
}

// transparent reports whether painting now needs more than opaque Normal.
func (s *state) transparent() bool {
	return s.fillAlpha < 1 || s.strokeAlpha < 1 || s.blend != displist.Normal || s.softMask != nil
}

// resetTransparency is what entering a transparency group does (11.6.6).
func (s *state) resetTransparency() {
	s.fillAlpha, s.strokeAlpha, s.blend, s.softMask = 1, 1, displist.Normal, nil
}

func opq(m *machine, _ []float64) {
	if len(m.stack) >= limits.MaxGraphicsStates {
		m.excess++
		if m.excess == 1 {
			m.overLimit("The page saves the graphics state more than 512 times without restoring it.", false)
		}
		return
	}
	m.stack = append(m.stack, m.gs)
}

func opQ(m *machine, _ []float64) {
	switch {
	case m.excess > 0:
		m.excess--
	case len(m.stack) > m.f.base:
		m.gs = m.stack[len(m.stack)-1]
		m.stack = m.stack[:len(m.stack)-1]
	default:
		m.unbalanced()
	}
}

func (m *machine) unbalanced() {
	m.report(finding.Finding{ID: "graphics-state-unbalanced", Severity: finding.Note, Class: finding.Malformed,
		What:  "Saving and restoring of the graphics state (q and Q) do not balance.",
		Why:   "The page reads well here, but programs that join pages may draw what follows in the wrong place.",
		Place: m.here()})
}

func opcm(m *machine, v []float64) {
	n := geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}.Mul(m.gs.ctm)
	if !usable(n) {
		m.damaged("cm")
		return
	}
	m.gs.ctm = n
}

func opw(m *machine, v []float64) { m.gs.style.Width = lineWidth(v[0]) }

// lineWidth reads a width; a negative one counts as its size.
func lineWidth(v float64) float64 {
	if v < 0 {
		v = -v
	}
	return min(v, maxCoord)
}

func opJ(m *machine, v []float64) { m.setCap(v[0]) }
func opj(m *machine, v []float64) { m.setJoin(v[0]) }
func opM(m *machine, v []float64) { m.gs.style.MiterLimit = miterLimit(v[0]) }

func miterLimit(v float64) float64 { return min(max(v, 1), 1e6) }

func (m *machine) setCap(v float64) {
	if v == 0 || v == 1 || v == 2 {
		m.gs.style.Cap = geom.Cap(v)
	} else {
		m.damaged("J")
	}
}

func (m *machine) setJoin(v float64) {
	if v == 0 || v == 1 || v == 2 {
		m.gs.style.Join = geom.Join(v)
	} else {
		m.damaged("j")
	}
}

func opd(m *machine, ops []pdf.Object) bool {
	if len(ops) < 2 {
		return false
	}
	return m.setDash(ops[len(ops)-2], ops[len(ops)-1])
}

// setDash takes a dash array and phase (8.4.3.6). An array of zeros, or none, is a solid line.
func (m *machine) setDash(array, phase pdf.Object) bool {
	a, ok := m.r.Doc.Array(array)
	ph, ok2 := m.r.Doc.Num(phase)
	if !ok || !ok2 {
		return false
	}
	var dash []float64
	sum := 0.0
	for _, o := range a {
		v, ok := m.r.Doc.Num(o)
		if !ok || v < 0 {
			return false
		}
		v = min(v, maxCoord)
		sum += v
		dash = append(dash, v)
	}
	if sum == 0 {
		dash, ph = nil, 0
	}
	m.gs.style.Dash, m.gs.style.DashPhase = dash, clampCoord(ph)
	return true
}

func opri(m *machine, ops []pdf.Object) bool {
	n, ok := lastName(ops)
	if ok {
		m.gs.intent = m.gs.intent.WithBase(intentFromName(n))
	}
	return ok
}

// intentFromName reads a rendering intent; unknown ones are relative colorimetric (8.6.5.8).
func intentFromName(n pdf.Name) colour.Intent {
	switch n {
	case "AbsoluteColorimetric":
		return colour.AbsoluteColorimetric
	case "Perceptual":
		return colour.Perceptual
	case "Saturation":
		return colour.Saturation
	}
	return colour.RelativeColorimetric
}

// opNothing is for operators that change nothing this program draws: flatness, marked points.
func opNothing(*machine, []pdf.Object) bool { return true }

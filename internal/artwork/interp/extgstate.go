package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// extGState is a graphics state parameter dictionary (8.4.5) read once; nil fields were not there.
type extGState struct {
	width, cap, join, miter  *float64
	dash, dashPhase          pdf.Object
	intent                   *colour.Intent
	blackPoint               *string // UseBlackPtComp
	strokeOver, fillOver     *bool
	overprintMode            *int
	font                     *font.Font
	fontSize                 float64
	strokeAlpha, fillAlpha   *float64
	alphaIsShape, knockout   *bool
	adjust                   *bool
	blend                    *displist.Blend
	noMask                   bool
	mask                     pdf.Dict // soft mask dictionary
	transferFunc, transferHT *bool    // the entry is there; true = it would change tints
}

func opgs(m *machine, ops []pdf.Object) bool {
	n, ok := lastName(ops)
	if !ok {
		return false
	}
	g, ok := m.f.res.gstates[n]
	if !ok {
		d, found := m.r.Doc.Dict(m.f.res.entry("ExtGState", n))
		if !found {
			m.missing("graphics state", string(n))
		} else {
			g = m.readExtGState(d)
		}
		m.f.res.gstates[n] = g
	}
	if g != nil {
		m.apply(g)
	}
	return true
}

// readExtGState reads the entries this program uses (Table 57); others are ignored, values of a
// wrong type are reported.
func (m *machine) readExtGState(d pdf.Dict) *extGState {
	doc, g := m.r.Doc, &extGState{}
	wrong := func(key pdf.Name) { m.damaged("gs, entry " + string(key)) }
	num := func(key pdf.Name) *float64 {
		if doc.Resolve(d[key]) == nil {
			return nil
		}
		v, ok := doc.Num(d[key])
		if !ok {
			wrong(key)
			return nil
		}
		return &v
	}
	flag := func(key pdf.Name) *bool {
		if doc.Resolve(d[key]) == nil {
			return nil
		}
		v, ok := doc.Bool(d[key])
		if !ok {
			wrong(key)
			return nil
		}
		return &v
	}
	g.width, g.cap, g.join, g.miter = num("LW"), num("LC"), num("LJ"), num("ML")
	if a, ok := doc.Array(d["D"]); ok && len(a) == 2 {
		g.dash, g.dashPhase = a[0], a[1]
	}
	if n, ok := doc.Name(d["RI"]); ok {
		i := intentFromName(n)
		g.intent = &i
	}
	if n, ok := doc.Name(d["UseBlackPtComp"]); ok {
		v := string(n)
		g.blackPoint = &v
	}
	// OP alone sets both; op sets the other painting operations (Table 57).
	g.strokeOver = flag("OP")
	g.fillOver = flag("op")
	if g.fillOver == nil {
		g.fillOver = g.strokeOver
	}
	if v := num("OPM"); v != nil {
		mode := 0
		if *v == 1 {
			mode = 1
		}
		g.overprintMode = &mode
	}
	if a, ok := doc.Array(d["Font"]); ok && len(a) == 2 {
		if size, ok := doc.Num(a[1]); ok {
			g.font, g.fontSize = m.r.Fonts.Font(a[0], m.here()), size
		}
	}
	alpha := func(key pdf.Name) *float64 {
		v := num(key)
		if v != nil {
			*v = min(max(*v, 0), 1)
		}
		return v
	}
	g.strokeAlpha, g.fillAlpha = alpha("CA"), alpha("ca")
	g.alphaIsShape, g.knockout, g.adjust = flag("AIS"), flag("TK"), flag("SA")
	m.readBlend(g, d)
	switch v := doc.Resolve(d["SMask"]).(type) {
	case nil:
	case pdf.Name:
		g.noMask = v == "None"
	default:
		if sm, ok := doc.Dict(v); ok {
			g.mask = sm
		} else {
			wrong("SMask")
		}
	}
	m.readTransfer(g, d)
	return g
}

// readBlend takes BM: a name, or the first known one of an array (deprecated form). An unknown mode is
// Normal (11.6.3), so nothing is drawn other than as written.
func (m *machine) readBlend(g *extGState, d pdf.Dict) {
	doc := m.r.Doc
	var names []pdf.Name
	switch v := doc.Resolve(d["BM"]).(type) {
	case pdf.Name:
		names = []pdf.Name{v}
	case pdf.Array:
		for _, o := range v {
			if n, ok := doc.Name(o); ok {
				names = append(names, n)
			}
		}
	case nil:
		return
	default:
		m.damaged("gs, entry BM")
		return
	}
	mode := displist.Normal
	known := false
	for _, n := range names {
		if mode, known = displist.BlendFromName(string(n)); known {
			break
		}
	}
	g.blend = &mode
	if !known && len(names) > 0 {
		m.report(finding.Finding{ID: "blend-mode-unknown", Severity: finding.Warning, Class: finding.Malformed,
			What:   "A blend mode is used that does not exist (" + printable(string(names[0])) + "); the object is drawn as Normal.",
			Why:    "That is how a press reads it, but its maker may have seen other colours.",
			Remedy: "Choose another blend mode in the design program.", Place: m.here()})
	}
}

// readTransfer notes transfer functions, which change tints on their way to the device and which
// this program does not apply (10.5, 10.6).
func (m *machine) readTransfer(g *extGState, d pdf.Dict) {
	doc := m.r.Doc
	key := pdf.Name("TR2") // wins over TR in one dictionary
	v := doc.Resolve(d[key])
	if v == nil {
		key = "TR"
		v = doc.Resolve(d[key])
	}
	if v != nil {
		changes := !isIdentity(doc, v, key == "TR2")
		g.transferFunc = &changes
	}
	if h := doc.Resolve(d["HT"]); h != nil {
		changes := halftoneTransfers(doc, h, 0)
		g.transferHT = &changes
	}
}

// isIdentity reports whether a TR or TR2 value changes nothing; an array has one function per
// component.
func isIdentity(doc *pdf.Document, v pdf.Object, allowDefault bool) bool {
	switch f := doc.Resolve(v).(type) {
	case pdf.Name:
		return f == "Identity" || allowDefault && f == "Default"
	case pdf.Array:
		for _, o := range f {
			if !isIdentity(doc, o, allowDefault) {
				return false
			}
		}
		return true
	}
	return false
}

func halftoneTransfers(doc *pdf.Document, h pdf.Object, depth int) bool {
	d, ok := doc.Dict(h)
	if !ok || depth > 2 {
		return false
	}
	if f := doc.Resolve(d["TransferFunction"]); f != nil && !isIdentity(doc, f, false) {
		return true
	}
	if t, _ := doc.Int(d["HalftoneType"]); t == 5 {
		for _, k := range sortedKeys(d) {
			if halftoneTransfers(doc, d[pdf.Name(k)], depth+1) {
				return true
			}
		}
	}
	return false
}

// apply sets what the dictionary holds.
func (m *machine) apply(g *extGState) {
	s := &m.gs
	if g.width != nil {
		s.style.Width = lineWidth(*g.width)
	}
	if g.cap != nil {
		m.setCap(*g.cap)
	}
	if g.join != nil {
		m.setJoin(*g.join)
	}
	if g.miter != nil {
		s.style.MiterLimit = miterLimit(*g.miter)
	}
	if g.dash != nil && !m.setDash(g.dash, g.dashPhase) {
		m.damaged("gs, entry D")
	}
	s.intent = g.intentOn(s.intent)
	if g.strokeOver != nil {
		s.strokeOver = *g.strokeOver
	}
	if g.fillOver != nil {
		s.fillOver = *g.fillOver
	}
	if g.overprintMode != nil {
		s.overprintMode = *g.overprintMode
	}
	if g.font != nil {
		s.text.font, s.text.size = g.font, g.fontSize
	}
	if g.strokeAlpha != nil {
		s.strokeAlpha = *g.strokeAlpha
	}
	if g.fillAlpha != nil {
		s.fillAlpha = *g.fillAlpha
	}
	if g.alphaIsShape != nil {
		s.alphaIsShape = *g.alphaIsShape
	}
	if g.knockout != nil && !m.text.open { // cannot change between BT and ET (9.3.8)
		s.textKnockout = *g.knockout
	}
	if g.adjust != nil {
		s.style.Adjust = *g.adjust
	}
	if g.blend != nil {
		s.blend = *g.blend
	}
	if g.noMask {
		s.softMask = nil
	}
	if g.mask != nil {
		s.softMask = m.softMask(g)
	}
	if g.transferFunc != nil {
		s.transferFunc = *g.transferFunc
	}
	if g.transferHT != nil {
		s.transferHT = *g.transferHT
	}
	if g.transferFunc != nil && *g.transferFunc || g.transferHT != nil && *g.transferHT {
		m.report(finding.Finding{ID: "transfer-function", Severity: finding.Warning, Class: finding.Unsupported, Incomplete: true,
			What:   "The page asks for a transfer function, which would change tints on the device; it is not applied.",
			Why:    "Tints may come out lighter or darker than another device shows them.",
			Remedy: "Leave transfer functions out when exporting the artwork.", Place: m.here()})
	}
}

type maskKey struct {
	gs   *extGState
	ctm  geom.Matrix
	area geom.Rect // of the item space
}

// intentOn is a rendering intent, with what it says of black points, after the dictionary.
func (g *extGState) intentOn(i colour.Intent) colour.Intent {
	if g.intent != nil {
		i = i.WithBase(*g.intent)
	}
	if g.blackPoint != nil {
		i = i.WithBlackPoint(*g.blackPoint)
	}
	return i
}

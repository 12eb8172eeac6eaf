package artwork

import (
	"fmt"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
)

// source is a colour as the artwork sets it.
type source struct {
	space   colour.Space // nil = unreadable
	raw     pdf.Object   // the space: a device space's name, or an object
	comps   []float64
	set     bool // comps were set; false = the space's initial colour
	pattern *patternUse
}

// patternUse is a pattern as the current colour.
type patternUse struct {
	name  pdf.Name
	entry pdf.Object
	res   pdf.Dict
	begin *state // of the stream that owns it
	key   string // of begin
}

// text is the operands that set the colour, exactly.
func (src *source) text() string {
	var b []byte
	for i, v := range src.comps {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, v, 'f', -1, 64)
	}
	return string(b)
}

// state is the part of the graphics state that decides on plates, as the artwork sets it.
type state struct {
	fill, stroke         source
	overFill, overStroke bool
	mode                 int
	blend                displist.Blend
	// soft is set while something is not opaque: alpha, a mode or a mask.
	fillAlpha, strokeAlpha float64
	mask                   bool
	soft                   bool
	noKnockout             bool // TK is off
	intent                 colour.Intent
	render                 int // text rendering mode
	font                   pdf.Object
	fontSize               string
}

// initialState is that of Table 51.
func initialState() state {
	black := source{space: colour.Gray, raw: pdf.Name("DeviceGray"), comps: []float64{0}}
	return state{fill: black, stroke: black, fillAlpha: 1, strokeAlpha: 1}
}

// group resets what a transparency group begins with (11.6.6).
func (st *state) group() {
	st.blend, st.fillAlpha, st.strokeAlpha, st.mask, st.soft = displist.Normal, 1, 1, false, false
}

func (st *state) softens() {
	st.soft = st.blend != displist.Normal || st.fillAlpha < 1 || st.strokeAlpha < 1 || st.mask
}

// key tells states apart.
func (st *state) key() string {
	var b strings.Builder
	for _, src := range []*source{&st.fill, &st.stroke} {
		fmt.Fprintf(&b, "%s %s ", pdf.AppendObject(nil, src.raw), src.text())
		if p := src.pattern; p != nil {
			fmt.Fprintf(&b, "%s (%s) ", pdf.AppendObject(nil, p.entry), p.key)
		}
	}
	fmt.Fprintf(&b, "%t %t %d %v %t %t %v %d %s %s", st.overFill, st.overStroke, st.mode, st.blend, st.soft, st.noKnockout, st.intent, st.render,
		pdf.AppendObject(nil, st.font), st.fontSize)
	return b.String()
}

// written is what the file of the pass has in force; "" and unknown values are set again before they are needed.
type written struct {
	fill, stroke         string
	overFill, overStroke int8 // 0 off, 1 on
	mode                 int8
	render               int
	font                 pdf.Name
}

const unknown = -1

// afresh knows nothing of the state it is drawn in.
func afresh() written {
	return written{overFill: unknown, overStroke: unknown, mode: unknown, render: unknown}
}

// moment is both.
type moment struct {
	now state
	out written
}

// gs follows a graphics state dictionary.
func (w *walker) gs(d pdf.Dict) {
	doc, st := w.s.doc, &w.at.now
	flag := func(v bool) int8 {
		if v {
			return 1
		}
		return 0
	}
	if v, ok := doc.Bool(d["OP"]); ok {
		st.overStroke, w.at.out.overStroke = v, flag(v)
		if doc.Resolve(d["op"]) == nil {
			st.overFill, w.at.out.overFill = v, flag(v)
		}
	}
	if v, ok := doc.Bool(d["op"]); ok {
		st.overFill, w.at.out.overFill = v, flag(v)
	}
	if v, ok := doc.Num(d["OPM"]); ok {
		st.mode = 0
		if v == 1 {
			st.mode = 1
		}
		w.at.out.mode = int8(st.mode)
	}
	st.transparency(doc, d)
	if n, ok := doc.Name(d["RI"]); ok {
		i, _ := colour.IntentFromName(string(n))
		st.intent = st.intent.WithBase(i)
	}
	if n, ok := doc.Name(d["UseBlackPtComp"]); ok {
		st.intent = st.intent.WithBlackPoint(string(n))
	}
	if a, ok := doc.Array(d["Font"]); ok && len(a) == 2 {
		size, _ := doc.Num(a[1])
		st.font, st.fontSize = a[0], strconv.FormatFloat(size, 'f', -1, 64)
		w.at.out.font = ""
	}
}

// transparency follows what such a dictionary says of it.
func (st *state) transparency(doc *pdf.Document, d pdf.Dict) {
	if v := doc.Resolve(d["BM"]); v != nil {
		st.blend = displist.Normal
		list, ok := v.(pdf.Array)
		if !ok {
			list = pdf.Array{v}
		}
		for _, o := range list {
			if n, ok := doc.Name(o); ok {
				if m, known := displist.BlendFromName(string(n)); known {
					st.blend = m
					break
				}
			}
		}
	}
	if v, ok := doc.Num(d["CA"]); ok {
		st.strokeAlpha = v
	}
	if v, ok := doc.Num(d["ca"]); ok {
		st.fillAlpha = v
	}
	switch v := doc.Resolve(d["SMask"]).(type) {
	case nil:
	case pdf.Name:
		st.mask = v != "None"
	default:
		st.mask = true
	}
	if v, ok := doc.Bool(d["TK"]); ok {
		st.noKnockout = !v
	}
	st.softens()
}

// selects follows cs and CS.
func (w *walker) selects(src *source, name pdf.Name) {
	raw := w.object(name)
	space, err := w.s.spaces.Space(name, w.res)
	if err != nil {
		space = nil
	}
	*src = source{space: space, raw: raw}
	if space != nil {
		src.comps = clamped(space, append([]float64(nil), space.Initial()...))
	}
}

// object is the space object a name stands for: defaults of the resources replace device spaces (8.6.5.6).
func (w *walker) object(name pdf.Name) pdf.Object {
	cs, _ := w.s.doc.Dict(w.res["ColorSpace"])
	def := map[pdf.Name]pdf.Name{"DeviceGray": "DefaultGray", "DeviceRGB": "DefaultRGB", "DeviceCMYK": "DefaultCMYK"}[name]
	if def != "" {
		if o := cs[def]; o != nil {
			if sp, err := w.s.spaces.Space(name, w.res); err == nil && sp.Family() > colour.FamilyCMYK {
				return o
			}
		}
		return name
	}
	if name == "Pattern" {
		return name
	}
	o := cs[name]
	if n, ok := w.s.doc.Name(o); ok && n != name {
		return w.object(n)
	}
	return o
}

// device follows g, rg, k and their capitals.
func (w *walker) device(src *source, name pdf.Name, ops []pdf.Object, n int) {
	v, ok := content.Numbers(ops, n)
	if !ok {
		return
	}
	space, err := w.s.spaces.Space(name, w.res)
	raw := w.object(name)
	if err != nil || space.Components() != n {
		space, raw = map[pdf.Name]colour.Space{"DeviceGray": colour.Gray, "DeviceRGB": colour.RGB, "DeviceCMYK": colour.CMYK}[name], name
	}
	*src = source{space: space, raw: raw, comps: clamped(space, v), set: true}
}

// sets follows sc, scn and their capitals.
func (w *walker) sets(src *source, ops []pdf.Object) {
	if src.space == nil {
		return
	}
	if len(ops) > 0 {
		if n, ok := ops[len(ops)-1].(pdf.Name); ok {
			if src.space.Family() != colour.FamilyPattern {
				return
			}
			var comps []float64
			if c := src.space.Components(); c > 0 && len(ops) > c {
				v, ok := content.Numbers(ops[:len(ops)-1], c)
				if !ok {
					return
				}
				comps = clamped(src.space, v)
			}
			d, _ := w.s.doc.Dict(w.res["Pattern"])
			*src = source{space: src.space, raw: src.raw, comps: comps, set: true,
				pattern: &patternUse{name: n, entry: d[n], res: w.res, begin: &w.begin, key: w.begin.key()}}
			return
		}
	}
	if src.space.Family() == colour.FamilyPattern {
		return
	}
	n := src.space.Components()
	v, ok := content.Numbers(ops, n)
	if !ok || n == 0 {
		return
	}
	*src = source{space: src.space, raw: src.raw, comps: clamped(src.space, v), set: true}
}

func clamped(s colour.Space, v []float64) []float64 {
	for i, x := range v {
		lo, hi := s.Range(i)
		v[i] = min(max(x, lo), hi)
	}
	return v
}

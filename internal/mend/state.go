package mend

import (
	"bytes"
	"errors"
	"strconv"
	"strings"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// state is the part of the graphics state that changes may have to set back.
type state struct {
	fill, stroke         paintState
	overFill, overStroke bool
	overMode             int
	blend                pdf.Object // as BM; nil = Normal
	mode                 int        // text rendering mode
	ctm                  geom.Matrix
}

// paintState is a colour as the content set it: bytes, and the stream whose resources they name.
type paintState struct {
	from   *stream
	space  pdf.Name // operand of cs; "" with device colour operators or nothing set
	device string   // such as "0 0 0 1 k", as of a fill; "" with a space
	comps  string   // operands of scn; "" = the space's initial colour
	name   pdf.Name // pattern among them
}

// pageState is the state at the start of a page (Table 51).
func pageState(s *stream) *state {
	black := paintState{from: s, device: "0 g"}
	u := s.page.of.UserUnit
	return &state{fill: black, stroke: black, ctm: geom.Scale(u, u)}
}

// overprintDict are the entries of a graphics state that set overprint for both kinds of painting.
func (st *state) overprintDict() pdf.Dict {
	return pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(st.overStroke), "op": pdf.Boolean(st.overFill), "OPM": pdf.Integer(st.overMode)}
}

// follow carries an operator that sets state out.
func (w *walker) follow(op *content.Op) {
	switch op.Name {
	case "q":
		w.stack = append(w.stack, w.now)
	case "Q":
		if n := len(w.stack); n > 0 {
			w.now = w.stack[n-1]
			w.stack = w.stack[:n-1]
		}
	case "cm":
		if v, ok := content.Numbers(op.Operands, 6); ok {
			w.now.ctm = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}.Mul(w.now.ctm)
		}
	case "g", "rg", "k":
		w.now.fill = paintState{from: w.s, device: w.operands(op) + " " + op.Name}
	case "G", "RG", "K":
		w.now.stroke = paintState{from: w.s, device: w.operands(op) + " " + strings.ToLower(op.Name)}
	case "cs":
		w.now.fill = paintState{from: w.s, space: content.LastName(op.Operands)}
	case "CS":
		w.now.stroke = paintState{from: w.s, space: content.LastName(op.Operands)}
	case "sc", "scn":
		w.now.fill.set(w, op)
	case "SC", "SCN":
		w.now.stroke.set(w, op)
	case "gs":
		w.graphicsState(content.LastName(op.Operands))
	case "Tr":
		if n := len(op.Operands); n > 0 {
			if v, ok := op.Operands[n-1].(pdf.Integer); ok && v >= 0 && v <= 7 {
				w.now.mode = int(v)
			}
		}
	}
}

func (p *paintState) set(w *walker, op *content.Op) {
	if p.device != "" { // sc after a device operator sets the colour of its space
		f := strings.Fields(p.device)
		*p = paintState{space: map[string]pdf.Name{"g": "DeviceGray", "rg": "DeviceRGB", "k": "DeviceCMYK"}[f[len(f)-1]]}
	}
	p.from = w.s
	p.comps = w.operands(op)
	p.name = ""
	if n := len(op.Operands); n > 0 {
		p.name, _ = op.Operands[n-1].(pdf.Name)
	}
}

// operands are the bytes before the keyword; written anew where there is a comment among them.
func (w *walker) operands(op *content.Op) string {
	if bytes.IndexByte(w.s.data[op.Start:op.Offset], '%') >= 0 {
		var b []byte
		for _, o := range op.Operands {
			b = append(pdf.AppendObject(b, o), ' ')
		}
		return string(bytes.TrimSpace(b))
	}
	return strings.TrimSpace(string(w.s.data[op.Start:op.Offset]))
}

func (w *walker) graphicsState(name pdf.Name) {
	doc := w.s.e.Doc
	d, ok := doc.Dict(w.s.entry("ExtGState", name))
	if !ok {
		return
	}
	if v, ok := doc.Bool(d["OP"]); ok {
		w.now.overStroke, w.now.overFill = v, v
	}
	if v, ok := doc.Bool(d["op"]); ok {
		w.now.overFill = v
	}
	if v, ok := doc.Int(d["OPM"]); ok {
		w.now.overMode = v
	}
	if v := doc.Resolve(d["BM"]); v != nil {
		w.now.blend = v
	}
}

var errInherited = errors.New("the colour round it is set elsewhere in a way that cannot be set back")

// text sets the colour again in stream s.
func (p *paintState) text(s *stream, stroke bool) (string, error) {
	kase := func(op string) string {
		if stroke {
			return strings.ToUpper(op)
		}
		return op
	}
	if p.device != "" {
		f := strings.Fields(p.device)
		f[len(f)-1] = kase(f[len(f)-1])
		return strings.Join(f, " "), nil
	}
	space, comps := p.space, p.comps
	if p.from != s {
		if o := p.from.entry("ColorSpace", space); o != nil {
			space = s.name("ColorSpace", o)
		}
		if p.name != "" {
			o := p.from.entry("Pattern", p.name)
			if o == nil {
				return "", errInherited
			}
			comps = strings.TrimSpace(strings.TrimSuffix(comps, nameText(p.name))) + " " + nameText(s.name("Pattern", o))
		}
	}
	if space == "" {
		return "", errInherited
	}
	out := nameText(space) + " " + kase("cs")
	if comps != "" {
		out += " " + comps + " " + kase("scn")
	}
	return out, nil
}

// colourText sets a colour.
func (s *stream) colourText(c *Colour, stroke bool) string {
	var b []byte
	nums := func() {
		for i, v := range c.Comps {
			if i > 0 {
				b = append(b, ' ')
			}
			b = append(b, number(v)...)
		}
	}
	op := map[pdf.Object]string{pdf.Name("DeviceGray"): "g", pdf.Name("DeviceRGB"): "rg", pdf.Name("DeviceCMYK"): "k"}
	if n, ok := c.Space.(pdf.Name); ok && op[n] != "" {
		nums()
		k := op[n]
		if stroke {
			k = strings.ToUpper(k)
		}
		return string(b) + " " + k
	}
	set, paint := " cs ", " scn"
	if stroke {
		set, paint = " CS ", " SCN"
	}
	b = append(b, nameText(s.name("ColorSpace", c.Space))+set...)
	nums()
	return string(b) + paint
}

// number writes a component with up to five decimals: a step of 1/65535 and more.
func number(v float64) string {
	t := strings.TrimRight(strings.TrimRight(fixed(v), "0"), ".")
	if t == "" || t == "-0" {
		return "0"
	}
	return t
}

func fixed(v float64) string { return strconv.FormatFloat(v, 'f', 5, 64) }

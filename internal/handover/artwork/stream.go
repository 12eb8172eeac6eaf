package artwork

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// walker writes one content stream anew.
type walker struct {
	s     *splitter
	data  []byte
	res   pdf.Dict
	env   env
	depth int

	begin  state // at the start, which patterns are relative to (8.7.3.1)
	at     moment
	stack  []moment
	excess int // q beyond the limit, left out with their Q
	out    bytes.Buffer

	path  bytes.Buffer // the path being made, with its clip
	open  bool
	marks []bool // open marked content: not to be shown
	mixed bool   // letters of the text object may be seen through each other

	added map[pdf.Name]pdf.Dict // resources, by category
	keeps map[pdf.Name]bool     // colour spaces that inline images name
	names map[string]pdf.Name   // given to resources
}

// rewrite writes a stream anew that begins with st; nil res means no resources.
func (s *splitter) rewrite(data []byte, res pdf.Dict, st state, out written, e env, depth int) (content []byte, own pdf.Dict, err error) {
	cs, _ := s.doc.Dict(res["ColorSpace"])
	e.remapped = cs["DefaultCMYK"] != nil
	w := &walker{s: s, data: data, res: res, env: e, depth: depth, begin: st, at: moment{st, out},
		added: map[pdf.Name]pdf.Dict{}, keeps: map[pdf.Name]bool{}, names: map[string]pdf.Name{}}
	s.know(res)
	if err := w.run(); err != nil {
		return nil, nil, err
	}
	return w.out.Bytes(), w.resources(), nil
}

func (w *walker) run() error {
	sc := content.NewScanner(w.data)
	for {
		op, ok := sc.Next()
		if !ok {
			break
		}
		if err := w.op(&op); err != nil {
			return err
		}
	}
	return nil
}

// bytesOf is an operator as written.
func (w *walker) bytesOf(op *content.Op) []byte { return w.data[op.Start:op.End] }

// copy takes an operator over.
func (w *walker) copy(op *content.Op) {
	b := &w.out
	if w.open {
		b = &w.path
	}
	b.Write(w.bytesOf(op))
	b.WriteByte('\n')
}

func (w *walker) emit(format string, args ...any) { fmt.Fprintf(&w.out, format+"\n", args...) }

// apart are operators that have no place in a path being made, since they change what it is painted with.
var apart = []string{"Tj", "TJ", "'", "\"", "Do", "BI", "sh", "q", "Q", "gs"}

func (w *walker) op(op *content.Op) error {
	if w.open && slices.Contains(apart, op.Name) {
		return cannot("Export the artwork again from the program that made it.", "a path is made with the operator %s within it", op.Name)
	}
	st := &w.at.now
	switch op.Name {
	case "m", "re", "l", "c", "v", "y", "h":
		w.open = true
		w.copy(op)
	case "W", "W*":
		if w.open {
			w.copy(op)
		}
	case "f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "n":
		return w.paintPath(op.Name)
	case "Tj", "TJ", "'", "\"":
		return w.showText(op)
	case "Do":
		return w.do(content.LastName(op.Operands))
	case "BI":
		return w.inline(op)
	case "sh":
		return w.sh(content.LastName(op.Operands))
	case "BMC", "BDC", "EMC":
		w.marked(op)
	case "BT", "ET":
		w.mixed = op.Name == "BT" && w.mixes(op)
		w.copy(op)
	case "q", "Q", "gs":
		w.saved(op)
	case "cs":
		w.selects(&st.fill, content.LastName(op.Operands))
	case "CS":
		w.selects(&st.stroke, content.LastName(op.Operands))
	case "sc", "scn":
		w.sets(&st.fill, op.Operands)
	case "SC", "SCN":
		w.sets(&st.stroke, op.Operands)
	case "g":
		w.device(&st.fill, "DeviceGray", op.Operands, 1)
	case "G":
		w.device(&st.stroke, "DeviceGray", op.Operands, 1)
	case "rg":
		w.device(&st.fill, "DeviceRGB", op.Operands, 3)
	case "RG":
		w.device(&st.stroke, "DeviceRGB", op.Operands, 3)
	case "k":
		w.device(&st.fill, "DeviceCMYK", op.Operands, 4)
	case "K":
		w.device(&st.stroke, "DeviceCMYK", op.Operands, 4)
	case "Tr":
		if v, ok := content.Numbers(op.Operands, 1); ok && v[0] >= 0 && v[0] <= 7 {
			st.render = int(v[0])
		}
	case "Tf":
		w.selectFont(op)
	default:
		if op.Name == "ri" {
			w.intent(content.LastName(op.Operands))
		}
		w.copy(op)
	}
	return nil
}

// saved follows q, Q and gs.
func (w *walker) saved(op *content.Op) {
	switch op.Name {
	case "q":
		if len(w.stack) >= limits.MaxGraphicsStates {
			w.excess++
			return
		}
		w.stack = append(w.stack, w.at)
	case "Q":
		if w.excess > 0 {
			w.excess--
			return
		}
		n := len(w.stack)
		if n == 0 {
			return // it has no q in this stream
		}
		w.at = w.stack[n-1]
		w.stack = w.stack[:n-1]
	case "gs":
		d, _ := w.s.doc.Dict(w.res["ExtGState"])
		if g, ok := w.s.doc.Dict(d[content.LastName(op.Operands)]); ok {
			was := w.at.out
			w.gs(g)
			if o := &w.at.out; was.overFill != o.overFill || was.overStroke != o.overStroke || was.mode != o.mode {
				w.forget()
			}
			if w.s.turnsWhite(w.at.now.blend) && w.s.doc.Resolve(g["BM"]) != nil {
				w.emit("%s gs", nameText(w.name("ExtGState", w.s.add(withEntry(g, "BM", keepsWhite)))))
				return
			}
		}
	}
	w.copy(op)
}

// keepsWhite stands in for them: it composites special toners by Normal too, and leaves paper white.
const keepsWhite = pdf.Name("Luminosity")

// turnsWhite reports modes that make toner of no toner on none (11.3.5.2: B(1,1) = 0). They act on process components alone, special
// toners are composited by Normal (11.7.4.2): in a pass without process toners they would fill plates that are not its own.
func (s *splitter) turnsWhite(b displist.Blend) bool {
	return !s.process && b.Separable() && !b.WhitePreserving()
}

// withEntry is a dictionary with another value for a key.
func withEntry(d pdf.Dict, key pdf.Name, v pdf.Object) pdf.Dict {
	out := make(pdf.Dict, len(d)+1)
	for k, x := range d {
		out[k] = x
	}
	out[key] = v
	return out
}

// inks decides on the current colours; one that is not asked for is omitted, and both in a layer that does not print.
func (w *walker) inks(fill, stroke bool) (f, k ink, err error) {
	st := &w.at.now
	f, k = ink{omit: true}, ink{omit: true}
	if w.hides() {
		return f, k, nil
	}
	two := fill && stroke
	if fill {
		if f, err = w.source(&st.fill, st.overFill, two); err != nil {
			return f, k, err
		}
	}
	if stroke {
		k, err = w.source(&st.stroke, st.overStroke, two)
	}
	return f, k, err
}

// source decides on a colour or pattern.
func (w *walker) source(src *source, over, two bool) (ink, error) {
	switch {
	case src.space == nil:
		return ink{}, cannot("Export the artwork again from the program that made it.", "a colour space cannot be read")
	case src.pattern != nil:
		k, err := w.pattern(src, over, two)
		force := w.at.out.fill
		if src == &w.at.now.stroke {
			force = w.at.out.stroke
		}
		if err == nil && !k.omit && src.pattern.begin != &w.begin && k.key != force {
			// Selected here, it would start from this stream's origin instead of that of the stream that selects it.
			err = cannot("Select the pattern where it is used, or expand it to plain objects.", "a form or letter is painted in a pattern that what draws it has selected")
		}
		return k, err
	case bareIsPattern(src):
		return ink{omit: true}, nil
	}
	return w.s.colour(src, over, &w.at.now, two, w.env)
}

// handDown brings patterns into force before a stream is drawn that may paint with them: they start from the origin of the
// stream that selects them (8.7.3.1). It gives what that stream begins with.
func (w *walker) handDown() written {
	st, out := &w.at.now, afresh()
	if st.fill.pattern != nil {
		if k, err := w.source(&st.fill, st.overFill, false); err == nil && !k.omit {
			w.set(k, ink{omit: true})
			out.fill = k.key
		}
	}
	if st.stroke.pattern != nil {
		if k, err := w.source(&st.stroke, st.overStroke, false); err == nil && !k.omit {
			w.set(ink{omit: true}, k)
			out.stroke = k.key
		}
	}
	return out
}

// paintPath writes the path with what it is painted with set before it.
func (w *walker) paintPath(name string) error {
	fill := strings.ContainsAny(name, "fFBb")
	stroke := strings.ContainsAny(name, "SsBb")
	f, k, err := w.inks(fill, stroke)
	if err != nil {
		return err
	}
	w.set(f, k)
	w.out.Write(w.path.Bytes())
	w.path.Reset()
	w.open = false
	w.emit("%s", painting(name, f.omit, k.omit))
	return nil
}

// painting is the operator that paints what is left.
func painting(name string, noFill, noStroke bool) string {
	even := strings.HasSuffix(name, "*")
	closes := name[0] == 's' || name[0] == 'b'
	switch {
	case noFill && noStroke:
		return "n"
	case noFill && closes:
		return "s"
	case noFill:
		return "S"
	case noStroke && even:
		return "f*"
	case noStroke:
		return "f"
	}
	return name
}

// set brings colours and overprint into force where they are not. What is omitted asks for nothing.
func (w *walker) set(f, k ink) {
	o := &w.at.out
	want := *o
	for _, x := range []struct {
		ink
		flag *int8
	}{{f, &want.overFill}, {k, &want.overStroke}} {
		if x.omit {
			continue
		}
		*x.flag = 0
		if x.over {
			*x.flag = 1
		}
		if x.over && x.mode >= 0 {
			want.mode = int8(x.mode)
		}
	}
	if want.overFill != o.overFill || want.overStroke != o.overStroke || want.mode != o.mode {
		known := func(v int8) int8 { return max(v, 0) }
		want.overFill, want.overStroke, want.mode = known(want.overFill), known(want.overStroke), known(want.mode)
		d := pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(want.overStroke == 1), "op": pdf.Boolean(want.overFill == 1),
			"OPM": pdf.Integer(want.mode)}
		w.emit("%s gs", nameText(w.name("ExtGState", d)))
		o.overFill, o.overStroke, o.mode = want.overFill, want.overStroke, want.mode
		w.forget()
	}
	if !f.omit && !f.plain && f.key != o.fill {
		w.emit("%s", w.colourText(&f, false))
		o.fill = f.key
	}
	if !k.omit && k.key != o.stroke {
		w.emit("%s", w.colourText(&k, true))
		o.stroke = k.key
	}
}

// forget lets colours be set anew after overprint has changed: interpreters are known that ask for overprint when a colour is set.
// Patterns handed down stay; they cannot be set here.
func (w *walker) forget() {
	st, o := &w.at.now, &w.at.out
	if p := st.fill.pattern; p == nil || p.begin == &w.begin {
		o.fill = ""
	}
	if p := st.stroke.pattern; p == nil || p.begin == &w.begin {
		o.stroke = ""
	}
}

// colourText sets a colour.
func (w *walker) colourText(k *ink, stroke bool) string {
	set, paint, kase := "cs", "scn", strings.ToLower
	if stroke {
		set, paint, kase = "CS", "SCN", strings.ToUpper
	}
	if n, ok := k.raw.(pdf.Name); ok {
		if op := map[pdf.Name]string{"DeviceGray": "g", "DeviceRGB": "rg", "DeviceCMYK": "k"}[n]; op != "" {
			return k.text + " " + kase(op)
		}
		if n == "Pattern" {
			return "/Pattern " + set + " " + w.patternText(k) + paint
		}
	}
	return nameText(w.name("ColorSpace", k.raw)) + " " + set + " " + w.patternText(k) + paint
}

// showText shows type, with the rendering mode that leaves out what marks nothing.
func (w *walker) showText(op *content.Op) error {
	st := &w.at.now
	if e := w.env; w.mixed {
		w.env.shape = true
		defer func() { w.env = e }()
	}
	fill := st.render == 0 || st.render == 2 || st.render == 4 || st.render == 6
	stroke := st.render == 1 || st.render == 2 || st.render == 5 || st.render == 6
	glyphs := w.procedures(st.font)
	if glyphs != nil { // the mode says nothing of letters drawn as pictures, but for the invisible one
		fill, stroke = st.render != 3, false
	}
	f, k, err := w.inks(fill, stroke)
	if err != nil {
		return err
	}
	render := shown(st.render, f.omit, k.omit)
	if glyphs != nil {
		render = 0
		if st.render == 3 || w.hides() || f.omit && !glyphs.coloured {
			render = 3
		}
		if glyphs.coloured {
			if err := w.useProcedures(glyphs, f.omit); err != nil {
				return err
			}
		}
	}
	w.set(f, k)
	if w.at.out.render != render {
		w.emit("%d Tr", render)
		w.at.out.render = render
	}
	w.copy(op)
	return nil
}

// mixes looks ahead whether letters of the text object that begins may be other than opaque. With text knockout the shape of every
// letter counts then (9.3.8).
func (w *walker) mixes(begin *content.Op) bool {
	if !w.s.blends || w.at.now.noKnockout {
		return false
	}
	st := w.at.now
	if st.soft || st.fill.pattern != nil || st.stroke.pattern != nil {
		return true
	}
	states, _ := w.s.doc.Dict(w.res["ExtGState"])
	for sc := content.NewScanner(w.data[begin.End:]); ; {
		op, ok := sc.Next()
		switch {
		case !ok || op.Name == "ET":
			return false
		case op.Name == "scn" || op.Name == "SCN":
			if content.LastName(op.Operands) != "" {
				return true
			}
		case op.Name == "gs":
			if d, ok := w.s.doc.Dict(states[content.LastName(op.Operands)]); ok {
				if st.transparency(w.s.doc, d); st.soft {
					return true
				}
			}
		}
	}
}

// shown is the rendering mode (9.3.6) without what is omitted.
func shown(mode int, noFill, noStroke bool) int {
	if mode == 3 || mode == 7 {
		return mode
	}
	clip := mode &^ 3
	switch {
	case noFill && noStroke:
		return clip | 3
	case noFill:
		return clip | 1
	case noStroke:
		return clip
	}
	return mode
}

// name gives a resource a name: its own where it has one.
func (w *walker) name(category pdf.Name, o pdf.Object) pdf.Name {
	text := string(pdf.AppendObject(nil, o))
	key := string(category) + " " + text
	if n, ok := w.names[key]; ok {
		return n
	}
	n := w.newName(category, o, text)
	w.names[key] = n
	return n
}

func (w *walker) newName(category pdf.Name, o pdf.Object, text string) pdf.Name {
	have, _ := w.s.doc.Dict(w.res[category])
	for _, d := range []pdf.Dict{w.added[category], have} {
		for _, k := range sortedKeys(d) {
			if content.FreeName(k) && string(pdf.AppendObject(nil, d[k])) == text {
				w.keep(category, k, d[k])
				return k
			}
		}
	}
	for i := 1; ; i++ {
		n := pdf.Name(fmt.Sprintf("L%d", i))
		if have[n] == nil && w.added[category][n] == nil {
			w.keep(category, n, o)
			return n
		}
	}
}

func (w *walker) keep(category, name pdf.Name, o pdf.Object) {
	if w.added[category] == nil {
		w.added[category] = pdf.Dict{}
	}
	w.added[category][name] = o
}

// dropped are the categories of resources that are taken over only where they are used.
var dropped = []pdf.Name{"ColorSpace", "XObject", "Pattern", "Shading"}

// resources are those the stream as written needs.
func (w *walker) resources() pdf.Dict {
	d := pdf.Dict{}
	for k, v := range w.res {
		d[k] = v
	}
	cs, _ := w.s.doc.Dict(w.res["ColorSpace"])
	for _, n := range []pdf.Name{"DefaultGray", "DefaultRGB", "DefaultCMYK"} {
		if cs[n] != nil {
			w.keep("ColorSpace", n, cs[n])
		}
	}
	for n := range w.keeps {
		if cs[n] != nil {
			w.keep("ColorSpace", n, cs[n])
		}
	}
	for _, k := range dropped {
		delete(d, k)
	}
	if fonts, ok := w.s.doc.Dict(d["Font"]); ok {
		left := pdf.Dict{}
		for k, v := range fonts {
			if p := w.procedures(v); p == nil || !p.coloured {
				left[k] = v
			}
		}
		d["Font"] = left
	}
	for k, more := range w.added {
		have, _ := w.s.doc.Dict(d[k])
		all := pdf.Dict{}
		for n, v := range have {
			all[n] = v
		}
		for n, v := range more {
			all[n] = v
		}
		d[k] = all
	}
	return d
}

func nameText(n pdf.Name) string { return string(pdf.AppendObject(nil, n)) }

func sortedKeys(d pdf.Dict) []pdf.Name { return slices.Sorted(maps.Keys(d)) }

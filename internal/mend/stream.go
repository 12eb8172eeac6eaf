package mend

import (
	"errors"
	"fmt"
	"sort"
	"strings"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// stream is a content stream as it is drawn in one place: a page's, or a form's from a Do of another.
type stream struct {
	e      *Edit
	key    string
	data   []byte
	page   *pageEdit // of page contents, and
	parts  []contentPart
	form   *pdf.Stream // of a form,
	parent *stream     // drawn by this
	do     int64       // at this offset
	// dict are the resources; borrowed from the drawer when the form has none of its own.
	dict     pdf.Dict
	borrowed bool
	begin    *state // at the start; worked out when first asked for

	changes map[int64]Change
	added   map[pdf.Name]pdf.Dict // resources, by category
}

// entry is the resource of a name; nil when there is none.
func (s *stream) entry(category, name pdf.Name) pdf.Object {
	if o, ok := s.added[category][name]; ok {
		return o
	}
	d, _ := s.e.Doc.Dict(s.dict[category])
	return d[name]
}

// name gives a resource a name no other has; one added before, or there in the same words, keeps its.
func (s *stream) name(category pdf.Name, o pdf.Object) pdf.Name {
	have, _ := s.e.Doc.Dict(s.dict[category])
	text := string(pdf.AppendObject(nil, o))
	for _, d := range []pdf.Dict{s.added[category], have} {
		best := pdf.Name("")
		for k, v := range d {
			if (best == "" || k < best) && content.FreeName(k) && string(pdf.AppendObject(nil, v)) == text {
				best = k
			}
		}
		if best != "" {
			return best
		}
	}
	prefix := map[pdf.Name]string{"ColorSpace": "LC", "ExtGState": "LG", "XObject": "LX", "Pattern": "LP", "Properties": "LO"}[category]
	for i := 1; ; i++ {
		n := pdf.Name(fmt.Sprintf("%s%d", prefix, i))
		if have[n] == nil && s.added[category][n] == nil {
			if s.added[category] == nil {
				s.added[category] = pdf.Dict{}
			}
			s.added[category][n] = o
			return n
		}
	}
}

// resources are the stream's with what was added.
func (s *stream) resources() pdf.Dict {
	d := copyOf(s.dict)
	for category, more := range s.added {
		have, _ := s.e.Doc.Dict(d[category])
		have = copyOf(have)
		for k, v := range more {
			have[k] = v
		}
		d[category] = have
	}
	return d
}

// splices are the changes to the bytes of the stream.
func (s *stream) splices() ([]splice, error) {
	if len(s.changes) == 0 {
		return nil, nil
	}
	w := &walker{s: s, left: len(s.changes)}
	if err := w.run(-1); err != nil {
		return nil, err
	}
	if w.left > 0 {
		return nil, errors.New("the content changed while it was mended")
	}
	sort.SliceStable(w.out, func(i, j int) bool { return w.out[i].at < w.out[j].at })
	return w.out, nil
}

// stateAt is the state in force at an operator.
func (s *stream) stateAt(offset int64) (*state, error) {
	w := &walker{s: s}
	if err := w.run(offset); err != nil {
		return nil, err
	}
	return &w.now, nil
}

// first is the state the stream begins with.
func (s *stream) first() (*state, error) {
	if s.begin != nil {
		return s.begin, nil
	}
	st, err := s.parent.stateAt(s.do)
	if err != nil {
		return nil, err
	}
	b := *st
	if v, ok := s.e.Doc.Nums(s.form.Dict["Matrix"]); ok && len(v) == 6 {
		b.ctm = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}.Mul(b.ctm)
	}
	if g, ok := s.e.Doc.Dict(s.form.Dict["Group"]); ok {
		if kind, _ := s.e.Doc.Name(g["S"]); kind == "Transparency" || kind == "" {
			b.blend = nil // a group begins with Normal (11.6.6)
		}
	}
	s.begin = &b
	return s.begin, nil
}

// walker goes through a stream once, follows the state and makes the splices.
type walker struct {
	s     *stream
	now   state
	stack []state
	out   []splice
	made  int // splices that stay when the operator at hand cannot be changed
	left  int // changes not met yet

	path    pathAt
	open    bool // a change is in force on type since an operator before
	openKey string
	openEnd int64 // end of the last operator it was for
	closing string
}

// pathAt is the path being made.
type pathAt struct {
	open    bool
	start   int64
	clip    bool
	foreign []content.Op // operators that do not belong in a path, without operands
	within  string       // one that paints or has to do with type, met within the path
}

// run walks to the end, or to the operator at stop.
func (w *walker) run(stop int64) error {
	first, err := w.s.first()
	if err != nil {
		return err
	}
	w.now = *first
	sc := content.NewScanner(w.s.data)
	for {
		op, ok := sc.Next()
		if !ok {
			break
		}
		if op.Offset == stop {
			return nil
		}
		change, wanted := w.s.changes[op.Offset]
		if stop >= 0 {
			wanted = false
		}
		if wanted {
			w.left--
		}
		w.made = len(w.out)
		if err := w.op(&op, change, wanted); err != nil {
			// The others are mended all the same; this one is told of.
			w.out = w.out[:w.made]
			w.s.e.Note("Page %d: an object was left as it is: %v.", w.s.number(), err)
		}
	}
	w.close()
	return nil
}

// number is the page the stream is drawn on.
func (s *stream) number() int {
	for s.parent != nil {
		s = s.parent
	}
	return s.page.of.Number
}

func (w *walker) op(op *content.Op, change Change, wanted bool) error {
	switch op.Name {
	case "Tj", "TJ", "'", "\"", "Do", "sh", "BI", "BT", "ET":
		w.path.within = op.Name
	}
	switch op.Name {
	case "m", "re", "l", "c", "v", "y", "h":
		w.close()
		if !w.path.open {
			w.path = pathAt{open: true, start: op.Start}
		}
		return nil
	case "W", "W*":
		w.path.clip = true
		return nil
	case "f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "n":
		w.close()
		p := w.path
		w.path = pathAt{}
		if wanted {
			return w.paintPath(op, p, change)
		}
		return nil
	case "Tj", "TJ", "'", "\"":
		if wanted {
			return w.showText(op, change)
		}
		w.close()
		return nil
	case "Do", "sh", "BI":
		w.close()
		if wanted {
			return w.paintOther(op, change)
		}
		return nil
	case "BT", "ET", "Td", "TD", "Tm", "T*", "Tf", "Tc", "Tw", "Tz", "TL", "Ts":
		return nil
	}
	if wanted {
		return fmt.Errorf("operator %s paints nothing that can be changed", op.Name)
	}
	w.close()
	if w.path.open {
		foreign := *op
		foreign.Operands = nil
		w.path.foreign = append(w.path.foreign, foreign)
	}
	w.follow(op)
	return nil
}

// paintPath changes a path: everything from its first operator on is put between q and Q. A clip it makes is made
// once more after them.
func (w *walker) paintPath(op *content.Op, p pathAt, c Change) error {
	if !p.open {
		return errors.New("a path is painted that was not made")
	}
	data := w.s.data
	if c.Hide {
		w.replace(op.Offset, op.End-op.Offset, "n")
		return nil
	}
	set, err := w.setting(c)
	if err != nil {
		return err
	}
	within := p.within
	for _, f := range p.foreign {
		switch f.Name {
		case "cm", "q", "Q":
			within = f.Name
		}
	}
	if within != "" {
		return fmt.Errorf("the path is made with %s within it and cannot be changed safely; export the artwork again", within)
	}
	var before strings.Builder
	for _, f := range p.foreign {
		before.Write(data[f.Start:f.End])
		before.WriteByte('\n')
	}
	w.replace(p.start, 0, before.String()+"q\n"+set)
	for _, f := range p.foreign {
		w.replace(f.Start, f.End-f.Start, " ")
	}
	after := "\nQ"
	if c.Choke != nil {
		more, err := w.choking(op, p, c.Choke)
		if err != nil {
			return err
		}
		after += more
	}
	if p.clip {
		again := data[p.start:op.Start]
		if len(p.foreign) > 0 {
			return errors.New("the path makes a clip and is written in a way that cannot be changed safely; export the artwork again")
		}
		after += "\n" + strings.TrimRight(string(again), " \t\r\n") + "\nn" // it may end in a comment
	}
	w.replace(op.End, 0, after)
	return nil
}

// choking draws the outline of a filled path, overprinting with none of the colourant. Joins are round: the distance
// is the same all round.
func (w *walker) choking(op *content.Op, p pathAt, c *Choke) (string, error) {
	rule := map[string]string{"f": "W", "F": "W", "f*": "W*"}[op.Name]
	scale := w.now.ctm.Expansion()
	if rule == "" || p.clip || len(p.foreign) > 0 || !(scale > 0) {
		return "", errors.New("a shape is drawn in a way that cannot be made smaller; draw it smaller")
	}
	path := strings.TrimRight(string(w.s.data[p.start:op.Start]), " \t\r\n")
	gs := w.s.name("ExtGState", pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(true), "op": pdf.Boolean(true), "OPM": pdf.Integer(0),
		"BM": pdf.Name("Normal"), "CA": pdf.Integer(1), "SMask": pdf.Name("None")})
	clip := ""
	if c.Within {
		clip = path + "\n" + rule + "\nn\n"
	}
	return fmt.Sprintf("\nq\n%s%s gs\n%s\n%s w 0 J 1 j [] 0 d\n%s\nh S\nQ", clip, nameText(gs),
		w.s.colourText(&Colour{c.Space, []float64{0}}, true), number(2*c.Points/scale), path), nil
}

// paintOther changes an XObject, an inline image or a shading.
func (w *walker) paintOther(op *content.Op, c Change) error {
	if c.Hide {
		w.replace(op.Start, op.End-op.Start, " ")
		return nil
	}
	x := c.XObject
	c.XObject = nil
	set, err := w.setting(c)
	if err != nil {
		return err
	}
	if set != "" {
		w.replace(op.Start, 0, "q\n"+set)
	}
	if x != nil {
		if op.Name == "sh" {
			return errors.New("a shading has no object to be exchanged")
		}
		if op.Name == "BI" {
			w.replace(op.Start, op.End-op.Start, nameText(w.s.name("XObject", *x))+" Do")
		} else {
			w.replace(op.Start, op.Offset-op.Start, nameText(w.s.name("XObject", *x))+" ")
		}
	}
	if set != "" {
		w.replace(op.End, 0, "\nQ")
	}
	return nil
}

// showText changes type: q and Q are not allowed around it, so what is set is set back after it. Operators in a row that want
// the same share one setting.
func (w *walker) showText(op *content.Op, c Change) error {
	set, err := w.setting(c)
	if err != nil {
		return err
	}
	if c.Hide {
		if w.now.mode >= 4 {
			set += "7 Tr\n"
		} else {
			set += "3 Tr\n"
		}
	}
	if c.Width != 0 {
		return errors.New("lines of type are not made thicker")
	}
	if w.open && w.openKey == set {
		w.openEnd = op.End
		return nil
	}
	back, err := w.restoring(c)
	w.close()
	if err != nil {
		return err
	}
	w.replace(op.Start, 0, set)
	w.open, w.openKey, w.openEnd, w.closing = true, set, op.End, back
	return nil
}

// close sets back what was set for type.
func (w *walker) close() {
	if w.open {
		w.out = append(w.out, splice{w.openEnd, 0, "\n" + w.closing})
		w.open = false
		w.made = len(w.out) // it stays, whatever becomes of the operator at hand
	}
}

func (w *walker) replace(at, del int64, text string) {
	w.out = append(w.out, splice{at, del, text})
}

// setting is what makes a change, with a line end after it.
func (w *walker) setting(c Change) (string, error) {
	var b strings.Builder
	for i, col := range []*Colour{c.Fill, c.Stroke} {
		if col != nil {
			b.WriteString(w.s.colourText(col, i == 1) + "\n")
		}
	}
	if c.Width != 0 {
		b.Write(pdf.AppendObject(nil, pdf.Real(c.Width)))
		b.WriteString(" w\n")
	}
	if c.state() {
		st := w.now
		if c.OverFill != nil {
			st.overFill = *c.OverFill
		}
		if c.OverStroke != nil {
			st.overStroke = *c.OverStroke
		}
		if c.Mode != nil {
			st.overMode = *c.Mode
		}
		d := st.overprintDict()
		if c.Blend != nil {
			d["BM"] = pdf.Name(c.Blend.String())
		}
		b.WriteString(nameText(w.s.name("ExtGState", d)) + " gs\n")
	}
	return b.String(), nil
}

// restoring undoes setting.
func (w *walker) restoring(c Change) (string, error) {
	var b strings.Builder
	if c.Fill != nil {
		s, err := w.now.fill.text(w.s, false)
		if err != nil {
			return "", err
		}
		b.WriteString(s + "\n")
	}
	if c.Stroke != nil {
		s, err := w.now.stroke.text(w.s, true)
		if err != nil {
			return "", err
		}
		b.WriteString(s + "\n")
	}
	if c.state() {
		d := w.now.overprintDict()
		if c.Blend != nil {
			d["BM"] = pdf.Name("Normal")
			if w.now.blend != nil {
				d["BM"] = w.now.blend
			}
		}
		b.WriteString(nameText(w.s.name("ExtGState", d)) + " gs\n")
	}
	if c.Hide {
		fmt.Fprintf(&b, "%d Tr\n", w.now.mode)
	}
	return b.String(), nil
}

func nameText(n pdf.Name) string { return string(pdf.AppendObject(nil, n)) }

package artwork

import (
	"fmt"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/pdf"
)

// procedures is a font whose letters are drawn as pictures (9.6.4).
type procedures struct {
	entry    pdf.Object
	dict     pdf.Dict
	coloured bool // some letter sets colours of its own
}

// procedures is nil for other fonts.
func (w *walker) procedures(font pdf.Object) *procedures {
	if r, ok := font.(pdf.Ref); ok {
		p, known := w.s.fonts[r]
		if !known {
			p = w.readProcedures(font)
			w.s.fonts[r] = p
		}
		return p
	}
	return w.readProcedures(font)
}

func (w *walker) readProcedures(font pdf.Object) *procedures {
	d, ok := w.s.doc.Dict(font)
	if !ok {
		return nil
	}
	if kind, _ := w.s.doc.Name(d["Subtype"]); kind != "Type3" {
		return nil
	}
	p := &procedures{entry: font, dict: d}
	procs, _ := w.s.doc.Dict(d["CharProcs"])
	for _, o := range procs {
		if st, ok := w.s.doc.Stream(o); ok && w.s.ownColours(st) {
			p.coloured = true
		}
	}
	return p
}

// ownColours reports whether a letter does not begin with d1.
func (s *splitter) ownColours(st *pdf.Stream) bool {
	key := "letter " + s.idOf(st)
	if o, ok := s.made[key]; ok {
		return o == pdf.Boolean(true)
	}
	data, _ := s.doc.Data(st)
	op, ok := content.NewScanner(data).Next()
	own := ok && op.Name != "d1"
	s.made[key] = pdf.Boolean(own)
	return own
}

// widthOnly is a letter that marks nothing.
func (s *splitter) widthOnly(proc *pdf.Stream) []byte {
	data, _ := s.doc.Data(proc)
	op, ok := content.NewScanner(data).Next()
	if !ok {
		return nil
	}
	return append([]byte(nil), data[op.Start:op.End]...)
}

// selectFont follows Tf.
func (w *walker) selectFont(op *content.Op) {
	n := len(op.Operands)
	if n < 2 {
		return
	}
	name, ok := op.Operands[n-2].(pdf.Name)
	if !ok {
		return
	}
	fonts, _ := w.s.doc.Dict(w.res["Font"])
	st := &w.at.now
	st.font, st.fontSize = fonts[name], string(pdf.AppendObject(nil, op.Operands[n-1]))
	if p := w.procedures(st.font); p != nil && p.coloured {
		w.at.out.font = "" // it is written anew where it shows something
		return
	}
	w.copy(op)
	w.at.out.font = name
}

// useProcedures selects the font with its letters written anew for the state they are shown in. bare leaves out those in the
// current colour, which marks nothing.
func (w *walker) useProcedures(p *procedures, bare bool) error {
	s, st := w.s, &w.at.now
	out := w.handDown()
	key := fmt.Sprintf("font %t %s %v %s %v", bare, pdf.AppendObject(nil, p.entry), w.env, st.key(), out)
	o, ok := s.done[key]
	if !ok {
		res, own := s.doc.Dict(p.dict["Resources"])
		if !own {
			res = w.pageResources()
		}
		procs, _ := s.doc.Dict(p.dict["CharProcs"])
		font, letters := pdf.Dict{}, pdf.Dict{}
		for k, v := range p.dict {
			font[k] = v
		}
		need := pdf.Dict{}
		for _, name := range sortedKeys(procs) {
			proc, ok := s.doc.Stream(procs[name])
			if !ok || !s.ownColours(proc) {
				letters[name] = procs[name]
				if ok && bare {
					letters[name] = s.stream(pdf.Dict{}, s.widthOnly(proc))
				}
				continue
			}
			// A letter has no resources of its own: its content is put into a form that has.
			data, err := s.doc.Data(proc)
			if err != nil {
				return cannot("Export the artwork again from the program that made it.", "a letter drawn as a picture cannot be read")
			}
			op, _ := content.NewScanner(data).Next()
			form := pdf.NewStream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Form"), "BBox": letterBox}, data[min(op.End, int64(len(data))):], false)
			form.Ref = proc.Ref
			r, err := s.copied("letter", form, res, *st, out, w.env, w.depth+1)
			if err != nil {
				return err
			}
			if r == nil {
				letters[name] = s.stream(pdf.Dict{}, data[op.Start:op.End])
				continue
			}
			n := pdf.Name(fmt.Sprintf("L%d", len(need)+1))
			for have, _ := s.doc.Dict(res["XObject"]); have[n] != nil; {
				n += "L"
			}
			need[n] = r
			letters[name] = s.stream(pdf.Dict{}, append(append([]byte(nil), data[op.Start:op.End]...), "\n"+nameText(n)+" Do\n"...))
		}
		all := pdf.Dict{}
		for k, v := range res {
			all[k] = v
		}
		for _, k := range dropped {
			delete(all, k)
		}
		// Letters in the current colour keep what they name.
		for k, v := range res {
			if k == "XObject" && len(letters) > len(need) {
				have, _ := s.doc.Dict(v)
				for n, x := range have {
					if st, ok := s.doc.Stream(x); ok {
						kind, _ := s.doc.Name(st.Dict["Subtype"])
						if mask, _ := s.doc.Bool(st.Dict["ImageMask"]); mask || kind == "Form" {
							need[n] = x
						}
					}
				}
			}
		}
		all["XObject"] = need
		font["CharProcs"], font["Resources"] = letters, all
		o = s.add(font)
		s.done[key] = o
	}
	name := w.name("Font", o)
	if w.at.out.font != name {
		w.emit("%s %s Tf", nameText(name), st.fontSize)
		w.at.out.font = name
	}
	return nil
}

// letterBox holds any letter.
var letterBox = pdf.Array{pdf.Integer(-32000), pdf.Integer(-32000), pdf.Integer(32000), pdf.Integer(32000)}

// pageResources are those of the page at hand, which letters without resources use.
func (w *walker) pageResources() pdf.Dict {
	if p, err := w.s.doc.Page(w.s.number); err == nil {
		return p.Resources
	}
	return pdf.Dict{}
}

package artwork

import (
	"fmt"
	"strconv"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
)

// page puts the content of page n for the pass in place of its own. Boxes, groups and marks stay; what an editor has put by of the
// whole (PieceInfo) and small pictures of it go.
func (s *splitter) page(n int, p *Page) error {
	pg, err := s.doc.Page(n)
	if err != nil {
		return err
	}
	if pg.Ref.Num == 0 {
		return cannot("Save the file again with another program first.", "page %d is no object of its own in the file", n)
	}
	d := pdf.Dict{}
	for k, v := range pg.Dict {
		d[k] = v
	}
	delete(d, "PieceInfo")
	delete(d, "Thumb")
	if s.uses(p.List) {
		data, err := s.contents(pg)
		if err != nil {
			return err
		}
		content, res, err := s.rewrite(data, pg.Resources, initialState(), afresh(), rootEnv(p.List), 0)
		if err != nil {
			return err
		}
		s.introduce(res, p.List)
		d["Contents"], d["Resources"] = s.up.AddStream(pdf.Dict{}, content, true), res
	} else {
		s.empty = append(s.empty, n)
		delete(d, "Contents")
		d["Resources"] = pdf.Dict{}
	}
	if err := s.annotations(pg, p, d); err != nil {
		return err
	}
	s.up.Set(pg.Ref, d)
	s.strip(pg.Dict["Parent"], 0)
	return nil
}

// catalogue takes from the catalogue what would let a program draw or keep something else than the pages as written: data an editor
// has put by of the whole, and the wish that fields of forms be drawn anew.
func (s *splitter) catalogue() {
	root := s.doc.Catalog()
	form, _ := s.doc.Dict(root["AcroForm"])
	again, _ := s.doc.Bool(form["NeedAppearances"])
	r, ok := s.doc.Trailer()["Root"].(pdf.Ref)
	if !ok || root["PieceInfo"] == nil && !again {
		return
	}
	d := pdf.Dict{}
	for k, v := range root {
		d[k] = v
	}
	delete(d, "PieceInfo")
	if again {
		f := withEntry(form, "NeedAppearances", pdf.Boolean(false))
		if fr, ok := root["AcroForm"].(pdf.Ref); ok {
			s.up.Set(fr, f)
		} else {
			d["AcroForm"] = f
		}
	}
	s.up.Set(r, d)
}

// introduce names the special toners of the pass among the colour spaces of the page: interpreters are known that look for plates
// there alone, and not within Indexed spaces, shadings or letters.
func (s *splitter) introduce(res pdf.Dict, list *displist.List) {
	cs, _ := s.doc.Dict(res["ColorSpace"])
	all := pdf.Dict{}
	for k, v := range cs {
		all[k] = v
	}
	for _, n := range list.Names {
		var plates []int
		if i, ok := s.target.Names[n.Name]; ok {
			plates = []int{i}
		}
		for _, part := range s.target.Mixes[n.Name] {
			plates = append(plates, part.Plate)
		}
		for _, i := range plates {
			if i >= len(colourant.ProcessNames) && s.plates[i] {
				all[pdf.Name("Toner"+strconv.Itoa(i))] = s.named([]string{s.target.Set.At(i).Name})
			}
		}
	}
	if len(all) > 0 {
		res["ColorSpace"] = all
	}
}

// strip takes inherited resources off the page tree: every page has its own now.
func (s *splitter) strip(o pdf.Object, depth int) {
	r, ok := o.(pdf.Ref)
	d, is := s.doc.Resolve(o).(pdf.Dict)
	if !ok || !is || depth > 64 || s.nodes[r.Num] {
		return
	}
	s.nodes[r.Num] = true
	if d["Resources"] != nil {
		n := pdf.Dict{}
		for k, v := range d {
			if k != "Resources" {
				n[k] = v
			}
		}
		s.up.Set(r, n)
	}
	s.strip(d["Parent"], depth+1)
}

// contents joins the streams of a page with a line end between them (7.8.2).
func (s *splitter) contents(pg *pdf.Page) (data []byte, err error) {
	entry := pg.Dict["Contents"]
	streams := pdf.Array{entry}
	if a, ok := s.doc.Array(entry); ok {
		streams = a
	}
	for _, o := range streams {
		st, ok := s.doc.Stream(o)
		if !ok {
			continue
		}
		b, err := s.doc.Data(st)
		if err != nil {
			return nil, cannot("Export the artwork again from the program that made it.", "a part of the page's content cannot be read")
		}
		data = append(append(data, b...), '\n')
	}
	return data, nil
}

// Flags of annotations (Table 167): neither shown nor printed, and printed.
const (
	annotationHidden = 1 << 1
	annotationPrint  = 1 << 2
)

// annotations writes the appearances of annotations anew. Those for a pointer over or on them never print and go.
func (s *splitter) annotations(pg *pdf.Page, p *Page, page pdf.Dict) error {
	list, ok := s.doc.Array(pg.Dict["Annots"])
	if !ok {
		return nil
	}
	out := make(pdf.Array, len(list))
	for i, o := range list {
		out[i] = o
		d, ok := s.doc.Resolve(o).(pdf.Dict)
		if !ok {
			continue
		}
		ap, drawn := s.doc.Dict(d["AP"])
		flags, _ := s.doc.Int(d["F"])
		if !drawn && flags&annotationPrint == 0 {
			continue
		}
		nd := pdf.Dict{}
		for k, v := range d {
			nd[k] = v
		}
		how := s.shows(d["OC"])
		if how == hidden || !drawn { // without an appearance it is on no plate, but some programs would make one up
			nd["F"] = pdf.Integer(flags | annotationHidden)
			delete(nd, "AP")
		} else {
			n, err := s.appearance(ap["N"], pg, p, d)
			if err != nil {
				return err
			}
			nd["AP"] = pdf.Dict{"N": n}
		}
		if how == always {
			delete(nd, "OC")
		}
		if name, ok := s.doc.Name(d["BM"]); ok {
			if m, _ := displist.BlendFromName(string(name)); s.turnsWhite(m) {
				nd["BM"] = keepsWhite
			}
		}
		if r, ok := o.(pdf.Ref); ok {
			s.up.Set(r, nd)
		} else {
			out[i] = nd
		}
	}
	page["Annots"] = out
	return nil
}

// appearance is a stream, or one for each state.
func (s *splitter) appearance(o pdf.Object, pg *pdf.Page, p *Page, d pdf.Dict) (pdf.Object, error) {
	if st, ok := s.doc.Stream(o); ok {
		begin, e := initialState(), rootEnv(p.List)
		if n, ok := s.doc.Name(d["BM"]); ok {
			m, _ := displist.BlendFromName(string(n))
			e.shape = e.shape || m != displist.Normal
		}
		if g, ok := s.doc.Dict(st.Dict["Group"]); ok {
			e = s.within(e, g, pg.Resources, st)
		}
		r, err := s.copied("appearance", st, pg.Resources, begin, afresh(), e, 1)
		if r == nil && err == nil {
			err = cannot("Export the artwork again from the program that made it.", "an annotation draws itself")
		}
		return r, err
	}
	states, ok := s.doc.Dict(o)
	if !ok {
		return nil, nil
	}
	out := pdf.Dict{}
	for _, k := range sortedKeys(states) {
		if _, nested := s.doc.Stream(states[k]); !nested {
			continue
		}
		r, err := s.appearance(states[k], pg, p, d)
		if err != nil {
			return nil, fmt.Errorf("%w", err)
		}
		out[k] = r
	}
	return out, nil
}

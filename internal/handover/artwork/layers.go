package artwork

import (
	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// showing is what becomes of optional content, which everybody who reads the file of a pass has to see as it prints: without the
// job, and whatever usage a viewer goes by.
type showing uint8

const (
	asLayer showing = iota // it prints and everybody shows it, or nothing is known of it
	hidden                 // it does not print: it marks nothing
	always                 // it prints and somebody may hide it: it is no layer any more
)

// layered notes how the layers of a page's items print. Soft masks stay as they are, so that layers in them have to print for everybody.
func (s *splitter) layered(list *displist.List) error {
	seen := map[any]bool{} // layers, cells and masks
	first := func(x any) bool {
		was := seen[x]
		seen[x] = true
		return !was
	}
	var items func(all []displist.Item, mask bool) error
	type met struct {
		layer *displist.Layer
		mask  bool
	}
	items = func(all []displist.Item, mask bool) error {
		for i := range all {
			for l := all[i].Layer; l != nil && first(met{l, mask}); l = l.Parent {
				how := asLayer
				switch {
				case !l.Prints:
					how = hidden
				case !l.Visible || !l.Viewer:
					how = always
				}
				if mask && how != asLayer {
					return cannot("Print layers as the artwork has them set, or expand the transparency of the object in the design program.",
						"a transparency mask has content on the layer %q, which prints otherwise than the file says", l.Name)
				}
				key := string(pdf.AppendObject(nil, l.Entry))
				if _, known := s.layers[key]; known {
					continue
				}
				s.layers[key] = how
				if how != asLayer {
					clear(s.done) // forms of it were written without that knowledge
				}
			}
			if t := all[i].Paint.Tiling; t != nil && first(t) {
				if err := items(t.Items, mask); err != nil {
					return err
				}
			}
			if m := all[i].SoftMask; m != nil && first(m) {
				if err := items(m.Items, true); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return items(list.Items, false)
}

// shows is what becomes of content with the optional content entry o.
func (s *splitter) shows(o pdf.Object) showing {
	if o == nil || len(s.layers) == 0 {
		return asLayer
	}
	return s.layers[string(pdf.AppendObject(nil, o))]
}

// marked follows BMC, BDC and EMC.
func (w *walker) marked(op *content.Op) {
	switch op.Name {
	case "EMC":
		if n := len(w.marks); n > 0 {
			w.marks = w.marks[:n-1]
		}
	default:
		how := asLayer
		if n := len(op.Operands); n >= 2 && op.Operands[n-2] == pdf.Object(pdf.Name("OC")) {
			switch p := op.Operands[n-1].(type) {
			case pdf.Name:
				d, _ := w.s.doc.Dict(w.res["Properties"])
				how = w.s.shows(d[p])
			case pdf.Dict:
				how = w.s.shows(p)
			}
		}
		if len(w.marks) < limits.MaxMarkedContent {
			w.marks = append(w.marks, how == hidden || w.hides())
		}
		if how == always {
			w.emit("/Printed BMC")
			return
		}
	}
	w.copy(op)
}

// hides reports whether the content at hand is of a layer that does not print.
func (w *walker) hides() bool { return len(w.marks) > 0 && w.marks[len(w.marks)-1] }

// unlayered is an XObject that stays as it is, without a layer where everybody has to see it.
func (s *splitter) unlayered(entry pdf.Object, st *pdf.Stream) pdf.Object {
	if s.shows(st.Dict["OC"]) != always {
		return entry
	}
	d := pdf.Dict{}
	for k, v := range st.Dict {
		if k != "OC" && k != "Length" {
			d[k] = v
		}
	}
	key := "unlayered " + s.idOf(st)
	r, ok := s.streams[key]
	if !ok {
		r = s.up.Add(st.WithDict(d))
		s.streams[key] = r
	}
	return r
}

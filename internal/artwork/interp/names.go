package interp

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
)

// maxResources bounds the walk for colourant names: a document-wide resource dictionary of
// thousands of forms is walked, an endless one is not.
const maxResources = 20_000

// nameTable gathers colourants in the order met.
type nameTable struct {
	index   map[string]int
	list    []displist.NamedColourant
	shown   []bool // met in an item that prints
	hidden  []bool // met in one that does not
	lastSpc colour.Space
	lastHid bool
}

// add notes the colourants a space names. use is 0 for a definition, 1 for a printing item, 2 for
// a hidden one.
func (t *nameTable) add(s colour.Space, object, use int) {
	switch s := s.(type) {
	case *colour.Separation:
		t.name(s.Name, s, object, use)
	case *colour.DeviceN:
	names:
		for _, n := range s.Names {
			for _, p := range s.ProcessComponents {
				if n == p {
					continue names
				}
			}
			t.name(n, s, object, use)
		}
	case *colour.Indexed:
		t.add(s.Base, object, use)
	case *colour.Pattern:
		if s.Under != nil {
			t.add(s.Under, object, use)
		}
	}
}

func (t *nameTable) name(n string, s colour.Space, object, use int) {
	switch n {
	case "All", "None", colourant.Cyan, colourant.Magenta, colourant.Yellow, colourant.Black:
		return
	}
	i, ok := t.index[n]
	if !ok {
		i = len(t.list)
		t.index[n] = i
		t.list = append(t.list, displist.NamedColourant{Name: n})
		t.shown, t.hidden = append(t.shown, false), append(t.hidden, false)
	}
	c := &t.list[i]
	known := false
	for _, have := range c.Spaces {
		known = known || have == s
	}
	if !known && len(c.Spaces) < 64 {
		c.Spaces = append(c.Spaces, s)
	}
	if c.Object == 0 {
		c.Object = object
	}
	t.shown[i] = t.shown[i] || use == 1
	t.hidden[i] = t.hidden[i] || use == 2
}

// seenItems is a mask or tiling met in a walk over items, hidden or not.
type seenItems struct {
	of     any
	hidden bool
}

// items notes the colourants of items, their masks and patterns.
func (t *nameTable) items(items []displist.Item, hidden bool, seen map[seenItems]bool) {
	for i := range items {
		it := &items[i]
		hid := hidden || it.Hidden
		if s := it.Paint.Space; s != nil {
			t.space(s, hid)
		}
		if p := it.Paint.Shading; p != nil {
			t.space(p.Space, hid)
		}
		if it.Shading != nil {
			t.space(it.Shading.Space, hid)
		}
		if p := it.Paint.Tiling; p != nil && !seen[seenItems{p, hid}] {
			seen[seenItems{p, hid}] = true
			t.items(p.Items, hid, seen)
		}
		if it.Image != nil && it.Image.Space != nil {
			t.space(it.Image.Space, hid)
		}
		if sm := it.SoftMask; sm != nil && !seen[seenItems{sm, hid}] {
			seen[seenItems{sm, hid}] = true
			t.items(sm.Items, hid, seen)
		}
	}
}

func (t *nameTable) space(s colour.Space, hidden bool) {
	if s == t.lastSpc && hidden == t.lastHid {
		return
	}
	t.lastSpc, t.lastHid = s, hidden
	use := 1
	if hidden {
		use = 2
	}
	t.add(s, 0, use)
}

// collectNames fills in the list's names: those the items use, in paint order, then those that are
// only defined in resources the page can reach.
func (m *machine) collectNames() {
	t := &nameTable{index: map[string]int{}}
	t.items(m.list.Items, false, map[seenItems]bool{})
	w := &resourceWalk{m: m, t: t, seen: map[int]bool{}, dicts: map[*resources]bool{}}
	w.resources(m.page.Resources, 0)
	for _, fm := range m.annots {
		w.object(fm.stream, m.page.Resources, 0)
	}
	for i := range t.list {
		t.list[i].HiddenOnly = t.hidden[i] && !t.shown[i]
	}
	m.list.Names = t.list
}

// resourceWalk visits everything a resource dictionary can reach that may hold a colour space.
type resourceWalk struct {
	m     *machine
	t     *nameTable
	seen  map[int]bool // object numbers
	dicts map[*resources]bool
	count int
	over  bool
}

// maxWalkDepth bounds nesting: deeper forms are not drawn either.
const maxWalkDepth = 30

func (w *resourceWalk) resources(d pdf.Dict, depth int) {
	if d == nil || depth > maxWalkDepth {
		return
	}
	r := w.m.resourcesOf(d)
	if w.dicts[r] {
		return
	}
	w.dicts[r] = true
	doc := w.m.r.Doc
	each := func(category pdf.Name, f func(o pdf.Object)) {
		c, _ := doc.Dict(d[category])
		for _, k := range sortedKeys(c) {
			if w.count++; w.count > maxResources {
				if !w.over {
					w.over = true
					w.m.overLimit("The page can reach more than twenty thousand resources; colourant names were not looked for in all.", false)
				}
				return
			}
			f(c[pdf.Name(k)])
		}
	}
	each("ColorSpace", func(o pdf.Object) { w.space(o, d) })
	for _, c := range []pdf.Name{"XObject", "Pattern", "Shading", "Font", "ExtGState"} {
		each(c, func(o pdf.Object) { w.object(o, d, depth+1) })
	}
}

// space notes a colour space object; res are the resources its names are looked up in.
func (w *resourceWalk) space(o pdf.Object, res pdf.Dict) {
	doc := w.m.r.Doc
	ref, _ := o.(pdf.Ref)
	switch v := doc.Resolve(o).(type) {
	case nil, pdf.Name:
		return // device spaces; resources are visited under their own names
	case pdf.Array:
		if len(v) < 2 {
			return
		}
		switch n, _ := doc.Name(v[0]); n {
		case "Separation", "DeviceN", "Indexed", "I", "Pattern":
		default:
			return
		}
	}
	if s, err := w.m.r.Spaces.Space(o, res); err == nil {
		w.t.add(s, ref.Num, 0)
	}
}

// object visits a form, image, pattern, shading, font or graphics state.
func (w *resourceWalk) object(o pdf.Object, res pdf.Dict, depth int) {
	doc := w.m.r.Doc
	ref, _ := o.(pdf.Ref)
	if s, ok := o.(*pdf.Stream); ok {
		ref = s.Ref
	}
	if ref.Num != 0 {
		if w.seen[ref.Num] {
			return
		}
		w.seen[ref.Num] = true
	}
	d, ok := doc.Dict(o)
	if !ok || depth > maxWalkDepth {
		return
	}
	if own, ok := doc.Dict(d["Resources"]); ok {
		w.resources(own, depth)
		res = own
	}
	if cs := d["ColorSpace"]; cs != nil {
		w.space(cs, res)
	}
	if sh := d["Shading"]; sh != nil { // a shading pattern
		w.object(sh, res, depth+1)
	}
	if sm, ok := doc.Dict(d["SMask"]); ok { // of a graphics state
		if g := sm["G"]; g != nil {
			w.object(g, res, depth+1)
		}
	}
	if f, ok := doc.Array(d["Font"]); ok && len(f) > 0 {
		w.object(f[0], res, depth+1)
	}
}

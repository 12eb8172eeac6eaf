package pdf

// importer copies objects of documents into a new file, each once.
type importer struct{ refs map[*Document]map[int]Ref }

// take copies o and all it refers to. reserve gives a reference of the new file, set stores its object.
func (m *importer) take(d *Document, o Object, reserve func() Ref, set func(Ref, Object)) Object {
	if m.refs == nil {
		m.refs = map[*Document]map[int]Ref{}
	}
	refs := m.refs[d]
	if refs == nil {
		refs = map[int]Ref{}
		m.refs[d] = refs
	}
	var queue []int
	var copyOf func(o Object) Object
	copyOf = func(o Object) Object {
		switch v := o.(type) {
		case Ref:
			r, ok := refs[v.Num]
			if !ok {
				r = reserve()
				refs[v.Num] = r
				queue = append(queue, v.Num)
			}
			return r
		case Array:
			out := make(Array, len(v))
			for i := range v {
				out[i] = copyOf(v[i])
			}
			return out
		case Dict:
			out := make(Dict, len(v))
			page := v["Type"] == Name("Page")
			for _, k := range sortedKeys(v) { // in order: numbers are given on the way
				if page && k == "Parent" {
					continue
				}
				out[k] = copyOf(v[k])
			}
			return out
		case *Stream:
			dict := copyDict(v.Dict)
			if v.raw != nil && v.raw.doc != nil && v.raw.doc.security != nil {
				dict = copyDict(withoutCrypt(dict, v.raw.doc.Resolve))
			}
			delete(dict, "Length")
			return v.WithDict(copyOf(dict).(Dict))
		}
		return o
	}
	if s, ok := o.(*Stream); ok && s.Ref.Num > 0 {
		o = s.Ref
	}
	top := copyOf(o)
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		set(refs[n], copyOf(d.load(n)))
	}
	return top
}

package interp

import (
	"reflect"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
)

// resources is a resource dictionary (7.8.3) with what has been read through it on this page.
type resources struct {
	doc      *pdf.Document
	dict     pdf.Dict
	category map[pdf.Name]pdf.Dict
	spaces   map[pdf.Name]colour.Space // nil value = unreadable
	fonts    map[pdf.Name]*font.Font
	gstates  map[pdf.Name]*extGState
	patterns map[pdf.Name]*pattern // nil value = unusable
	defaults bool                  // has default colour spaces
}

// resourcesOf gives the one wrapper of a dictionary: forms drawn a thousand times share it.
func (m *machine) resourcesOf(d pdf.Dict) *resources {
	key := dictPointer(d)
	if r, ok := m.resources[key]; ok {
		return r
	}
	r := &resources{doc: m.r.Doc, dict: d, category: map[pdf.Name]pdf.Dict{}, spaces: map[pdf.Name]colour.Space{},
		fonts: map[pdf.Name]*font.Font{}, gstates: map[pdf.Name]*extGState{}, patterns: map[pdf.Name]*pattern{}}
	if cs, ok := m.r.Doc.Dict(d["ColorSpace"]); ok {
		for _, n := range []pdf.Name{"DefaultGray", "DefaultRGB", "DefaultCMYK"} {
			if _, ok := cs[n]; ok {
				r.defaults = true
			}
		}
	}
	m.resources[key] = r
	return r
}

func dictPointer(d pdf.Dict) uintptr { return reflect.ValueOf(d).Pointer() }

// entry looks a name up in a category such as XObject; nil when there is none.
func (r *resources) entry(category, name pdf.Name) pdf.Object {
	d, ok := r.category[category]
	if !ok {
		d, _ = r.doc.Dict(r.dict[category])
		r.category[category] = d
	}
	return d[name]
}

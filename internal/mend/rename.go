package mend

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var renameColourant = &Remedy{
	ID:      "rename-colourant",
	Title:   "Give a colourant another name in the whole document.",
	Answers: []finding.ID{"colourant-name-nearly-right"},
	Safe:    true,
	Options: []Option{{"from", "the name in the artwork", true}, {"to", "the name it gets", true}},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		for _, n := range f.Notes {
			if to, ok := strings.CutPrefix(n, "wanted name: "); ok && len(f.Place.Colourants) > 0 {
				return []Options{{"from": f.Place.Colourants[0], "to": to}}
			}
		}
		return nil
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		return e.rename(ctx, []string{o["from"]}, o["to"], false)
	},
}

var mergeColourants = &Remedy{
	ID:      "merge-colourants",
	Title:   "Let several colourants be one, with the definition of the one they become.",
	Answers: []finding.ID{"colourant-unknown", "one-look-two-names"},
	Options: []Option{{"from", "the names in the artwork, | between", true}, {"to", "the name they get", true}},
	Offer: func(f *finding.Finding, in *Input) (out []Options) {
		if in.Press == nil || len(f.Place.Colourants) == 0 {
			return nil
		}
		strange, known := in.split(f.Place.Colourants)
		if f.ID != "colourant-unknown" { // names of one look: those the press lacks become the one it has
			switch {
			case len(strange) == 0:
				return nil // several toners of the press, told apart on purpose
			case len(known) == 0:
				known, strange = strange[:1], strange[1:]
			}
			for _, n := range known {
				out = append(out, Options{"from": strings.Join(strange, "|"), "to": n})
			}
			return out
		}
		for _, c := range in.Press.SpecialsInLaydown() {
			out = append(out, Options{"from": f.Place.Colourants[0], "to": c.Name})
		}
		return out
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		from := o.list("from")
		if len(from) == 0 {
			return fmt.Errorf("from names no colourant")
		}
		return e.rename(ctx, from, o["to"], true)
	},
}

// split divides names into those the press lacks and those it has, as toners or mixes.
func (in *Input) split(names []string) (strange, known []string) {
	for _, n := range names {
		_, toner := in.Press.Toner(n)
		_, mix := in.Press.Mix(n)
		if toner || mix {
			known = append(known, n)
		} else {
			strange = append(strange, n)
		}
	}
	return strange, known
}

// rename gives colourants another name wherever the document defines them. With merge, definitions of the new name
// replace theirs, so that the name has one look.
func (e *Edit) rename(ctx context.Context, from []string, to string, merge bool) error {
	for _, n := range append([]string{to}, from...) {
		if n == "All" || n == "None" {
			return fmt.Errorf("%q is no name of a toner and cannot be given or taken away", n)
		}
	}
	from = slices.DeleteFunc(from, func(n string) bool { return n == to })
	var target pdf.Object
	if merge {
		target, _ = e.toner(to)
	} else {
		target, _ = e.defined(to)
	}
	rn := &renaming{e: e, from: from, to: to, apart: map[pdf.Ref]bool{}}
	met := false
	e.rewrite(func(o pdf.Object) pdf.Object {
		switch v := o.(type) {
		case pdf.Array:
			if n, ok := e.separation(v); ok && slices.Contains(from, n) {
				met = true
				if target != nil {
					return target
				}
				a := slices.Clone(v)
				a[1] = pdf.Name(to)
				return a
			}
			a, has := rn.mixture(v)
			met = met || has
			if a != nil {
				return a
			}
		case pdf.Dict:
			if d := rn.keyed(v); d != nil {
				return d
			}
		}
		return nil
	})
	rn.rest()
	if !met {
		return nil
	}
	return e.EachAll(ctx, func(p *Page) error {
		for i := range p.List.Items {
			it := &p.List.Items[i]
			if it.Hidden {
				continue
			}
			if rn.both && paintsBoth(it, from, to) {
				return fmt.Errorf("a mixture of the artwork names both %q and a colourant that would become it; convert the objects painted in it first", to)
			}
			box := p.box(i)
			if touches(it, []string{"All"}) { // it paints whatever plates there are
				e.Allow(p.List.Page.Number, &box, append([]string{to}, from...)...)
			}
			if !touches(it, from) {
				continue
			}
			e.Allow(p.List.Page.Number, &box, e.platesOfItem(p, it, to)...)
		}
		return nil
	})
}

// paintsBoth reports whether an item paints in a mixture that names several of what is to be one colourant.
func paintsBoth(it *displist.Item, from []string, to string) bool {
	return slices.ContainsFunc(inksOf(it), func(k ink) bool {
		became := 0
		for _, n := range colour.Names(k.space) {
			if n == to || slices.Contains(from, n) {
				became++
			}
		}
		return became > 1
	})
}

// touches reports whether an item or its soft mask names one of the colourants.
func touches(it *displist.Item, which []string) bool {
	if namesAny(it, which...) {
		return true
	}
	if it.SoftMask != nil {
		for i := range it.SoftMask.Items {
			if touches(&it.SoftMask.Items[i], which) {
				return true
			}
		}
	}
	return false
}

// platesOfItem are the plates that may differ when the names of an item's colours change to others.
func (e *Edit) platesOfItem(p *Page, it *displist.Item, others ...string) []string {
	all := append([]string{}, others...)
	for _, k := range inksOf(it) {
		all = append(all, colour.Names(k.space)...)
	}
	if it.SoftMask != nil {
		for i := range it.SoftMask.Items {
			for _, k := range inksOf(&it.SoftMask.Items[i]) {
				all = append(all, colour.Names(k.space)...)
			}
		}
	}
	var out []string
	for _, n := range all {
		out = append(out, n)
		if e.In.Press != nil {
			out = append(out, platesOf(p.Target, n)...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// renaming changes names in what goes by them. Lists and dictionaries that are objects of their own stay so.
type renaming struct {
	e     *Edit
	from  []string
	to    string
	apart map[pdf.Ref]bool // lists and dictionaries with names, still to be changed
	both  bool             // a mixture names several of them and was left as it is
}

// mixture renames in a DeviceN array: has tells whether it names one of them, the array is nil when it stays as it is, as one does
// that would name a colourant twice (8.6.6.5).
func (rn *renaming) mixture(a pdf.Array) (out pdf.Array, has bool) {
	if len(a) < 4 {
		return nil, false
	}
	if kind, _ := rn.e.Doc.Name(a[0]); kind != "DeviceN" {
		return nil, false
	}
	old, ok := rn.e.Doc.Array(a[1])
	if !ok {
		return nil, false
	}
	list := rn.list(old)
	if list == nil {
		return nil, false
	}
	times := 0
	for _, o := range list {
		if n, _ := rn.e.Doc.Name(o); string(n) == rn.to {
			times++
		}
	}
	if times > 1 {
		rn.both = true
		return nil, true
	}
	if r, is := a[1].(pdf.Ref); is {
		rn.apart[r] = true
		return nil, true
	}
	out = slices.Clone(a)
	out[1] = list
	return out, true
}

// list renames in a list of names; nil when it has none of them.
func (rn *renaming) list(a pdf.Array) pdf.Array {
	var out pdf.Array
	for i, o := range a {
		if n, _ := rn.e.Doc.Name(o); slices.Contains(rn.from, string(n)) {
			if out == nil {
				out = slices.Clone(a)
			}
			out[i] = pdf.Name(rn.to)
		}
	}
	return out
}

// keys renames the keys of a dictionary; nil when it has none of them.
func (rn *renaming) keys(d pdf.Dict) pdf.Dict {
	var out pdf.Dict
	for _, f := range rn.from {
		v, has := d[pdf.Name(f)]
		if !has {
			continue
		}
		if out == nil {
			out = copyOf(d)
		}
		delete(out, pdf.Name(f))
		if out[pdf.Name(rn.to)] == nil {
			out[pdf.Name(rn.to)] = v
		}
	}
	return out
}

// keyed renames in dictionaries and lists that go by colourant names (Tables 70, 72 and 401); nil when nothing changes.
func (rn *renaming) keyed(d pdf.Dict) pdf.Dict {
	var out pdf.Dict
	for _, k := range []pdf.Name{"Colorants", "Solidities", "DotGain", "SpectralData", "PrintingOrder"} {
		var now pdf.Object
		if inner, ok := rn.e.Doc.Dict(d[k]); ok && k != "PrintingOrder" {
			if m := rn.keys(inner); m != nil {
				now = m
			}
		} else if order, ok := rn.e.Doc.Array(d[k]); ok && k == "PrintingOrder" {
			if l := rn.list(order); l != nil {
				now = l
			}
		}
		if now == nil {
			continue
		}
		if r, is := d[k].(pdf.Ref); is {
			rn.apart[r] = true
			continue
		}
		if out == nil {
			out = copyOf(d)
		}
		out[k] = now
	}
	return out
}

// rest changes lists and dictionaries that are objects of their own, as they are by then.
func (rn *renaming) rest() {
	for r := range rn.apart {
		switch v := rn.e.up.Resolve(r).(type) {
		case pdf.Array:
			if l := rn.list(v); l != nil {
				rn.e.set(r, l)
			}
		case pdf.Dict:
			if d := rn.keys(v); d != nil {
				rn.e.set(r, d)
			}
		}
	}
}

var oneDefinition = &Remedy{
	ID:      "one-definition",
	Title:   "Give a colourant one stand-in colour in the whole document: the press's where a definition has it, else the first.",
	Answers: []finding.ID{"colourant-definitions-differ"},
	Safe:    true,
	Options: []Option{{"colourant", "its name; all when left out", false}},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		if len(f.Place.Colourants) == 0 {
			return nil
		}
		return []Options{{"colourant": f.Place.Colourants[0]}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		chosen := map[string]pdf.Array{}
		for _, d := range e.definitions().spaces {
			if want := o["colourant"]; want != "" && want != d.name || d.name == "All" || d.name == "None" {
				continue
			}
			if _, ok := chosen[d.name]; !ok || e.isStandIn(d) && !e.isStandIn(definition{name: d.name, array: chosen[d.name]}) {
				chosen[d.name] = d.array
			}
		}
		changed := map[string]bool{}
		e.rewrite(func(o pdf.Object) pdf.Object {
			a, ok := o.(pdf.Array)
			if !ok {
				return nil
			}
			n, ok := e.separation(a)
			want := chosen[n]
			if !ok || want == nil || sameObject(a[2], want[2]) && sameObject(a[3], want[3]) {
				return nil
			}
			changed[n] = true
			out := slices.Clone(a)
			out[2], out[3] = want[2], want[3]
			return out
		})
		// Where the press has no such toner the stand-in colour is what prints.
		return e.EachAll(ctx, func(p *Page) error {
			for i := range p.List.Items {
				it := &p.List.Items[i]
				for n := range changed {
					if _, plate := p.Target.Names[n]; plate || it.Hidden || !touches(it, []string{n}) {
						continue
					}
					if _, mix := p.Target.Mixes[n]; !mix {
						box := p.box(i)
						e.Allow(p.List.Page.Number, &box, e.platesOfItem(p, it)...)
					}
				}
			}
			return nil
		})
	},
}

func sameObject(a, b pdf.Object) bool {
	return string(pdf.AppendObject(nil, a)) == string(pdf.AppendObject(nil, b))
}

// isStandIn reports whether a definition looks as the press says its toner is to look.
func (e *Edit) isStandIn(d definition) bool {
	if e.In.Press == nil {
		return false
	}
	look, ok := e.In.Press.StandIn(d.name)
	if !ok {
		return false
	}
	if alt, _ := e.Doc.Name(d.array[2]); alt != "DeviceCMYK" {
		return false
	}
	s, err := colour.NewReader(e.Doc, finding.Discard).Space(d.array, nil)
	sep, ok := s.(*colour.Separation)
	if err != nil || !ok || sep.Tint == nil {
		return false
	}
	var got [4]float64
	sep.Tint.Eval(got[:], []float64{1})
	for i, v := range look {
		if d := got[i] - float64(v)/100; d > .0051 || d < -.0051 {
			return false
		}
	}
	return true
}

package mend

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/press"
)

// definitions are the Separation spaces of a document, in the order met from the trailer on.
type definitions struct {
	objects []pdf.Ref // everything that can be reached, in that order
	spaces  []definition
}

// definition is one Separation array.
type definition struct {
	name  string
	array pdf.Array
	ref   pdf.Ref // zero when it stands within another object
}

// definitions walks the document once.
func (e *Edit) definitions() *definitions {
	if e.defs != nil {
		return e.defs
	}
	d := &definitions{}
	e.defs = d
	seen := map[int]bool{}
	var queue []pdf.Ref
	var visit func(o pdf.Object, ref pdf.Ref)
	visit = func(o pdf.Object, ref pdf.Ref) {
		switch v := o.(type) {
		case pdf.Ref:
			if v.Num > 0 && !seen[v.Num] {
				seen[v.Num] = true
				queue = append(queue, v)
			}
		case pdf.Array:
			if n, ok := e.separation(v); ok {
				d.spaces = append(d.spaces, definition{n, v, ref})
			}
			for _, x := range v {
				visit(x, pdf.Ref{})
			}
		case pdf.Dict:
			for _, k := range slices.Sorted(maps.Keys(v)) {
				visit(v[k], pdf.Ref{})
			}
		case *pdf.Stream:
			visit(v.Dict, pdf.Ref{})
		}
	}
	visit(e.Doc.Trailer(), pdf.Ref{})
	for len(queue) > 0 {
		r := queue[0]
		queue = queue[1:]
		o := e.Doc.Resolve(r)
		d.objects = append(d.objects, r)
		visit(o, r)
	}
	return d
}

// separation tells the name of a Separation array.
func (e *Edit) separation(a pdf.Array) (string, bool) {
	if len(a) < 4 {
		return "", false
	}
	if kind, _ := e.Doc.Name(a[0]); kind != "Separation" {
		return "", false
	}
	n, ok := e.Doc.Name(a[1])
	return string(n), ok
}

// rewrite replaces objects: f is given every array and dictionary, inner ones first, and says what stands in its place.
func (e *Edit) rewrite(f func(o pdf.Object) pdf.Object) {
	var change func(o pdf.Object) (pdf.Object, bool)
	change = func(o pdf.Object) (pdf.Object, bool) {
		var out pdf.Object
		changed := false
		switch v := o.(type) {
		case pdf.Array:
			a := slices.Clone(v)
			for i, x := range v {
				if y, ok := change(x); ok {
					a[i], changed = y, true
				}
			}
			out = a
		case pdf.Dict:
			d := copyOf(v)
			for k, x := range v {
				if y, ok := change(x); ok {
					d[k], changed = y, true
				}
			}
			out = d
		case *pdf.Stream:
			if d, ok := change(v.Dict); ok {
				return v.WithDict(d.(pdf.Dict)), true
			}
			return o, false
		default:
			return o, false
		}
		if !changed {
			out = o
		}
		if n := f(out); n != nil {
			return n, true
		}
		return out, changed
	}
	for _, r := range e.definitions().objects {
		if o, ok := change(e.Doc.Resolve(r)); ok {
			if to, is := o.(pdf.Ref); is {
				o = e.value(to) // an object is a value, not a reference to another (7.3.10)
			}
			e.set(r, o)
		}
	}
}

// value is what a reference stands for: a definition made in this edit, or an object of the document.
func (e *Edit) value(r pdf.Ref) pdf.Object {
	for _, d := range e.definitions().spaces {
		if d.ref == r {
			return d.array
		}
	}
	return e.Doc.Resolve(r)
}

// toner is a space of the colourant: one the document defines, else a new one with the press's stand-in colour; ok is false
// when there is neither.
func (e *Edit) toner(name string) (pdf.Object, bool) {
	if a, ok := e.defined(name); ok {
		return a, true
	}
	if e.In.Press == nil {
		return nil, false
	}
	look, ok := e.In.Press.StandIn(name)
	if !ok {
		return nil, false
	}
	d := definition{name: name, array: pdf.Spot(name, press.Shares(look))}
	d.ref = e.up.Add(d.array)
	e.defs.spaces = append(e.defs.spaces, d)
	return d.ref, true
}

// defined is the first definition of a colourant, as a reference where it has one.
func (e *Edit) defined(name string) (pdf.Object, bool) {
	var direct pdf.Array
	for _, d := range e.definitions().spaces {
		if d.name != name {
			continue
		}
		if d.ref.Num != 0 {
			return d.ref, true
		}
		if direct == nil {
			direct = d.array
		}
	}
	if direct == nil {
		return nil, false
	}
	return direct, true
}

func processName(n string) bool { return slices.Contains(colourant.ProcessNames[:], n) }

// known refuses names that neither the press nor the artwork has: a slip of the keyboard would pass for a colourant that is printed
// through its stand-in colour.
func (e *Edit) known(ctx context.Context, names []string) error {
	var strange []string
	for _, n := range names {
		_, defined := e.defined(n)
		if n == underProcess || strings.EqualFold(n, "colours") || processName(n) || defined {
			continue
		}
		if e.In.Press != nil {
			if _, ok := e.In.Press.StandIn(n); ok {
				continue
			}
		}
		strange = append(strange, n)
	}
	if len(strange) == 0 {
		return nil
	}
	// A mixture may name it without a definition of its own.
	err := e.EachAll(ctx, func(p *Page) error {
		strange = slices.DeleteFunc(strange, func(n string) bool {
			return slices.ContainsFunc(p.List.Names, func(c displist.NamedColourant) bool { return c.Name == n })
		})
		return nil
	})
	if err != nil || len(strange) == 0 {
		return err
	}
	return fmt.Errorf("neither the press nor the artwork has a colourant %q", strange[0])
}

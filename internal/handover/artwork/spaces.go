package artwork

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
)

// learn notes the stand-in colours of the names of a page, under the names of the toners they reach. The first met counts.
func (s *splitter) learn(list *displist.List) {
	for i, name := range colourant.ProcessNames {
		var look [4]float64
		look[i] = 1
		s.looks[name] = look
	}
	for _, n := range list.Names {
		plate, ok := s.target.Names[n.Name]
		if !ok {
			continue
		}
		toner := s.target.Set.At(plate).Name
		if _, known := s.looks[toner]; known || len(n.Spaces) == 0 {
			continue
		}
		switch x := n.Spaces[0].(type) {
		case *colour.Separation:
			s.looks[toner] = s.target.Converter.StandIn(x, 1)
		case *colour.DeviceN:
			in, out := make([]float64, len(x.Names)), make([]float64, x.Tint.Outputs())
			if k := slices.Index(x.Names, n.Name); k >= 0 {
				in[k] = 1
			}
			x.Tint.Eval(out, in)
			s.looks[toner] = s.target.Converter.CMYK(x.Alternate, out[:x.Alternate.Components()], colour.RelativeColorimetric)
		}
	}
}

// noLook stands in for a toner the artwork never shows: a light gray.
var noLook = [4]float64{0, 0, 0, 0.2}

// know takes the Separation spaces of resources as those of their names, so that a name keeps one definition.
func (s *splitter) know(res pdf.Dict) {
	cs, _ := s.doc.Dict(res["ColorSpace"])
	for _, k := range sortedKeys(cs) {
		a, ok := s.doc.Array(cs[k])
		if !ok || len(a) != 4 {
			continue
		}
		if kind, _ := s.doc.Name(a[0]); kind != "Separation" {
			continue
		}
		if n, ok := s.doc.Name(a[1]); ok && s.own[string(n)] == nil {
			s.own[string(n)] = cs[k]
		}
	}
}

// named is the space of toner names, None among them: the artwork's own Separation where there is one.
func (s *splitter) named(names []string) pdf.Object {
	if len(names) == 1 {
		if o := s.own[names[0]]; o != nil {
			return o
		}
	}
	key := "space " + strings.Join(names, "\x00")
	if o, ok := s.made[key]; ok {
		return o
	}
	looks := make([][4]float64, len(names))
	for i, n := range names {
		look, ok := s.looks[n]
		switch {
		case n == "None":
		case ok:
			looks[i] = look
		default:
			looks[i] = noLook
		}
	}
	var a pdf.Array
	if len(names) == 1 {
		c1 := pdf.Array{}
		for _, v := range looks[0] {
			c1 = append(c1, pdf.Real(v))
		}
		zero := pdf.Integer(0)
		a = pdf.Array{pdf.Name("Separation"), pdf.Name(names[0]), pdf.Name("DeviceCMYK"), pdf.Dict{"FunctionType": pdf.Integer(2),
			"Domain": pdf.Array{zero, pdf.Integer(1)}, "N": pdf.Integer(1), "C0": pdf.Array{zero, zero, zero, zero}, "C1": c1}}
	} else {
		list := pdf.Array{}
		for _, n := range names {
			list = append(list, pdf.Name(n))
		}
		a = pdf.Array{pdf.Name("DeviceN"), list, pdf.Name("DeviceCMYK"), s.over(looks)}
	}
	r := s.up.Add(a)
	s.made[key] = r
	return r
}

// over is the tint transform that shows toners over each other: 1 - the product of (1 - tint x stand-in).
func (s *splitter) over(looks [][4]float64) pdf.Ref {
	n := len(looks)
	var b strings.Builder
	b.WriteString("{")
	for c := range 4 {
		b.WriteString(" 1")
		for i, look := range looks {
			if look[c] != 0 {
				fmt.Fprintf(&b, " %d index %s mul 1 exch sub mul", c+n-i, numbers([]float64{look[c]}))
			}
		}
		b.WriteString(" 1 exch sub")
	}
	fmt.Fprintf(&b, " %d 4 roll", n+4)
	b.WriteString(strings.Repeat(" pop", n) + " }")
	domain := pdf.Array{}
	for range n {
		domain = append(domain, pdf.Integer(0), pdf.Integer(1))
	}
	unit := pdf.Array{}
	for range 4 {
		unit = append(unit, pdf.Integer(0), pdf.Integer(1))
	}
	return s.stream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": domain, "Range": unit}, []byte(b.String()))
}

// stream adds a stream; one that holds the same as one before is that.
func (s *splitter) stream(dict pdf.Dict, data []byte) pdf.Ref {
	sum := sha256.Sum256(data) // not the data: a page of images of tints may hold hundreds of megabytes
	key := string(pdf.AppendObject(nil, dict)) + "\x00" + string(sum[:])
	r, ok := s.streams[key]
	if !ok {
		r = s.up.AddStream(dict, data, true)
		s.streams[key] = r
	}
	return r
}

// add stores an object that is no stream, once.
func (s *splitter) add(o pdf.Object) pdf.Object {
	key := "object " + string(pdf.AppendObject(nil, o))
	r, ok := s.made[key]
	if !ok {
		r = s.up.Add(o)
		s.made[key] = r
	}
	return r
}

// reduced is a space of as many components whose colours paint what they did on the plates of the pass and name nothing else: by
// None in place of other names. ok is false where components and plates do not go together one by one.
func (s *splitter) reduced(space colour.Space, raw pdf.Object, e env) (o pdf.Object, ok bool) {
	switch x := space.(type) {
	case *colour.Indexed:
		a, is := s.doc.Array(raw)
		if !is || len(a) < 4 {
			return nil, false
		}
		base, ok := s.reduced(x.Base, a[1], e)
		if !ok {
			return nil, false
		}
		return s.add(pdf.Array{pdf.Name("Indexed"), base, a[2], a[3]}), true
	case *colour.Separation:
		return s.renamed([]string{x.Name}, e)
	case *colour.DeviceN:
		if x.NChannel && len(x.ProcessComponents) > 0 && (x.Process != colour.Space(colour.CMYK) || e.ctx.Space != separate.BlendCMYK) {
			return s.channels(x, raw, e)
		}
		names := slices.Clone(x.Names)
		for i, n := range names { // the process dictionary names its components in its own way
			if k := slices.Index(x.ProcessComponents, n); k >= 0 && k < len(colourant.ProcessNames) {
				names[i] = colourant.ProcessNames[k]
			}
		}
		return s.renamed(names, e)
	case *colour.DeviceCMYK:
		if e.ctx.Space != separate.BlendCMYK {
			return nil, false
		}
		return s.renamed(colourant.ProcessNames[:], e)
	}
	return nil, false
}

// channels is reduced for an NChannel space whose process components specify all process toners together (8.6.6.5): they stay as they
// are where the pass has these, and are None where it has none of them.
func (s *splitter) channels(x *colour.DeviceN, raw pdf.Object, e env) (pdf.Object, bool) {
	rest := slices.Clone(x.Names)
	for i, n := range rest {
		if slices.Contains(x.ProcessComponents, n) {
			rest[i] = "None"
		}
	}
	out, ok := s.tonersOf(rest, e)
	if !ok {
		return nil, false
	}
	if !s.process {
		return s.named(out), true
	}
	a, _ := s.doc.Array(raw)
	for i := range colourant.ProcessNames {
		if !s.plates[i] && !s.unmounted(i) {
			return nil, false
		}
	}
	if len(a) < 5 {
		return nil, false
	}
	attrs, _ := s.doc.Dict(a[4])
	names, colorants := pdf.Array{}, pdf.Dict{}
	for i, n := range x.Names {
		if !slices.Contains(x.ProcessComponents, n) {
			if n = out[i]; n != "None" {
				colorants[pdf.Name(n)] = s.named([]string{n})
			}
		}
		names = append(names, pdf.Name(n))
	}
	return s.add(pdf.Array{pdf.Name("DeviceN"), names, a[2], a[3], pdf.Dict{"Subtype": pdf.Name("NChannel"), "Process": attrs["Process"], "Colorants": colorants}}), true
}

// renamed is the space of artwork names under the names of toners, those outside the pass as None.
func (s *splitter) renamed(names []string, e env) (pdf.Object, bool) {
	out, ok := s.tonersOf(names, e)
	if !ok {
		return nil, false
	}
	return s.named(out), true
}

// tonersOf are the names of toners for artwork names, None for those outside the pass.
func (s *splitter) tonersOf(names []string, e env) ([]string, bool) {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = "None"
		if n == "None" {
			continue
		}
		plate, ok := s.target.Names[n]
		if !ok || plate < len(colourant.ProcessNames) && e.ctx.Space != separate.BlendCMYK {
			return nil, false
		}
		if !s.plates[plate] {
			continue
		}
		toner := s.target.Set.At(plate).Name
		if slices.Contains(out, toner) { // two names of one toner add up
			return nil, false
		}
		out[i] = toner
	}
	return out, true
}

// padded is the space of n components of which only the first has a name.
func (s *splitter) padded(name string, n int) pdf.Object {
	names := []string{name}
	for range n - 1 {
		names = append(names, "None")
	}
	return s.named(names)
}

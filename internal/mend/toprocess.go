package mend

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var toProcess = &Remedy{
	ID:      "to-process",
	Title:   "Paint the objects of a colourant in its stand-in colour.",
	Answers: []finding.ID{"colourant-unknown", "registration-colour-inside-trim", "mixture-names-missing-toner"},
	Options: append([]Option{{"toner", "the colourant that is given up", true}}, selectOptions...),
	Offer: func(f *finding.Finding, in *Input) (out []Options) {
		if f.ID == "registration-colour-inside-trim" { // marks beyond the trim are to stay
			return []Options{{"toner": "All", "page": strconv.Itoa(f.Place.Page), "item": itemList(f.Place.Items)}}
		}
		if in.Press == nil {
			return tonerOffer(f, in)
		}
		strange, _ := in.split(f.Place.Colourants)
		for _, n := range strange {
			out = append(out, Options{"toner": n})
		}
		return out
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		s, err := e.selection(o)
		if err != nil {
			return err
		}
		e.Keep(AltersColours)
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if namesAny(&p.List.Items[i], o["toner"]) && s.has(p, i) {
					if err := e.standIn(p, i); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

// standIn paints an item in the alternate colour of its space.
func (e *Edit) standIn(p *Page, i int) error {
	it := &p.List.Items[i]
	left := func(why string) error {
		e.Note("Page %d: an object was left as it is: %s.", p.List.Page.Number, why)
		return nil
	}
	if it.Kind == displist.Image && !it.Image.Stencil {
		im := it.Image.Image
		st, ok := e.Doc.Stream(im.Ref)
		alt, tint := alternateOf(im.Space)
		space := deviceName(alt)
		if !ok || im.Components() != 1 || im.Bits > 8 || space == nil || tint == nil {
			return left("an image of several colourants cannot be converted without touching its data")
		}
		top := 1<<im.Bits - 1
		var table []byte
		out := make([]float64, alt.Components())
		for s := range top + 1 {
			tint.Eval(out, []float64{im.Decode[0] + float64(float64(float64(s)/float64(top))*(im.Decode[1]-im.Decode[0]))})
			for _, v := range out {
				table = append(table, byte(float64(clamp01(v)*255)+.5))
			}
		}
		d := copyOf(st.Dict)
		for _, k := range []pdf.Name{"Decode", "Alternates", "Length"} {
			delete(d, k)
		}
		d["ColorSpace"] = pdf.Array{pdf.Name("Indexed"), space, pdf.Integer(top), pdf.String(table)}
		key := fmt.Sprintf("stand-in %d", im.Ref.Num)
		ref, ok := e.copies[key]
		if !ok {
			ref = e.up.Add(st.WithDict(d))
			e.copies[key] = ref
		}
		var o pdf.Object = ref
		return e.try(p, i, Change{XObject: &o})
	}
	if !flat(it) {
		return left("it is a blend or a pattern; convert it where it was drawn")
	}
	k := inksOf(it)[0]
	alt, tint := alternateOf(k.space)
	space := deviceName(alt)
	if tint == nil {
		return left("its colour has no stand-in")
	}
	if space == nil {
		if sep, ok := k.space.(*colour.Separation); ok {
			space = e.alternateObject(sep)
		}
		if space == nil {
			return left("its stand-in colour is of a kind that cannot be written here")
		}
	}
	out := make([]float64, alt.Components())
	tint.Eval(out, k.comps)
	return e.try(p, i, Change{Fill: &Colour{space, out}})
}

// itemList writes item numbers as the option item takes them.
func itemList(items []int) string {
	s := make([]string, len(items))
	for i, n := range items {
		s[i] = strconv.Itoa(n)
	}
	return strings.Join(s, "|")
}

// alternateObject is the alternate space of a definition that looks the very same, as the file has it; nil when there is
// none. One name may have several.
func (e *Edit) alternateObject(sep *colour.Separation) pdf.Object {
	look := func(s *colour.Separation) []float64 {
		var out []float64
		for _, tint := range []float64{1, .5, 0} {
			v := make([]float64, s.Alternate.Components())
			s.Tint.Eval(v, []float64{tint})
			out = append(out, v...)
		}
		return out
	}
	r := colour.NewReader(e.Doc, finding.Discard)
	for _, d := range e.definitions().spaces {
		if d.name != sep.Name {
			continue
		}
		s, err := r.Space(d.array, nil)
		o, ok := s.(*colour.Separation)
		if err == nil && ok && o.Tint != nil && o.Alternate != nil && o.Alternate.Family() == sep.Alternate.Family() && slices.Equal(look(o), look(sep)) {
			return d.array[2]
		}
	}
	return nil
}

func alternateOf(s colour.Space) (colour.Space, colour.Function) {
	switch s := s.(type) {
	case *colour.Separation:
		return s.Alternate, s.Tint
	case *colour.DeviceN:
		return s.Alternate, s.Tint
	}
	return nil, nil
}

// deviceName is the name of a device space; nil for others.
func deviceName(s colour.Space) pdf.Object {
	switch s.(type) {
	case *colour.DeviceGray:
		return pdf.Name("DeviceGray")
	case *colour.DeviceRGB:
		return pdf.Name("DeviceRGB")
	case *colour.DeviceCMYK:
		return pdf.Name("DeviceCMYK")
	}
	return nil
}

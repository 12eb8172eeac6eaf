package mend

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/press"
)

// selectOptions choose objects; every one given has to hold.
var selectOptions = []Option{
	{"colour", "painted in exactly this colour: cmyk C M Y K or rgb R G B or gray G in percent, or stand-in for the toner's own", false},
	{"colourant", "painted in this colourant", false},
	{"layer", "on the layer of this name", false},
	{"kind", "fill, stroke, text, image or stencil", false},
	{"form", "drawn by the form of this resource name", false},
	{"region", "within X Y W H in mm from the top left corner of the trim", false},
	{"page", "on this page", false},
	{"item", "the items of these numbers, as `laydown inspect list` shows them, | between; with page", false},
	{"first", "yes: only the first object found", false},
}

// selection is a choice of objects.
type selection struct {
	family    colour.Family
	comps     []float64 // nil = any colour
	colourant string
	layer     *string
	kind      string
	form      string
	region    *[4]float64 // mm: x y w h
	page      int
	items     map[int]bool // nil = any
	first     bool
	taken     bool
}

// sameColour is how far a component may be off, as the check that finds stand-in colours has it.
const sameColour = .005

func (e *Edit) selection(o Options) (*selection, error) {
	return selectionOf(o, e.In, e.Doc.NumPages())
}

// selectionOf reads the choice of objects in a document of so many pages.
func selectionOf(o Options, in Input, pages int) (*selection, error) {
	s := &selection{colourant: o["colourant"], kind: o["kind"], form: o["form"]}
	var err error
	if s.first, err = o.yes("first"); err != nil {
		return nil, err
	}
	if l, ok := o["layer"]; ok {
		s.layer = &l
	}
	if s.kind != "" && !slices.Contains([]string{"fill", "stroke", "text", "image", "stencil"}, s.kind) {
		return nil, fmt.Errorf("kind is fill, stroke, text, image or stencil, not %q", s.kind)
	}
	if c := o["colour"]; c == "stand-in" {
		if in.Press == nil {
			return nil, errNoPress
		}
		look, ok := in.Press.StandIn(o["toner"])
		if !ok {
			return nil, fmt.Errorf("the press has no toner %q, so there is no stand-in colour to look for", o["toner"])
		}
		s.family, s.comps = colour.FamilyCMYK, fractions(look)
	} else if c != "" {
		if s.family, s.comps, err = parseColour(c); err != nil {
			return nil, err
		}
	}
	if r := o["region"]; r != "" {
		v, err := numbers(r, 4)
		if err != nil || v[2] <= 0 || v[3] <= 0 {
			return nil, fmt.Errorf("region is four numbers X Y W H in mm, not %q", r)
		}
		s.region = (*[4]float64)(v)
	}
	if p := o["page"]; p != "" {
		if s.page, err = strconv.Atoi(p); err != nil || s.page < 1 {
			return nil, fmt.Errorf("page is a number from 1, not %q", p)
		}
	}
	for _, t := range o.list("item") {
		n, err := strconv.Atoi(t)
		if err != nil || n < 0 {
			return nil, fmt.Errorf("item is a number, not %q", t)
		}
		if s.items == nil {
			s.items = map[int]bool{}
		}
		s.items[n] = true
	}
	if len(s.items) > 0 && s.page == 0 && pages > 1 {
		return nil, fmt.Errorf("item numbers count on each page anew; say which with page")
	}
	return s, nil
}

// empty reports whether nothing was chosen, so that everything would be.
func (s *selection) empty() bool {
	return s.comps == nil && s.colourant == "" && s.layer == nil && s.kind == "" && s.form == "" && s.region == nil && s.page == 0 && s.items == nil
}

func fractions(look [4]press.Percent) []float64 {
	out := make([]float64, len(look))
	for i, v := range look {
		out[i] = float64(v) / 100
	}
	return out
}

// parseColour reads "cmyk 20 35 80 15".
func parseColour(s string) (colour.Family, []float64, error) {
	word, rest, _ := strings.Cut(strings.TrimSpace(s), " ")
	for _, k := range []struct {
		word   string
		family colour.Family
		n      int
	}{{"cmyk", colour.FamilyCMYK, 4}, {"rgb", colour.FamilyRGB, 3}, {"gray", colour.FamilyGray, 1}} {
		if word != k.word {
			continue
		}
		v, err := numbers(rest, k.n)
		if err == nil {
			for i := range v {
				v[i] /= 100
			}
			return k.family, v, nil
		}
	}
	return 0, nil, fmt.Errorf("colour is cmyk C M Y K, rgb R G B or gray G in percent, not %q", s)
}

func numbers(s string, n int) ([]float64, error) {
	f := strings.Fields(s)
	if len(f) != n {
		return nil, fmt.Errorf("%d numbers are wanted", n)
	}
	out := make([]float64, n)
	for i := range f {
		v, err := strconv.ParseFloat(strings.TrimSuffix(f[i], "%"), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%q is no number", f[i])
		}
		out[i] = v
	}
	return out, nil
}

// has reports whether item i of the page is chosen.
func (s *selection) has(p *Page, i int) bool {
	it := &p.List.Items[i]
	switch {
	case it.Hidden || it.Kind == displist.BeginGroup,
		s.first && s.taken,
		s.page != 0 && s.page != p.List.Page.Number,
		s.items != nil && !s.items[i],
		s.colourant != "" && !namesAny(it, s.colourant),
		s.layer != nil && !onLayer(it.Layer, *s.layer),
		s.kind != "" && kindOf(it) != s.kind,
		s.form != "" && !inForm(it.Origin.Forms, s.form),
		s.comps != nil && !s.paints(it):
		return false
	}
	if s.region != nil {
		t := p.List.Page.Trim
		r := geom.Rect{X0: t.X0 + float64(s.region[0]*geom.PointsPerMM), Y0: t.Y0 + float64(s.region[1]*geom.PointsPerMM)}
		r.X1, r.Y1 = r.X0+float64(s.region[2]*geom.PointsPerMM), r.Y0+float64(s.region[3]*geom.PointsPerMM)
		b := p.box(i)
		// An object belongs to the region when it lies in it with a tolerance of 0.1 mm.
		const slack = .1 * geom.PointsPerMM
		if in := r.Grow(slack); b.Empty() || b.X0 < in.X0 || b.Y0 < in.Y0 || b.X1 > in.X1 || b.Y1 > in.Y1 {
			return false
		}
	}
	s.taken = true
	return true
}

func onLayer(l *displist.Layer, name string) bool {
	for ; l != nil; l = l.Parent {
		if l.Name == name {
			return true
		}
	}
	return false
}

func inForm(f *displist.FormPath, name string) bool {
	for ; f != nil; f = f.Parent {
		if f.Name == name {
			return true
		}
	}
	return false
}

func kindOf(it *displist.Item) string {
	switch {
	case it.Text != nil:
		return "text"
	case it.Kind == displist.Stroke:
		return "stroke"
	case it.Kind == displist.Image && it.Image != nil && it.Image.Stencil:
		return "stencil"
	case it.Kind == displist.Image:
		return "image"
	}
	return "fill"
}

// paints reports whether an item paints exactly the colour chosen.
func (s *selection) paints(it *displist.Item) bool {
	if !flat(it) {
		return false
	}
	for _, k := range inksOf(it) {
		if f := colourFamily(k.space); f != s.family || len(k.comps) != len(s.comps) {
			return false
		}
		for c, v := range k.comps {
			if math.Abs(v-s.comps[c]) > sameColour {
				return false
			}
		}
		return true
	}
	return false
}

// colourFamily is the family of a space; that of an ICC profile is the device's of as many components.
func colourFamily(s colour.Space) colour.Family {
	if icc, ok := s.(*colour.ICCBased); ok {
		return map[int]colour.Family{1: colour.FamilyGray, 3: colour.FamilyRGB, 4: colour.FamilyCMYK}[icc.N]
	}
	return s.Family()
}

package mend

import (
	"context"
	"fmt"
	"math"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

var (
	on       = true
	off      = false
	modeZero = 0
	modeOne  = 1
	normal   = displist.Normal
	multiply = displist.Multiply
)

// tonerOffer offers a remedy for the first colourant a finding names.
func tonerOffer(f *finding.Finding, _ *Input) []Options {
	if len(f.Place.Colourants) == 0 {
		return nil
	}
	return []Options{{"toner": f.Place.Colourants[0]}}
}

var tonersOption = []Option{{"toner", "its name; left out: all that must overprint on the press", false}}

// eachToner applies f to the pages for the toner named, else for each that must overprint on the press.
func eachToner(f func(e *Edit, p *Page, toner string) error) func(context.Context, *Edit, Options) error {
	return func(ctx context.Context, e *Edit, o Options) error {
		var toners []string
		switch n := o["toner"]; {
		case n != "":
			toners = []string{n}
		case e.In.Press == nil:
			return errNoPress
		default:
			for _, t := range e.In.Press.Toners {
				if t.MustOverprint {
					toners = append(toners, t.Name)
				}
			}
		}
		return e.Each(ctx, func(p *Page) error {
			for _, n := range toners {
				if err := f(e, p, n); err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// others are the plates of a page but the toner's.
func others(p *Page, toner string) []string {
	out := []string{}
	for _, c := range p.Target.Set.All() {
		if c.Name != toner {
			out = append(out, c.Name)
		}
	}
	return out
}

// insideGroup tells for each item whether it is a member of a transparency group.
func insideGroup(items []displist.Item) []int {
	of := make([]int, len(items)) // the outermost group, -1 = none
	end, group := 0, -1
	for i := range items {
		if i >= end {
			group = -1
		}
		of[i] = group
		if g := items[i].Group; items[i].Kind == displist.BeginGroup && g != nil && i >= end {
			group, end = i, g.End
		}
	}
	return of
}

var overprintOn = &Remedy{
	ID:      "overprint-on",
	Title:   "Set the objects painted in nothing but a toner to overprint.",
	Answers: []finding.ID{"must-overprint-knocks-out"},
	Safe:    true,
	Options: tonersOption,
	Offer:   tonerOffer,
	Apply: eachToner(func(e *Edit, p *Page, toner string) error {
		for i := range p.List.Items {
			if err := e.overprint(p, i, toner); err != nil {
				return err
			}
		}
		return nil
	}),
}

// overprint sets item i to overprint when it paints in the toner alone. A mixture that names others with 0 % becomes the toner
// itself: overprinting, it would still take those off (Table 146).
func (e *Edit) overprint(p *Page, i int, toner string) error {
	it := &p.List.Items[i]
	if it.Hidden || it.Kind == displist.BeginGroup {
		return nil
	}
	c := Change{OverFill: &on}
	switch {
	case only(it, toner):
		if it.Overprint {
			return nil
		}
	case toner == colourant.Black && p.blackAlone(it) > 0:
		// Process black leaves the other process plates alone in mode 1 only, and only as CMYK (Table 146).
		if it.Overprint && it.OverprintMode == 1 && inksOf(it)[0].space == colour.Space(colour.CMYK) {
			return nil
		}
		for _, k := range p.siblings(i) {
			if s := &p.List.Items[k]; s.Overprint && p.blackAlone(s) == 0 {
				e.Note("Page %d: an object is filled and stroked with different overprint and was left as it is.", p.List.Page.Number)
				return nil
			}
		}
		c.Mode, c.Fill = &modeOne, &Colour{pdf.Name("DeviceCMYK"), []float64{0, 0, 0, p.blackAlone(it)}}
	case flat(it):
		tint, ok := aloneIn(it, toner)
		space, have := e.toner(toner)
		if !ok || !have {
			return nil
		}
		c.Fill = &Colour{space, []float64{tint}}
	default:
		return nil
	}
	return e.try(p, i, c, others(p, toner)...)
}

// blackAlone is the tint of a plain colour that is process black on the plates and nothing else, in CMYK, gray or a space that is
// converted, such as RGB without a profile; 0 for others.
func (p *Page) blackAlone(it *displist.Item) float64 {
	inks := inksOf(it)
	if !flat(it) || len(inks) != 1 || colour.Names(inks[0].space) != nil {
		return 0
	}
	switch v := inks[0].comps; {
	case inks[0].space == colour.Space(colour.CMYK):
		if v[0] == 0 && v[1] == 0 && v[2] == 0 {
			return v[3]
		}
		return 0
	case inks[0].space == colour.Space(colour.Gray):
		return 1 - v[0]
	}
	ctx := separate.PageContext(p.List)
	if ctx.Space != separate.BlendCMYK || p.otherBlendSpace() {
		return 0
	}
	const black = 3
	values := p.Target.Colour(displist.Paint{Space: inks[0].space, Comps: inks[0].comps}, false, 0, false, it.Intent, ctx).Values
	if len(values) <= black {
		return 0
	}
	for k, v := range values {
		if k != black && v != 0 {
			return 0
		}
	}
	return float64(values[black]) / math.MaxUint16
}

// otherBlendSpace reports whether a group of the page blends in a space of its own other than CMYK, where colours are not what
// they are on the page.
func (p *Page) otherBlendSpace() bool {
	for i := range p.List.Items {
		if g := p.List.Items[i].Group; g != nil && g.Space != nil && g.Space.Components() != 4 {
			return true
		}
	}
	return false
}

// aloneIn is the tint of the toner in a mixture that names others with 0 % only.
func aloneIn(it *displist.Item, toner string) (tint float64, ok bool) {
	inks := inksOf(it)
	if len(inks) != 1 {
		return 0, false
	}
	d, is := inks[0].space.(*colour.DeviceN)
	if !is {
		return 0, false
	}
	for c, n := range d.Names {
		switch v := inks[0].comps[c]; {
		case n == toner:
			tint, ok = v, true
		case n != "None" && v != 0:
			return 0, false
		}
	}
	return tint, ok && tint > 0
}

// try changes an item and lets the plates differ where it lies; what cannot be reached is left and told.
func (e *Edit) try(p *Page, i int, c Change, plates ...string) error {
	err := e.Change(p, i, c)
	if err == errUnreachable && p.List.Items[i].Text != nil {
		// Letters drawn as pictures take the colour of their operator, which other letters of it may have changed.
		e.Note("Page %d: letters drawn as pictures change only where others of their line do.", p.List.Page.Number)
		err = nil
	}
	if err == errUnreachable {
		e.Note("Page %d: an object is %v, and was left as it is.", p.List.Page.Number, err)
		return nil
	}
	if err != nil {
		return err
	}
	box := p.box(i)
	e.allowed = append(e.allowed, Allowance{Page: p.List.Page.Number, Where: &box, Colourants: plates})
	return nil
}

var multiplyOn = &Remedy{
	ID:      "multiply-on",
	Title:   "Give the objects or groups painted in nothing but a toner the blend mode Multiply, where overprint does not reach what lies below.",
	Answers: []finding.ID{"must-overprint-knocks-out"},
	Safe:    true,
	Options: tonersOption,
	Offer:   tonerOffer,
	Apply: eachToner(func(e *Edit, p *Page, toner string) error {
		groups := insideGroup(p.List.Items)
		var below []geom.Rect
		for i := range p.List.Items {
			if err := e.multiply(p, i, toner, groups, below); err != nil {
				return err
			}
			if it := &p.List.Items[i]; !it.Hidden && namesAny(it, toner) {
				below = append(below, p.box(i))
			}
		}
		return nil
	}),
}

func (e *Edit) multiply(p *Page, i int, toner string, groups []int, below []geom.Rect) error {
	it := &p.List.Items[i]
	if it.Hidden || it.Blend != displist.Normal {
		return nil
	}
	solid := true
	if it.Kind == displist.BeginGroup {
		if groups[i] >= 0 || !p.groupHas(i, func(m *displist.Item) bool { return only(m, toner) }) {
			return nil
		}
		solid = it.Alpha == 1 && it.SoftMask == nil && p.groupHas(i, solidColour)
	} else if groups[i] >= 0 || !only(it, toner) || it.Overprint {
		return nil
	} else {
		solid = solidColour(it)
	}
	for _, k := range p.siblings(i) {
		m := &p.List.Items[k]
		solid = solid && (m.Kind == displist.BeginGroup || solidColour(m))
		if m.Kind != displist.BeginGroup && !only(m, toner) {
			return nil // fill and stroke of one operator have one blend mode
		}
	}
	if !solid && (meets(below, p.box(i).Grow(aPixel)) || len(p.siblings(i)) > 0) {
		e.Note("Page %d: a tint of %s lies on others of it, which Multiply would make darker; it was left as it is.", p.List.Page.Number, toner)
		return nil
	}
	box := p.box(i)
	e.allowed = append(e.allowed, Allowance{Page: p.List.Page.Number, Where: &box, Colourants: []string{toner}, Rounding: true})
	return e.try(p, i, Change{Blend: &multiply}, others(p, toner)...)
}

// solidColour reports whether an item paints full tint and covers all.
func solidColour(it *displist.Item) bool {
	return flat(it) && it.Alpha == 1 && it.SoftMask == nil && len(it.Paint.Comps) == 1 && it.Paint.Comps[0] == 1
}

var knockOut = &Remedy{
	ID:      "knock-out",
	Title:   "Let the objects of a toner knock out another that lies under them.",
	Answers: []finding.ID{"covered-by-later-toner", "drawn-order-differs-from-laydown", "toners-never-on-each-other"},
	Options: []Option{{"toner", "of the objects above; process for all process colours", true}, {"over", "the toner they knock out; process for all process colours", true}},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		n := len(f.Place.Colourants)
		if n < 2 {
			return nil
		}
		return []Options{{"toner": processOr(f.Place.Colourants[0]), "over": processOr(f.Place.Colourants[n-1])}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		return e.Each(ctx, func(p *Page) error {
			toner, over := o["toner"], o["over"]
			groups := insideGroup(p.List.Items)
			var below []geom.Rect
			for i := range p.List.Items {
				it := &p.List.Items[i]
				switch {
				case it.Hidden:
				case it.Kind == displist.BeginGroup:
					if groups[i] < 0 && it.Blend != displist.Normal && p.groupHas(i, func(m *displist.Item) bool { return holds(m, toner) && !holds(m, over) }) && meets(below, p.box(i)) {
						if err := e.try(p, i, Change{Blend: &normal}); err != nil {
							return err
						}
					}
				case holds(it, over):
					below = append(below, p.box(i))
				case holds(it, toner) && !blank(it) && (it.Overprint || it.Blend != displist.Normal) && meets(below, p.box(i)):
					c := Change{OverFill: &off}
					plates := others(p, toner)
					if it.Blend != displist.Normal {
						c.Blend, plates = &normal, nil // the toner's own plate too, where it lay on itself
					}
					if err := e.try(p, i, c, plates...); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

// holds reports whether an item names the toner, alone or in a mixture, or paints in process colours.
func holds(it *displist.Item, toner string) bool {
	if toner == underProcess {
		return processColour(it) || namesAny(it, colourant.ProcessNames[:]...)
	}
	return namesAny(it, toner)
}

// groupHas reports whether a group of the artwork has members, and f is true of them all.
func (p *Page) groupHas(i int, f func(m *displist.Item) bool) bool {
	g := p.List.Items[i].Group
	if g == nil || g.Implicit || i+1 >= g.End {
		return false
	}
	for k := i + 1; k < g.End; k++ {
		if m := &p.List.Items[k]; m.Kind != displist.BeginGroup && !f(m) {
			return false
		}
	}
	return true
}

// processOr is the name of a special toner, and process for a process one.
func processOr(name string) string {
	if processName(name) {
		return underProcess
	}
	return name
}

// underProcess stands for all process colours in options.
const underProcess = "process"

// paintsIn reports whether an item paints in the toner alone, or in process colours.
func paintsIn(it *displist.Item, toner string) bool {
	if toner == underProcess {
		return processColour(it)
	}
	return only(it, toner)
}

// aPixel is how near, in points, two objects may share a pixel of the coarsest proof.
const aPixel = 1.0

func meets(boxes []geom.Rect, b geom.Rect) bool {
	return slices.ContainsFunc(boxes, func(r geom.Rect) bool { return !r.Intersect(b).Empty() })
}

var laydownOverprint = &Remedy{
	ID:      "laydown-overprint",
	Title:   "Set the objects of a toner that is drawn above but laid down below to overprint, instead of moving them.",
	Answers: []finding.ID{"underlay-knocks-out"},
	Options: []Option{{"toner", "the toner laid down first but drawn last", true}, {"layer", "only what is on the layer of this name", false}},
	Offer: func(f *finding.Finding, in *Input) []Options {
		o := tonerOffer(f, in)
		if len(o) > 0 && f.Place.Layer != "" {
			o[0]["layer"] = f.Place.Layer
		}
		return o
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		return e.Each(ctx, func(p *Page) error {
			var below []geom.Rect
			for i := range p.List.Items {
				if it := &p.List.Items[i]; it.Hidden || it.Kind == displist.BeginGroup || o["layer"] != "" && !onLayer(it.Layer, o["layer"]) && namesAny(it, o["toner"]) {
					continue
				} else if !namesAny(it, o["toner"]) {
					below = append(below, p.box(i))
					continue
				}
				if meets(below, p.box(i)) {
					if err := e.overprint(p, i, o["toner"]); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

var spareUnderlay = &Remedy{
	ID:      "spare-underlay",
	Title:   "Let the objects drawn above an underlay not knock it out. What else they knock out they go on knocking out.",
	Answers: []finding.ID{"process-on-dark-stock", "special-knocked-out-by-later-object"},
	Safe:    true,
	Options: []Option{{"toner", "the toner of the underlay", true}, {"under", "what lies on it: process, or names with | between (process)", false}},
	Offer: func(f *finding.Finding, in *Input) (out []Options) {
		if in.Job == nil {
			return nil
		}
		for _, w := range in.Job.Wishes.Underlay {
			if f.ID == "special-knocked-out-by-later-object" && (len(f.Place.Colourants) == 0 || f.Place.Colourants[0] != w.Toner) {
				continue
			}
			for _, u := range w.Under {
				if u == underProcess || slices.Contains(f.Place.Colourants, u) {
					out = append(out, Options{"toner": w.Toner, "under": u})
				}
			}
		}
		return out
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		under := o.list("under")
		if len(under) == 0 {
			under = []string{underProcess}
		}
		return e.Each(ctx, func(p *Page) error {
			return e.spare(p, o["toner"], under)
		})
	},
}

// spare lets what is drawn above an underlay leave it.
func (e *Edit) spare(p *Page, toner string, under []string) error {
	groups := insideGroup(p.List.Items)
	var below []geom.Rect // of the underlay
	special := map[string][]geom.Rect{}
	var order []string
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if it.Hidden || it.Kind == displist.BeginGroup {
			continue
		}
		box := p.box(i)
		named := false
		for _, k := range inksOf(it) {
			for _, n := range colour.Names(k.space) {
				if n == toner {
					below, named = append(below, box), true
				} else if !processName(n) && n != "None" && n != "All" {
					if special[n] == nil {
						order = append(order, n)
					}
					special[n] = append(special[n], box)
				}
			}
		}
		if named || it.Overprint || !meets(below, box) || blank(it) ||
			!slices.ContainsFunc(under, func(u string) bool { return paintsIn(it, u) }) {
			continue
		}
		if groups[i] >= 0 {
			e.Note("Page %d: an object in a transparency group knocks out %s; take it out of the group.", p.List.Page.Number, toner)
			continue
		}
		var knocked []string
		own := inkNames(it)
		for _, n := range order {
			if slices.Contains(own, n) || !meets(special[n], box.Grow(aPixel)) {
				continue
			}
			for _, plate := range platesOf(p.Target, n) {
				if !processName(plate) && plate != toner && !slices.Contains(knocked, plate) {
					knocked = append(knocked, plate)
				}
			}
		}
		c := Change{OverFill: &on, Mode: &modeZero}
		if slices.ContainsFunc(p.siblings(i), func(k int) bool { return p.List.Items[k].Overprint && p.List.Items[k].OverprintMode == 1 }) {
			e.Note("Page %d: an object is filled and stroked with different overprint modes and was left as it is.", p.List.Page.Number)
			continue
		}
		if len(knocked) > 0 {
			space, comps, ok := e.knockingMixture(it, knocked)
			if !ok {
				e.Note("Page %d: an image or blend knocks out %s together with other toners and was left as it is.", p.List.Page.Number, toner)
				continue
			}
			c.Fill = &Colour{space, comps}
		}
		if err := e.try(p, i, c, platesOf(p.Target, toner)...); err != nil {
			return err
		}
	}
	return nil
}

func inkNames(it *displist.Item) (out []string) {
	for _, k := range inksOf(it) {
		out = append(out, colour.Names(k.space)...)
	}
	return out
}

// blank reports whether an item paints no toner at all, so that knocking out is all it does.
func blank(it *displist.Item) bool {
	if !flat(it) {
		return false
	}
	for _, k := range inksOf(it) {
		nothing := 0.0
		if s := k.space.Family(); s == colour.FamilyGray || s == colour.FamilyRGB || s == colour.FamilyCalGray || s == colour.FamilyCalRGB ||
			s == colour.FamilyICC && k.space.Components() < 4 {
			nothing = 1
		}
		if slices.ContainsFunc(k.comps, func(v float64) bool { return v != nothing }) {
			return false
		}
	}
	return true
}

// knockingMixture is the item's colour with other toners at 0 %, which overprinting takes off, and they only
// (Table 146). It is made for CMYK and for single colourants.
func (e *Edit) knockingMixture(it *displist.Item, knocked []string) (pdf.Object, []float64, bool) {
	inks := inksOf(it)
	if !flat(it) || len(inks) != 1 {
		return nil, nil, false
	}
	own := []string{"Cyan", "Magenta", "Yellow", "Black"}
	comps := slices.Clone(inks[0].comps)
	alternate, program := pdf.Object(pdf.Name("DeviceCMYK")), ""
	switch s := inks[0].space.(type) {
	case *colour.DeviceCMYK:
	case *colour.DeviceGray:
		comps = []float64{0, 0, 0, 1 - comps[0]}
	case *colour.Separation:
		if !processName(s.Name) {
			return nil, nil, false
		}
		comps = make([]float64, 4)
		comps[slices.Index(own, s.Name)] = inks[0].comps[0]
	default:
		return nil, nil, false
	}
	list := pdf.Array{}
	for _, n := range append(own, knocked...) {
		list = append(list, pdf.Name(n))
	}
	domain := pdf.Array{}
	for range list {
		domain = append(domain, pdf.Integer(0), pdf.Integer(1))
	}
	for range knocked {
		comps = append(comps, 0)
		program += "pop "
	}
	zero, one := pdf.Integer(0), pdf.Integer(1)
	key := fmt.Sprint("mixture ", knocked)
	ref, ok := e.copies[key]
	if !ok {
		f := e.up.AddStream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": domain,
			"Range": pdf.Array{zero, one, zero, one, zero, one, zero, one}}, []byte("{"+program+"}"), false)
		colorants := pdf.Dict{}
		for _, n := range knocked {
			if s, ok := e.toner(n); ok {
				colorants[pdf.Name(n)] = s
			}
		}
		ref = e.up.Add(pdf.Array{pdf.Name("DeviceN"), list, alternate, f, pdf.Dict{"Colorants": colorants}})
		e.copies[key] = ref
	}
	return ref, comps, true
}

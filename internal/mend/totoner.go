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

var toToner = &Remedy{
	ID:      "to-toner",
	Title:   "Give objects to a toner or a mixture of toners.",
	Answers: []finding.ID{"stand-in-in-process-colour", "process-on-toner-layer"},
	Options: append([]Option{
		{"toner", "the toner or mix of the press; or a mixture, such as Silver 30% + Gold 40%", true},
		{"tint", "a percentage; keep for that of the colour as it is; lightness for darker = more (100 %, images: lightness)", false},
		{"threshold", "images: darker than this percentage of toner becomes solid, the rest nothing", false},
		{"curve", "images: toner at 0, 25, 50, 75 and 100 % of darkness, such as 0 10 40 80 100", false},
		{"from-soft-mask", "yes: images: the soft mask becomes the tint", false},
	}, selectOptions...),
	Offer: func(f *finding.Finding, in *Input) []Options {
		if in.Press == nil || len(f.Place.Colourants) == 0 {
			return nil
		}
		if toner := f.Place.Colourants[0]; f.ID == "process-on-toner-layer" {
			if f.Place.Layer == "" {
				return nil
			}
			return []Options{{"toner": toner, "layer": f.Place.Layer, "tint": "keep"}}
		}
		return []Options{{"toner": f.Place.Colourants[0], "colour": "stand-in"}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		s, err := e.selection(o)
		if err != nil {
			return err
		}
		if s.empty() {
			return fmt.Errorf("say which objects: by colour, colourant, layer, kind, form, region, page or item")
		}
		g, err := e.gift(o)
		if err != nil {
			return err
		}
		e.Keep(AltersColours)
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if s.has(p, i) {
					if err := e.give(p, i, g); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

// gift is what objects are given to.
type gift struct {
	space pdf.Object
	parts []float64 // tint of each component at full tint
	names []string
	tint  tinting
	curve *[256]byte // of images, from darkness to tint
	mask  bool       // images: from the soft mask
}

type tinting struct {
	fixed     float64
	keep      bool
	lightness bool
	given     bool
}

func (e *Edit) gift(o Options) (*gift, error) {
	g := &gift{parts: []float64{1}}
	name := o["toner"]
	space, known := e.toner(name)
	switch {
	case known:
		g.space, g.names = space, []string{name}
	case strings.Contains(name, "+"):
		if err := e.mixture(g, name); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("neither the press nor the artwork has a colourant %q", name)
	}
	switch t := o["tint"]; t {
	case "":
		g.tint = tinting{fixed: 1}
	case "keep":
		g.tint = tinting{keep: true, given: true}
	case "lightness":
		g.tint = tinting{lightness: true, given: true}
	default:
		v, err := o.percent("tint", 1)
		if err != nil {
			return nil, fmt.Errorf("tint is a percentage, keep or lightness, not %q", t)
		}
		g.tint = tinting{fixed: v, given: true}
	}
	var err error
	if g.mask, err = o.yes("from-soft-mask"); err != nil {
		return nil, err
	}
	return g, g.readCurve(o)
}

// readCurve makes the table of images: their darkness, or that through a curve or a threshold.
func (g *gift) readCurve(o Options) error {
	g.curve = &[256]byte{}
	for i := range g.curve {
		g.curve[i] = byte(i)
	}
	if _, ok := o["threshold"]; ok {
		t, err := o.percent("threshold", .5)
		if err != nil {
			return err
		}
		for i := range g.curve {
			g.curve[i] = 0
			if float64(i) >= float64(t*255) {
				g.curve[i] = 255
			}
		}
	}
	if c := o["curve"]; c != "" {
		if o["threshold"] != "" {
			return fmt.Errorf("an image goes through a threshold or a curve, not both")
		}
		v, err := numbers(c, 5)
		if err != nil || slices.ContainsFunc(v, func(x float64) bool { return x < 0 || x > 100 }) {
			return fmt.Errorf("curve is five percentages for 0, 25, 50, 75 and 100 %%, not %q", c)
		}
		for i := range g.curve {
			x := float64(i) / 255 * 4
			k := min(int(x), 3)
			y := v[k] + float64((v[k+1]-v[k])*(x-float64(k)))
			g.curve[i] = byte(float64(y*2.55) + .5)
		}
	}
	if g.tint.given && !g.tint.keep && !g.tint.lightness {
		for i := range g.curve {
			g.curve[i] = byte(float64(float64(g.curve[i])*g.tint.fixed) + .5)
		}
	}
	return nil
}

// mixture reads "Silver 30% + Gold 40%" and makes a DeviceN of it.
func (e *Edit) mixture(g *gift, text string) error {
	g.parts = nil
	list, colorants := pdf.Array{}, pdf.Dict{}
	var looks [][]float64
	for _, part := range strings.Split(text, "+") {
		part = strings.TrimSpace(part)
		at := strings.LastIndexByte(part, ' ')
		if at < 0 || !strings.HasSuffix(part, "%") {
			return fmt.Errorf("a mixture is written as Silver 30%% + Gold 40%%, not %q", text)
		}
		v, err := strconv.ParseFloat(strings.TrimSuffix(part[at+1:], "%"), 64)
		if err != nil || !(v >= 0 && v <= 100) {
			return fmt.Errorf("%q is no percentage", part[at+1:])
		}
		name := strings.TrimSpace(part[:at])
		if slices.Contains(g.names, name) {
			return fmt.Errorf("the mixture names %q twice", name)
		}
		look := make([]float64, 4)
		if k := slices.Index([]string{"Cyan", "Magenta", "Yellow", "Black"}, name); k >= 0 {
			look[k] = 1
		} else {
			s, ok := e.toner(name)
			if !ok {
				return fmt.Errorf("neither the press nor the artwork has a colourant %q", name)
			}
			colorants[pdf.Name(name)] = s
			if e.In.Press != nil {
				if l, ok := e.In.Press.StandIn(name); ok {
					look = fractions(l)
				}
			}
		}
		g.names, g.parts = append(g.names, name), append(g.parts, v/100)
		list, looks = append(list, pdf.Name(name)), append(looks, look)
	}
	g.space = e.up.Add(pdf.Array{pdf.Name("DeviceN"), list, pdf.Name("DeviceCMYK"), e.sumOfLooks(looks), pdf.Dict{"Colorants": colorants}})
	return nil
}

// sumOfLooks is a tint transform: the stand-in colours of the parts, each by its tint, added up.
func (e *Edit) sumOfLooks(looks [][]float64) pdf.Object {
	n := len(looks)
	var b strings.Builder
	b.WriteString("{")
	for c := range 4 {
		// The tints lie below c results already made; component c of all parts is summed.
		b.WriteString(" 0")
		for k := range n {
			fmt.Fprintf(&b, " %d index %s mul add", c+n-k, number(looks[k][c]))
		}
		b.WriteString(" dup 1 gt { pop 1 } if")
	}
	fmt.Fprintf(&b, " %d 4 roll", n+4)
	b.WriteString(strings.Repeat(" pop", n) + " }")
	zero, one := pdf.Integer(0), pdf.Integer(1)
	domain := pdf.Array{}
	for range n {
		domain = append(domain, zero, one)
	}
	return e.up.AddStream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": domain,
		"Range": pdf.Array{zero, one, zero, one, zero, one, zero, one}}, []byte(b.String()), false)
}

// give gives item i away.
func (e *Edit) give(p *Page, i int, g *gift) error {
	it := &p.List.Items[i]
	switch {
	case flat(it):
		inks := inksOf(it)
		if len(inks) != 1 {
			return nil
		}
		t := g.tint.of(inks[0])
		comps := make([]float64, len(g.parts))
		for c, v := range g.parts {
			comps[c] = float64(v * t)
		}
		if e.already(inks[0], g, comps) {
			return nil
		}
		return e.try(p, i, Change{Fill: &Colour{g.space, comps}})
	case it.Kind == displist.Image && it.Image != nil:
		return e.giveImage(p, i, g)
	}
	e.Note("Page %d: a blend or a pattern was left as it is; give it to the toner where it was drawn.", p.List.Page.Number)
	return nil
}

// already reports whether an ink paints the very same.
func (e *Edit) already(k ink, g *gift, comps []float64) bool {
	ns := colour.Names(k.space)
	if !slices.Equal(ns, g.names) || len(k.comps) != len(comps) {
		return false
	}
	for i := range comps {
		if d := comps[i] - k.comps[i]; d > 1e-4 || d < -1e-4 {
			return false
		}
	}
	return true
}

// of is the tint an ink becomes.
func (t tinting) of(k ink) float64 {
	switch {
	case t.lightness:
		return darkness(k.space, k.comps)
	case !t.keep:
		return t.fixed
	}
	switch k.space.Family() {
	case colour.FamilySeparation, colour.FamilyDeviceN, colour.FamilyCMYK:
		return slices.Max(k.comps)
	}
	return darkness(k.space, k.comps)
}

// darkness is 1 for black and 0 for white: one less the luma of Rec. 601 for RGB, the same weights for
// process tints, and the sum of tints for colourants, at most 1. It chooses a tint; it measures no colour.
func darkness(s colour.Space, v []float64) float64 {
	switch f := s.Family(); {
	case f == colour.FamilySeparation || f == colour.FamilyDeviceN:
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return min(sum, 1)
	case f == colour.FamilyLab:
		return clamp01(1 - v[0]/100)
	case len(v) == 4:
		return clamp01(float64(.299*v[0]) + float64(.587*v[1]) + float64(.114*v[2]) + v[3])
	case len(v) == 3:
		return clamp01(1 - float64(.299*v[0]) - float64(.587*v[1]) - float64(.114*v[2]))
	case len(v) == 1:
		return clamp01(1 - v[0])
	}
	return 1
}

func clamp01(v float64) float64 { return max(0, min(1, v)) }

package mend

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
)

var clipTints = &Remedy{
	ID:      "clip-tints",
	Title:   "Bring the tints of a toner into the range it holds.",
	Answers: []finding.ID{"tint-outside-range"},
	Options: []Option{
		{"toner", "its name", true},
		{"to", "nearest: the nearest tint of the range; advised: what the press advises; or a percentage (nearest)", false},
	},
	Offer: func(f *finding.Finding, in *Input) []Options {
		o := tonerOffer(f, in)
		if o == nil || in.Press == nil {
			return nil
		}
		if t, ok := in.Press.Toner(o[0]["toner"]); ok && t.Tint.Advised != 0 {
			o = append(o, Options{"toner": t.Name, "to": "advised"})
		}
		return o
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		if e.In.Press == nil {
			return errNoPress
		}
		t, ok := e.In.Press.Toner(o["toner"])
		if !ok {
			return fmt.Errorf("the press has no toner %q", o["toner"])
		}
		least, most, advised := t.Tint.Held()
		lo, hi := float64(least)/100, float64(most)/100
		to := func(v float64) float64 { return max(lo, min(hi, v)) }
		switch w := o.text("to", "nearest"); w {
		case "nearest":
		case "advised":
			if advised == 0 {
				return fmt.Errorf("the press advises no tint of %s", t.Name)
			}
			to = func(float64) float64 { return float64(advised) / 100 }
		default:
			v, err := o.percent("to", 1)
			if err != nil {
				return err
			}
			if v < lo || v > hi {
				return fmt.Errorf("%s holds %g to %g %%, not %s", t.Name, lo*100, hi*100, w)
			}
			to = func(float64) float64 { return v }
		}
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if err := e.clip(p, i, t.Name, lo, hi, to); err != nil {
					return err
				}
			}
			return nil
		})
	},
}

func (e *Edit) clip(p *Page, i int, toner string, lo, hi float64, to func(float64) float64) error {
	it := &p.List.Items[i]
	if it.Hidden {
		return nil
	}
	e.noteMixes(p, it, toner, lo, hi)
	if !namesAny(it, toner) {
		return nil
	}
	if !flat(it) {
		if it.Kind != displist.BeginGroup {
			e.Note("Page %d: tints of %s in an image, a blend or a pattern were left as they are.", p.List.Page.Number, toner)
		}
		return nil
	}
	k := inksOf(it)[0]
	c := slices.Index(colour.Names(k.space), toner)
	if c < 0 || c >= len(k.comps) || k.comps[c] <= 0 || k.comps[c] >= lo-1e-6 && k.comps[c] <= hi+1e-6 {
		return nil
	}
	if _, ok := k.space.(*colour.Separation); !ok {
		e.Note("Page %d: a mixture with %s outside its range was left as it is.", p.List.Page.Number, toner)
		return nil
	}
	space, ok := e.toner(toner)
	if !ok {
		return nil
	}
	return e.try(p, i, Change{Fill: &Colour{space, []float64{to(k.comps[c])}}}, append(platesOf(p.Target, toner), toner)...)
}

// noteMixes tells of mixes of the press that lay the toner in a tint outside its range: their names stay.
func (e *Edit) noteMixes(p *Page, it *displist.Item, toner string, lo, hi float64) {
	plate, ok := p.Target.Names[toner]
	if !ok {
		return
	}
	for _, k := range inksOf(it) {
		for c, n := range colour.Names(k.space) {
			for _, part := range p.Target.Mixes[n] {
				tint := part.Tint
				if c < len(k.comps) {
					tint = float64(tint * k.comps[c])
				}
				if part.Plate == plate && tint > 0 && (tint < lo-1e-6 || tint > hi+1e-6) {
					e.Note("Page %d: the mix %q lays %s at %.3g %%, outside its range, and was left as it is.", p.List.Page.Number, n, toner, tint*100)
				}
			}
		}
	}
}

var lightenPile = &Remedy{
	ID:      "lighten-pile",
	Title:   "Lighten cyan, magenta and yellow alike where process colours pile up too high; black stays as it is.",
	Answers: []finding.ID{"pile-over-limit"},
	Options: []Option{{"limit", "the most the four process tints may sum up to, such as 260%", true}},
	Offer: func(f *finding.Finding, in *Input) []Options {
		if in.Press == nil || in.Press.Pile.PerPass == 0 || !slices.ContainsFunc(f.Place.Colourants, processName) {
			return nil
		}
		limit, specials := float64(in.Press.Pile.PerPass), 0
		for _, n := range f.Place.Colourants {
			if !processName(n) {
				specials++
			}
		}
		if s := float64(in.Press.Pile.Sum) - 100*float64(specials); specials > 0 && s > 0 && s < limit {
			limit = s
		}
		return []Options{{"limit": strconv.FormatFloat(limit, 'f', -1, 64) + "%"}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		v, err := numbers(o["limit"], 1)
		if err != nil || !(v[0] >= 100 && v[0] <= 400) {
			return fmt.Errorf("limit is 100 to 400 %%, not %q", o["limit"])
		}
		limit := v[0] / 100
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if err := e.lighten(p, i, limit); err != nil {
					return err
				}
			}
			return nil
		})
	},
}

func (e *Edit) lighten(p *Page, i int, limit float64) error {
	it := &p.List.Items[i]
	if it.Hidden {
		return nil
	}
	for _, k := range inksOf(it) {
		cmyk := k.space == colour.Space(colour.CMYK)
		switch {
		case !cmyk && k.space.Components() != 4:
		case !flat(it) || !cmyk:
			if k.space.Family() == colour.FamilyCMYK || k.space.Family() == colour.FamilyICC {
				e.Note("Page %d: process colours of images, blends, patterns and of a colour profile were left as they are.", p.List.Page.Number)
			}
		default:
			sum := k.comps[0] + k.comps[1] + k.comps[2] + k.comps[3]
			if sum <= limit+1e-6 {
				continue
			}
			f := max(0, limit-k.comps[3]) / (sum - k.comps[3])
			out := make([]float64, 4)
			for c := range 3 {
				// Down to a thousandth, so that rounding never takes the sum over the limit.
				out[c] = math.Floor(float64(k.comps[c]*f)*1000) / 1000
			}
			out[3] = k.comps[3]
			return e.try(p, i, Change{Fill: &Colour{pdf.Name("DeviceCMYK"), out}}, colourant.ProcessNames[:3]...)
		}
	}
	return nil
}

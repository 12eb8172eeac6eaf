package mend

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var makeUnderlay = &Remedy{
	ID:      "make-underlay",
	Title:   "Make an underlay of white under chosen toners, from the plates.",
	Answers: []finding.ID{"process-on-dark-stock", "colour-on-bare-film", "toner-asked-for-unused", "white-too-thin", "fluorescent-without-white", "metal-on-bare-stock"},
	Options: append([]Option{
		{"toner", "the white; left out: the opaque white of the press", false},
		{"under", "what it lies under: process, colours for process without black, or names with | between (process)", false},
		{"choke", "how much smaller it is all round (that of the job's wish, else 0.1mm); spread gives the other way", false},
		{"spread", "how much larger it is all round", false},
		{"tint", "a percentage, or coverage to follow the toners above (100%)", false},
	}, madeOptions...),
	Offer: func(f *finding.Finding, in *Input) []Options {
		if in.Press == nil {
			return nil
		}
		white, ok := in.white()
		if !ok || f.ID == "toner-asked-for-unused" && (len(f.Place.Colourants) == 0 || f.Place.Colourants[0] != white) {
			return nil
		}
		// The white of a special lies under that alone, on a layer of its own beside that of the process toners.
		if own := f.ID == "fluorescent-without-white" || f.ID == "metal-on-bare-stock"; own && len(f.Place.Colourants) > 0 {
			special := f.Place.Colourants[0]
			return []Options{{"toner": white, "under": special, "layer": white + " under " + special}}
		}
		return []Options{{"toner": white}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		m, u, err := e.underlay(o)
		if err != nil {
			return err
		}
		if err := e.known(ctx, u.under); err != nil {
			return err
		}
		anything := false
		err = e.Each(ctx, func(p *Page) error {
			if done, err := e.hasMade(p, "make-underlay", u.layer); err != nil || done {
				anything = anything || done
				e.noteMade(p, u.layer, done)
				return err
			}
			mk := *m
			mk.plates = u.plates(p)
			mk.region = p.List.Page.Bleed
			sh, err := mk.make(ctx, p)
			if err != nil || sh == nil {
				return err
			}
			anything = true
			e.allowMade(p, u.toner)
			return e.onTop(p, "make-underlay", u.layer, u.toner, u.tint, sh)
		})
		if err == nil && !anything {
			e.Note("Nothing was made: %v.", errNothing)
		}
		return err
	},
}

// allowMade lets the plates of a made toner differ on a page.
func (e *Edit) allowMade(p *Page, toner string) {
	names := []string{toner}
	if e.In.Press != nil {
		names = append(names, platesOf(p.Target, toner)...)
	}
	e.Allow(p.List.Page.Number, nil, names...)
	// Where others are half transparent the page is now blended, in another depth.
	e.allowed = append(e.allowed, Allowance{Page: p.List.Page.Number, Rounding: true})
}

// white is the opaque white of the press.
func (in *Input) white() (string, bool) {
	if in.Press != nil {
		for _, t := range in.Press.Toners {
			if t.Kind == colourant.OpaqueWhite {
				return t.Name, true
			}
		}
	}
	return "", false
}

// wish is what the job wishes of an underlay of the toner.
func (in *Input) wish(toner string) (press.UnderlayWish, bool) {
	if in.Job != nil {
		for _, w := range in.Job.Wishes.Underlay {
			if w.Toner == toner {
				return w, true
			}
		}
	}
	return press.UnderlayWish{}, false
}

type underlay struct {
	toner, layer string
	under        []string
	tint         float64
}

func (e *Edit) underlay(o Options) (*making, *underlay, error) {
	u := &underlay{toner: o["toner"], tint: 1}
	if u.toner == "" {
		var ok bool
		if u.toner, ok = e.In.white(); !ok {
			return nil, nil, fmt.Errorf("no opaque white is known; name the toner, or give a press that has one")
		}
	}
	u.layer = o.text("layer", u.toner+" underlay")
	wish, wished := e.In.wish(u.toner)
	u.under = o.list("under")
	if len(u.under) == 0 {
		u.under = []string{underProcess}
		if wished {
			u.under = wish.Under
		}
	}
	m := &making{}
	if err := m.read(o); err != nil {
		return nil, nil, err
	}
	choke := .1 // mm; common practice, no source
	if wished && wish.Choke > 0 {
		choke = float64(wish.Choke)
	}
	choke, err := o.mm("choke", choke)
	if err != nil {
		return nil, nil, err
	}
	spread, err := o.mm("spread", 0)
	if err != nil {
		return nil, nil, err
	}
	if spread > 0 && o["choke"] != "" {
		return nil, nil, fmt.Errorf("an underlay is choked or spread, not both")
	}
	if choke < 0 || spread < 0 {
		return nil, nil, fmt.Errorf("choke and spread are lengths from 0")
	}
	if m.move = -choke; spread > 0 {
		m.move = spread
	}
	if o["tint"] == "coverage" {
		if m.as != "image" {
			return nil, nil, fmt.Errorf("a tint that follows the coverage needs as=image")
		}
		m.follow = true
	} else if u.tint, err = o.percent("tint", 1); err != nil {
		return nil, nil, err
	}
	return m, u, nil
}

// plates are those the underlay lies under on a page.
func (u *underlay) plates(p *Page) map[string]bool {
	out := map[string]bool{}
	for _, n := range u.under {
		switch {
		case n == underProcess:
			for _, c := range colourant.ProcessNames {
				out[c] = true
			}
		case strings.EqualFold(n, "colours"):
			for _, c := range colourant.ProcessNames[:3] {
				out[c] = true
			}
		default:
			for _, c := range platesOf(p.Target, n) {
				out[c] = true
			}
		}
	}
	delete(out, u.toner)
	return out
}

package mend

import (
	"context"
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var chokeUnderlay = &Remedy{
	ID:      "choke-underlay",
	Title:   "Take the rim off shapes of an underlay that end where the colours over them end.",
	Answers: []finding.ID{"white-peeks-out"},
	Safe:    true,
	Options: []Option{{"toner", "the toner of the underlay", true}, {"choke", "how far it is to stay inside the colours (that of the job's wish, else the register of the press)", false}},
	Offer: func(f *finding.Finding, in *Input) []Options {
		if len(f.Place.Colourants) == 0 {
			return nil
		}
		if w, ok := in.wish(f.Place.Colourants[0]); ok && w.Choke > 0 {
			return []Options{{"toner": w.Toner}}
		}
		return nil
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		choke := 0.0
		if e.In.Press != nil {
			choke = float64(e.In.Press.Register.Between)
		}
		if w, ok := e.In.wish(o["toner"]); ok && w.Choke > 0 {
			choke = float64(w.Choke)
		}
		choke, err := o.mm("choke", choke)
		if err != nil {
			return err
		}
		if !(choke > 0 && choke <= 5) {
			return fmt.Errorf("say how far the underlay is to stay inside, up to 5 mm, with choke=")
		}
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if err := e.choke(p, i, o["toner"], choke*geom.PointsPerMM); err != nil {
					return err
				}
			}
			return nil
		})
	},
}

// choke makes item i smaller when it is a flat shape of the toner that ends nearer than want points, inside the trim, to the
// end of colours drawn over it.
func (e *Edit) choke(p *Page, i int, toner string, want float64) error {
	items := p.List.Items
	it := &items[i]
	if it.Hidden || it.Kind != displist.Fill || it.Text != nil || !only(it, toner) || !flat(it) || p.choked(i, toner) {
		return nil
	}
	short := 0.0
	for k := i + 1; k < len(items); k++ {
		if o := &items[k]; !o.Hidden && o.Kind != displist.BeginGroup && !namesAny(o, toner) && !blank(o) {
			if room, over := p.room(i, k); over && room < want-.03*geom.PointsPerMM { // 0.03 mm: the slack of the check
				short = max(short, want-max(room, 0))
			}
		}
	}
	if short == 0 {
		return nil
	}
	space, ok := e.toner(toner)
	if !ok {
		return nil
	}
	c := &Choke{Space: space, Points: short}
	around := p.box(i).Grow(short + aPixel)
	for k := range items {
		if o := &items[k]; k != i && !o.Hidden && o.Kind != displist.BeginGroup && namesAny(o, toner) && !p.box(k).Intersect(around).Empty() {
			c.Within = true
		}
	}
	return e.try(p, i, Change{Choke: c}, append(platesOf(p.Target, toner), toner)...)
}

// choked reports whether the rim of item i was already taken off.
func (p *Page) choked(i int, toner string) bool {
	items := p.List.Items
	if i+1 >= len(items) {
		return false
	}
	n := &items[i+1]
	if n.Kind != displist.Stroke || !n.Overprint || !only(n, toner) {
		return false
	}
	s, ok := n.Paint.Space.(*colour.Separation)
	return ok && s.Name == toner && n.Paint.Comps[0] == 0 && n.Origin.Object == items[i].Origin.Object
}

// room is how far item i stays inside item k, drawn over it, at the sides that lie within the trim; over is false when k
// does not cover it, or it has no such side. Boxes tell.
func (p *Page) room(i, k int) (room float64, over bool) {
	a, b := p.box(i), p.box(k)
	const slack = .05 * geom.PointsPerMM
	if b.X0 > a.X0+slack || b.Y0 > a.Y0+slack || b.X1 < a.X1-slack || b.Y1 < a.Y1-slack {
		return 0, false
	}
	t := p.List.Page.Trim
	const cut = .5 * geom.PointsPerMM // what ends nearer to the trim is cut off with it
	room = 1e9
	for _, side := range []struct {
		in   bool
		room float64
	}{{a.X0 > t.X0+cut, a.X0 - b.X0}, {a.Y0 > t.Y0+cut, a.Y0 - b.Y0}, {a.X1 < t.X1-cut, b.X1 - a.X1}, {a.Y1 < t.Y1-cut, b.Y1 - a.Y1}} {
		if side.in {
			room, over = min(room, side.room), true
		}
	}
	return room, over
}

package app

import (
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// wished is one thing a job asks of the order of toners, in words and as orders on one page.
type wished struct {
	text   string
	orders []press.Under
}

// wished lists what the job asks of the order on a page. Wishes that name a layer order the toners of the objects on it; without
// a page they are left out.
func (s *Setup) wished(p *check.Page) (out []wished) {
	if s.Job == nil || s.Press == nil {
		return nil
	}
	for _, w := range s.Job.Wishes.Underlay {
		for _, name := range w.Under {
			out = append(out, wished{w.Toner + " under " + name, orders(s.parts(w.Toner), s.parts(name))})
		}
	}
	for _, w := range s.Job.Wishes.Clear {
		for _, name := range w.Over {
			lower := s.parts(name)
			if _, known := s.Press.KindOf(name); !known && name != press.UnderProcess {
				if p == nil {
					continue
				}
				lower = onLayer(p, name)
			}
			out = append(out, wished{w.Toner + " over " + name, orders(lower, s.parts(w.Toner))})
		}
	}
	if under := s.whiteLast(); len(under) > 0 {
		out = append(out, wished{"white behind the print, which is seen through the film", under})
	}
	return out
}

// parts are the toners a name of a wish stands for.
func (s *Setup) parts(name string) []string {
	if name == press.UnderProcess {
		return colourant.ProcessNames[:]
	}
	if m, ok := s.Press.Mix(name); ok {
		var out []string
		for _, part := range m.Parts {
			out = append(out, part.Toner)
		}
		return out
	}
	return []string{name}
}

func orders(lower, upper []string) (out []press.Under) {
	for _, l := range lower {
		for _, u := range upper {
			if l != u {
				out = append(out, press.Under{Lower: l, Upper: u})
			}
		}
	}
	return out
}

// SeenThrough reports whether the job says that print on its film is looked at through the film.
func (s *Setup) SeenThrough() bool {
	return s.Job != nil && s.Job.Seen == press.SeenThrough && s.Stock != nil && s.Stock.Surface == press.SurfaceFilm
}

// whiteLast asks for whites over the process toners where print on film is looked at through the film.
func (s *Setup) whiteLast() (under []press.Under) {
	if !s.SeenThrough() {
		return nil
	}
	for i := range s.Press.Toners {
		if s.Press.Toners[i].Kind == colourant.OpaqueWhite {
			under = append(under, orders(colourant.ProcessNames[:], []string{s.Press.Toners[i].Name})...)
		}
	}
	return under
}

// onLayer lists the toners that objects of a layer paint with, in plate order.
func onLayer(p *check.Page, layer string) (names []string) {
	found := make([]bool, p.Plates.Set.Len())
	for _, step := range p.Target.Plan(p.List) {
		it := &p.List.Items[step.Item]
		if it.Hidden || layerName(it) != layer || it.Kind == displist.BeginGroup {
			continue
		}
		paints, _ := effects(p, step)
		for _, k := range paints {
			found[k] = true
		}
	}
	for k, on := range found {
		if on {
			names = append(names, p.Plates.Set.At(k).Name)
		}
	}
	return names
}

// effects lists the plates an item paints on and those it clears. A coloured tiling may paint on any. In a group that blends in
// another space than CMYK each process component stands for all process plates.
func effects(p *check.Page, step separate.Step) (paints, clears []int) {
	n := p.Plates.Set.Len()
	if step.Ink == nil {
		for k := range n {
			paints = append(paints, k)
		}
		return paints, nil
	}
	if step.Ink.Nothing {
		return nil, nil
	}
	process := step.Context.Space.ProcessComponents()
	add := func(list []int, k int) []int {
		if k < n && !slices.Contains(list, k) {
			list = append(list, k)
		}
		return list
	}
	for c, e := range step.Ink.Effects {
		first, last := c-process+len(colourant.ProcessNames), c-process+len(colourant.ProcessNames)
		switch {
		case c < process && step.Context.Space == separate.BlendCMYK:
			first, last = c, c
		case c < process:
			first, last = 0, len(colourant.ProcessNames)-1
		}
		for k := first; k <= last; k++ {
			switch {
			case e == separate.Paint && (step.Sampled || step.Ink.Values[c] > 0):
				paints = add(paints, k)
			case e == separate.Clear || e == separate.Paint:
				clears = add(clears, k)
			}
		}
	}
	return paints, clears
}

// meet tells whether any pixel inside the bleed has both toners of an order.
func meet(p *check.Page, u press.Under) bool {
	a, ok := p.Plates.Lookup(u.Lower)
	b, also := p.Plates.Lookup(u.Upper)
	if !ok || !also || a == nil || b == nil {
		return false
	}
	x0, y0, x1, y1 := p.PixelRect(p.List.Page.Bleed)
	w := p.Plates.Width
	for y := y0; y < y1 && x0 < x1; y++ {
		rb := b[y*w+x0 : y*w+x1]
		for x, v := range a[y*w+x0 : y*w+x1] {
			if v != 0 && rb[x] != 0 {
				return true
			}
		}
	}
	return false
}

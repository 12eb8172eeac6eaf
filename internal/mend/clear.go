package mend

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var makeClear = &Remedy{
	ID:      "make-clear",
	Title:   "Make a clear over the whole piece, over layers, images or toners, with zones left free.",
	Answers: []finding.ID{"toner-asked-for-unused"},
	Options: append([]Option{
		{"toner", "the clear; left out: that of the press", false},
		{"over", "flood; images; layer NAME; or toners or process, | between (flood)", false},
		{"spread", "how much larger it is all round (0mm)", false},
		{"choke", "how much smaller it is all round", false},
		{"free", "zones that stay free: X Y W H in mm from the top left corner of the trim, | between", false},
	}, slices.DeleteFunc(slices.Clone(madeOptions), func(o Option) bool { return o.Name == "holes" })...),
	Offer: func(f *finding.Finding, in *Input) []Options {
		toner, ok := in.clear()
		if !ok || len(f.Place.Colourants) == 0 || f.Place.Colourants[0] != toner {
			return nil
		}
		if in.Job != nil {
			var out []Options
			for _, w := range in.Job.Wishes.Clear {
				for _, layer := range w.Over {
					if w.Toner == toner {
						out = append(out, Options{"toner": toner, "over": "layer " + layer})
					}
				}
			}
			if len(out) > 0 {
				return out
			}
		}
		return []Options{{"toner": toner, "over": "flood"}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		c, err := e.clearing(o)
		if err != nil {
			return err
		}
		if err := e.known(ctx, c.names()); err != nil {
			return err
		}
		anything := false
		err = e.Each(ctx, func(p *Page) error {
			if done, err := e.hasMade(p, "make-clear", c.layer); err != nil || done {
				anything = anything || done
				e.noteMade(p, c.layer, done)
				return err
			}
			sh, err := c.shape(ctx, p)
			if err != nil || sh == nil {
				return err
			}
			anything = true
			e.allowMade(p, c.toner)
			return e.onTop(p, "make-clear", c.layer, c.toner, 1, sh)
		})
		if err == nil && !anything {
			e.Note("Nothing was made: %v.", errNothing)
		}
		return err
	},
}

// clear is the clear toner of the press.
func (in *Input) clear() (string, bool) {
	if in.Press != nil {
		for _, t := range in.Press.Toners {
			if t.Kind == colourant.Clear {
				return t.Name, true
			}
		}
	}
	return "", false
}

type clearing struct {
	toner, layer, over string
	free               [][]float64
	m                  making
}

func (e *Edit) clearing(o Options) (*clearing, error) {
	c := &clearing{toner: o["toner"], over: o.text("over", "flood")}
	if c.toner == "" {
		var ok bool
		if c.toner, ok = e.In.clear(); !ok {
			return nil, fmt.Errorf("no clear toner is known; name it, or give a press that has one")
		}
	}
	c.layer = o.text("layer", c.toner+" "+c.over)
	for _, z := range o.list("free") {
		v, err := numbers(z, 4)
		if err != nil || v[2] <= 0 || v[3] <= 0 {
			return nil, fmt.Errorf("free is X Y W H in mm, | between, not %q", z)
		}
		c.free = append(c.free, v)
	}
	if err := c.m.read(o); err != nil {
		return nil, err
	}
	spread, err := o.mm("spread", 0)
	if err != nil {
		return nil, err
	}
	choke, err := o.mm("choke", 0)
	if err != nil {
		return nil, err
	}
	c.m.move = spread - choke
	if c.over == "flood" {
		for _, n := range []string{"as", "threshold", "keep", "dpi"} {
			if _, given := o[n]; given {
				return nil, fmt.Errorf("a flood covers the whole piece up to its bleed, as an outline, and looks at no plates: leave out %s", n)
			}
		}
	}
	return c, nil
}

// names are the toners it lies over; none for the whole piece, images and layers.
func (c *clearing) names() []string {
	if c.over == "flood" || c.over == "images" || strings.HasPrefix(c.over, "layer ") {
		return nil
	}
	return Options{"over": c.over}.list("over")
}

// shape is where the clear lies on a page; nil where there is nothing.
func (c *clearing) shape(ctx context.Context, p *Page) (*shape, error) {
	pg := &p.List.Page
	if c.over == "flood" {
		flood := pg.Bleed
		if d := c.m.move * geom.PointsPerMM; d < 0 {
			flood = pg.Trim.Grow(d) // choked from the edge of the piece
		} else {
			flood = flood.Grow(d).Intersect(pg.Media)
		}
		if len(c.free) == 0 {
			path := &geom.Path{}
			path.Rect(flood)
			return &shape{path: path}, nil
		}
		return &shape{path: floodPath(flood, c.zones(pg))}, nil
	}
	m := c.m
	m.region = pg.Bleed
	m.skip = c.chosen(p, &m)
	zones := c.zones(pg)
	if len(zones) > 0 && m.as == "outline" {
		m.as = "bitmap" // the zones are cut from the pixels, then traced
		sh, err := m.make(ctx, p)
		if err != nil || sh == nil {
			return nil, err
		}
		cut(sh, zones)
		return sh.traced(m.dpi)
	}
	sh, err := m.make(ctx, p)
	if err != nil || sh == nil {
		return nil, err
	}
	if sh.path == nil {
		cut(sh, zones)
	}
	return sh, nil
}

// chosen says which items count: a function that leaves out the others, or plates in m.
func (c *clearing) chosen(p *Page, m *making) (skip func(int) bool) {
	var has func(i int) bool
	layer, byLayer := strings.CutPrefix(c.over, "layer ")
	switch {
	case c.over == "images":
		has = func(i int) bool { return p.List.Items[i].Kind == displist.Image }
	case byLayer:
		has = func(i int) bool { return onLayer(p.List.Items[i].Layer, layer) }
	default:
		u := underlay{toner: c.toner, under: c.names()}
		m.plates = u.plates(p)
		return nil
	}
	// A group is painted when something in it counts.
	items := p.List.Items
	wanted := make([]bool, len(items))
	for i := range items {
		wanted[i] = items[i].Kind != displist.BeginGroup && has(i)
	}
	for i := len(items) - 1; i >= 0; i-- {
		if g := items[i].Group; items[i].Kind == displist.BeginGroup && g != nil {
			wanted[i] = slices.Contains(wanted[i+1:min(g.End, len(wanted))], true)
		}
	}
	return func(i int) bool { return i < len(wanted) && !wanted[i] }
}

// zones are the free zones in list space.
func (c *clearing) zones(pg *displist.Page) (out []geom.Rect) {
	for _, z := range c.free {
		x, y := pg.Trim.X0+float64(z[0]*geom.PointsPerMM), pg.Trim.Y0+float64(z[1]*geom.PointsPerMM)
		out = append(out, geom.Rect{X0: x, Y0: y, X1: x + float64(z[2]*geom.PointsPerMM), Y1: y + float64(z[3]*geom.PointsPerMM)})
	}
	return out
}

// floodPath is a rectangle without zones, as a set of rectangles: cut at every edge of a zone, so that zones may overlap.
func floodPath(r geom.Rect, zones []geom.Rect) *geom.Path {
	ys := []float64{r.Y0, r.Y1}
	for _, z := range zones {
		ys = append(ys, clampTo(z.Y0, r.Y0, r.Y1), clampTo(z.Y1, r.Y0, r.Y1))
	}
	slices.Sort(ys)
	path := &geom.Path{}
	for i := 1; i < len(ys); i++ {
		if ys[i] <= ys[i-1] {
			continue
		}
		mid := (ys[i] + ys[i-1]) / 2
		var in []geom.Rect
		for _, z := range zones {
			if z.Y0 <= mid && mid < z.Y1 {
				in = append(in, z)
			}
		}
		slices.SortFunc(in, func(a, b geom.Rect) int {
			switch {
			case a.X0 < b.X0:
				return -1
			case a.X0 > b.X0:
				return 1
			}
			return 0
		})
		x := r.X0
		for _, z := range in {
			if z.X0 > x {
				path.Rect(geom.Rect{X0: x, Y0: ys[i-1], X1: min(z.X0, r.X1), Y1: ys[i]})
			}
			x = max(x, z.X1)
		}
		if x < r.X1 {
			path.Rect(geom.Rect{X0: x, Y0: ys[i-1], X1: r.X1, Y1: ys[i]})
		}
	}
	return path
}

func clampTo(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }

// cut takes zones out of pixels; a pixel belongs to a zone when its middle does.
func cut(sh *shape, zones []geom.Rect) {
	sx, sy := sh.at.W()/float64(sh.w), sh.at.H()/float64(sh.h)
	for _, z := range zones {
		for y := range sh.h {
			cy := sh.at.Y0 + float64((float64(y)+.5)*sy)
			if cy < z.Y0 || cy >= z.Y1 {
				continue
			}
			for x := range sh.w {
				if cx := sh.at.X0 + float64((float64(x)+.5)*sx); cx >= z.X0 && cx < z.X1 {
					sh.pix[y*sh.w+x] = 0
				}
			}
		}
	}
}

package check

import (
	"context"
	"image"
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// pageFacts is what the rules of the whole file know of a page they no longer see.
type pageFacts struct {
	number int
	used   []string // colourants with toner inside the bleed
	names  []string // colourants the artwork names
	layers []string // that something which prints is on
	trim   geom.Rect
	own    bool    // the TrimBox is the page's own
	pile   float64 // mean sum of tints inside the trim, percent
	passes int     // of this side; 0 = none, or impossible
}

// note remembers a page for the rules of the whole file.
func (in *Input) note(p *Page) {
	if p.Plates == nil || p.Target == nil {
		return
	}
	pg := &p.List.Page
	in.pages = append(in.pages, pageFacts{number: pg.Number, used: p.Used(), names: namesOf(p), layers: layersOf(p.List), trim: pg.Trim, own: pg.HasTrim, pile: p.meanPile(pg.Trim), passes: len(p.Passes)})
}

// layersOf names the layers, and those round them, that something which prints is on.
func layersOf(l *displist.List) (names []string) {
	for i := range l.Items {
		for at := l.Items[i].Layer; at != nil && !l.Items[i].Hidden; at = at.Parent {
			if !slices.Contains(names, at.Name) {
				names = append(names, at.Name)
			}
		}
	}
	return names
}

// whole reports whether every page of the file has been looked at; true when nobody knows how many it has.
func (in *Input) whole() bool { return in.Doc == nil || len(in.pages) == in.Doc.NumPages() }

// meanPile is the mean sum of all tints in a list space box, percent.
func (p *Page) meanPile(box geom.Rect) float64 {
	x0, y0, x1, y1 := p.PixelRect(box)
	if x0 >= x1 || y0 >= y1 {
		return 0
	}
	sum := 0
	for k := range p.Plates.Set.Len() {
		plane := p.Plates.Plane(k)
		for y := y0; y < y1 && plane != nil; y++ {
			for _, v := range plane[y*p.Plates.Width+x0 : y*p.Plates.Width+x1] {
				sum += int(v)
			}
		}
	}
	return float64(sum) / 2.55 / float64((x1-x0)*(y1-y0))
}

// plan is what each item does to the plates, worked out once a page.
func (p *Page) plan() []separate.Step {
	if p.steps == nil {
		p.steps = p.Target.Plan(p.List)
	}
	return p.steps
}

// blackAlone reports whether an item paints one colour that is black on the plates and nothing else, however it is written.
func blackAlone(s *separate.Step) bool {
	if s.Ink == nil || s.Sampled || s.Context.Space != separate.BlendCMYK || len(s.Ink.Values) <= processBlack || s.Ink.Values[processBlack] == 0 {
		return false
	}
	for k, v := range s.Ink.Values {
		if k != processBlack && v != 0 {
			return false
		}
	}
	return true
}

// alone paints nothing but the items, which must be in order, inside some pixels.
func (p *Page) alone(ctx context.Context, items []int, pixels image.Rectangle, row func(plate, y int, tints []byte)) error {
	skip := func(i int) bool {
		if p.List.Items[i].Kind == displist.BeginGroup {
			return false
		}
		_, wanted := slices.BinarySearch(items, i)
		return !wanted
	}
	return p.repaint(ctx, p.List, skip, pixels, row)
}

// special reports whether plate k is of a special toner.
func special(k int) bool { return k >= len(colourant.ProcessNames) }

// isSpecialName reports whether the name leads to a plate or mix of the press beside the process colours.
func (p *Page) isSpecialName(name string) bool {
	if k, ok := p.Target.Names[name]; ok {
		return special(k)
	}
	_, mix := p.Target.Mixes[name]
	return mix
}

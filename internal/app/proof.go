package app

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/mend"
	"laydown/internal/plates/plate"
)

// pairSinks hands the rows of two pages on to several.
type pairSinks []plate.PairSink

// Begin implements plate.PairSink.
func (s pairSinks) Begin(a, b plate.Header) error {
	for _, t := range s {
		if err := t.Begin(a, b); err != nil {
			return err
		}
	}
	return nil
}

// Rows implements plate.PairSink.
func (s pairSinks) Rows(a, b *plate.Band) error {
	for _, t := range s {
		if err := t.Rows(a, b); err != nil {
			return err
		}
	}
	return nil
}

// End implements plate.PairSink.
func (s pairSinks) End() error {
	for _, t := range s {
		if err := t.End(); err != nil {
			return err
		}
	}
	return nil
}

// Breach is a plate that a remedy changed where it was not to.
type Breach struct {
	Page      int           `json:"page"`
	Colourant string        `json:"colourant,omitempty"`
	Pixels    int64         `json:"pixels,omitempty"`
	Box       finding.BoxMM `json:"box"` // mm from the trim
	What      string        `json:"what"`
}

// guard is a plate.PairSink that holds the plates of a page against what a remedy may change.
type guard struct {
	page    int
	allowed []mend.Allowance // of this page
	pair    *sheetPair
	rects   map[string][]freeRect // allowed pixels by colourant
	planes  []guardedPlate
	a, b    plate.Header
	width   int
	height  int
}

// freeRect is where a plate may differ, and by how many levels of 255.
type freeRect struct {
	image.Rectangle
	levels int
}

const anyLevel = 255

type guardedPlate struct {
	name   string
	ia, ib int // in the page's set; -1 = it has none
	pixels int64
	worst  int
	box    image.Rectangle
}

// edgePixels is how far round an allowed box a plate may still differ: coverage of a pixel the box's edge runs
// through, and of its neighbour where images are resampled.
const edgePixels = 2

// Begin implements plate.PairSink.
func (g *guard) Begin(a, b plate.Header) error {
	g.a, g.b = a, b
	g.width, g.height = min(a.Width, b.Width), min(a.Height, b.Height)
	add := func(name string, ia, ib int) { g.planes = append(g.planes, guardedPlate{name: name, ia: ia, ib: ib}) }
	for i, c := range a.Set.All() {
		ib, ok := b.Set.Lookup(c.Name)
		if !ok {
			ib = -1
		}
		add(c.Name, i, ib)
	}
	for i, c := range b.Set.All() {
		if _, ok := a.Set.Lookup(c.Name); !ok {
			add(c.Name, -1, i)
		}
	}
	g.rects = map[string][]freeRect{}
	whole := image.Rect(0, 0, g.width, g.height)
	scale := g.pair.dpi / 72
	for _, al := range g.allowed {
		r := whole
		if al.Where != nil {
			f := func(v, from float64) float64 { return (v - from) * scale }
			o := g.pair.regionA
			r = image.Rect(int(math.Floor(f(al.Where.X0, o.X0)))-edgePixels, int(math.Floor(f(al.Where.Y0, o.Y0)))-edgePixels,
				int(math.Ceil(f(al.Where.X1, o.X0)))+edgePixels, int(math.Ceil(f(al.Where.Y1, o.Y0)))+edgePixels).Intersect(whole)
		}
		for _, p := range g.planes {
			f := freeRect{r, anyLevel}
			if al.Rounding {
				f.levels = 1
			}
			if !r.Empty() && (al.Colourants == nil || slices.Contains(al.Colourants, p.name)) && !slices.Contains(g.rects[p.name], f) {
				g.rects[p.name] = append(g.rects[p.name], f)
			}
		}
	}
	return nil
}

// Rows implements plate.PairSink.
func (g *guard) Rows(a, b *plate.Band) error {
	free := make([]int, g.width)
	for i := range g.planes {
		p := &g.planes[i]
		pa, pb := planeOf(a, p.ia), planeOf(b, p.ib)
		if pa == nil && pb == nil {
			continue
		}
		wa, wb := g.a.Width, g.b.Width
		for y := range a.Rows {
			var ra, rb []byte
			if pa != nil {
				ra = pa[y*wa : y*wa+g.width]
			}
			if pb != nil {
				rb = pb[y*wb : y*wb+g.width]
			}
			g.row(p, ra, rb, a.Y0+y, free)
		}
	}
	return nil
}

// row counts the pixels of a row that differ where they must not.
func (g *guard) row(p *guardedPlate, a, b []byte, y int, free []int) {
	marked := false
	for x := range g.width {
		var va, vb byte
		if a != nil {
			va = a[x]
		}
		if b != nil {
			vb = b[x]
		}
		if va == vb {
			continue
		}
		if !marked {
			marked = true
			clear(free)
			for _, r := range g.rects[p.name] {
				if y >= r.Min.Y && y < r.Max.Y {
					for i := r.Min.X; i < r.Max.X; i++ {
						free[i] = max(free[i], r.levels)
					}
				}
			}
		}
		if d := max(int(va)-int(vb), int(vb)-int(va)); d > free[x] {
			p.pixels++
			p.worst = max(p.worst, d)
			p.box = p.box.Union(image.Rect(x, y, x+1, y+1))
		}
	}
}

// End implements plate.PairSink.
func (g *guard) End() error { return nil }

// breaches tells what differs that must not.
func (g *guard) breaches() (out []Breach) {
	px := 25.4 / g.pair.dpi
	trim := g.pair.a.List.Page.Trim
	left, top := (g.pair.regionA.X0-trim.X0)/geom.PointsPerMM, (g.pair.regionA.Y0-trim.Y0)/geom.PointsPerMM
	for _, p := range g.planes {
		if p.pixels == 0 {
			continue
		}
		b := finding.BoxMM{X: round2(left + float64(p.box.Min.X)*px), Y: round2(top + float64(p.box.Min.Y)*px),
			W: round2(float64(p.box.Dx()) * px), H: round2(float64(p.box.Dy()) * px)}
		out = append(out, Breach{Page: g.page, Colourant: p.name, Pixels: p.pixels, Box: b,
			What: fmt.Sprintf("%s would differ on %d pixels, by up to %.1f %%, where nothing was asked for", p.name, p.pixels, float64(p.worst)/2.55)})
	}
	return out
}

func planeOf(b *plate.Band, i int) []byte {
	if i < 0 || i >= len(b.Planes) {
		return nil
	}
	return b.Planes[i]
}

// prove compares a file before and after a remedy, its plates and its objects, and tells what differs that must not.
func prove(ctx context.Context, before, after *Artwork, e *mend.Edit, req DiffRequest) (*DiffResult, []Breach, error) {
	allowed := e.Allowed()
	var lost []Breach
	d := &differ{req: req, a: before, b: after}
	var guards []*guard
	geometry := map[int]bool{}
	all := false
	for _, a := range allowed {
		if a.Geometry {
			geometry[a.Page] = true
			all = all || a.Page == 0
		}
	}
	d.guard = func(n int, pair *sheetPair) plate.PairSink {
		g := &guard{page: n, pair: pair}
		for _, a := range allowed {
			if !a.Geometry && (a.Page == 0 || a.Page == n) {
				g.allowed = append(g.allowed, a)
			}
		}
		guards = append(guards, g)
		for _, l := range e.Lost(pair.a.List, pair.b.List) {
			lost = append(lost, Breach{Page: n, Box: boxIn(pair.a.List.Page.Trim, l.Where), What: l.What + ", which nobody asked for"})
		}
		return g
	}
	res, err := d.run(ctx)
	if err != nil {
		d.results.undo()
		return nil, nil, err
	}
	out := lost
	for _, g := range guards {
		out = append(out, g.breaches()...)
	}
	if res.PagesA != res.PagesB {
		out = append(out, Breach{What: "the number of pages would change"})
	}
	for _, p := range res.Pages {
		if p.SizeA != p.SizeB || p.TrimA != p.TrimB && !all && !geometry[p.Page] {
			out = append(out, Breach{Page: p.Page, What: "the page boxes would change"})
		}
	}
	for _, f := range res.FindingsB {
		if f.Class != finding.Artwork {
			out = append(out, Breach{Page: f.Place.Page, What: "the mended file would have a fault of its own: " + f.What})
		}
	}
	return res, out, nil
}

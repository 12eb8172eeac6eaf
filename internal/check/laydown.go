package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

const (
	visibleTint = 26 // 10 %: below it a toner neither hides nor shows enough to matter
	solidTint   = 128
)

var passesNeeded = Rule{
	ID:       "passes-needed",
	Measures: "the toners the page uses against the sets the press can carry at one time, and the passes the stock allows",
	Source:   "press definition; common practice, no source: special set and process set need two passes",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		used := p.usedToners()
		if p.PassError != nil {
			out.Add(finding.Finding{
				ID: "passes-needed", Severity: finding.Error,
				What:   fmt.Sprintf("The page cannot be printed on this press as it is: %v.", p.PassError),
				Why:    "A toner that no set carries cannot be printed, in however many passes.",
				Remedy: "Choose another press, or leave out one of the toners.",
				Place:  p.place(geom.Rect{}, nil, used...),
			})
			return nil
		}
		if len(p.Passes) < 2 {
			return nil
		}
		var steps []string
		for i, pass := range p.Passes {
			steps = append(steps, fmt.Sprintf("pass %d with the set %s: %s", i+1, pass.Set.Name, strings.Join(pass.Toners, ", ")))
		}
		f := finding.Finding{
			ID: "passes-needed", Severity: finding.Note,
			What: fmt.Sprintf("The sheet goes through the press %d times: %s.", len(p.Passes), strings.Join(steps, "; ")),
			Why: fmt.Sprintf("Plates of two passes may be off each other by %.2g mm (within one pass %.2g mm), the sheet is heated again, and each set change costs time.",
				float64(in.Press.Register.Between), float64(in.Press.Register.Within)),
			Remedy:  "Nothing to do if this is meant; otherwise use fewer special toners, or a press that carries them in one set.",
			Place:   p.place(geom.Rect{}, nil, used...),
			Figures: map[string]float64{"passes": float64(len(p.Passes))},
		}
		switch {
		case in.Stock != nil && in.Stock.Hits > 0 && len(p.Passes) > in.Stock.Hits:
			f.Severity = finding.Error
			f.Why += fmt.Sprintf(" The stock %s may go through at most %d times.", in.Stock.Title, in.Stock.Hits)
			f.Remedy = "Use fewer special toners, another stock, or a press that carries them in one set."
		case len(p.Passes) > 2:
			f.Severity = finding.Warning
		}
		out.Add(f)
		return nil
	},
}

// usedToners lists the colourants with toner on the page, in plate order.
func (p *Page) usedToners() []string {
	var used []string
	for i, c := range p.Plates.Set.All() {
		if p.Plates.Plane(i) != nil && slices.ContainsFunc(p.Plates.Plane(i), func(v byte) bool { return v != 0 }) {
			used = append(used, c.Name)
		}
	}
	return used
}

// rank is the place of each plate in the laydown, 0 first; -1 for plates not in any pass.
func (p *Page) rank() []int {
	rank := make([]int, p.Plates.Set.Len())
	for i := range rank {
		rank[i] = -1
	}
	n := 0
	for _, pass := range p.Passes {
		for _, t := range pass.Toners {
			if i, ok := p.Plates.Set.Lookup(t); ok && rank[i] < 0 {
				rank[i] = n
			}
			n++
		}
	}
	return rank
}

var clearKnocksOut = Rule{
	ID:       "must-overprint-knocks-out",
	Measures: "toner taken away under objects of a toner that must overprint, by painting the page again with these objects set to overprint",
	Figure:   "0.5 mm2",
	Source:   "ISO 32000-2, 8.6.7; common practice, no source: a clear must overprint or multiply",
	Page: func(ctx context.Context, in *Input, p *Page, out finding.Sink) error {
		for plate := len(colourant.ProcessNames); plate < p.Plates.Set.Len(); plate++ {
			toner, ok := in.toner(p, plate)
			if !ok || !toner.MustOverprint || p.Plates.Plane(plate) == nil {
				continue
			}
			var mine []int
			p.eachColour(func(i int, it *displist.Item, names []string) {
				if it.Overprint {
					return
				}
				for _, n := range names {
					if k, ok := p.Target.Names[n]; ok && k == plate {
						mine = append(mine, i)
						return
					}
				}
			})
			if len(mine) == 0 {
				continue
			}
			kept := *p.List
			kept.Items = slices.Clone(p.List.Items)
			for _, i := range mine {
				kept.Items[i].Overprint = true
			}
			with, err := p.Paint(ctx, &kept, nil)
			if err != nil {
				return err
			}
			lost := p.newMask()
			names := map[string]bool{}
			for k := range p.Plates.Set.Len() {
				if k == plate || with.Plane(k) == nil {
					continue
				}
				for i, v := range with.Plane(k) {
					if had := int(v); had >= visibleTint && had-int(at(p.Plates.Plane(k), i)) >= visibleTint {
						lost[i] = 1
						names[p.Plates.Set.At(k).Name] = true
					}
				}
			}
			area := p.areaMM2(lost)
			if area < .5 {
				continue
			}
			box := p.bounds(lost)
			under := sorted(names)
			items := slices.DeleteFunc(mine, func(i int) bool { return p.List.Items[i].Bounds.Intersect(box).Empty() })
			out.Add(finding.Finding{
				ID: "must-overprint-knocks-out", Severity: finding.Error,
				What: fmt.Sprintf("%s knocks out %s under it, on %.1f mm².", toner.Name, strings.Join(under, ", "), area),
				Why: "A toner that lies over others must be set to overprint. As drawn, it cuts its own shape out of what lies below: " +
					"on the sheet there is bare stock with " + toner.Name + " on it.",
				Remedy:  fmt.Sprintf("Set the fills and strokes in %q to overprint (or their blend mode to Multiply).", toner.Name),
				Place:   p.place(box, items, append([]string{toner.Name}, under...)...),
				Figures: map[string]float64{"area_mm2": area},
			})
		}
		return nil
	},
}

func at(plane []byte, i int) byte {
	if plane == nil {
		return 0
	}
	return plane[i]
}

func sorted(set map[string]bool) []string {
	out := make([]string, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// coveredByLaterToner compares drawn order with laydown order. Where two toners lie on each other on
// the finished plates it asks, at sample points, which of them was painted last.
var coveredByLaterToner = Rule{
	ID:       "covered-by-later-toner",
	Measures: "toner drawn above an opaque toner that the press lays down after it, where both are on the plates",
	Figure:   "0.5 mm2",
	Source:   "press definition (laydown order); APPEARANCE 1.2: an opaque layer hides what lies under it",
	Page: func(ctx context.Context, in *Input, p *Page, out finding.Sink) error {
		rank := p.rank()
		for b := range p.Plates.Set.Len() {
			kind := p.Plates.Set.At(b).Kind
			if rank[b] < 0 || p.Plates.Plane(b) == nil || kind != colourant.OpaqueWhite && kind != colourant.Metallic {
				continue
			}
			for a := range p.Plates.Set.Len() {
				if a == b || rank[a] < 0 || rank[a] >= rank[b] || p.Plates.Plane(a) == nil {
					continue
				}
				if err := p.coveredPair(ctx, a, b, out); err != nil {
					return err
				}
			}
		}
		return nil
	},
}

// coveredPair looks for a drawn above b although b is laid down after a.
func (p *Page) coveredPair(ctx context.Context, a, b int, out finding.Sink) error {
	both := p.newMask()
	pa, pb := p.Plates.Plane(a), p.Plates.Plane(b)
	for i := range both {
		if pa[i] >= visibleTint && pb[i] >= solidTint {
			both[i] = 1
		}
	}
	both = p.thickOnly(both, .08)
	least := int(.5/(p.px()*p.px())) + 1
	wrong := geom.Rect{}
	area := 0.0
	top, bottom := map[int]bool{}, map[int]bool{}
	for _, q := range p.patches(slices.Clone(both), least) {
		// The first, middle and last pixel of the patch stand for it; two of three decide.
		points := p.samplePoints(both, q)
		votes := 0
		for _, pt := range points {
			touches, err := p.Explain(ctx, pt[0], pt[1])
			if err != nil {
				return err
			}
			ia, ib := lastPainter(touches, a), lastPainter(touches, b)
			if ia > ib && ib >= 0 {
				votes++
				top[ia], bottom[ib] = true, true
			}
		}
		if votes*2 > len(points) {
			wrong = wrong.Union(p.listRect(q.x0, q.y0, q.x1, q.y1))
			area += float64(q.area) * p.px() * p.px()
		}
	}
	if wrong.Empty() {
		return nil
	}
	na, nb := p.Plates.Set.At(a).Name, p.Plates.Set.At(b).Name
	items := make([]int, 0, len(top))
	for i := range top {
		items = append(items, i)
	}
	out.Add(finding.Finding{
		ID: "covered-by-later-toner", Severity: finding.Error,
		What:    fmt.Sprintf("%s is drawn above %s, but the press lays %s down first and %s on top of it, on %.1f mm².", na, nb, na, nb, area),
		Why:     fmt.Sprintf("%s is opaque: what lies under it does not show. The order of the layers in the artwork does not change the order of the stations.", nb),
		Remedy:  fmt.Sprintf("Let the objects in %q knock out %q (overprint off), or choose a press that lays %s later.", na, nb, na),
		Place:   p.place(wrong, items, na, nb),
		Figures: map[string]float64{"area_mm2": area},
	})
	return nil
}

// samplePoints picks up to three pixels of the mask inside a patch.
func (p *Page) samplePoints(m mask, q patch) [][2]int {
	var inside [][2]int
	w := p.Plates.Width
	for y := q.y0; y < q.y1; y++ {
		for x := q.x0; x < q.x1; x++ {
			if m[y*w+x] != 0 {
				inside = append(inside, [2]int{x, y})
			}
		}
	}
	if len(inside) < 3 {
		return [][2]int{q.at}
	}
	return [][2]int{inside[len(inside)/5], inside[len(inside)/2], inside[len(inside)*4/5]}
}

// lastPainter is the last item that painted the plate, -1 for none.
func lastPainter(touches []Touch, plate int) int {
	last := -1
	for _, t := range touches {
		if t.Paints[plate] {
			last = t.Item
		}
	}
	return last
}

var darkStockWithoutWhite = Rule{
	ID:       "process-on-dark-stock",
	Measures: "process toner above 10 % on a stock darker than L* 75 with less than half an opaque white under it; strips thinner than 0.6 mm do not count",
	Figure:   "L* 75, 1 mm2",
	Source:   "APPEARANCE 3.2 and section 7 (process toner on kraft and black); figure: common practice, no source",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Stock == nil || in.Press == nil || in.Stock.Front[0] >= 75 {
			return nil
		}
		rank := p.rank()
		bare := p.newMask()
		process := map[string]bool{}
		for k := range 4 {
			plane := p.Plates.Plane(k)
			// Black alone on a dark stock stays black: only the three chromatic toners lose their colour.
			if plane == nil || k == 3 {
				continue
			}
			for i, v := range plane {
				if v >= visibleTint && !p.backed(i, k, rank) {
					bare[i] = 1
					process[p.Plates.Set.At(k).Name] = true
				}
			}
		}
		bare = p.thickOnly(p.within(bare, p.List.Page.Bleed), .3)
		area := p.areaMM2(bare)
		if area < 1 {
			return nil
		}
		box := p.bounds(bare)
		items := p.itemsIn(box, func(i int) bool { return p.processItem(i) && p.touchesMask(i, bare) })
		white := "an opaque white"
		for _, t := range in.Press.Toners {
			if t.Kind == colourant.OpaqueWhite {
				white = fmt.Sprintf("%q", t.Name)
			}
		}
		out.Add(finding.Finding{
			ID: "process-on-dark-stock", Severity: finding.Error,
			What:    fmt.Sprintf("Process colours lie on the bare %s (L* %.0f) without white under them, on %.1f mm².", in.Stock.Title, in.Stock.Front[0], area),
			Why:     "Process toner is transparent: it can only take light away. On a dark stock it sinks in and the picture is nearly invisible.",
			Remedy:  fmt.Sprintf("Put a shape of the same outline in %s under these objects, a little smaller all round, and set the objects to overprint so that they do not knock it out.", white),
			Place:   p.place(box, items, sorted(process)...),
			Figures: map[string]float64{"area_mm2": area, "stock_L": in.Stock.Front[0]},
		})
		return nil
	},
}

// backed reports whether pixel i has an opaque toner at half tint or more under plate k.
func (p *Page) backed(i, k int, rank []int) bool {
	for b := len(colourant.ProcessNames); b < p.Plates.Set.Len(); b++ {
		kind := p.Plates.Set.At(b).Kind
		if (kind == colourant.OpaqueWhite || kind == colourant.Metallic) && at(p.Plates.Plane(b), i) >= solidTint &&
			(rank[b] < 0 || rank[k] < 0 || rank[b] < rank[k]) {
			return true
		}
	}
	return false
}

// within empties the mask outside a list space box.
func (p *Page) within(m mask, box geom.Rect) mask {
	x0, y0, x1, y1 := p.PixelRect(box)
	w := p.Plates.Width
	for i := range m {
		if x, y := i%w, i/w; x < x0 || x >= x1 || y < y0 || y >= y1 {
			m[i] = 0
		}
	}
	return m
}

// processItem reports whether item i paints process colour: no space of named colourants that are all mounted.
func (p *Page) processItem(i int) bool {
	it := &p.List.Items[i]
	if it.Kind == displist.BeginGroup {
		return false
	}
	names := itemNames(it)
	if len(names) == 0 {
		return itemSpace(it) != nil
	}
	for _, n := range names {
		if k, ok := p.Target.Names[n]; !ok && n != "None" || ok && k < len(colourant.ProcessNames) {
			return true
		}
	}
	return false
}

// touchesMask reports whether some pixel of the mask lies in the item's bounds.
func (p *Page) touchesMask(i int, m mask) bool {
	x0, y0, x1, y1 := p.PixelRect(p.List.Items[i].Bounds)
	w := p.Plates.Width
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if m[y*w+x] != 0 {
				return true
			}
		}
	}
	return false
}

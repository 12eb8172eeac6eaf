package app

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plan"
	"laydown/internal/press"
)

// KnockOut is objects of one pass that clear toner of another: where the passes are off each other, stock or a wrong toner
// shows along their edges.
type KnockOut struct {
	Page    int           `json:"page"`
	Paints  string        `json:"paints"`
	Clears  []string      `json:"clears"`
	Passes  [2]int        `json:"passes"` // of the page: that which paints, that which is cleared
	GapMM   float64       `json:"gap_mm"`
	EdgeMM  float64       `json:"edge_mm"` // along which the two adjoin
	Items   []int         `json:"items"`   // of the display list
	Objects int           `json:"objects"`
	Layers  []string      `json:"layers,omitempty"`
	Box     finding.BoxMM `json:"box"`
}

// Words are the knock-out in a sentence.
func (k KnockOut) Words() string {
	on := ""
	if len(k.Layers) > 0 {
		on = " on the layer " + strings.Join(k.Layers, ", ")
	}
	return fmt.Sprintf("page %d: %s in %s%s knock out %s, which pass %d lays; a gap of up to %g mm may show along %.0f mm of edge.",
		k.Page, objects(k.Objects), k.Paints, on, strings.Join(k.Clears, ", "), k.Passes[1], k.GapMM, k.EdgeMM)
}

func objects(n int) string {
	if n == 1 {
		return "1 object"
	}
	return fmt.Sprintf("%d objects", n)
}

// knockOut is objects that paint one toner and clear another that lies below them.
type knockOut struct {
	paints, clears string
	items          []int
	layers         []string
	box            finding.BoxMM
}

// maxKnockItems told of one kind.
const maxKnockItems = 50

// knockOuts lists which toners are cleared by objects in which others, where the lower was painted under their bounds before.
func knockOuts(p *check.Page) (out []knockOut) {
	at := map[[2]int]int{}
	boxes := map[[2]int]geom.Rect{}
	painted := make([]geom.Rect, p.Plates.Set.Len())
	for _, step := range p.Target.Plan(p.List) {
		it := &p.List.Items[step.Item]
		if step.Ink == nil {
			continue
		}
		paints, clears := effects(p, step)
		for _, a := range paints {
			for _, b := range clears {
				under := painted[b].Intersect(it.Bounds)
				if a == b || under.Empty() {
					continue
				}
				pair := [2]int{a, b}
				n, ok := at[pair]
				if !ok {
					n = len(out)
					at[pair] = n
					out = append(out, knockOut{paints: p.Plates.Set.At(a).Name, clears: p.Plates.Set.At(b).Name})
				}
				out[n].items = append(out[n].items, step.Item)
				if l := layerName(it); l != "" && !slices.Contains(out[n].layers, l) {
					out[n].layers = append(out[n].layers, l)
				}
				boxes[pair] = boxes[pair].Union(under)
			}
		}
		for _, a := range paints {
			painted[a] = painted[a].Union(it.Bounds)
		}
	}
	for pair, n := range at {
		out[n].box = boxFromTrim(&p.List.Page, boxes[pair])
	}
	return out
}

// leastEdge along which toners of two passes adjoin is told of, in mm.
const leastEdge = 1

// across lists the knock-outs that fall between two passes of a plan: those whose toners adjoin on the plates. Toners
// of one pass cleared by the same toner are told of together.
func (pl *planner) across(p *plan.Plan) (out []KnockOut) {
	for i, kept := range pl.pages {
		passes := p.Side(i)
		first := len(out)
		for _, c := range kept.cuts {
			a, b := passOf(passes, c.paints), passOf(passes, c.clears)
			m, _ := sideMeets(&pl.sides[i], c.paints, c.clears)
			if a == 0 || b == 0 || a == b || m.EdgeMM < leastEdge {
				continue
			}
			paints := processWord(c.paints)
			n := first + slices.IndexFunc(out[first:], func(k KnockOut) bool { return k.Paints == paints && k.Passes == [2]int{a, b} })
			if n < first {
				n = len(out)
				out = append(out, KnockOut{Page: kept.number, Paints: paints, Passes: [2]int{a, b}, GapMM: float64(pl.setup.Press.Register.Between), Box: c.box})
			}
			k := &out[n]
			if !slices.Contains(k.Clears, c.clears) {
				k.Clears = append(k.Clears, c.clears)
			}
			k.EdgeMM = max(k.EdgeMM, round2(m.EdgeMM))
			if len(c.items) > k.Objects {
				k.Items, k.Objects, k.Layers = c.items[:min(len(c.items), maxKnockItems)], len(c.items), c.layers
			}
			x1, y1 := max(k.Box.X+k.Box.W, c.box.X+c.box.W), max(k.Box.Y+k.Box.H, c.box.Y+c.box.H)
			k.Box.X, k.Box.Y = min(k.Box.X, c.box.X), min(k.Box.Y, c.box.Y)
			k.Box.W, k.Box.H = x1-k.Box.X, y1-k.Box.Y
		}
	}
	return out
}

// passOf is the pass that lays a toner, from 1; 0 = none.
func passOf(passes []press.Pass, toner string) int {
	for n, p := range passes {
		if slices.Contains(p.Toners, toner) {
			return n + 1
		}
	}
	return 0
}

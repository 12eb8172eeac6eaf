package paint

import (
	"context"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// White and Gold are the specials of the lists of these tests; their stand-ins are cyan and yellow.
var (
	white = spot("White", 0)
	gold  = spot("Gold", 2)
)

func spot(name string, standIn int) *colour.Separation {
	return &colour.Separation{Name: name, Alternate: colour.CMYK, Tint: standInTint(standIn)}
}

type standInTint int

func (standInTint) Inputs() int  { return 1 }
func (standInTint) Outputs() int { return 4 }
func (k standInTint) Eval(out, in []float64) {
	clear(out)
	out[k] = in[0]
}

func target() *separate.Target {
	t := &separate.Target{Set: colourant.NewSet(colourant.Colourant{Name: "White"}, colourant.Colourant{Name: "Gold"}),
		Names: map[string]int{}, Converter: colour.NewConverter(nil)}
	for i, c := range t.Set.All() {
		t.Names[c.Name] = i
		t.Mounted = append(t.Mounted, true)
	}
	return t
}

func paintOf(s colour.Space, comps ...float64) displist.Paint {
	return displist.Paint{Space: s, Comps: comps}
}

func cmyk(c, m, y, k float64) displist.Paint { return paintOf(colour.CMYK, c, m, y, k) }

// rect is an opaque fill of a rectangle; at 72 dpi its corners are pixels.
func rect(x0, y0, x1, y1 float64, p displist.Paint, change ...func(*displist.Item)) displist.Item {
	r := geom.Rect{X0: x0, Y0: y0, X1: x1, Y1: y1}
	path := &geom.Path{}
	path.Rect(r)
	it := displist.Item{Kind: displist.Fill, Bounds: r, Shape: displist.Shape{Path: path}, Paint: p, Alpha: 1}
	for _, f := range change {
		f(&it)
	}
	return it
}

func alpha(a float64) func(*displist.Item) { return func(it *displist.Item) { it.Alpha = a } }

func mode(b displist.Blend) func(*displist.Item) { return func(it *displist.Item) { it.Blend = b } }

func overprint(opm int) func(*displist.Item) {
	return func(it *displist.Item) { it.Overprint, it.OverprintMode = true, opm }
}

// group puts members into a group; add it with join.
func group(g displist.Group, members []displist.Item, change ...func(*displist.Item)) []displist.Item {
	it := displist.Item{Kind: displist.BeginGroup, Group: &g, Alpha: 1}
	for i := range members {
		it.Bounds = it.Bounds.Union(members[i].Bounds)
	}
	for _, f := range change {
		f(&it)
	}
	return append([]displist.Item{it}, members...)
}

// join makes one list of items and groups, and sets where each group ends.
func join(parts ...any) []displist.Item {
	var out []displist.Item
	for _, p := range parts {
		switch p := p.(type) {
		case displist.Item:
			out = append(out, p)
		case []displist.Item:
			out = append(out, p...)
		}
	}
	return out
}

// list closes a page: groups were joined with ends relative to their own start.
func list(w, h float64, parts ...any) *displist.List {
	l := &displist.List{Items: join(parts...)}
	l.Page.Number = 1
	l.Page.Media = geom.Rect{X1: w, Y1: h}
	l.Blending = true
	return l
}

// closed sets End of a group that starts at index at of the final list and has n members in all.
func closed(items []displist.Item, at int) []displist.Item {
	g := *items[0].Group
	g.End = at + len(items)
	items[0].Group = &g
	return items
}

func jobOf(l *displist.List) Job {
	return Job{List: l, Target: target(), DPI: 72, Region: l.Page.Media, Workers: 1}
}

// fataler is what helpers need of a test.
type fataler interface {
	Helper()
	Fatal(args ...any)
}

func render(t fataler, j Job) *plate.Stack {
	t.Helper()
	var s plate.Stack
	if err := Render(context.Background(), j, &s); err != nil {
		t.Fatal(err)
	}
	return &s
}

// renderRows renders with bands of a height.
func renderRows(t fataler, j Job, rows int) *plate.Stack {
	t.Helper()
	r, err := prepare(j)
	if err != nil {
		t.Fatal(err)
	}
	var s plate.Stack
	if err := r.render(context.Background(), &s, rows); err != nil {
		t.Fatal(err)
	}
	return &s
}

// tints is one pixel as percent, e.g. "0 0 0 100 50 0".
func tintsAt(s *plate.Stack, x, y int) []byte {
	out := make([]byte, s.Set.Len())
	for c := range out {
		out[c] = s.At(c, x, y)
	}
	return out
}

func sameGrid(t *testing.T, got, want string) {
	t.Helper()
	var b strings.Builder
	for _, line := range strings.Split(strings.TrimSpace(want), "\n") {
		b.WriteString(strings.TrimSpace(line) + "\n")
	}
	if got != b.String() {
		t.Errorf("plates are\n%swant\n%s", got, b.String())
	}
}

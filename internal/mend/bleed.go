package mend

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// edges of a page, as options and findings name them.
var edgeNames = []string{"left", "right", "top", "bottom"}

var addBleed = &Remedy{
	ID:      "add-bleed",
	Title:   "Add bleed at edges that lack it, by what lies within the edge: mirrored, or its outermost strip drawn out.",
	Answers: []finding.ID{"bleed-missing"},
	Options: []Option{
		{"edges", "left, right, top, bottom, | between (all)", false},
		{"by", "mirror or extend (mirror)", false},
		{"bleed", "how far beyond the trim (that of the job, else 3mm)", false},
	},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		var edges []string
		words := strings.FieldsFunc(f.What, func(r rune) bool { return r < 'a' || r > 'z' })
		for _, n := range edgeNames {
			if slices.Contains(words, n) {
				edges = append(edges, n)
			}
		}
		if len(edges) == 0 {
			edges = edgeNames
		}
		list := strings.Join(edges, "|")
		return []Options{{"edges": list}, {"edges": list, "by": "extend"}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		b, err := e.bleeding(o)
		if err != nil {
			return err
		}
		return e.Each(ctx, func(p *Page) error { return e.addBleed(p, b) })
	},
}

type bleeding struct {
	edges []string
	mm    float64
	by    float64 // how much the strip is drawn out; 1 = mirrored
}

func (e *Edit) bleeding(o Options) (*bleeding, error) {
	b := &bleeding{edges: o.list("edges"), mm: 3, by: 1} // 3 mm: common practice, no source
	if len(b.edges) == 0 {
		b.edges = edgeNames
	}
	for _, n := range b.edges {
		if !slices.Contains(edgeNames, n) {
			return nil, fmt.Errorf("edges are left, right, top and bottom, not %q", n)
		}
	}
	if e.In.Job != nil && e.In.Job.Bleed > 0 {
		b.mm = float64(e.In.Job.Bleed)
	}
	var err error
	if b.mm, err = o.mm("bleed", b.mm); err != nil {
		return nil, err
	}
	if !(b.mm > 0 && b.mm <= 50) {
		return nil, errors.New("bleed is a length up to 50mm")
	}
	switch o.text("by", "mirror") {
	case "mirror":
	case "extend":
		b.by = b.mm / .2 // the outermost 0.2 mm
	default:
		return nil, fmt.Errorf("by is mirror or extend, not %q", o["by"])
	}
	return b, nil
}

// seam is how far inside the trim the mirror stands. What is mirrored is drawn from there on over what is there, as an isolated
// group: composited and clipped as one, so that underlay and picture leave no line where the clip passes pixels. The page itself reaches
// beyond the clip by as much as the mirrored page does: by a pixel from 170 dpi on.
const seam = .15 * geom.PointsPerMM

// bleedMark lists, on the form that holds the page's content, the edges that were given bleed.
const bleedMark = pdf.Name("LaydownBleed")

func (e *Edit) addBleed(p *Page, b *bleeding) error {
	pg := &p.List.Page
	if !pg.HasTrim {
		e.Note("Page %d has no TrimBox, so nobody knows where its edge is; set it first with set-boxes.", pg.Number)
		return nil
	}
	s, err := e.pageStream(p)
	if err != nil {
		return err
	}
	edges := slices.DeleteFunc(slices.Clone(b.edges), func(n string) bool { return slices.Contains(e.bled(s), n) || !reached(p, n) })
	if len(edges) == 0 || len(s.data) == 0 {
		return nil
	}
	trim := pg.Trim
	bleed := trim.Grow(b.mm * geom.PointsPerMM)
	for _, n := range edges {
		room := map[string]bool{"left": bleed.X0 >= pg.Media.X0-.01, "right": bleed.X1 <= pg.Media.X1+.01,
			"top": bleed.Y0 >= pg.Media.Y0-.01, "bottom": bleed.Y1 <= pg.Media.Y1+.01}
		if !room[n] {
			return fmt.Errorf("page %d has no room for %g mm of bleed at the %s; export it with a larger page", pg.Number, b.mm, n)
		}
	}
	marks := pdf.Array{}
	for _, n := range edges {
		marks = append(marks, pdf.Name(n))
	}
	media := s.page.of.MediaBox
	form := e.up.AddStream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Form"), "Resources": s.dict,
		"BBox": pdf.Array{pdf.Real(media[0]), pdf.Real(media[1]), pdf.Real(media[2]), pdf.Real(media[3])}, bleedMark: marks,
		"Group": pdf.Dict{"S": pdf.Name("Transparency"), "I": pdf.Boolean(true)}}, s.data, true)
	name := nameText(s.name("XObject", form))
	toUser, ok := pg.ToList.Invert()
	if !ok {
		return fmt.Errorf("page %d has no usable size", pg.Number)
	}
	var draw strings.Builder
	pass := func(strip geom.Rect, m geom.Matrix) {
		path := &geom.Path{}
		path.Rect(strip)
		draw.WriteString("q\n" + pathText(path, toUser) + "W n\n" + matrixText(pg.ToList.Mul(m).Mul(toUser)) + name + " Do\nQ\n")
		e.allowed = append(e.allowed, Allowance{Page: pg.Number, Where: &strip})
	}
	x, y := map[string]geom.Matrix{}, map[string]geom.Matrix{}
	has := func(n string) bool { return slices.Contains(edges, n) }
	for _, n := range edges {
		strip := bleed
		m := geom.Identity
		switch n {
		case "left":
			strip.X1 = trim.X0 + seam
			m.A, m.E = mirrored(trim.X0+seam, b.by)
			x[n] = m
		case "right":
			strip.X0 = trim.X1 - seam
			m.A, m.E = mirrored(trim.X1-seam, b.by)
			x[n] = m
		case "top":
			strip.Y1 = trim.Y0 + seam
			m.D, m.F = mirrored(trim.Y0+seam, b.by)
			y[n] = m
		case "bottom":
			strip.Y0 = trim.Y1 - seam
			m.D, m.F = mirrored(trim.Y1-seam, b.by)
			y[n] = m
		}
		// A corner between two of them is mirrored both ways.
		if n == "left" || n == "right" {
			if has("top") {
				strip.Y0 = trim.Y0
			}
			if has("bottom") {
				strip.Y1 = trim.Y1
			}
		} else {
			if has("left") {
				strip.X0 = trim.X0
			}
			if has("right") {
				strip.X1 = trim.X1
			}
		}
		pass(strip, m)
	}
	for _, h := range []string{"left", "right"} {
		for _, v := range []string{"top", "bottom"} {
			if !has(h) || !has(v) {
				continue
			}
			corner := bleed // over the ends of the strips
			if h == "left" {
				corner.X1 = trim.X0 + seam
			} else {
				corner.X0 = trim.X1 - seam
			}
			if v == "top" {
				corner.Y1 = trim.Y0 + seam
			} else {
				corner.Y0 = trim.Y1 - seam
			}
			pass(corner, x[h].Mul(y[v]))
		}
	}
	if err := e.addAfter(p, draw.String()); err != nil {
		return err
	}
	if !pg.HasBleed || pg.Bleed.X0 > bleed.X0+.1 || pg.Bleed.Y0 > bleed.Y0+.1 || pg.Bleed.X1 < bleed.X1-.1 || pg.Bleed.Y1 < bleed.Y1-.1 {
		s.page.set["BleedBox"] = boxArray(toUser.Bounds(pg.Bleed.Union(bleed).Intersect(pg.Media)))
	}
	return nil
}

// mirrored is the scale and the offset that mirror at a line and draw out by a factor.
func mirrored(at, by float64) (scale, offset float64) { return -by, at + float64(at*by) }

// bled lists the edges that were given bleed before.
func (e *Edit) bled(s *stream) (edges []string) {
	xs, _ := e.Doc.Dict(s.dict["XObject"])
	for _, o := range xs {
		if d, ok := e.Doc.Dict(o); ok {
			marks, _ := e.Doc.Array(d[bleedMark])
			for _, m := range marks {
				n, _ := e.Doc.Name(m)
				edges = append(edges, string(n))
			}
		}
	}
	return edges
}

// reached reports whether anything that prints comes within 0.3 mm of an edge of the trim.
func reached(p *Page, edge string) bool {
	t := p.List.Page.Trim
	const near = .3 * geom.PointsPerMM
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if it.Hidden || it.Kind == displist.BeginGroup {
			continue
		}
		b := p.box(i)
		if b.Intersect(t).Empty() {
			continue
		}
		switch {
		case edge == "left" && b.X0 <= t.X0+near, edge == "right" && b.X1 >= t.X1-near,
			edge == "top" && b.Y0 <= t.Y0+near, edge == "bottom" && b.Y1 >= t.Y1-near:
			return true
		}
	}
	return false
}

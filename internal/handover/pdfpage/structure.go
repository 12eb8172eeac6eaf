package pdfpage

import (
	"laydown/internal/artwork/pdf"
)

// group is a structure element of several parts, which may lie on several pages: a table, a row, a list, a paragraph.
type group struct {
	kind   string
	words  string // that stand for it
	attr   pdf.Dict
	parent pdf.Ref
	ref    pdf.Ref // reserved with the first part
	kids   pdf.Array
}

// Group makes one structure element of what set marks, on one page or several. Words stand for it; "" = its text does.
func (d *Document) Group(kind, words string, set func()) {
	d.grouped(&group{kind: kind, words: words}, set)
}

func (d *Document) grouped(g *group, set func()) {
	d.open = append(d.open, g)
	set()
	d.open = d.open[:len(d.open)-1]
	if g.ref != (pdf.Ref{}) {
		d.w.Set(g.ref, element(g.kind, g.words, g.attr, g.parent, pdf.Dict{"K": g.kids}))
	}
}

func element(kind, words string, attr pdf.Dict, parent pdf.Ref, rest pdf.Dict) pdf.Dict {
	rest["Type"], rest["S"], rest["P"] = pdf.Name("StructElem"), pdf.Name(kind), parent
	if words != "" {
		rest["Alt"] = textString(words)
	}
	if attr != nil {
		rest["A"] = attr
	}
	return rest
}

// parent is the element that what comes next on the page belongs to. Groups begun enter theirs with their first part.
func (p *Page) parent() pdf.Ref {
	parent := p.d.document
	for i, g := range p.d.open {
		if g.ref == (pdf.Ref{}) {
			g.ref, g.parent = p.d.w.Reserve(), parent
			if i == 0 {
				p.kids = append(p.kids, g.ref)
			} else {
				up := p.d.open[i-1]
				up.kids = append(up.kids, g.ref)
			}
		}
		parent = g.ref
	}
	return parent
}

// enter puts an element into the innermost group begun, else into the document.
func (p *Page) enter(e pdf.Ref) {
	if n := len(p.d.open); n > 0 {
		p.d.open[n-1].kids = append(p.d.open[n-1].kids, e)
		return
	}
	p.kids = append(p.kids, e)
}

// marked draws a marked content sequence and returns its number.
func (p *Page) marked(kind string, draw func()) int {
	n := len(p.parents)
	p.Op("/%s <</MCID %d>> BDC", kind, n)
	draw()
	p.Op("EMC")
	p.parents = append(p.parents, nil)
	return n
}

// Tag marks what draw draws as a structure element: P, H1 to H6, Figure (with words that stand for it) ….
func (p *Page) Tag(kind, words string, draw func()) { p.tag(kind, words, nil, draw) }

func (p *Page) tag(kind, words string, attr pdf.Dict, draw func()) {
	parent := p.parent()
	n := p.marked(kind, draw)
	e := p.d.w.Add(element(kind, words, attr, parent, pdf.Dict{"Pg": p.ref, "K": pdf.Integer(n)}))
	p.parents[n] = e
	p.enter(e)
}

// empty enters an element without content: a cell of a table that says nothing.
func (p *Page) empty(kind string, attr pdf.Dict) {
	parent := p.parent()
	p.enter(p.d.w.Add(element(kind, "", attr, parent, pdf.Dict{})))
}

// Mark marks what draw draws as part of the innermost group begun; without one, as a paragraph.
func (p *Page) Mark(draw func()) {
	if len(p.d.open) == 0 {
		p.Tag("P", "", draw)
		return
	}
	g := p.d.open[len(p.d.open)-1]
	parent := p.parent()
	n := p.marked(g.kind, draw)
	p.parents[n] = parent
	g.kids = append(g.kids, pdf.Dict{"Type": pdf.Name("MCR"), "Pg": p.ref, "MCID": pdf.Integer(n)})
}

// Figure marks what draw draws within a rectangle as a picture, with words that stand for it, and what caption draws as its
// caption; nil = it has none.
func (p *Page) Figure(words string, x, y, w, h float64, draw, caption func()) {
	box := pdf.Array{point(x), point(p.H - y - h), point(x + w), point(p.H - y)}
	p.d.grouped(&group{kind: "Figure", words: words, attr: pdf.Dict{"O": pdf.Name("Layout"), "BBox": box}}, func() {
		p.Mark(draw)
		if caption != nil {
			p.Tag("Caption", "", caption)
		}
	})
}

// Artifact marks what draw draws as no part of the text: rules, frames, page numbers.
func (p *Page) Artifact(draw func()) {
	p.Op("/Artifact BMC")
	draw()
	p.Op("EMC")
}

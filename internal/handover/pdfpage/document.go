// Package pdfpage draws the program's own PDF pages: text with embedded fonts, lines, boxes, tables and pictures, page by
// page, so that only one page lies in memory. It follows the rules of PDF/X-4 (fonts embedded, page boxes, no encryption, no
// actions, device-independent RGB, XMP) and calls a file so that has what is left: a printing condition with its output profile,
// and dates. Text is tagged in reading order. The same calls make the same bytes.
package pdfpage

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"hash"
	"io"
	"slices"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// A4 in millimetres.
const (
	A4Width  = 210.0
	A4Height = 297.0
)

// Info is what a document says of itself.
type Info struct {
	Title    string
	Language string    // as of BCP 47; "" = en-GB
	Made     time.Time // the zero value leaves dates out
	Intent   *Intent   // the printing condition; nil = none is named
}

// Intent is the printing condition a document is made for.
type Intent struct {
	Condition string // name for people
	Profile   []byte // ICC output profile
	N         int    // its components
}

// Document is a PDF file being written. It is not safe for concurrent use.
type Document struct {
	w        *pdf.Writer
	info     Info
	faces    [3]*face
	pages    []*Page
	tree     pdf.Ref // page tree
	document pdf.Ref // structure element of the document
	srgb     pdf.Object
	last     func(p *Page, n, of int) // draws what is known at the end only
	open     []*group                 // structure elements begun, outermost first
	drawn    hash.Hash                // of all that was drawn
}

// New starts a document.
func New(w io.Writer, info Info) (*Document, error) {
	if info.Language == "" {
		info.Language = "en-GB"
	}
	d := &Document{w: pdf.NewWriter(w, "1.6"), info: info, drawn: sha256.New()}
	for i := range d.faces {
		f, err := newFace(i)
		if err != nil {
			return nil, err
		}
		f.ref = d.w.Reserve()
		d.faces[i] = f
	}
	d.tree, d.document = d.w.Reserve(), d.w.Reserve()
	return d, nil
}

// Writer gives the file, for objects that pages refer to.
func (d *Document) Writer() *pdf.Writer { return d.w }

// Foot sets what is drawn on every page when the document is closed and the number of pages is known. It is no part of the text.
func (d *Document) Foot(draw func(p *Page, n, of int)) { d.last = draw }

// Page is one page. Positions are in millimetres from its top left corner, y down.
type Page struct {
	W, H float64

	d         *Document
	section   int
	ref       pdf.Ref
	b         bytes.Buffer
	contents  pdf.Array
	resources map[pdf.Name]pdf.Dict // by kind: XObject, ColorSpace, ExtGState
	names     map[any]pdf.Name      // resource names given, by reference
	used      [3]bool               // faces
	kids      pdf.Array             // structure elements of the document in reading order
	parents   pdf.Array             // the element that each marked content sequence belongs to
	ended     bool
}

// Page begins a page of a section. Pages come in the order of their sections, and in a section as they were begun; the page
// begun before should be ended.
func (d *Document) Page(section int, w, h float64) *Page {
	p := &Page{W: w, H: h, d: d, section: section, ref: d.w.Reserve(), resources: map[pdf.Name]pdf.Dict{}, names: map[any]pdf.Name{}}
	d.pages = append(d.pages, p)
	return p
}

// End writes what was drawn on the page.
func (p *Page) End() {
	if p.ended {
		return
	}
	p.ended = true
	p.flush()
}

func (p *Page) flush() {
	if p.b.Len() > 0 {
		p.d.drawn.Write(p.b.Bytes()) // never fails
		p.contents = append(p.contents, p.d.w.AddStream(nil, p.b.Bytes(), true))
	}
	p.b = bytes.Buffer{}
}

// Op writes operators as they are.
func (p *Page) Op(format string, args ...any) { fmt.Fprintf(&p.b, format+"\n", args...) }

// Resource names an object of a kind (ColorSpace, ExtGState, XObject) on the page. The same reference keeps its name.
func (p *Page) Resource(kind pdf.Name, ref pdf.Ref) pdf.Name {
	key := [2]any{kind, ref}
	if n, ok := p.names[key]; ok {
		return n
	}
	if p.resources[kind] == nil {
		p.resources[kind] = pdf.Dict{}
	}
	n := pdf.Name(fmt.Sprintf("%c%d", kind[0], len(p.resources[kind])+1))
	p.names[key] = n
	p.resources[kind][n] = ref
	return n
}

// Close writes what is left. It closes no file.
func (d *Document) Close() error {
	slices.SortStableFunc(d.pages, func(a, b *Page) int { return a.section - b.section })
	var kids, items, parents pdf.Array
	for i, p := range d.pages {
		p.End()
		if d.last != nil {
			p.Artifact(func() { d.last(p, i+1, len(d.pages)) })
			p.flush()
		}
		res := pdf.Dict{}
		for kind, dict := range p.resources {
			res[kind] = dict
		}
		fonts := pdf.Dict{}
		for k, used := range p.used {
			if used {
				fonts[faceNames[k]] = d.faces[k].ref
			}
		}
		res["Font"] = fonts
		box := pdf.Array{pdf.Integer(0), pdf.Integer(0), point(p.W), point(p.H)}
		d.w.Set(p.ref, pdf.Dict{"Type": pdf.Name("Page"), "Parent": d.tree, "MediaBox": box, "TrimBox": box, "Resources": res,
			"Contents": p.contents, "StructParents": pdf.Integer(i), "Tabs": pdf.Name("S")})
		kids = append(kids, p.ref)
		items = append(items, p.kids...)
		parents = append(parents, pdf.Integer(i), d.w.Add(p.parents))
	}
	d.w.Set(d.tree, pdf.Dict{"Type": pdf.Name("Pages"), "Kids": kids, "Count": pdf.Integer(len(kids))})
	for _, f := range d.faces {
		if err := f.write(d.w); err != nil {
			return err
		}
	}
	root := d.w.Reserve()
	d.w.Set(d.document, pdf.Dict{"Type": pdf.Name("StructElem"), "S": pdf.Name("Document"), "P": root, "K": items})
	d.w.Set(root, pdf.Dict{"Type": pdf.Name("StructTreeRoot"), "K": d.document, "ParentTreeNextKey": pdf.Integer(len(d.pages)),
		"ParentTree": d.w.Add(pdf.Dict{"Nums": parents})})
	catalogue := pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": d.tree, "Lang": textString(d.info.Language), "StructTreeRoot": root,
		"MarkInfo": pdf.Dict{"Marked": pdf.Boolean(true)}, "ViewerPreferences": pdf.Dict{"DisplayDocTitle": pdf.Boolean(true)},
		"Metadata": d.w.AddStream(pdf.Dict{"Type": pdf.Name("Metadata"), "Subtype": pdf.Name("XML")}, d.info.xmp(d.drawn.Sum(nil)), false)}
	if in := d.info.Intent; in != nil {
		profile := d.w.AddStream(pdf.Dict{"N": pdf.Integer(in.N)}, in.Profile, true)
		catalogue["OutputIntents"] = pdf.Array{d.w.Add(pdf.Dict{"Type": pdf.Name("OutputIntent"), "S": pdf.Name("GTS_PDFX"),
			"OutputConditionIdentifier": textString(in.Condition), "Info": textString(in.Condition), "DestOutputProfile": profile})}
	}
	d.w.Trailer["Root"] = d.w.Add(catalogue)
	d.w.Trailer["Info"] = d.w.Add(d.info.dict())
	return d.w.Close()
}

func point(mm float64) pdf.Real { return pdf.Real(float64(int64(mm*geom.PointsPerMM*1000+.5)) / 1000) }

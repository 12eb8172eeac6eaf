// Package sheets writes imposed PDF files: the sides of a plan of sheets, each a page, on which every page of the artwork
// stands as a form XObject that is stored once, with its resources, layers and, where it needs one, its transparency
// group; beside them marks, a colour bar and names in the colourants of the toners.
//
// What a page looked like alone it looks like on the sheet. The Trim positions it, the Bleed clips it, CropBox and ArtBox
// have no say (ISO 32000-2, 14.11.2); Rotate and UserUnit are part of its placement. The page group is always isolated
// (11.4.7); a form's is only when it says so, so the form says /I true. Where nothing on the page blends, the group and
// its blending space change nothing alone and would as a form, so it is left out. Annotations that print become forms
// drawn over the page's own (12.5.5).
//
// The file is written object by object; what is remembered is a reference a page and an offset an object.
package sheets

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plan/sheet"
)

// Toner is one toner marks and bars are drawn in.
type Toner struct {
	Name    string     // the colourant
	Process bool       // one of Cyan, Magenta, Yellow, Black
	StandIn [4]float64 // CMYK, 0..1
	Solid   bool       // may not be tinted
	White   bool       // opaque white
	Clear   bool
}

// Pass is one trip through the press.
type Pass struct {
	Name string // of its set of toners
	// Toners are laid in it, first laid first. Only these get patches in the colour bar.
	Toners []Toner
	// Black tells that the set carries black, used or not: then the pass's marks are black, and bring in no further set.
	Black bool
	// On tells which of the toners are laid on a page, where that is not the same on all; nil = it is. A side of a sheet has the marks
	// of the passes that lay something on it, with patches of what they lay there.
	On func(page int) []string
}

// Job says what to write.
type Job struct {
	Doc  *pdf.Document
	Plan *sheet.Plan
	// Passes of the press, in order; none = no press is known, and marks are black.
	Passes []Pass
	// Only is the pass whose artwork this is, from 1: of marks, bar and label only that pass's are drawn, where they lie on the
	// sheet of all passes, so that the next pass lays its own beside and over them; where it prints one side alone, the file has that
	// side alone. 0 = the artwork is for all passes.
	Only int
	// Dark tells that black does not show on the stock: lines and type get white under them where white is laid down.
	Dark  bool
	Title string // named on every sheet
	// Blends tells whether anything on a page blends (displist.List.Blending); nil = all may.
	Blends func(page int) bool
	Sink   finding.Sink
	// Progress is told how many of the sheets are written; nil = nobody asks.
	Progress func(done, total int)
}

// Result is what was written.
type Result struct {
	Sheets int `json:"sheets"` // different ones
	Sides  int `json:"sides"`  // pages of the file
	Pages  int `json:"pages"`  // pages of the artwork that were placed
}

// Write writes the imposed file. The error is ctx's, w's, or that the artwork has no such page.
func Write(ctx context.Context, out io.Writer, j Job) (*Result, error) {
	if j.Sink == nil {
		j.Sink = finding.Discard
	}
	version := "1.7"
	if v := j.Doc.Version(); v == "2.0" {
		version = v
	}
	w := &writer{Job: j, out: pdf.NewWriter(out, version), pages: map[int]*page{}, told: map[string]bool{}, drawn: map[string]pdf.Ref{}}
	w.root()
	w.spaces()
	tree, bare := w.out.Reserve(), w.bare()
	var kids pdf.Array
	for i := range j.Plan.Count {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s := j.Plan.Sheet(i)
		for k, side := range []*sheet.Side{&s.Front, s.Back} {
			if side == nil || bare[k] {
				continue
			}
			ref, err := w.side(ctx, tree, s, side, [2]string{"front", "back"}[k])
			if err != nil {
				return nil, err
			}
			kids = append(kids, ref)
		}
		if err := w.out.Err(); err != nil {
			return nil, err
		}
		if j.Progress != nil {
			j.Progress(i+1, j.Plan.Count)
		}
	}
	w.out.Set(tree, pdf.Dict{"Type": pdf.Name("Pages"), "Kids": kids, "Count": pdf.Integer(len(kids))})
	w.finish(tree)
	return &Result{Sheets: j.Plan.Count, Sides: len(kids), Pages: len(w.pages)}, w.out.Close()
}

// bare tells of front and back whether the file's pass prints neither marks nor page there, on no sheet: the file then has the
// other sides alone, so that the stack goes through with one side printed.
func (w *writer) bare() (out [2]bool) {
	if w.Only == 0 {
		return out
	}
	out = [2]bool{true, true}
	for i := 0; i < w.Plan.Count && (out[0] || out[1]); i++ {
		s := w.Plan.Sheet(i)
		for k, side := range []*sheet.Side{&s.Front, s.Back} {
			if side != nil && out[k] {
				out[k] = !slices.ContainsFunc(w.marking(side).passes, func(p sidePass) bool { return p.at == w.Only-1 })
			}
		}
	}
	if out[0] && out[1] {
		return [2]bool{} // a pass that lays nothing is a file of empty sides
	}
	return out
}

// writer writes one file.
type writer struct {
	Job
	out     *pdf.Writer
	catalog pdf.Dict
	pages   map[int]*page
	colours pdf.Ref // resource dictionary of colour spaces of marks
	told    map[string]bool
	drawn   map[string]pdf.Ref // marks of sides, by side and passes
	letters letters
}

// root carries over what of the catalogue the pages lean on.
func (w *writer) root() {
	c := w.Doc.Catalog()
	w.catalog = pdf.Dict{"Type": pdf.Name("Catalog")}
	for _, k := range []pdf.Name{"OCProperties", "OutputIntents"} {
		if v := c[k]; w.Doc.Resolve(v) != nil {
			w.catalog[k] = w.out.Import(w.Doc, v)
		}
	}
}

func (w *writer) finish(tree pdf.Ref) {
	w.catalog["Pages"] = tree
	w.out.Trailer["Root"] = w.out.Add(w.catalog)
	info := pdf.Dict{"Title": pdf.String(plain(w.Title) + ", imposed")}
	if old, ok := w.Doc.Dict(w.Doc.Trailer()["Info"]); ok {
		if t, ok := w.Doc.Name(old["Trapped"]); ok {
			info["Trapped"] = t
		}
	}
	w.out.Trailer["Info"] = w.out.Add(info)
}

// plain keeps a title to letters every reader shows.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '_'
		}
		return r
	}, s)
}

// side writes one side of a sheet as a page.
func (w *writer) side(ctx context.Context, tree pdf.Ref, s sheet.Sheet, side *sheet.Side, name string) (pdf.Ref, error) {
	var b strings.Builder
	forms := pdf.Dict{}
	for _, p := range side.Placements {
		if err := ctx.Err(); err != nil {
			return pdf.Ref{}, err
		}
		pg, err := w.page(p.Page)
		if err != nil {
			return pdf.Ref{}, err
		}
		w.compare(pg, p)
		form := pdf.Name(fmt.Sprintf("P%d", p.Page))
		forms[form] = pg.form
		m := pg.onSheet(p, s.H)
		c := p.Clip
		fmt.Fprintf(&b, "q %s %s %s %s re W n %s cm /%s Do Q\n", pt(c.X), pt(s.H-c.Y-c.H), pt(c.W), pt(c.H), matrix(m), form)
	}
	resources := pdf.Dict{"XObject": forms}
	if len(side.Marks) > 0 {
		m := w.marking(side)
		forms["Marks"] = m.form(s, side, name)
		b.WriteString("q /Marks Do Q\n")
		m.label(&b, s, side, name)
		resources["ColorSpace"] = w.colours
		resources["ExtGState"] = overprint
	}
	contents := w.out.AddStream(pdf.Dict{}, []byte(b.String()), true)
	box := pdf.Array{pdf.Integer(0), pdf.Integer(0), pdf.Real(s.W * geom.PointsPerMM), pdf.Real(s.H * geom.PointsPerMM)}
	return w.out.Add(pdf.Dict{"Type": pdf.Name("Page"), "Parent": tree, "MediaBox": box, "Resources": resources, "Contents": contents}), nil
}

// compare tells once a page whose trim is not as large as the place it lies in; it lies in its middle.
func (w *writer) compare(pg *page, p sheet.Placement) {
	tw, th := p.Trim.W, p.Trim.H
	if p.Rotate%180 == 90 {
		tw, th = th, tw
	}
	const forgiven = 0.5 // mm: boxes are often rounded to whole points
	pw, ph := pg.trim.W()/geom.PointsPerMM, pg.trim.H()/geom.PointsPerMM
	if dw, dh := pw-tw, ph-th; dw < forgiven && dw > -forgiven && dh < forgiven && dh > -forgiven {
		return
	}
	f := finding.Finding{ID: "page-not-of-piece-size", Severity: finding.Warning, Place: finding.Place{Page: pg.number},
		What:   fmt.Sprintf("Page %d is %.1f × %.1f mm, the piece %.1f × %.1f mm; it lies in the middle of its place.", pg.number, pw, ph, tw, th),
		Why:    "It is cut where the piece ends, not where the page does.",
		Remedy: "Correct the page's TrimBox, or the key finished of the job."}
	if !pg.trimmed {
		f.Severity = finding.Note
		f.Remedy = "Set the page's TrimBox; its middle is taken as long as there is none."
	}
	w.tell(fmt.Sprint("size", pg.number), f)
}

func (w *writer) tell(key string, f finding.Finding) {
	if !w.told[key] {
		w.told[key] = true
		w.Sink.Add(f)
	}
}

package sheets

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plan/sheet"
)

// page is a page of the artwork as a form.
type page struct {
	number  int
	form    pdf.Ref
	toList  geom.Matrix // user space to points, as viewed, y down
	trim    geom.Rect   // as viewed, points
	trimmed bool        // the page has a TrimBox
}

// page gives page n, written when it is asked for the first time.
func (w *writer) page(n int) (*page, error) {
	if pg := w.pages[n]; pg != nil {
		return pg, nil
	}
	src, err := w.Doc.Page(n)
	if err != nil {
		return nil, err
	}
	pg := &page{number: n, toList: interp.PageMatrix(src)}
	box := func(b *[4]float64) [4]float64 {
		if b == nil {
			return src.CropBox // default of Bleed- and TrimBox (Table 31)
		}
		return *b
	}
	t := box(src.TrimBox)
	pg.trimmed = src.TrimBox != nil
	pg.trim = pg.toList.Bounds(geom.RectOf(t[0], t[1], t[2], t[3]))
	bleed := box(src.BleedBox)
	group := w.group(src)
	form, err := w.contents(src)
	if err != nil {
		return nil, err
	}
	notes := w.annotations(src)
	if len(notes.draw) > 0 {
		// A form around the page's own and its annotations: whatever state the page ends in, they begin afresh.
		notes.forms["Page"] = w.out.Add(form(bleed, nil))
		body := "/Page Do\n" + strings.Join(notes.draw, "")
		dict := formDict(bleed, group)
		dict["Resources"] = notes.resources()
		pg.form = w.out.AddStream(dict, []byte(body), true)
	} else {
		pg.form = w.out.Add(form(bleed, group))
	}
	if w.Doc.Resolve(src.Dict["OutputIntents"]) != nil {
		w.tell("intent", finding.Finding{ID: "page-intent-dropped", Severity: finding.Warning, Place: finding.Place{Page: n},
			What:   fmt.Sprintf("Page %d has an output intent of its own, which a page on a sheet cannot have.", n),
			Why:    "Its process colours may be read as meant for another printing condition.",
			Remedy: "Give the whole file one output intent where the artwork is exported."})
	}
	w.pages[n] = pg
	return pg, nil
}

func formDict(bbox [4]float64, group pdf.Dict) pdf.Dict {
	d := pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Form"), "BBox": reals(bbox[:]...)}
	if group != nil {
		d["Group"] = group
	}
	return d
}

// group is the page's group as a form's; nil where nothing blends.
func (w *writer) group(src *pdf.Page) pdf.Dict {
	g, ok := w.Doc.Dict(src.Dict["Group"])
	if !ok {
		return nil
	}
	knockout, _ := w.Doc.Bool(g["K"])
	if kind, _ := w.Doc.Name(g["S"]); kind != "Transparency" && kind != "" || !knockout && w.Blends != nil && !w.Blends(src.Number) {
		return nil
	}
	out := pdf.Dict{}
	for k, v := range w.out.Import(w.Doc, g).(pdf.Dict) {
		out[k] = v
	}
	out["Type"], out["S"], out["I"] = pdf.Name("Group"), pdf.Name("Transparency"), pdf.Boolean(true)
	return out
}

// contents prepares the form of the page's own contents. One stream keeps its data as stored; several are joined with a line
// end between them (7.8.2).
func (w *writer) contents(src *pdf.Page) (func(bbox [4]float64, group pdf.Dict) *pdf.Stream, error) {
	resources := w.out.Import(w.Doc, w.resources(src))
	make := func(base *pdf.Stream) func([4]float64, pdf.Dict) *pdf.Stream {
		return func(bbox [4]float64, group pdf.Dict) *pdf.Stream {
			d := formDict(bbox, group)
			d["Resources"] = resources
			for _, k := range []pdf.Name{"Filter", "DecodeParms"} {
				if v := base.Dict[k]; v != nil {
					d[k] = v
				}
			}
			s := base.WithDict(d)
			s.Ref = pdf.Ref{}
			return s
		}
	}
	entry := src.Dict["Contents"]
	if s, ok := w.Doc.Stream(entry); ok && s.Dict["F"] == nil {
		bare := pdf.Dict{}
		for _, k := range []pdf.Name{"Filter", "DecodeParms"} {
			if v := w.Doc.Resolve(s.Dict[k]); v != nil {
				bare[k] = v
			}
		}
		c := s.WithDict(bare)
		c.Ref = pdf.Ref{}
		return make(w.out.Import(w.Doc, c).(*pdf.Stream)), nil
	}
	list, _ := w.Doc.Array(entry)
	var data []byte
	for _, o := range list {
		s, ok := w.Doc.Stream(o)
		var b []byte
		var err error
		if ok {
			b, err = w.Doc.Data(s)
		}
		if !ok || err != nil {
			w.damaged(src.Number)
		}
		if len(data)+len(b) > limits.MaxDataBytes {
			w.damaged(src.Number)
			break
		}
		data = append(append(data, b...), '\n')
	}
	return make(pdf.NewStream(pdf.Dict{}, data, true)), nil
}

func (w *writer) damaged(n int) {
	w.tell(fmt.Sprint("damaged", n), finding.Finding{ID: "content-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
		What:   fmt.Sprintf("A part of the content of page %d cannot be read in full.", n),
		Why:    "What it draws is missing from the sheets.",
		Remedy: "Export the artwork again from the program that made it.", Place: finding.Place{Page: n}})
}

// resources of a page, as a reference where the page has one, so that pages that share it go on doing so.
func (w *writer) resources(src *pdf.Page) pdf.Object {
	if r, ok := src.Dict["Resources"].(pdf.Ref); ok {
		return r
	}
	return src.Resources
}

// drawn are annotations as forms.
type drawn struct {
	forms, properties, states pdf.Dict
	draw                      []string
}

func (d *drawn) resources() pdf.Dict {
	r := pdf.Dict{"XObject": d.forms}
	if len(d.properties) > 0 {
		r["Properties"] = d.properties
	}
	if len(d.states) > 0 {
		r["ExtGState"] = d.states
	}
	return r
}

// mostAnnotations of a page are folded in, as many as are read.
const mostAnnotations = 50_000

// annotations makes forms of the annotations of a page that print.
func (w *writer) annotations(src *pdf.Page) *drawn {
	out := &drawn{forms: pdf.Dict{}, properties: pdf.Dict{}, states: pdf.Dict{}}
	list, _ := w.Doc.Array(src.Dict["Annots"])
	for i, o := range list[:min(len(list), mostAnnotations)] {
		d, ok := w.Doc.Dict(o)
		if !ok {
			continue
		}
		s := interp.Appearance(w.Doc, d)
		if s == nil {
			continue
		}
		place, ok := w.appearancePlace(d, s)
		if !ok {
			w.tell(fmt.Sprint("annotation", src.Number), finding.Finding{ID: "annotation-damaged", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
				What:   fmt.Sprintf("An annotation of page %d that prints has no usable rectangle and is left out.", src.Number),
				Remedy: "Remove the annotation, or make it part of the page.", Place: finding.Place{Page: src.Number}})
			continue
		}
		form := w.appearance(src, s)
		name := pdf.Name(fmt.Sprintf("A%d", i))
		before, after := "q ", " Q"
		if mode := w.Doc.Resolve(d["BM"]); mode != nil {
			// The appearance is composited as a whole with the annotation's blend mode.
			out.states[name] = pdf.Dict{"Type": pdf.Name("ExtGState"), "BM": w.out.Import(w.Doc, mode)}
			before += "/" + string(name) + " gs "
			if _, grouped := w.Doc.Dict(s.Dict["Group"]); !grouped {
				wide := [4]float64{-1e5, -1e5, 1e5, 1e5}
				dict := formDict(wide, pdf.Dict{"Type": pdf.Name("Group"), "S": pdf.Name("Transparency")})
				dict["Resources"] = pdf.Dict{"XObject": pdf.Dict{name: form}}
				form = w.out.AddStream(dict, []byte("/"+string(name)+" Do"), false)
			}
		}
		if oc := d["OC"]; oc != nil {
			out.properties[name] = w.out.Import(w.Doc, oc)
			before, after = "/OC /"+string(name)+" BDC "+before, after+" EMC"
		}
		out.forms[name] = form
		out.draw = append(out.draw, fmt.Sprintf("%s%s cm /%s Do%s\n", before, matrix(place), name, after))
	}
	return out
}

// appearance is an appearance as a form. One that lacks resources draws with the page's; one that does not say it is a form is
// taken for one as an appearance, but not by an operator.
func (w *writer) appearance(src *pdf.Page, s *pdf.Stream) pdf.Object {
	kind, _ := w.Doc.Name(s.Dict["Subtype"])
	bare := w.Doc.Resolve(s.Dict["Resources"]) == nil
	if kind == "Form" && !bare {
		return w.out.Import(w.Doc, s)
	}
	own := pdf.Dict{}
	for k, v := range s.Dict {
		own[k] = v
	}
	own["Type"], own["Subtype"] = pdf.Name("XObject"), pdf.Name("Form")
	if bare {
		own["Resources"] = w.resources(src)
	}
	c := s.WithDict(own)
	c.Ref = pdf.Ref{}
	return w.out.Add(w.out.Import(w.Doc, c))
}

func (w *writer) appearancePlace(d pdf.Dict, s *pdf.Stream) (geom.Matrix, bool) {
	rect, ok := w.Doc.Nums(d["Rect"])
	bbox, ok2 := w.Doc.Nums(s.Dict["BBox"])
	if !ok || !ok2 || len(rect) != 4 || len(bbox) != 4 {
		return geom.Identity, false
	}
	m := geom.Identity
	if v, ok := w.Doc.Nums(s.Dict["Matrix"]); ok && len(v) == 6 {
		m = geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
	}
	return interp.AppearancePlace(geom.RectOf(rect[0], rect[1], rect[2], rect[3]), geom.RectOf(bbox[0], bbox[1], bbox[2], bbox[3]), m)
}

// onSheet is the matrix from the page's user space to the sheet's.
func (p *page) onSheet(pl sheet.Placement, sheetH float64) geom.Matrix {
	return OnSheet(p.toList, p.trim, pl, sheetH)
}

// OnSheet is the matrix from a page's user space to that of a side sheetH mm high (points, y up, the lead edge on top): the middle
// of the trim comes to the middle of its place, turned. The trim is in list space, to which toList leads.
func OnSheet(toList geom.Matrix, trim geom.Rect, pl sheet.Placement, sheetH float64) geom.Matrix {
	cx, cy := (trim.X0+trim.X1)/2, (trim.Y0+trim.Y1)/2
	turn := geom.Identity // clockwise with y down
	switch pl.Rotate {
	case 90:
		turn = geom.Matrix{B: 1, C: -1}
	case 180:
		turn = geom.Matrix{A: -1, D: -1}
	case 270:
		turn = geom.Matrix{B: -1, C: 1}
	}
	x, y := pl.Trim.X+pl.Trim.W/2, pl.Trim.Y+pl.Trim.H/2
	m := toList.Mul(geom.Translate(-cx, -cy)).Mul(turn).Mul(geom.Translate(x*geom.PointsPerMM, y*geom.PointsPerMM))
	return m.Mul(geom.Matrix{A: 1, D: -1, F: sheetH * geom.PointsPerMM})
}

func reals(v ...float64) pdf.Array {
	a := make(pdf.Array, len(v))
	for i, x := range v {
		a[i] = pdf.Real(x)
	}
	return a
}

// num writes a number with at most five decimals: a millionth of a point is beyond any press.
func num(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e5)/1e5+0, 'f', -1, 64)
}

// pt writes millimetres as points.
func pt(mm float64) string { return num(mm * geom.PointsPerMM) }

func matrix(m geom.Matrix) string {
	f := func(v float64) string { return strconv.FormatFloat(math.Round(v*1e8)/1e8+0, 'f', -1, 64) }
	return f(m.A) + " " + f(m.B) + " " + f(m.C) + " " + f(m.D) + " " + num(m.E) + " " + num(m.F)
}

package mend

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sort"
	"strconv"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
	"laydown/internal/plates/separate"
)

// Page is a page as it was read.
type Page struct {
	List   *displist.List
	Target *separate.Target
}

// Reader reads pages; what it gives must not be changed.
type Reader func(ctx context.Context, page int) (*Page, error)

// Edit collects the changes of one remedy. It is not safe for concurrent use.
type Edit struct {
	Doc   *pdf.Document
	In    Input
	Pages []int // those to be mended

	read     Reader
	up       *pdf.Update
	contexts map[string]*stream // by where they are drawn
	pages    map[int]*pageEdit
	copies   map[string]pdf.Ref // forms already copied, by what was changed in them
	defs     *definitions
	allowed  []Allowance
	notes    []string
	changed  bool             // something of the document is replaced
	asked    map[place]Change // of operators, as they were read
	keeps    bool             // what alters does not name stays
	alters   Alters
}

// Allowance is where plates may differ after a remedy.
type Allowance struct {
	Page  int        // 0 = every page
	Where *geom.Rect // list space; nil = the whole page
	// Colourants are the plates that may differ, byte for byte; nil = all.
	Colourants []string
	Geometry   bool // the page boxes may change
	Rounding   bool // by one level of 255 only: blending is worked out in another depth than painting
}

// NewEdit starts a set of changes to the pages named.
func NewEdit(doc *pdf.Document, in Input, pages []int, read Reader) *Edit {
	return &Edit{Doc: doc, In: in, Pages: pages, read: read, up: pdf.NewUpdate(doc), contexts: map[string]*stream{},
		pages: map[int]*pageEdit{}, copies: map[string]pdf.Ref{}, asked: map[place]Change{}}
}

// Each calls f with every page to be mended.
func (e *Edit) Each(ctx context.Context, f func(p *Page) error) error {
	for _, n := range e.Pages {
		p, err := e.read(ctx, n)
		if err != nil {
			return err
		}
		if err := f(p); err != nil {
			return err
		}
	}
	return nil
}

// EachAll calls f with every page of the document: for what is changed in all of it.
func (e *Edit) EachAll(ctx context.Context, f func(p *Page) error) error {
	for n := range e.Doc.NumPages() {
		p, err := e.read(ctx, n+1)
		if err != nil {
			return err
		}
		if err := f(p); err != nil {
			return err
		}
	}
	return nil
}

// Allow lets plates of a page differ in a box; the box and the names may be left out.
func (e *Edit) Allow(page int, where *geom.Rect, colourants ...string) {
	e.allowed = append(e.allowed, Allowance{Page: page, Where: where, Colourants: colourants})
}

// Allowed is what was allowed.
func (e *Edit) Allowed() []Allowance { return e.allowed }

// Note tells a person something about what was or could not be done; the same text once.
func (e *Edit) Note(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(e.notes, s) {
		e.notes = append(e.notes, s)
	}
}

// Notes are the remarks made.
func (e *Edit) Notes() []string { return e.notes }

// Colour is a colour to paint with: a device space's name or a space object, and its components.
type Colour struct {
	Space pdf.Object
	Comps []float64
}

// Change is what an operator that paints is to do otherwise. The zero value changes nothing.
type Change struct {
	Fill, Stroke         *Colour
	OverFill, OverStroke *bool // overprint
	Mode                 *int  // overprint mode, 0 or 1
	Blend                *displist.Blend
	Width                float64     // of lines, in user space; 0 = as it was
	Hide                 bool        // it paints nothing
	XObject              *pdf.Object // drawn in place of its own
	Choke                *Choke      // made smaller all round
}

// Choke takes the rim off a filled shape: its outline is drawn once more, overprinting with no toner.
type Choke struct {
	Space  pdf.Object // of the one colourant
	Points float64    // list space
	// Within keeps to the shape itself, where others of the colourant lie next to it. Pixels of its very edge may then keep some toner.
	Within bool
}

// with adds what another item of the same operator asks for.
func (c Change) with(d Change) Change {
	if d.Fill != nil {
		c.Fill = d.Fill
	}
	if d.Stroke != nil {
		c.Stroke = d.Stroke
	}
	if d.OverFill != nil {
		c.OverFill = d.OverFill
	}
	if d.OverStroke != nil {
		c.OverStroke = d.OverStroke
	}
	if d.Mode != nil {
		c.Mode = d.Mode
	}
	if d.Blend != nil {
		c.Blend = d.Blend
	}
	if d.Width != 0 {
		c.Width = d.Width
	}
	if d.XObject != nil {
		c.XObject = d.XObject
	}
	if d.Choke != nil {
		c.Choke = d.Choke
	}
	c.Hide = c.Hide || d.Hide
	return c
}

func (c Change) state() bool {
	return c.OverFill != nil || c.OverStroke != nil || c.Mode != nil || c.Blend != nil
}

// errUnreachable: the item is drawn by a stream that cannot be changed for this occurrence alone.
var errUnreachable = errors.New("drawn by an annotation, a letter drawn as a picture, or the cell of a pattern")

// Change asks for item i of the page to be painted otherwise. What cannot be changed where it stands gives an error that says
// why; the remedy then leaves it and tells so.
func (e *Edit) Change(p *Page, i int, c Change) error {
	it := &p.List.Items[i]
	if c.Fill != nil && it.Kind == displist.Stroke {
		c.Fill, c.Stroke = nil, c.Fill
	}
	if c.OverFill != nil && it.Kind == displist.Stroke {
		c.OverFill, c.OverStroke = nil, c.OverFill
	}
	s, err := e.streamOf(p, &it.Origin)
	if err != nil {
		return err
	}
	s.changes[it.Origin.Offset] = s.changes[it.Origin.Offset].with(c)
	at := placeOf(&it.Origin)
	e.asked[at] = e.asked[at].with(c)
	return nil
}

// streamOf is the content stream an item comes from, as it is drawn there.
func (e *Edit) streamOf(p *Page, o *displist.Origin) (*stream, error) {
	if o.Annotation != 0 {
		return nil, errUnreachable
	}
	s, err := e.pageStream(p)
	if err != nil {
		return nil, err
	}
	var path []*displist.FormPath
	for f := o.Forms; f != nil; f = f.Parent {
		path = append(path, f)
	}
	for _, f := range slices.Backward(path) {
		if s, err = e.formStream(s, f); err != nil {
			return nil, err
		}
	}
	if len(path) > 0 && o.Object != path[0].Object || len(path) == 0 && !slices.ContainsFunc(p.List.Page.Contents,
		func(c displist.ContentPart) bool { return c.Object == o.Object }) {
		return nil, errUnreachable
	}
	return s, nil
}

// pageStream is the content of a page.
func (e *Edit) pageStream(p *Page) (*stream, error) {
	n := p.List.Page.Number
	key := "p" + strconv.Itoa(n)
	if s, ok := e.contexts[key]; ok {
		return s, nil
	}
	pe, err := e.page(n)
	if err != nil {
		return nil, err
	}
	data, parts, err := e.contents(pe)
	if err != nil {
		return nil, err
	}
	if len(parts) != len(p.List.Page.Contents) {
		return nil, fmt.Errorf("the content of page %d cannot be read in full", n)
	}
	s := &stream{e: e, key: key, page: pe, data: data, parts: parts, dict: pe.of.Resources, changes: map[int64]Change{}, added: map[pdf.Name]pdf.Dict{}}
	s.begin = pageState(s)
	e.contexts[key] = s
	return s, nil
}

// contentPart is one stream of a page's contents.
type contentPart struct {
	entry pdf.Object // as it stands in Contents
	start int64
	data  []byte
}

// contents joins the streams of a page as they are joined when read.
func (e *Edit) contents(pe *pageEdit) (data []byte, parts []contentPart, err error) {
	entry := pe.of.Dict["Contents"]
	streams := pdf.Array{entry}
	if a, ok := e.Doc.Array(entry); ok {
		streams = a
	} else if e.Doc.Resolve(entry) == nil {
		return nil, nil, nil
	}
	for _, o := range streams {
		s, ok := e.Doc.Stream(o)
		if !ok {
			continue
		}
		b, err := e.Doc.Data(s)
		if err != nil {
			return nil, nil, fmt.Errorf("the content of page %d is damaged: %w", pe.of.Number, err)
		}
		parts = append(parts, contentPart{entry: o, start: int64(len(data)), data: b})
		data = append(append(data, b...), '\n')
	}
	return data, parts, nil
}

// formStream is a form as drawn from s.
func (e *Edit) formStream(s *stream, f *displist.FormPath) (*stream, error) {
	key := s.key + "/" + strconv.FormatInt(f.Offset, 10)
	if t, ok := e.contexts[key]; ok {
		return t, nil
	}
	st, ok := e.Doc.Stream(pdf.Ref{Num: f.Object})
	if !ok || f.Object == 0 {
		return nil, errUnreachable
	}
	data, err := e.Doc.Data(st)
	if err != nil {
		return nil, fmt.Errorf("a form is damaged: %w", err)
	}
	t := &stream{e: e, key: key, form: st, parent: s, do: f.Offset, data: data, dict: s.dict, changes: map[int64]Change{}, added: map[pdf.Name]pdf.Dict{}}
	if own, ok := e.Doc.Dict(st.Dict["Resources"]); ok {
		t.dict = own
	} else {
		t.borrowed = true
	}
	e.contexts[key] = t
	return t, nil
}

// pageEdit is a page with changes.
type pageEdit struct {
	of     *pdf.Page
	set    pdf.Dict // entries to be replaced; nil value = removed
	before []byte   // content drawn before the page's own
	after  []byte   // and after it
}

func (e *Edit) page(n int) (*pageEdit, error) {
	if pe, ok := e.pages[n]; ok {
		return pe, nil
	}
	pg, err := e.Doc.Page(n)
	if err != nil {
		return nil, err
	}
	if pg.Ref.Num == 0 {
		return nil, fmt.Errorf("page %d is no object of its own in the file; save it again with another program first", n)
	}
	pe := &pageEdit{of: pg, set: pdf.Dict{}}
	e.pages[n] = pe
	return pe, nil
}

// set replaces an object of the document. Objects that are only added change nothing.
func (e *Edit) set(r pdf.Ref, o pdf.Object) {
	e.changed = true
	e.up.Set(r, o)
}

// Changed reports, after Update, whether there is anything to write.
func (e *Edit) Changed() bool { return e.changed }

// Update is the document with all changes.
func (e *Edit) Update() (*pdf.Update, error) {
	keys := make([]string, 0, len(e.contexts))
	for k := range e.contexts {
		keys = append(keys, k)
	}
	// Inner forms first: what draws them has to draw the copies.
	depth := func(k string) int { return len(pathOf(k)) }
	sort.Slice(keys, func(i, j int) bool {
		if a, b := depth(keys[i]), depth(keys[j]); a != b {
			return a > b
		}
		return keys[i] < keys[j]
	})
	for _, k := range keys {
		s := e.contexts[k]
		var err error
		if s.form != nil {
			err = e.finishForm(s)
		} else {
			err = e.finishPage(s)
		}
		if err != nil {
			return nil, err
		}
	}
	nums := make([]int, 0, len(e.pages))
	for n := range e.pages {
		nums = append(nums, n)
	}
	sort.Ints(nums)
	for _, n := range nums {
		pe := e.pages[n]
		if len(pe.set) == 0 {
			continue
		}
		d := copyOf(pe.of.Dict)
		if now, ok := e.up.Resolve(pe.of.Ref).(pdf.Dict); ok {
			d = copyOf(now)
		}
		for k, v := range pe.set {
			if v == nil {
				delete(d, k)
			} else {
				d[k] = v
			}
		}
		e.set(pe.of.Ref, d)
	}
	return e.up, nil
}

func pathOf(key string) (parts []int) {
	for i, c := range key {
		if c == '/' {
			parts = append(parts, i)
		}
	}
	return parts
}

// finishForm writes the copy of a form and lets its drawer draw that.
func (e *Edit) finishForm(s *stream) error {
	splices, err := s.splices()
	if err != nil || len(splices) == 0 {
		return err
	}
	data := apply(s.data, splices)
	dict := copyOf(s.form.Dict)
	for _, k := range []pdf.Name{"Filter", "DecodeParms", "F", "FFilter", "FDecodeParms", "Length", "DL"} {
		delete(dict, k)
	}
	if len(s.added) > 0 || s.borrowed {
		dict["Resources"] = s.resources()
	}
	key := string(pdf.AppendObject(data[:len(data):len(data)], dict))
	ref, ok := e.copies[key]
	if !ok {
		ref = e.up.AddStream(dict, data, true)
		e.copies[key] = ref
	}
	var o pdf.Object = ref
	s.parent.changes[s.do] = s.parent.changes[s.do].with(Change{XObject: &o})
	return nil
}

// finishPage writes the changed streams of a page anew, and its resources.
func (e *Edit) finishPage(s *stream) error {
	splices, err := s.splices()
	if err != nil {
		return err
	}
	pe := s.page
	if len(s.added) > 0 {
		pe.set["Resources"] = s.resources()
	}
	if len(splices) == 0 && len(pe.before) == 0 && len(pe.after) == 0 {
		return nil
	}
	var out pdf.Array
	if len(pe.before) > 0 {
		out = append(out, e.up.AddStream(pdf.Dict{}, pe.before, true))
	}
	for _, part := range s.parts {
		end := part.start + int64(len(part.data))
		var mine []splice
		for _, c := range splices {
			if c.at < part.start || c.at > end {
				continue
			}
			if c.at+c.del > end {
				return fmt.Errorf("page %d: what is to be changed is spread over several streams; save the file again with another program first", pe.of.Number)
			}
			c.at -= part.start
			mine = append(mine, c)
		}
		if len(mine) == 0 {
			out = append(out, part.entry)
			continue
		}
		out = append(out, e.up.AddStream(pdf.Dict{}, apply(part.data, mine), true))
	}
	if len(pe.after) > 0 {
		out = append(out, e.up.AddStream(pdf.Dict{}, pe.after, true))
	}
	if len(out) == 1 {
		pe.set["Contents"] = out[0]
	} else {
		pe.set["Contents"] = out
	}
	return nil
}

// splice replaces del bytes at a place by text.
type splice struct {
	at, del int64
	text    string
}

// apply carries splices out; they are in order and do not overlap.
func apply(data []byte, splices []splice) []byte {
	out := make([]byte, 0, len(data)+64*len(splices))
	at := int64(0)
	for _, s := range splices {
		out = append(append(out, data[at:s.at]...), s.text...)
		at = s.at + s.del
	}
	return append(out, data[at:]...)
}

func copyOf(d pdf.Dict) pdf.Dict {
	out := make(pdf.Dict, len(d)+1)
	for k, v := range d {
		out[k] = v
	}
	return out
}

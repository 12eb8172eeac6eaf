// Package artwork writes the artwork of one pass: a PDF that holds only the colourants the pass lays down, with pages, boxes
// and all else as they were. What an object does to the plates of the pass (paint, clear, leave) is asked of plates/separate
// where it stands in its content stream, and the object is given a colour that does the same when the other plates are gone:
//
//	all it names is in the pass              as it was
//	some of it is                            the rest is left out: of colours by naming less, of images and shadings by None
//	nothing is, and it clears (no overprint)  no toner of a colourant of the pass
//	nothing is, and it leaves (overprint)     nothing; where its shape counts, no toner of another colourant, overprinting
//
// Shape counts in isolated and knockout groups and under blend modes (ISO 32000-2, 11.4, 11.7.4.3). Soft masks stay as they are:
// they are worked out from stand-in colours (11.7.3).
//
// Streams are written anew as a whole. Colours and overprint are set where something is painted, for it alone decides what it
// does to a plate whether overprint is on. Forms, cells of patterns and letters drawn as pictures are copied for each state
// they are drawn in.
package artwork

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/separate"
)

// Page is a page as it was read, and what it is separated for.
type Page struct {
	List   *displist.List
	Target *separate.Target
}

// Reader reads pages; what it gives must not be changed.
type Reader func(ctx context.Context, page int) (*Page, error)

// File is the artwork of one pass. Its document is written by Update.WriteFull: what the pass does not need is gone then.
type File struct {
	Toners []string // of the pass, first laid first
	Update *pdf.Update
	// Refused says what cannot be expressed in a pass of its own; such a file is not to be used.
	Refused []finding.Finding
	// Empty are the pages the pass lays nothing on.
	Empty []int
}

// Split makes the artwork of each pass. A pass is the toners it lays down, by the names of the press's plates; a toner may be in
// more than one. The error is one of reading, or ctx's.
func Split(ctx context.Context, doc *pdf.Document, read Reader, passes [][]string) ([]*File, error) {
	list := make([]Pass, len(passes))
	for i, toners := range passes {
		list[i].Toners = toners
	}
	return SplitPages(ctx, doc, read, list)
}

// Pass is what one pass lays down: Toners on every page or, where On is given, on each page what On tells, which are some of them.
type Pass struct {
	Toners []string
	On     func(page int) []string
}

// SplitPages is Split where a pass may lay less on one page than on another: what it lays on a page is what its file holds of it.
func SplitPages(ctx context.Context, doc *pdf.Document, read Reader, passes []Pass) ([]*File, error) {
	files := make([]*File, len(passes))
	for i := range passes {
		s := newSplitter(doc, passes[i].Toners)
		for n := 1; n <= doc.NumPages(); n++ {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			p, err := read(ctx, n)
			if err != nil {
				return nil, err
			}
			if passes[i].On != nil {
				s.lay(passes[i].On(n))
			}
			if err := s.turn(n, p); err != nil {
				return nil, err
			}
		}
		files[i] = s.file()
	}
	return files, nil
}

// splitter makes the file of one pass.
type splitter struct {
	doc    *pdf.Document
	up     *pdf.Update
	all    []string // toners of the pass
	toners []string // those of the page at hand
	spaces *colour.Reader
	images *image.Reader
	found  finding.Collector
	empty  []int

	// Of the page at hand:
	number  int
	target  *separate.Target
	inker   *separate.Inker
	plates  []bool // of the target: in the pass
	process bool   // a process toner is in the pass
	blends  bool   // the page does

	looks    map[string][4]float64 // stand-in of a full tint, C M Y K
	own      map[string]pdf.Object // Separation spaces of the artwork, by their name
	made     map[string]pdf.Object // spaces and functions made, by what they are
	streams  map[string]pdf.Ref    // streams made, by what they hold
	done     map[string]pdf.Object // streams rewritten, by where they come from and the state they are drawn in
	running  map[string]bool
	fonts    map[pdf.Ref]*procedures
	shadings map[pdf.Ref]*displist.Shading
	stood    map[*pdf.Stream]string // keys of direct streams
	nodes    map[int]bool           // of the page tree, rid of resources
	layers   map[string]showing     // by their entry as text
}

func newSplitter(doc *pdf.Document, toners []string) *splitter {
	spaces := colour.NewReader(doc, finding.Discard)
	return &splitter{doc: doc, up: pdf.NewUpdate(doc), all: toners, toners: toners, spaces: spaces, images: image.NewReader(doc, spaces, finding.Discard),
		looks: map[string][4]float64{}, own: map[string]pdf.Object{}, made: map[string]pdf.Object{}, streams: map[string]pdf.Ref{},
		done: map[string]pdf.Object{}, running: map[string]bool{}, fonts: map[pdf.Ref]*procedures{}, shadings: map[pdf.Ref]*displist.Shading{}, stood: map[*pdf.Stream]string{}, nodes: map[int]bool{}, layers: map[string]showing{}}
}

func (s *splitter) file() *File {
	s.catalogue()
	f := &File{Toners: s.all, Update: s.up, Empty: s.empty}
	for _, x := range s.found.Sorted() {
		f.Refused = append(f.Refused, x)
	}
	return f
}

// lay sets what the pass lays on the next page. What was written for other toners does not hold for these.
func (s *splitter) lay(toners []string) {
	if !slices.Equal(s.toners, toners) {
		s.toners = toners
		clear(s.done)
	}
}

// turn makes the page of the pass out of page n.
func (s *splitter) turn(n int, p *Page) error {
	s.number = n
	if s.target != p.Target {
		// What was decided for one target does not hold for another: output intents of pages differ.
		s.target, s.inker = p.Target, p.Target.NewInker()
		clear(s.done)
	}
	s.plates, s.process = make([]bool, s.target.Set.Len()), false
	for i, c := range s.target.Set.All() {
		s.plates[i] = slices.Contains(s.toners, c.Name)
		s.process = s.process || s.plates[i] && i < len(colourant.ProcessNames)
	}
	s.learn(p.List)
	s.blends = p.List.Blending
	s.gather(p.List.Items)
	err := s.layered(p.List)
	if err == nil {
		err = s.page(n, p)
	}
	var r *refusal
	if errors.As(err, &r) {
		s.refuse(r)
		return nil
	}
	return err
}

// refusal is something that cannot be expressed when the other plates are gone.
type refusal struct{ what, remedy string }

func (r *refusal) Error() string { return r.what }

func cannot(remedy, format string, args ...any) error {
	return &refusal{fmt.Sprintf(format, args...), remedy}
}

// refuse notes it as a finding of the page.
func (s *splitter) refuse(r *refusal) {
	s.found.Add(finding.Finding{ID: "pass-not-expressible", Severity: finding.Error, Class: finding.Unsupported,
		What:   fmt.Sprintf("The artwork of the pass of %s cannot be written: %s.", textList(s.toners), r.what),
		Why:    "Printed from such a file, the pass would differ from the plates of the whole.",
		Remedy: r.remedy, Place: finding.Place{Page: s.number, Colourants: s.toners}})
}

func textList(names []string) string {
	switch n := len(names); n {
	case 0:
		return "no toner"
	case 1:
		return names[0]
	default:
		out := names[0]
		for _, x := range names[1 : n-1] {
			out += ", " + x
		}
		return out + " and " + names[n-1]
	}
}

// inPass reports whether component i of a context is laid down in the pass. Process components of another blending space than
// CMYK stand for all process toners.
func (s *splitter) inPass(i int, ctx separate.Context) bool {
	n := ctx.Space.ProcessComponents()
	switch {
	case i >= n:
		return s.plates[i-n+len(colourant.ProcessNames)]
	case ctx.Space == separate.BlendCMYK:
		return s.plates[i]
	}
	return s.process
}

// uses reports whether something of the list may lay toner of the pass.
func (s *splitter) uses(list *displist.List) bool {
	if !list.Blending { // its space does not count then; see paint.RootContext
		plain := *list
		plain.Group, list = nil, &plain
	}
	for _, st := range s.target.Plan(list) {
		it := &list.Items[st.Item]
		if t := it.Paint.Tiling; st.Ink == nil && t != nil && !it.Hidden {
			if s.uses(&displist.List{Items: t.Items}) {
				return true
			}
		}
		if b := it.Blend; s.process && b.Separable() && !b.WhitePreserving() && !it.Hidden {
			return true // it makes process toner of none
		}
		if st.Ink == nil {
			continue
		}
		for i, e := range st.Ink.Effects {
			if e == separate.Paint && (st.Sampled || st.Ink.Values[i] > 0) && s.inPass(i, st.Context) {
				return true
			}
		}
	}
	return false
}

// rootEnv is what surrounds the content of a page. Where something on it blends with what lies below in a mode that takes paper for
// another backdrop than marks without toner, the shape of every mark counts; also where the page blends in a space of its own, which
// it does only as long as something on it blends.
func rootEnv(list *displist.List) env {
	ctx := paint.RootContext(list)
	return env{ctx: ctx, shape: tellsPaper(list.Items) || list.Group != nil && list.Group.Knockout || ctx.Space != separate.BlendCMYK}
}

// tellsPaper reports modes with B(1, cs) other than cs (Tables 134 and 135): all but Normal, Multiply and Darken.
func tellsPaper(items []displist.Item) bool {
	for i := range items {
		it := &items[i]
		switch it.Blend {
		case displist.Normal, displist.Multiply, displist.Darken:
		default:
			return true
		}
		if t := it.Paint.Tiling; t != nil && t.Blending && tellsPaper(t.Items) {
			return true
		}
	}
	return false
}

// Package starter writes what a designer starts from: a PDF that carries every colourant and mix of a press, rightly defined,
// with a legend of tints and pairs, to be placed in a design program; and a sheet on how to set up and export a document.
// The same press gives the same bytes.
package starter

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/handover/pdfpage"
	"laydown/internal/press"
)

// Contents tells what a starter holds.
type Contents struct {
	Pages   int      `json:"pages"`
	Colours []string `json:"colours"`            // names of toners and mixes, byte for byte
	LeftOut []string `json:"left_out,omitempty"` // toners and mixes that no set of the press can lay
	Patches []Patch  `json:"patches"`
}

// Patch is an area of one colour in the starter.
type Patch struct {
	Page  int                `json:"page"`
	X     float64            `json:"x"` // mm from the top left corner of the page
	Y     float64            `json:"y"`
	W     float64            `json:"w"`
	H     float64            `json:"h"`
	Tints map[string]float64 `json:"tints"`          // percent by toner, as the press lays it
	Mix   string             `json:"mix,omitempty"`  // the mix painted by its own name, and
	Tint  float64            `json:"tint,omitempty"` // its tint; its toners otherwise
}

// steps of tint shown, percent, of those a toner holds.
var steps = []float64{100, 80, 60, 40, 20, 10}

// Write writes the starter of a press. The intent is its printing condition; nil = none is named.
func Write(w io.Writer, p *press.Press, intent *pdfpage.Intent) (*Contents, error) {
	doc, err := pdfpage.New(w, pdfpage.Info{Title: "Colours of " + p.Title, Intent: intent})
	if err != nil {
		return nil, err
	}
	s := &starter{p: p, doc: doc, colours: map[string]pdf.Ref{}, out: &Contents{}}
	s.define()
	if len(s.out.Colours) == 0 {
		return nil, fmt.Errorf("no set of press %s carries a toner", p.Name)
	}
	s.states()
	s.f = doc.NewFlow(0)
	s.f.Margin = 14
	s.f.Each = func(*pdfpage.Page) { s.out.Pages++ }
	s.draw()
	s.f.Break()
	return s.out, doc.Close()
}

// starter is a file being made.
type starter struct {
	p       *press.Press
	doc     *pdfpage.Document
	f       *pdfpage.Flow
	colours map[string]pdf.Ref // Separation spaces by name
	blends  map[string]pdf.Ref // DeviceN spaces by mix
	keep    pdf.Ref            // overprint on
	knock   pdf.Ref            // overprint off
	order   []string           // in which all toners are laid; nil = not yet asked
	out     *Contents
}

// carried tells whether sets of the press together lay the toners.
func (s *starter) carried(names ...string) bool {
	_, err := s.p.Passes(names)
	return err == nil
}

// define makes the spaces of all that can be laid.
func (s *starter) define() {
	w := s.doc.Writer()
	s.blends = map[string]pdf.Ref{}
	add := func(name string, standIn [4]press.Percent) {
		s.colours[name] = w.Add(pdf.Spot(name, press.Shares(standIn)))
		s.out.Colours = append(s.out.Colours, name)
	}
	for i := range s.p.Toners {
		t := &s.p.Toners[i]
		if !s.carried(t.Name) {
			s.out.LeftOut = append(s.out.LeftOut, t.Name)
			continue
		}
		add(t.Name, t.StandIn)
	}
	for i := range s.p.Mixes {
		m := &s.p.Mixes[i]
		if !s.carried(m.Name) {
			s.out.LeftOut = append(s.out.LeftOut, m.Name)
			continue
		}
		add(m.Name, m.StandIn)
		s.blends[m.Name] = w.Add(s.blend(m))
	}
}

func unitRange(n int) (a pdf.Array) {
	for range n {
		a = append(a, pdf.Real(0), pdf.Real(1))
	}
	return a
}

// blend is a mix as its toners: a DeviceN space of subtype NChannel (8.6.6.5), each spot with its own space among the
// Colorants, process toners told by Process.
func (s *starter) blend(m *press.Mix) pdf.Array {
	var names pdf.Array
	var standIns [][4]press.Percent
	colorants := pdf.Dict{}
	process := false
	for _, part := range m.Parts {
		names = append(names, pdf.Name(part.Toner))
		if t, ok := s.p.Toner(part.Toner); ok {
			standIns = append(standIns, t.StandIn)
		}
		if slices.Contains(colourant.ProcessNames[:], part.Toner) {
			process = true
			continue
		}
		colorants[pdf.Name(part.Toner)] = s.colours[part.Toner]
	}
	attributes := pdf.Dict{"Subtype": pdf.Name("NChannel"), "Colorants": colorants}
	if process {
		attributes["Process"] = pdf.Dict{"ColorSpace": pdf.Name("DeviceCMYK"), "Components": pdf.Array{pdf.Name(colourant.Cyan),
			pdf.Name(colourant.Magenta), pdf.Name(colourant.Yellow), pdf.Name(colourant.Black)}}
	}
	function := s.doc.Writer().AddStream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": unitRange(len(names)), "Range": unitRange(4)},
		[]byte(overlay(standIns)), false)
	return pdf.Array{pdf.Name("DeviceN"), names, pdf.Name("DeviceCMYK"), function, attributes}
}

// overlay is a calculator function (7.10.5) that lays stand-in colours over each other: of each process colour there is
// 1 - (1 - t1 s1)(1 - t2 s2) …, t being tints and s stand-in colours.
func overlay(standIns [][4]press.Percent) string {
	n := len(standIns)
	var b strings.Builder
	b.WriteString("{")
	for k := range 4 {
		b.WriteString(" 1")
		for j := range n {
			// Above the tint lie the tints after it, k results and the product so far.
			fmt.Fprintf(&b, " %d index %g mul 1 exch sub mul", n-j+k, float64(standIns[j][k])/100)
		}
		b.WriteString(" 1 exch sub")
	}
	fmt.Fprintf(&b, " %d 4 roll", n+4)
	b.WriteString(strings.Repeat(" pop", n) + " }")
	return b.String()
}

func (s *starter) states() {
	state := func(on bool) pdf.Ref {
		return s.doc.Writer().Add(pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(on), "op": pdf.Boolean(on), "OPM": pdf.Integer(1)})
	}
	s.keep, s.knock = state(true), state(false)
}

// overprint sets the overprint of what is painted next.
func (s *starter) overprint(on bool) {
	r := s.knock
	if on {
		r = s.keep
	}
	s.f.Page.Op("/%s gs", s.f.Page.Resource("ExtGState", r))
}

// inked makes text of the press's black, or of its first toner where it has none, knocking out nothing.
func (s *starter) inked(page *pdfpage.Page) string {
	if s.carried(colourant.Black) {
		return "0 0 0 1 k"
	}
	return fmt.Sprintf("/%s cs 1 scn", page.Resource("ColorSpace", s.colours[s.out.Colours[0]]))
}

// paint fills an area with tints of a space, 0 to 100 each, and notes it.
func (s *starter) paint(space pdf.Ref, x, y, w, h float64, patch Patch, tints ...float64) {
	page := s.f.Page
	args := ""
	for _, t := range tints {
		args += fmt.Sprintf("%.4g ", t/100)
	}
	page.Op("/%s cs %sscn", page.Resource("ColorSpace", space), args)
	page.Box(x, y, w, h)
	page.Op("f")
	patch.Page, patch.X, patch.Y, patch.W, patch.H = s.out.Pages, x, y, w, h
	s.out.Patches = append(s.out.Patches, patch)
}

package mend

import (
	"context"
	"fmt"
	"math"
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var embedNeeded = &Remedy{
	ID:      "embed-needed",
	Title:   "Put the letters that stand in for a font that is not in the file into it, so that every machine prints the same.",
	Answers: []finding.ID{"font-not-embedded"},
	Options: []Option{{"font", "only the font of this name", false}},
	Offer: func(*finding.Finding, *Input) []Options {
		return []Options{{}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		m := &embedder{e: e, ctx: ctx, want: o["font"], reader: font.NewReader(e.Doc, finding.Discard), programs: map[string]pdf.Ref{}, done: map[string]bool{}}
		e.rewrite(func(o pdf.Object) pdf.Object {
			if d, ok := o.(pdf.Dict); ok {
				return m.font(d)
			}
			return nil
		})
		if m.err != nil || len(m.done) == 0 {
			return m.err
		}
		e.Keep(AltersLetters)
		return e.EachAll(ctx, func(p *Page) error {
			for i := range p.List.Items {
				it := &p.List.Items[i]
				if showsFont(it, m.done) {
					box := p.box(i)
					// A letter may have been stretched to the width the file gives.
					box = box.Grow(box.H())
					e.allowed = append(e.allowed, Allowance{Page: p.List.Page.Number, Where: &box})
				}
			}
			return nil
		})
	},
}

// showsFont reports whether an item, its mask or the cell of its pattern shows type in one of the fonts.
func showsFont(it *displist.Item, which map[string]bool) bool {
	any := func(items []displist.Item) bool {
		for i := range items {
			if showsFont(&items[i], which) {
				return true
			}
		}
		return false
	}
	return it.Text != nil && which[it.Text.Font] && !it.Text.Embedded || it.SoftMask != nil && any(it.SoftMask.Items) ||
		it.Paint.Tiling != nil && any(it.Paint.Tiling.Items)
}

type embedder struct {
	e        *Edit
	ctx      context.Context
	shown    map[string]*[256]bool // codes type is set in, by font; nil = not yet gathered
	want     string
	reader   *font.Reader
	programs map[string]pdf.Ref // by what they hold
	done     map[string]bool
	err      error
}

// font is the dictionary of a simple font with a program; nil when it has one or is of another kind.
func (m *embedder) font(d pdf.Dict) pdf.Object {
	doc := m.e.Doc
	if kind, _ := doc.Name(d["Type"]); kind != "Font" {
		return nil
	}
	switch sub, _ := doc.Name(d["Subtype"]); sub {
	case "Type1", "MMType1", "TrueType":
	case "Type0":
		if f := m.reader.Font(d, finding.Place{}); !f.Embedded {
			m.e.Note("The font %s is a composite one and has to be embedded where the file was made.", f.Name)
		}
		return nil
	default:
		return nil
	}
	f := m.reader.Font(d, finding.Place{})
	if f.Embedded || m.want != "" && m.want != f.Name {
		return nil
	}
	s := f.StandIn()
	if s == nil {
		m.e.Note("The font %s is one of signs and has to be embedded where the file was made.", f.Name)
		return nil
	}
	if m.lacks(f, s) {
		m.e.Note("The font %s is set with signs that what stands in for it lacks; it has to be embedded where the file was made.", f.Name)
		return nil
	}
	out, err := m.embedded(f, s)
	if err != nil {
		m.err = err
		return nil
	}
	for _, k := range []pdf.Name{"Name", "ToUnicode"} {
		if d[k] != nil {
			out[k] = d[k]
		}
	}
	m.done[f.Name] = true
	return out
}

// lacks reports whether type of the font is set in codes that something else than its stand-in draws.
func (m *embedder) lacks(f *font.Font, s *font.StandIn) bool {
	var others []int
	for c := range 256 {
		if g := f.Glyphs(nil, pdf.String([]byte{byte(c)}))[0]; g.ID >= 0 && s.Glyphs[c] < 0 {
			others = append(others, c)
		}
	}
	if len(others) == 0 || m.err != nil {
		return false
	}
	if m.shown == nil {
		m.shown = map[string]*[256]bool{}
		m.err = m.e.EachAll(m.ctx, func(p *Page) error {
			m.gather(p.List.Items)
			return nil
		})
	}
	shown := m.shown[f.Name]
	return shown != nil && slices.ContainsFunc(others, func(c int) bool { return shown[c] })
}

// gather notes the codes items show, those of masks and of cells of patterns too.
func (m *embedder) gather(items []displist.Item) {
	for i := range items {
		it := &items[i]
		if t := it.Text; t != nil && !t.Embedded {
			if m.shown[t.Font] == nil {
				m.shown[t.Font] = &[256]bool{}
			}
			for k := range len(t.String) {
				m.shown[t.Font][t.String[k]] = true
			}
		}
		if it.SoftMask != nil {
			m.gather(it.SoftMask.Items)
		}
		if it.Paint.Tiling != nil {
			m.gather(it.Paint.Tiling.Items)
		}
	}
}

// embedded makes a TrueType font of the stand-in (9.6.3), with the widths the file gave.
func (m *embedder) embedded(f *font.Font, s *font.StandIn) (pdf.Dict, error) {
	keep := map[int]bool{0: true}
	widths, diffs := pdf.Array{}, pdf.Array{}
	last := -2
	first := 32 // codes below are seldom used
	for c := range first {
		if s.Glyphs[c] >= 0 {
			first = c
			break
		}
	}
	for c := range 256 {
		g := f.Glyphs(nil, pdf.String([]byte{byte(c)}))[0]
		if c >= first {
			widths = append(widths, width(g.Advance))
		}
		if s.Glyphs[c] < 0 || g.Name == "" {
			continue
		}
		keep[s.Glyphs[c]] = true
		if c != last+1 {
			diffs = append(diffs, pdf.Integer(c))
		}
		last = c
		diffs = append(diffs, pdf.Name(g.Name))
	}
	program, err := m.program(s, keep)
	if err != nil {
		return nil, err
	}
	metrics, err := font.MetricsOf(s.TTF)
	if err != nil {
		return nil, err
	}
	name := pdf.Name(fmt.Sprintf("%s+%s", tagOf(keep), s.Name))
	box := pdf.Array{}
	for _, v := range metrics.Box {
		box = append(box, pdf.Integer(v))
	}
	const nonsymbolic, fixed, serif, italic = 32, 1, 2, 64 // Table 121
	flags, angle, stem := nonsymbolic, 0, 84
	for _, x := range []struct {
		is   bool
		flag int
	}{{s.Fixed, fixed}, {s.Serif, serif}, {s.Italic, italic}} {
		if x.is {
			flags |= x.flag
		}
	}
	if s.Italic {
		angle = -12
	}
	if s.Bold {
		stem = 140
	}
	descriptor := m.e.up.Add(pdf.Dict{"Type": pdf.Name("FontDescriptor"), "FontName": name, "Flags": pdf.Integer(flags), "FontBBox": box,
		"ItalicAngle": pdf.Integer(angle), "Ascent": pdf.Integer(metrics.Ascent), "Descent": pdf.Integer(metrics.Descent),
		"CapHeight": pdf.Integer(metrics.CapHeight), "StemV": pdf.Integer(stem), "FontFile2": program})
	return pdf.Dict{"Type": pdf.Name("Font"), "Subtype": pdf.Name("TrueType"), "BaseFont": name, "FirstChar": pdf.Integer(first), "LastChar": pdf.Integer(255),
		"Widths": widths, "FontDescriptor": descriptor,
		"Encoding": pdf.Dict{"Type": pdf.Name("Encoding"), "BaseEncoding": pdf.Name("WinAnsiEncoding"), "Differences": diffs}}, nil
}

func width(advance float64) pdf.Object {
	w := math.Round(advance*1e6) / 1e3
	if w == math.Trunc(w) {
		return pdf.Integer(w)
	}
	return pdf.Real(w)
}

func (m *embedder) program(s *font.StandIn, keep map[int]bool) (pdf.Ref, error) {
	key := s.Name + tagOf(keep)
	if r, ok := m.programs[key]; ok {
		return r, nil
	}
	b, err := font.Subset(s.TTF, keep)
	if err != nil {
		return pdf.Ref{}, err
	}
	m.programs[key] = m.e.up.AddStream(pdf.Dict{"Length1": pdf.Integer(len(b))}, b, true)
	return m.programs[key], nil
}

// tagOf is the tag of six letters that marks a subset (9.9.2), the same for the same glyphs.
func tagOf(keep map[int]bool) string {
	glyphs := make([]int, 0, len(keep))
	for g := range keep {
		glyphs = append(glyphs, g)
	}
	slices.Sort(glyphs)
	h := uint32(2166136261)
	for _, g := range glyphs {
		h = (h ^ uint32(g)) * 16777619
	}
	var b [6]byte
	for i := range b {
		b[i] = 'A' + byte(h%26)
		h /= 26
	}
	return string(b[:])
}

// Package font turns PDF font dictionaries into glyph outlines and advances (ISO 32000-2, 9.5 to
// 9.10): simple and composite fonts, Type 1, CFF, TrueType and OpenType programs, CMaps, the predefined ones
// among them; Type 3 glyph procedures are handed to the interpreter.
//
// Fonts that are not in the file are drawn by others that travel with the program, stretched to the widths the
// file gives; a character none of them has is a box of its width, and a finding. Programs are parsed when a page
// uses them, outlines are drawn when they are first asked for.
//
// Font programs are read by parsers of this package. They look only for what a filled outline at
// press resolution needs: hints, kerning and substitution tables stay unread, because PDF text has
// chosen its glyphs and places already.
package font

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// Font is a font as a page uses it. Immutable but for an internal outline cache; safe for
// concurrent use.
type Font struct {
	Name     string // BaseFont, subset prefix removed
	Ref      pdf.Ref
	Embedded bool
	Subset   bool // the program holds only the glyphs the file uses (9.9.2)
	Kind     Kind // of the program that draws: the embedded one or the substitute
	Vertical bool
	Type3    *Type3 // nil unless a Type 3 font

	simple    *[256]Glyph // by code; nil in a composite font
	composite *composite
	standIn   *StandIn // what draws a simple font without a program

	prog     program // nil for Type 3
	draw     func(id int) (p *geom.Path, work int, err error)
	outlines outlineTable
	meter    *meter
	reports  *reports
}

// Kind is the format of a font program.
type Kind int

// The formats of font programs. NoProgram is a font that draws nothing.
const (
	NoProgram Kind = iota
	Type1Program
	CFFProgram
	TrueTypeProgram
	OpenTypeCFFProgram
	Type3Procedures
)

func (k Kind) String() string {
	return [...]string{"none", "Type 1", "CFF", "TrueType", "OpenType CFF", "Type 3"}[k]
}

// Type3 is what the interpreter needs to run glyph procedures (9.6.4).
type Type3 struct {
	Matrix    geom.Matrix
	Resources pdf.Dict               // nil = use the page's
	Procs     map[string]*pdf.Stream // by glyph name
}

// Glyph is one shown character.
type Glyph struct {
	Code    uint32
	Bytes   int     // length of the code in the string
	ID      int     // glyph index for Outline, -1 = none (nothing is drawn); a Type 3 font: the code
	Name    string  // glyph name where the font has names; the key of Type3.Procs
	Advance float64 // text space units at size 1 (W/1000; Type 3: through its matrix)
	// Vertical writing: the displacement down the column and the origin offset v (9.7.4.3).
	AdvanceY         float64
	OriginX, OriginY float64
	Space            bool // a single-byte code 32: word spacing applies (9.3.3)
}

// Glyphs decodes a string into glyphs, appending to dst.
func (f *Font) Glyphs(dst []Glyph, s pdf.String) []Glyph {
	if f.composite != nil {
		return f.composite.glyphs(dst, string(s))
	}
	for i := range len(s) {
		dst = append(dst, f.simple[s[i]])
	}
	return dst
}

// outlineTable keeps outlines by glyph index, page by page as they are asked for.
type outlineTable [outlinePages]atomic.Pointer[[outlinePages]atomic.Pointer[drawnGlyph]]

// outlinePages squared is more than any index Glyphs gives.
const outlinePages = 512

// drawnGlyph is a glyph that has been drawn; its path is nil when it has no marks.
type drawnGlyph struct{ path *geom.Path }

// at is the place of a glyph; nil for an index past all fonts.
func (t *outlineTable) at(id int) *atomic.Pointer[drawnGlyph] {
	if id >= outlinePages*outlinePages {
		return nil
	}
	slot := &t[id/outlinePages]
	page := slot.Load()
	if page == nil {
		slot.CompareAndSwap(nil, new([outlinePages]atomic.Pointer[drawnGlyph]))
		page = slot.Load()
	}
	return &page[id%outlinePages]
}

// Outline returns the outline of a glyph in text space at size 1 (y up, 1 = em), nil when it has no
// marks. It is drawn when first asked for; every call gives the same path, so that its address may
// stand for it. The path is shared: do not change it.
func (f *Font) Outline(id int) *geom.Path {
	if id < 0 || f.draw == nil {
		return nil
	}
	place := f.outlines.at(id)
	if place == nil {
		return nil
	}
	if g := place.Load(); g != nil {
		return g.path
	}
	if f.meter.spent() {
		f.reports.add(finding.Finding{ID: "font-glyphs-too-many", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What:   fmt.Sprintf("The page has more and larger characters than this program draws; from some in %s on they are left out.", quoted(f.Name)),
			Remedy: "Export the PDF again with fonts embedded as subsets."})
		return nil
	}
	p, work, err := f.drawSafely(id)
	f.meter.spend(p, work)
	if err != nil {
		f.reportGlyph(id, err)
	}
	place.CompareAndSwap(nil, &drawnGlyph{p})
	return place.Load().path
}

func (f *Font) drawSafely(id int) (p *geom.Path, work int, err error) {
	defer func() {
		if r := recover(); r != nil {
			p, err = nil, errGlyph
		}
	}()
	return f.draw(id)
}

// errNoGlyph says that the substitute has no such character.
var errNoGlyph = errors.New("no such glyph")

func (f *Font) reportGlyph(id int, err error) {
	switch {
	case errors.Is(err, errNoGlyph):
		f.reports.add(finding.Finding{ID: "font-glyph-missing", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
			What:   fmt.Sprintf("Some characters of %s are shown as empty boxes: the font is not in the file and no font here has them.", quoted(f.Name)),
			Why:    "The boxes only mark where characters stand; another machine may print them, or leave them out.",
			Remedy: "Embed the font when exporting the PDF, or turn the text into outlines."})
	case errors.Is(err, errTooLarge):
		f.reports.add(finding.Finding{ID: "font-glyph-too-large", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What:   fmt.Sprintf("A character of %s is drawn with more points than this program follows and is left out.", quoted(f.Name)),
			Remedy: "Export the PDF again with another version of the font."})
	default:
		f.reports.add(finding.Finding{ID: "font-glyph-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
			What:   fmt.Sprintf("The drawing of a character in %s is damaged.", quoted(f.Name)),
			Why:    "Each machine repairs it in its own way: the character may be missing or deformed.",
			Remedy: "Export the PDF again, or turn the text into outlines."})
	}
}

// GlyphNamed finds a glyph by name in fonts that have glyph names; the ID is one for Outline.
func (f *Font) GlyphNamed(name string) (id int, ok bool) {
	if f.simple != nil {
		for i := range f.simple {
			if g := &f.simple[i]; g.Name == name && g.ID >= 0 {
				return g.ID, true
			}
		}
	}
	if f.Embedded && f.prog != nil {
		return f.prog.glyphByName(name)
	}
	return -1, false
}

func quoted(name string) string {
	if name == "" {
		return "a font without a name"
	}
	return "the font " + name
}

// splitSubset removes the six-letter prefix of a subset (9.9.2).
func splitSubset(name string) (string, bool) {
	if len(name) > 7 && name[6] == '+' {
		for _, c := range name[:6] {
			if c < 'A' || c > 'Z' {
				return name, false
			}
		}
		return name[7:], true
	}
	return name, false
}

// cleanName makes a font name fit for a sentence: names may hold any bytes.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 32 || r == 0xFFFD {
			return '?'
		}
		return r
	}, s)
	if len(s) > 127 {
		s = s[:127]
	}
	return strings.ToValidUTF8(s, "?")
}

// reports keeps what was found about a font, so that every page that uses it hears of it.
type reports struct {
	mu     sync.Mutex
	sink   finding.Sink
	list   []finding.Finding
	places []finding.Place
	pages  map[int]bool
}

// add stores a finding and tells all pages that use the font already; a repeat is dropped.
func (r *reports) add(f finding.Finding) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for i := range r.list {
		if r.list[i].ID == f.ID && r.list[i].What == f.What {
			return
		}
	}
	r.list = append(r.list, f)
	for _, p := range r.places {
		f.Place = p
		r.sink.Add(f)
	}
}

// usedAt tells the place's page everything known, once per page.
func (r *reports) usedAt(p finding.Place) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.pages[p.Page] {
		return
	}
	if r.pages == nil {
		r.pages = map[int]bool{}
	}
	r.pages[p.Page] = true
	r.places = append(r.places, p)
	for _, f := range r.list {
		f.Place = p
		r.sink.Add(f)
	}
}

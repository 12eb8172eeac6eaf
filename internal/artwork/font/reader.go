package font

import (
	"errors"
	"fmt"
	"reflect"
	"sync"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Reader makes fonts, caching by reference. Safe for concurrent use.
type Reader struct {
	doc  *pdf.Document
	sink finding.Sink

	mu       sync.Mutex
	fonts    map[pdf.Ref]*fontEntry
	direct   map[uintptr]*fontEntry
	programs map[pdf.Ref]*programEntry
	cmaps    map[pdf.Ref]*cmapFile
	spans    map[spansKey][]spanValue
	pages    map[int]bool
	meter    meter
}

// spansKey is a W (1) or W2 (3) array with a number of its own.
type spansKey struct {
	ref pdf.Ref
	n   int
}

type fontEntry struct {
	once sync.Once
	dict pdf.Dict // keeps a direct dictionary alive, so that its address is not used again
	font *Font
}

type programEntry struct {
	once sync.Once
	prog program
	err  error
	cut  bool // the data was damaged but could be parsed
}

// maxDirectFonts kept for font dictionaries written without a number of their own.
const maxDirectFonts = 256

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader {
	if sink == nil {
		sink = finding.Discard
	}
	return &Reader{doc: doc, sink: sink, fonts: map[pdf.Ref]*fontEntry{}, direct: map[uintptr]*fontEntry{}, programs: map[pdf.Ref]*programEntry{},
		cmaps: map[pdf.Ref]*cmapFile{}, spans: map[spansKey][]spanValue{}, pages: map[int]bool{}}
}

// Font reads a font dictionary. It always gives a usable font: a missing or broken program is
// replaced by the nearest embedded substitute with a finding ("font-not-embedded",
// "font-damaged"). place is copied into findings.
func (r *Reader) Font(o pdf.Object, place finding.Place) *Font {
	ref, _ := o.(pdf.Ref)
	dict, _ := r.doc.Dict(o)
	e := r.entry(ref, dict, place.Page)
	e.once.Do(func() { e.font = r.build(dict, ref) })
	e.font.reports.usedAt(place)
	return e.font
}

func (r *Reader) entry(ref pdf.Ref, dict pdf.Dict, page int) *fontEntry {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.beginPage(page)
	if ref != (pdf.Ref{}) {
		e := r.fonts[ref]
		if e == nil {
			e = &fontEntry{}
			r.fonts[ref] = e
			r.meter.kept.Add(fontBytes)
		}
		return e
	}
	key := reflect.ValueOf(dict).Pointer()
	e := r.direct[key]
	if e == nil {
		e = &fontEntry{dict: dict}
		if len(r.direct) >= maxDirectFonts {
			clear(r.direct)
		}
		r.direct[key] = e
	}
	return e
}

func (r *Reader) build(dict pdf.Dict, ref pdf.Ref) (f *Font) {
	rep := &reports{sink: r.sink}
	defer func() {
		if p := recover(); p != nil {
			f = r.lastResort(ref, rep)
			rep.add(damaged(f.Name, "its description cannot be read"))
		}
	}()
	if dict == nil {
		f := r.lastResort(ref, rep)
		rep.add(damaged("", "its description is missing"))
		return f
	}
	b := &builder{Reader: r, doc: r.doc, dict: dict, reports: rep}
	b.font = &Font{Ref: ref, reports: rep, meter: &r.meter}
	subtype, _ := r.doc.Name(dict["Subtype"])
	b.subtype = string(subtype)
	base, _ := r.doc.Name(dict["BaseFont"])
	switch subtype {
	case "Type0":
		b.setName(string(base))
		b.type0()
	case "Type3":
		if n, ok := r.doc.Name(dict["Name"]); ok && base == "" {
			base = n
		}
		b.setName(string(base))
		b.type3()
	default:
		b.descriptor, _ = r.doc.Dict(dict["FontDescriptor"])
		if base == "" {
			base, _ = r.doc.Name(b.descriptor["FontName"])
		}
		b.setName(string(base))
		b.simple()
	}
	return b.font
}

// lastResort is a font to go on with when nothing is known.
func (r *Reader) lastResort(ref pdf.Ref, rep *reports) *Font {
	b := &builder{Reader: r, doc: r.doc, dict: pdf.Dict{}, reports: rep, font: &Font{Ref: ref, reports: rep, meter: &r.meter}}
	b.substituteSimple()
	return b.font
}

// builder reads one font dictionary.
type builder struct {
	*Reader
	doc        *pdf.Document
	dict       pdf.Dict
	descriptor pdf.Dict // nil when absent
	subtype    string
	font       *Font
	reports    *reports
	flags      int
}

func (b *builder) setName(base string) {
	name, subset := splitSubset(base)
	b.font.Name, b.font.Subset = cleanName(name), subset
}

func damaged(name, how string) finding.Finding {
	return finding.Finding{ID: "font-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
		What:   fmt.Sprintf("%s is damaged: %s.", sentence(quoted(name)), how),
		Why:    "Each machine repairs or replaces it in its own way, so the text may look different on each.",
		Remedy: "Export the PDF again with the font embedded, or turn the text into outlines."}
}

func sentence(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

func notEmbedded(name string) finding.Finding {
	return finding.Finding{ID: "font-not-embedded", Severity: finding.Error, Class: finding.Artwork, Incomplete: true,
		What:   fmt.Sprintf("%s is not in the file; a similar one stands in for it.", sentence(quoted(name))),
		Why:    "Another machine will use another font again: letters change shape and lines their length.",
		Remedy: "Embed the font when exporting the PDF, or turn the text into outlines."}
}

// program reads the embedded font program of the descriptor, nil when there is none or it is broken
// beyond use (reported).
func (b *builder) program() program {
	var stream *pdf.Stream
	for _, key := range []pdf.Name{"FontFile3", "FontFile2", "FontFile"} {
		if s, ok := b.doc.Stream(b.descriptor[key]); ok {
			stream = s
			break
		}
	}
	if stream == nil {
		b.reports.add(notEmbedded(b.font.Name))
		return nil
	}
	e := b.programEntry(stream)
	e.once.Do(func() { e.prog, e.cut, e.err = b.loadProgram(stream) })
	switch {
	case errors.Is(e.err, errProgramSize), errors.Is(e.err, pdf.ErrBudget):
		b.reports.add(finding.Finding{ID: "font-too-large", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What:   fmt.Sprintf("%s is larger than this program reads; a similar one stands in for it.", sentence(quoted(b.font.Name))),
			Remedy: "Embed only the characters used when exporting the PDF."})
	case errors.Is(e.err, pdf.ErrUnsupportedFilter):
		b.reports.add(finding.Finding{ID: "font-packing-not-supported", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
			What:   fmt.Sprintf("%s is packed in a way this program does not read; a similar one stands in for it.", sentence(quoted(b.font.Name))),
			Remedy: "Export the PDF again with the font embedded, or turn the text into outlines."})
	case e.err != nil:
		b.reports.add(damaged(b.font.Name, "its letter shapes cannot be read, a similar font stands in for it"))
	case e.cut:
		b.reports.add(damaged(b.font.Name, "a part of its data is missing"))
	}
	return e.prog
}

func (b *builder) programEntry(s *pdf.Stream) *programEntry {
	if s.Ref == (pdf.Ref{}) {
		return &programEntry{}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	e := b.programs[s.Ref]
	if e == nil {
		e = &programEntry{}
		b.programs[s.Ref] = e
	}
	return e
}

var errProgramSize = errors.New("the font program is too large")

func (b *builder) loadProgram(s *pdf.Stream) (p program, cut bool, err error) {
	data, derr := b.doc.Data(s)
	if len(data) > limits.MaxFontBytes {
		return nil, false, errProgramSize
	}
	b.meter.kept.Add(int64(len(data)))
	if len(data) == 0 && derr != nil {
		return nil, false, derr
	}
	p, err = parseProgram(data)
	if err != nil && derr != nil {
		err = derr
	}
	return p, derr != nil, err
}

func (b *builder) setProgram(p program) {
	b.font.prog = p
	b.font.draw = p.draw
	b.font.Kind = kindOf(p)
}

func kindOf(p program) Kind {
	switch p.(type) {
	case *type1Font:
		return Type1Program
	case *cffFont:
		return CFFProgram
	case *trueType:
		return TrueTypeProgram
	case *openTypeCFF:
		return OpenTypeCFFProgram
	}
	return NoProgram
}

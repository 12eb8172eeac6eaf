package interp

import (
	"context"
	"sort"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// machine interprets one page. It belongs to one goroutine.
type machine struct {
	r    *Reader
	ctx  context.Context
	opt  Options
	page *pdf.Page
	list *displist.List

	items    []displist.Item // being filled: the page's, a soft mask's, or a cell's
	space    itemSpace       // of these items
	made     int             // items in all lists
	depth    int             // open transparency groups
	blending bool

	gs     state
	stack  []state
	excess int // q beyond the limit, to be matched by Q

	f       *frame // content stream that runs; nil between streams
	offset  int64  // of the operator that runs
	stopped bool   // a limit or the context ended the page
	ops     int    // operators executed and characters shown
	calls   int    // forms, glyph procedures and masks run
	level   int    // nesting of them
	text    textObject
	texts   int // text objects met
	path    pathBuilder
	spare   []pathBuilder
	arena   arena
	shown   procedureRun // Type 3 glyphs of the show operator that runs

	pen      *displist.Pen // the last pen, shared by strokes alike
	problems problems

	resources  map[uintptr]*resources
	forms      map[streamKey]*form
	running    map[streamKey]bool
	images     map[imageKey]imageEntry
	inline     map[inlineKey]*image.Image
	masks      map[maskKey]*displist.SoftMask
	glyphs     glyphCache
	procedures map[*font.Font]*[256]*procedure

	patterns       map[objectKey]*pattern
	shadings       map[objectKey]*displist.Shading // without M; nil = unusable
	shadingsPlaced map[placedPattern]*displist.Shading
	tilings        map[placedPattern]*displist.Tiling
	meshNumbers    int        // read for meshes
	kept           []pdf.Dict // direct ones whose address is a key of these maps

	nodes  map[nodeKey]*ocNode
	layers *layerTable
	annots []*form // appearances drawn, for the colourant names
}

// streamKey tells streams apart: by object number, and direct ones by their value.
type streamKey struct {
	ref pdf.Ref
	s   *pdf.Stream
}

func keyOf(s *pdf.Stream) streamKey {
	if s.Ref != (pdf.Ref{}) {
		return streamKey{ref: s.Ref}
	}
	return streamKey{s: s}
}

// frame is one content stream being run.
type frame struct {
	res        *resources
	origin     displist.Origin
	parts      []displist.ContentPart // of the page's joined contents; nil = origin.Object
	part       int
	base       int   // depth of the state stack on entry: Q does not go below
	begin      state // at the start, which patterns are relative to (8.7.2)
	oc         *ocNode
	marks      []*ocNode // oc before each open marked-content sequence
	compat     int       // open BX
	colourless bool      // within a d1 glyph: colour operators are ignored (9.6.4)
	glyph      bool      // within a Type 3 glyph procedure
	shown      *displist.Text
	source     streamKey  // zero for page contents
	nums       [6]float64 // operands of the operator that runs
}

// object is the number of the stream that holds the byte at offset. Offsets only grow.
func (f *frame) object(offset int64) int {
	if f.parts == nil {
		return f.origin.Object
	}
	if f.part >= len(f.parts) || f.parts[f.part].Start > offset {
		f.part = 0
	}
	for f.part+1 < len(f.parts) && f.parts[f.part+1].Start <= offset {
		f.part++
	}
	return f.parts[f.part].Object
}

func newMachine(ctx context.Context, r *Reader, pg *pdf.Page, opt Options) *machine {
	m := &machine{
		r: r, ctx: ctx, opt: opt, page: pg, list: &displist.List{},
		resources: map[uintptr]*resources{}, forms: map[streamKey]*form{}, running: map[streamKey]bool{},
		images: map[imageKey]imageEntry{}, inline: map[inlineKey]*image.Image{}, masks: map[maskKey]*displist.SoftMask{},
		glyphs: glyphCache{}, procedures: map[*font.Font]*[256]*procedure{},
		patterns: map[objectKey]*pattern{}, shadings: map[objectKey]*displist.Shading{},
		shadingsPlaced: map[placedPattern]*displist.Shading{}, tilings: map[placedPattern]*displist.Tiling{}, nodes: map[nodeKey]*ocNode{},
		layers: r.layerTable(),
	}
	m.pageGeometry()
	m.space = itemSpace{toList: geom.Identity, unit: 1, area: m.list.Page.Media}
	return m
}

// runPage interprets the page's own contents.
func (m *machine) runPage() {
	res := m.resourcesOf(m.page.Resources)
	m.gs = initialState(m.list.Page.ToList, m.list.Page.Media)
	if g, ok := m.r.Doc.Dict(m.page.Dict["Group"]); ok {
		m.list.Group = m.groupFrom(g, res, true)
	}
	data, parts := m.pageContents()
	m.list.Page.Contents = parts
	if len(data) == 0 {
		return
	}
	m.items = make([]displist.Item, 0, min(max(len(data)/80, 8), 1<<14))
	m.run(&form{data: data}, &frame{res: res, origin: displist.Origin{Page: m.page.Number}, parts: parts})
}

// pageContents joins the streams of Contents with a line end between them (7.8.2). A stream that
// cannot be read is reported and the others go on; a missing Contents is an empty page.
func (m *machine) pageContents() (data []byte, parts []displist.ContentPart) {
	doc := m.r.Doc
	entry := m.page.Dict["Contents"]
	streams := pdf.Array{entry}
	if a, ok := doc.Array(entry); ok {
		streams = a
	} else if doc.Resolve(entry) == nil {
		return nil, nil
	}
	for _, o := range streams {
		ref, _ := o.(pdf.Ref)
		s, ok := doc.Stream(o)
		var b []byte
		var err error
		if ok {
			b, err = doc.Data(s)
		}
		if !ok || err != nil {
			f := finding.Finding{ID: "content-damaged", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
				What:   "A part of the page's content cannot be read in full.",
				Why:    "What it draws is missing from the plates.",
				Remedy: "Export the artwork again from the program that made it.",
				Place:  finding.Place{Object: ref.Num}}
			if err != nil {
				f.Notes = []string{err.Error()}
			}
			m.report(f)
		}
		if !ok {
			continue
		}
		if len(data)+len(b) > limits.MaxDataBytes {
			m.report(finding.Finding{ID: "page-over-limit", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
				What:   "The page's content is longer than can be read; what comes after is left out.",
				Why:    "What it draws is missing from the plates.",
				Remedy: "Simplify the artwork, or place large parts of it as images.", Place: finding.Place{Object: ref.Num}})
			break
		}
		parts = append(parts, displist.ContentPart{Object: ref.Num, Start: int64(len(data))})
		if len(streams) == 1 {
			return b, parts
		}
		data = append(append(data, b...), '\n')
	}
	return data, parts
}

// maxKeptContent is how long a stream may be, in bytes, for its operators to be kept: glyph
// procedures and small forms run often, long ones seldom.
const maxKeptContent = 16 << 10

// run executes a stream's content on the current graphics state; the caller restores m.gs.
func (m *machine) run(fm *form, f *frame) {
	outerFrame, outerOffset, outerPath, outerText, outerExcess := m.f, m.offset, m.path, m.text, m.excess
	m.f, m.text, m.excess = f, textObject{}, 0
	m.path = pathBuilder{}
	if n := len(m.spare); n > 0 {
		m.path, m.spare = m.spare[n-1], m.spare[:n-1]
		m.path.reset()
	}
	f.base, f.begin = len(m.stack), m.gs

	if fm.ops != nil {
		for i := range fm.ops {
			if !m.step(&fm.ops[i]) {
				break
			}
		}
	} else {
		m.scan(fm)
	}
	m.endText()
	if len(m.stack) > f.base {
		m.unbalanced()
		m.stack = m.stack[:f.base]
	}

	m.spare = append(m.spare, m.path)
	m.f, m.offset, m.path, m.text, m.excess = outerFrame, outerOffset, outerPath, outerText, outerExcess
}

// scan splits a stream and executes it on the way. On its second run the operators are kept.
func (m *machine) scan(fm *form) {
	fm.runs++
	keep := fm.runs == 2 && len(fm.data) <= maxKeptContent
	var kept []content.Op
	sc := content.NewScanner(fm.data)
	sc.Problem = func(offset int64, what string) {
		m.offset = offset
		m.report(finding.Finding{ID: "content-damaged", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
			What:   "The page's drawing instructions are damaged: " + printable(what) + ".",
			Why:    "Something may be missing there.",
			Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
	}
	for {
		op, ok := sc.Next()
		if !ok {
			break
		}
		if keep {
			own := op
			own.Operands = append([]pdf.Object(nil), op.Operands...)
			kept = append(kept, own)
		}
		if !m.step(&op) {
			return
		}
	}
	if keep {
		fm.ops = append(kept, content.Op{})[:len(kept)] // not nil even when empty
	}
}

// step counts and runs one operator; false ends the page.
func (m *machine) step(op *content.Op) bool {
	if m.stopped {
		return false
	}
	m.offset = op.Offset
	if !m.count() {
		return false
	}
	m.execute(op)
	return true
}

// count counts an operator, or a character or adjustment of a show operator; false ends the page.
func (m *machine) count() bool {
	m.ops++
	if m.ops > limits.MaxOperators {
		if !m.stopped {
			m.overLimit("The page has more than four million drawing instructions and characters.", true)
		}
		return false
	}
	if m.ops&1023 == 0 && m.ctx.Err() != nil {
		m.stopped = true
		return false
	}
	return true
}

// execute runs one operator.
func (m *machine) execute(op *content.Op) {
	if op.Inline != nil {
		m.inlineImage(op.Inline)
		return
	}
	d, known := operators[op.Name]
	switch {
	case !known:
		if m.f.compat == 0 {
			m.report(finding.Finding{ID: "operator-unknown", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
				What:   "The page has a drawing instruction that does not exist (" + printable(op.Name) + ").",
				Why:    "It is skipped; what it was meant to draw is missing.",
				Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
		}
	case d.num != nil:
		v := m.f.nums[:d.n]
		if !lastNumbers(v, op.Operands) {
			m.damaged(op.Name)
			return
		}
		d.num(m, v)
	case !d.obj(m, op.Operands):
		m.damaged(op.Name)
	}
}

// lastNumbers fills v from the last operands; extra ones before them are ignored, as a stack does.
func lastNumbers(v []float64, ops []pdf.Object) bool {
	if len(ops) < len(v) {
		return false
	}
	for i, o := range ops[len(ops)-len(v):] {
		n, ok := number(o)
		if !ok {
			return false
		}
		v[i] = n
	}
	return true
}

// number reads a direct number; huge ones are bounded, NaN is none.
func number(o pdf.Object) (float64, bool) {
	var v float64
	switch n := o.(type) {
	case pdf.Integer:
		v = float64(n)
	case pdf.Real:
		v = float64(n)
	default:
		return 0, false
	}
	if v != v {
		return 0, false
	}
	return min(max(v, -1e15), 1e15), true
}

func lastName(ops []pdf.Object) (pdf.Name, bool) {
	if len(ops) == 0 {
		return "", false
	}
	n, ok := ops[len(ops)-1].(pdf.Name)
	return n, ok
}

func lastString(ops []pdf.Object) (pdf.String, bool) {
	if len(ops) == 0 {
		return "", false
	}
	s, ok := ops[len(ops)-1].(pdf.String)
	return s, ok
}

// operator is one entry of the table: num takes n numbers, obj the operands as they are and says
// whether they made sense.
type operator struct {
	n   int
	num func(*machine, []float64)
	obj func(*machine, []pdf.Object) bool
}

// operators is Annex A. It is filled at start because handlers run streams, which use it.
var operators map[string]operator

func init() {
	num := func(n int, f func(*machine, []float64)) operator { return operator{n: n, num: f} }
	obj := func(f func(*machine, []pdf.Object) bool) operator { return operator{obj: f} }
	operators = map[string]operator{
		"q": num(0, opq), "Q": num(0, opQ), "cm": num(6, opcm),
		"w": num(1, opw), "J": num(1, opJ), "j": num(1, opj), "M": num(1, opM), "d": obj(opd),
		"ri": obj(opri), "i": obj(opNothing), "gs": obj(opgs),

		"m": num(2, opm), "l": num(2, opl), "c": num(6, opc), "v": num(4, opv), "y": num(4, opy),
		"h": num(0, oph), "re": num(4, opre),
		"S": num(0, opS), "s": num(0, ops), "f": num(0, opf), "F": num(0, opf), "f*": num(0, opfStar),
		"B": num(0, opB), "B*": num(0, opBStar), "b": num(0, opb), "b*": num(0, opbStar), "n": num(0, opn),
		"W": num(0, opW), "W*": num(0, opWStar),

		"BT": num(0, opBT), "ET": num(0, opET),
		"Tc": num(1, opTc), "Tw": num(1, opTw), "Tz": num(1, opTz), "TL": num(1, opTL), "Tf": obj(opTf),
		"Tr": num(1, opTr), "Ts": num(1, opTs),
		"Td": num(2, opTd), "TD": num(2, opTD), "Tm": num(6, opTm), "T*": num(0, opTStar),
		"Tj": obj(opTj), "TJ": obj(opTJ), "'": obj(opQuote), "\"": obj(opDoubleQuote),
		"d0": num(0, opd0), "d1": num(0, opd1),

		"CS": obj(opCS), "cs": obj(opcs), "SC": obj(opSCN), "SCN": obj(opSCN), "sc": obj(opscn), "scn": obj(opscn),
		"G": num(1, opG), "g": num(1, opg), "RG": num(3, opRG), "rg": num(3, oprg), "K": num(4, opK), "k": num(4, opk),

		"sh": obj(opsh), "Do": obj(opDo),
		"BMC": obj(opBMC), "BDC": obj(opBDC), "EMC": num(0, opEMC), "MP": obj(opNothing), "DP": obj(opNothing),
		"BX": num(0, opBX), "EX": num(0, opEX),
	}
}

func opBX(m *machine, _ []float64) { m.f.compat++ }

func opEX(m *machine, _ []float64) { m.f.compat = max(m.f.compat-1, 0) }

// sortedKeys gives a dictionary's keys in a fixed order.
func sortedKeys(d pdf.Dict) []string {
	keys := make([]string, 0, len(d))
	for k := range d {
		keys = append(keys, string(k))
	}
	sort.Strings(keys)
	return keys
}

// arena hands out pieces of large slices: a page makes many small ones that live as long as it.
type arena struct {
	points slab[geom.Point]
	verbs  slab[geom.Verb]
	paths  slab[geom.Path]
	floats slab[float64]
	glyphs slab[displist.Glyph]
}

// slab is what is left of the last slice, and how long that was: the first is short, as many pages are, each further one
// twice as long as the one before.
type slab[T any] struct {
	left []T
	long int
}

const slabFirst, slabLast = 128, 2048

// take cuts n elements off, renewing the slab when it is used up. The piece cannot grow into the next.
func (s *slab[T]) take(n int) []T {
	if n > len(s.left) {
		if n > slabLast/4 {
			return make([]T, n)
		}
		s.long = min(max(2*s.long, slabFirst, n), slabLast)
		s.left = make([]T, s.long)
	}
	piece := s.left[:n:n]
	s.left = s.left[n:]
	return piece
}

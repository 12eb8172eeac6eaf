package pdf

import (
	"bytes"
	"fmt"
	"maps"
	"sort"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// scan is what a search of the whole file finds.
type scan struct {
	entries  map[int]entry // offsets count from the start of the file
	trailers []Dict        // in file order
	catalogs []int         // numbers of objects that look like a catalogue, in file order
	encrypts []int         // and like an encryption dictionary
	streams  []mark        // objects that look like object streams
	top      int
}

// mark is one place the search stops at.
type mark struct {
	off  int64
	kind markKind
	num  int
	gen  int
}

type markKind uint8

const (
	markObject markKind = iota
	markTrailer
	markObjStm
	markXref
	markCatalog
	markEncrypt
)

// scanPlain searches the file once for what does not lie in object streams.
func (d *Document) scanPlain() *scan {
	d.plainOnce.Do(func() { d.plain = d.scanFile() })
	return d.plain
}

// scan searches the file once. Object streams of an encrypted file can be read only when its key is
// known, which scanPlain may have to find first.
func (d *Document) scan() *scan {
	d.scanOnce.Do(func() { d.scanned = d.scanStreams(d.scanPlain()) })
	return d.scanned
}

func (d *Document) scanFile() *scan {
	s := &scan{entries: map[int]entry{}}
	marks := d.marks()
	for _, m := range marks {
		if m.kind == markObject {
			s.entries[m.num] = entry{off: m.off, gen: int32(m.gen), kind: entryAt}
			s.top = max(s.top, m.num)
		}
	}
	var at mark // the object the following marks lie in
	for _, m := range marks {
		switch m.kind {
		case markObject:
			at = m
			continue
		case markTrailer:
			if t, ok := d.trailerAt(m.off); ok {
				s.trailers = append(s.trailers, t)
			}
			continue
		case markCatalog:
			s.catalogs = append(s.catalogs, at.num)
			continue
		case markEncrypt:
			s.encrypts = append(s.encrypts, at.num)
			continue
		}
		if s.entries[at.num].off != at.off { // a later version of the object replaces this one
			continue
		}
		if m.kind == markObjStm {
			s.streams = append(s.streams, at)
			continue
		}
		if _, st, ok := d.parseAt(at.off); ok && st != nil && st.Dict["Type"] == Name("XRef") {
			s.trailers = append(s.trailers, st.Dict)
		}
	}
	return s
}

// scanStreams adds to what scanFile found what lies in object streams.
func (d *Document) scanStreams(plain *scan) *scan {
	s := &scan{entries: maps.Clone(plain.entries), trailers: plain.trailers, catalogs: plain.catalogs, top: plain.top}
	seen := map[int]bool{}
	find := plain.findPlain(d)
	resolve := func(o Object) Object {
		if r, ok := o.(Ref); ok {
			return direct(find(r.Num))
		}
		return o
	}
	type member struct{ num, stm, index int }
	var members []member
	for _, at := range plain.streams {
		if seen[at.num] || len(seen) >= limits.MaxRepairStreams {
			continue
		}
		_, st, ok := d.parseAt(at.off)
		if !ok || st == nil || st.Dict["Type"] != Name("ObjStm") {
			continue
		}
		seen[at.num] = true
		os := &objStm{} // read here for the numbers of what it holds only: many may not fit into memory
		d.readObjStm(os, st, resolve)
		for i, n := range os.nums {
			if len(members) < d.maxEntries() {
				members = append(members, member{n, at.num, i})
			}
		}
	}
	// An object in a stream is as new as the stream: the later of the two in the file counts.
	for _, m := range members {
		have, ok := s.entries[m.num]
		if ok && have.kind == entryAt && have.off > s.entries[m.stm].off {
			continue
		}
		if m.num == m.stm {
			continue
		}
		s.entries[m.num] = entry{off: int64(m.stm), gen: int32(m.index), kind: entryIn}
		s.top = max(s.top, m.num)
	}
	return s
}

// findPlain looks up objects that do not lie in object streams.
func (s *scan) findPlain(d *Document) func(num int) Object {
	return func(num int) Object {
		e, ok := s.entries[num]
		if !ok || e.kind != entryAt {
			return nil
		}
		o, _ := d.objectAt(num, e.off)
		return o
	}
}

func (d *Document) trailerAt(off int64) (t Dict, ok bool) {
	d.src.windows(off, func(b []byte, last bool) bool {
		p := &parser{lex: *NewLexer(b)}
		p.lex.SetPos(len("trailer"))
		o, _ := p.parseObject(0)
		t, ok = o.(Dict)
		return !p.short && p.lex.pos+64 < len(b)
	})
	return t, ok && len(t) > 0
}

// marks finds objects, trailers and the words that tell special objects, in file order. Data of
// streams whose length is right is passed over: it may hold a whole PDF file as an attachment.
func (d *Document) marks() []mark {
	const chunk, overlap = 4 << 20, 8 << 10
	var out []mark
	var skip span
	limit := d.maxEntries()
	for off := int64(0); off < d.src.size; off += chunk - overlap {
		from := max(off-64, 0)
		b := d.src.bytes(from, chunk+off-from)
		out = d.marksIn(b, from, off, &skip, out, limit)
		if off+chunk >= d.src.size || len(out) >= limit {
			break
		}
		// The last part of a chunk is read again as the first of the next.
		for len(out) > 0 && out[len(out)-1].off >= off+chunk-overlap {
			out = out[:len(out)-1]
		}
	}
	return out
}

var markWords = []struct {
	word []byte
	kind markKind
}{
	{[]byte("obj"), markObject}, {[]byte("trailer"), markTrailer}, {[]byte("/ObjStm"), markObjStm},
	{[]byte("/XRef"), markXref}, {[]byte("/Catalog"), markCatalog}, {[]byte("/Standard"), markEncrypt},
}

func (d *Document) marksIn(b []byte, from, first int64, skip *span, out []mark, limit int) []mark {
	var found []mark
	for _, w := range markWords {
		for i := 0; len(found) < 4*limit; {
			j := bytes.Index(b[i:], w.word)
			if j < 0 {
				break
			}
			at := i + j
			i = at + len(w.word)
			if w.kind == markObject {
				start, num, gen, ok := objectHeader(b, at)
				if ok && from+int64(start) >= first {
					found = append(found, mark{from + int64(start), markObject, num, gen})
				}
				continue
			}
			if w.kind != markTrailer && i < len(b) && IsRegular(b[i]) || from+int64(at) < first {
				continue // "/XRefStm" is not "/XRef"
			}
			found = append(found, mark{off: from + int64(at), kind: w.kind})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].off < found[j].off })
	for _, m := range found {
		if m.off >= skip.from && m.off < skip.to || len(out) >= limit {
			continue
		}
		out = append(out, m)
		if m.kind == markObject {
			skip.from, skip.to = d.soundStream(b, from, m.off)
		}
	}
	return out
}

// span is a half-open range of the file.
type span struct{ from, to int64 }

// objectHeader looks backwards from the keyword obj at b[at] for "N G ".
func objectHeader(b []byte, at int) (start, num, gen int, ok bool) {
	back := func(i int) (v, from int, ok bool) { // digits that end before i
		j, scale := i, 1
		for j > 0 && b[j-1]-'0' <= 9 && i-j < 10 {
			j--
			v += int(b[j]-'0') * scale
			scale *= 10
		}
		return v, j, j < i
	}
	space := func(i int) int {
		for i > 0 && charClass[b[i-1]] == chSpace {
			i--
		}
		return i
	}
	i := space(at)
	gen, i, ok = back(i)
	if !ok {
		return 0, 0, 0, false
	}
	j := space(i)
	if j == i {
		return 0, 0, 0, false
	}
	num, start, ok = back(j)
	if !ok || num == 0 || num > maxObjectNumber || gen > 65535 { // object 0 is always free (7.5.4)
		return 0, 0, 0, false
	}
	return start, num, gen, true
}

// soundStream gives the range of the data of the stream object at off when its direct /Length leads
// to endstream, an empty range otherwise.
func (d *Document) soundStream(b []byte, from, off int64) (dataFrom, dataTo int64) {
	head := b[off-from:]
	head = head[:min(len(head), 4<<10)]
	i := bytes.Index(head, []byte("stream"))
	if i < 0 {
		return 0, 0
	}
	dict := head[:i]
	if bytes.Contains(dict, []byte("endobj")) {
		return 0, 0
	}
	k := bytes.LastIndex(dict, []byte("/Length"))
	if k < 0 {
		return 0, 0
	}
	l := NewLexer(dict[k+len("/Length"):])
	t := l.Next()
	if t.Kind != TokenInteger || t.Int < 0 || t.Int > d.src.size {
		return 0, 0
	}
	if _, _, isRef := refTail(l.buf, l.pos); isRef {
		return 0, 0
	}
	at := off + int64(i) + int64(len("stream"))
	tail := d.src.bytes(at+t.Int, 40)
	if !bytes.Contains(tail, []byte("endstream")) {
		return 0, 0
	}
	return at, at + t.Int
}

// repair makes the entries from the scan and finds a catalogue and pages in them.
func (d *Document) repair(header bool, password string) error {
	if len(d.scanPlain().entries) == 0 {
		if !header {
			return fmt.Errorf("%w: it has neither the mark of a PDF nor any object in it; choose the PDF that was exported for print", ErrNotPDF)
		}
		return fmt.Errorf("%w: nothing readable is in it, it is damaged or cut short; export it again", ErrNoPages)
	}
	d.entries = d.scanPlain().entries
	d.base, d.repaired, d.sections, d.trailer, d.catalog = 0, true, nil, nil, nil
	if err := d.unlockFound(password); err != nil {
		return err
	}
	s := d.scan()
	d.entries, d.topNumber = s.entries, s.top
	d.objects.clear()
	d.objStms.clear()
	for i := len(s.trailers) - 1; i >= 0; i-- {
		t := s.trailers[i]
		c, ok := d.Dict(t["Root"])
		switch {
		case d.trailer != nil:
			d.trailer = withOlder(d.trailer, t)
		case ok && c["Pages"] != nil:
			d.trailer = t
		}
	}
	if d.trailer == nil {
		d.trailer = Dict{}
		for _, t := range s.trailers { // a document without a catalogue still may have an ID
			d.trailer = withOlder(t, d.trailer)
		}
	}
	if !d.findCatalog() || d.catalog["Pages"] == nil {
		d.guessCatalog(s)
	}
	if !d.walkPages() && !d.collectPages() {
		if !header {
			return fmt.Errorf("%w: it has no pages; choose the PDF that was exported for print", ErrNotPDF)
		}
		return fmt.Errorf("%w: nothing in it can be printed; export it again", ErrNoPages)
	}
	d.sink.Add(finding.Finding{ID: "file-repaired", Severity: finding.Warning, Class: finding.Malformed,
		What:   "The file is damaged: its list of objects cannot be used. The objects were found by searching the file.",
		Why:    "Other programs may find other objects, or refuse the file; what prints may differ from what you see.",
		Remedy: remedySaveAgain})
	return nil
}

// unlockFound looks for the encryption dictionary in what the scan found.
func (d *Document) unlockFound(password string) error {
	if d.security != nil { // the key is known already
		return nil
	}
	s := d.scanPlain()
	t := Dict{}
	for i := len(s.trailers) - 1; i >= 0; i-- {
		t = withOlder(t, s.trailers[i])
	}
	if len(s.trailers) == 0 { // every trailer is lost
		for _, n := range s.encrypts {
			e, _ := d.find(n, true).(Dict)
			if e["Filter"] == Name("Standard") && e["O"] != nil && e["U"] != nil && e["R"] != nil {
				t = Dict{"Encrypt": Ref{Num: n}}
			}
		}
	}
	return d.unlock(t, password)
}

// guessCatalog takes the last object that looks like a catalogue, or an empty one.
func (d *Document) guessCatalog(s *scan) {
	d.catalog = Dict{"Type": Name("Catalog")}
	try := func(num int) bool {
		c, ok := d.load(num).(Dict)
		if !ok || c["Pages"] == nil {
			return false
		}
		if n, _ := d.Name(c["Type"]); n != "Catalog" {
			return false
		}
		root := Ref{Num: num}
		if e := s.entries[num]; e.kind == entryAt {
			root.Gen = int(e.gen)
		}
		d.catalog = c
		d.trailer = withRoot(d.trailer, root)
		return true
	}
	for i := len(s.catalogs) - 1; i >= 0; i-- {
		if try(s.catalogs[i]) {
			return
		}
	}
	for _, num := range d.numbers() {
		if s.entries[num].kind == entryIn && try(num) {
			return
		}
	}
}

func withRoot(t Dict, root Ref) Dict {
	out := Dict{}
	for k, v := range t {
		out[k] = v
	}
	out["Root"] = root
	return out
}

// numbers lists the numbers of all objects, ascending.
func (d *Document) numbers() []int {
	out := make([]int, 0, len(d.entries))
	for n, e := range d.entries {
		if e.kind != entryFree {
			out = append(out, n)
		}
	}
	sort.Ints(out)
	return out
}

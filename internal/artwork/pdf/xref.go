package pdf

import (
	"bytes"
	"errors"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

type entryKind uint8

const (
	entryFree entryKind = iota
	entryAt             // at an offset of the file
	entryIn             // in an object stream
)

// entry is the place of one object.
type entry struct {
	off  int64 // offset in the file, or number of the object stream
	gen  int32 // generation, or index in the object stream
	kind entryKind
}

// sectionKind is how a cross-reference section is written.
type sectionKind uint8

const (
	sectionTable sectionKind = iota
	sectionStream
	sectionHybrid // a table whose trailer names a stream as well (7.5.8.4)
)

// section is one link of the /Prev chain.
type section struct {
	off     int64 // as /Prev has to name it
	kind    sectionKind
	trailer Dict
}

var errXref = errors.New("the cross-reference section cannot be read")

// readChain finds startxref and reads the sections it leads to, newest first.
func (d *Document) readChain() error {
	off, ok := d.startXref()
	if !ok {
		return errXref
	}
	// Offsets count from %PDF (7.5.4 with the header rule of 7.5.2), yet many writers that were put
	// behind other bytes count from the start of the file.
	if d.base > 0 && !d.looksLikeXref(off+d.base) && d.looksLikeXref(off) {
		d.base = 0
	}
	seen := map[int64]bool{}
	budget := d.maxEntries()
	for n := 0; ; n++ {
		if n >= limits.MaxXrefSections || seen[off] {
			if n == 0 {
				return errXref
			}
			d.malformed("xref-chain-broken", finding.Warning, 0, "The list of earlier versions in the file leads round in a circle.", remedySaveAgain)
			d.chainCut = true
			return nil
		}
		seen[off] = true
		sec, err := d.readSection(off, &budget)
		if err != nil {
			if n == 0 {
				return err
			}
			d.malformed("xref-chain-broken", finding.Warning, 0, "An earlier version's object list cannot be read; missing objects are searched in the whole file.", remedySaveAgain)
			d.chainCut = true
			return nil
		}
		d.sections = append(d.sections, sec)
		if d.trailer == nil {
			d.trailer = sec.trailer
		} else {
			d.trailer = withOlder(d.trailer, sec.trailer)
		}
		prev, ok := intFrom(sec.trailer["Prev"])
		if r, isRef := sec.trailer["Prev"].(Ref); isRef { // seen where a writer took the offset for an object number
			prev, ok = r.Num, true
		}
		if !ok || prev == 0 && n > 0 {
			return nil
		}
		off = int64(prev)
	}
}

// withOlder fills entries a newer trailer lacks from an older one; every trailer should have them all (7.5.6).
func withOlder(newer, older Dict) Dict {
	out := newer
	for _, k := range []Name{"Root", "Info", "ID", "Encrypt"} {
		if newer[k] != nil || older[k] == nil {
			continue
		}
		if len(out) == len(newer) { // not copied yet
			out = Dict{}
			for n, v := range newer {
				out[n] = v
			}
		}
		out[k] = older[k]
	}
	return out
}

// maxEntries bounds the claims of cross-reference sections by the size of the file.
func (d *Document) maxEntries() int {
	return int(min(int64(limits.MaxObjects), 1<<20+d.src.size/4))
}

// startXref reads the offset behind the last startxref.
func (d *Document) startXref() (int64, bool) {
	const tail = 64 << 10
	from := max(d.src.size-tail, 0)
	b := d.src.bytes(from, tail)
	for {
		i := bytes.LastIndex(b, []byte("startxref"))
		if i < 0 {
			return 0, false
		}
		l := NewLexer(b[i+len("startxref"):])
		if t := l.Next(); t.Kind == TokenInteger && t.Int >= 0 {
			return t.Int, true
		}
		b = b[:i]
	}
}

// looksLikeXref reports whether a section starts at off.
func (d *Document) looksLikeXref(off int64) bool {
	l := NewLexer(d.src.bytes(off, 64))
	t := l.Next()
	return t.Kind == TokenKeyword && bytes.HasPrefix(t.Bytes, []byte("xref")) || d.looksLikeObject(off)
}

// tableAt finds the keyword xref at off, or a few bytes beside it as seen after line ends were
// converted. It returns the offset of the keyword.
func (d *Document) tableAt(off int64) (int64, bool) {
	b := d.src.bytes(off, 64)
	l := NewLexer(b)
	l.SkipSpace()
	if bytes.HasPrefix(b[l.Pos():], []byte("xref")) {
		return off + int64(l.Pos()), true
	}
	from := max(off-64, 0)
	b = d.src.bytes(from, off-from+128)
	for i := 0; i < len(b); {
		j := bytes.Index(b[i:], []byte("xref"))
		if j < 0 {
			break
		}
		i += j
		if i == 0 || !IsRegular(b[i-1]) {
			return from + int64(i), true
		}
		i += 4
	}
	return 0, false
}

// readSection reads the table or stream at off (not counting d.base) into d.entries; entries that
// are there already are newer and stay.
func (d *Document) readSection(off int64, budget *int) (section, error) {
	at := off + d.base
	b := d.src.bytes(at, 64)
	l := NewLexer(b)
	if t := l.Next(); t.Kind == TokenInteger && d.looksLikeObject(at) {
		dict, list, err := d.readXrefStream(at, budget)
		if err != nil {
			return section{}, err
		}
		d.addEntries(list, true)
		return section{off: off, kind: sectionStream, trailer: dict}, nil
	}
	pos, ok := d.tableAt(at)
	if !ok {
		return section{}, errXref
	}
	list, trailer, err := d.readTable(pos, budget)
	if err != nil {
		return section{}, err
	}
	sec := section{off: pos - d.base, kind: sectionTable, trailer: trailer}
	d.addEntries(list, false)
	if stm, ok := intFrom(trailer["XRefStm"]); ok {
		sec.kind = sectionHybrid
		// Objects hidden from old readers are free in the table and in use in the stream (7.5.8.4).
		_, hidden, err := d.readXrefStream(int64(stm)+d.base, budget)
		if err != nil {
			d.malformed("xref-chain-broken", finding.Warning, 0, "The file's second object list (XRefStm) cannot be read; missing objects are searched in the whole file.", remedySaveAgain)
			d.chainCut = true
		}
		d.addEntries(hidden, true)
	}
	d.addFree(list)
	return sec, nil
}

func (d *Document) looksLikeObject(at int64) bool {
	l := NewLexer(d.src.bytes(at, 64))
	n, g := l.Next(), l.Next()
	k := l.Next()
	return n.Kind == TokenInteger && g.Kind == TokenInteger && k.Kind == TokenKeyword && bytes.HasPrefix(k.Bytes, []byte("obj"))
}

type numbered struct {
	num int
	entry
}

func (d *Document) addEntries(list []numbered, free bool) {
	if len(d.entries) == 0 {
		d.entries = make(map[int]entry, len(list))
	}
	for _, e := range list {
		d.topNumber = max(d.topNumber, e.num)
		if e.kind == entryFree && !free {
			continue
		}
		if _, ok := d.entries[e.num]; !ok {
			d.entries[e.num] = e.entry
		}
	}
}

func (d *Document) addFree(list []numbered) {
	for _, e := range list {
		if _, ok := d.entries[e.num]; !ok && e.kind == entryFree {
			d.entries[e.num] = e.entry
		}
	}
}

// readTable reads a classic table (7.5.4) whose keyword stands at pos, and its trailer.
func (d *Document) readTable(pos int64, budget *int) (list []numbered, trailer Dict, err error) {
	err = errXref
	left := *budget
	d.src.windows(pos, func(b []byte, last bool) bool {
		*budget = left
		p := &parser{lex: *NewLexer(b)}
		var ok bool
		list, trailer, ok = parseTable(p, budget)
		if !last && (p.short || p.lex.pos+64 > len(b)) {
			return false
		}
		if ok {
			err = nil
		}
		return true
	})
	return list, trailer, err
}

func parseTable(p *parser, budget *int) (list []numbered, trailer Dict, ok bool) {
	l := &p.lex
	l.pos += len("xref")
	for {
		t := l.Next()
		if t.Kind == TokenEOF {
			p.short = true
			return nil, nil, false
		}
		if t.Kind == TokenKeyword && string(t.Bytes) == "trailer" {
			break
		}
		if t.Kind != TokenInteger {
			return nil, nil, false
		}
		c := l.Next()
		if c.Kind != TokenInteger || t.Int < 0 || c.Int < 0 || t.Int > maxObjectNumber {
			p.short = p.short || c.Kind == TokenEOF
			return nil, nil, false
		}
		start, count := int(t.Int), c.Int
		list = slices.Grow(list, int(max(min(count, int64(len(l.buf)-l.pos)/tableRow, int64(*budget)), 0)))
		for i := 0; int64(i) < count; i++ {
			e, res := tableEntry(l)
			switch res {
			case tableShort:
				p.short = true
				return nil, nil, false
			case tableEnd: // fewer entries than announced
				count = 0
				continue
			case tableBad:
				return nil, nil, false
			}
			if i == 0 && start == 1 && e.kind == entryFree && e.gen == 65535 {
				start = 0 // the head of the free list is object 0, whatever the subsection says
			}
			if *budget--; *budget < 0 || start+i > maxObjectNumber {
				return nil, nil, false
			}
			list = append(list, numbered{start + i, e})
		}
	}
	o, got := p.parseObject(0)
	trailer, ok = o.(Dict)
	return list, trailer, got && ok
}

type tableResult uint8

const (
	tableOK tableResult = iota
	tableEnd
	tableShort
	tableBad
)

// tableRow is the least an entry of a table takes: "0 0 n" and an end of line.
const tableRow = 6

// tableEntry reads "nnnnnnnnnn ggggg n" with whatever white space there is.
func tableEntry(l *Lexer) (e entry, res tableResult) {
	a := l.Next()
	switch {
	case a.Kind == TokenEOF:
		return e, tableShort
	case a.Kind == TokenKeyword && string(a.Bytes) == "trailer":
		l.pos = a.Pos
		return e, tableEnd
	case a.Kind != TokenInteger:
		return e, tableBad
	}
	g := l.Next()
	k := l.Next()
	if k.Kind == TokenEOF {
		return e, tableShort
	}
	if g.Kind == TokenInteger && k.Kind == TokenInteger { // the next subsection came early
		l.pos = a.Pos
		return e, tableEnd
	}
	if g.Kind != TokenInteger || k.Kind != TokenKeyword || len(k.Bytes) != 1 || a.Int < 0 {
		return e, tableBad
	}
	e.off, e.gen = a.Int, int32(min(max(g.Int, 0), 65535))
	switch k.Bytes[0] {
	case 'n':
		e.kind = entryAt
		if e.off == 0 { // no object can lie there; seen for objects that were removed
			e.kind = entryFree
		}
	case 'f':
		e.kind = entryFree
	default:
		return e, tableBad
	}
	return e, tableOK
}

// readXrefStream reads the cross-reference stream at offset at (7.5.8).
func (d *Document) readXrefStream(at int64, budget *int) (Dict, []numbered, error) {
	in, s, ok := d.parseAt(at)
	if !ok || s == nil {
		return nil, nil, errXref
	}
	_ = in
	if n, _ := s.Dict["Type"].(Name); n != "XRef" && s.Dict["W"] == nil {
		return nil, nil, errXref
	}
	data, err := d.decodeAll(s, direct)
	if err != nil && len(data) == 0 {
		return nil, nil, errXref
	}
	list, ok := xrefStreamEntries(s.Dict, data, budget)
	if !ok {
		return nil, nil, errXref
	}
	if err != nil {
		d.malformed("xref-stream-damaged", finding.Warning, s.Ref.Num, "The file's object list is damaged; missing objects are searched in the whole file.", remedySaveAgain)
		d.chainCut = true
	}
	return s.Dict, list, nil
}

// direct resolves nothing: the streams that describe the file's structure have direct entries.
func direct(o Object) Object {
	if _, ok := o.(Ref); ok {
		return nil
	}
	return o
}

func xrefStreamEntries(dict Dict, data []byte, budget *int) ([]numbered, bool) {
	wa, _ := dict["W"].(Array)
	if len(wa) < 3 {
		return nil, false
	}
	var w [3]int
	for i := range w {
		n, ok := intFrom(wa[i])
		if !ok || n < 0 || n > 8 {
			return nil, false
		}
		w[i] = n
	}
	row := w[0] + w[1] + w[2]
	if row == 0 {
		return nil, false
	}
	index, _ := dict["Index"].(Array)
	if len(index) < 2 {
		size, ok := intFrom(dict["Size"])
		if !ok {
			size = len(data) / row
		}
		index = Array{Integer(0), Integer(size)}
	}
	var list []numbered
	for i := 0; i+1 < len(index); i += 2 {
		start, ok1 := intFrom(index[i])
		count, ok2 := intFrom(index[i+1])
		if !ok1 || !ok2 || start < 0 || count < 0 {
			return list, len(list) > 0
		}
		list = slices.Grow(list, max(min(count, len(data)/row, *budget), 0))
		for j := 0; j < count && len(data) >= row; j++ {
			var f [3]uint64
			k := 0
			for c := range f {
				for n := w[c]; n > 0; n-- {
					f[c] = f[c]<<8 | uint64(data[k])
					k++
				}
			}
			data = data[row:]
			if w[0] == 0 {
				f[0] = 1
			}
			if *budget--; *budget < 0 || start+j > maxObjectNumber {
				return list, len(list) > 0
			}
			e := numbered{num: start + j}
			switch f[0] {
			case 1:
				e.entry = entry{off: int64(f[1] & (1<<62 - 1)), gen: int32(min(f[2], 65535)), kind: entryAt}
			case 2:
				e.entry = entry{off: int64(min(f[1], maxObjectNumber)), gen: int32(min(f[2], maxObjectNumber)), kind: entryIn}
			}
			list = append(list, e) // other types refer to the null object, as a free entry does (Table 18)
		}
	}
	return list, true
}

package pdf

import (
	"fmt"
	"sync"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// load gives object num, parsing it when it is asked for the first time.
func (d *Document) load(num int) Object {
	e := d.objects.load(num)
	if e == nil {
		e = &cached{value: d.find(num, false)}
		e.bytes.Store(weightOf(e.value))
		e = d.objects.keep(num, e)
	}
	return e.value
}

// find looks an object up through the cross-reference entries, then by the scan of the file when it
// is not where they say. With plain it does not look into object streams: what describes an object
// stream must not lie in one (7.5.7).
func (d *Document) find(num int, plain bool) Object {
	e, ok := d.entries[num]
	switch {
	case num <= 0: // object 0 is always free (7.5.4)
		return nil
	case !ok && !d.chainCut, ok && e.kind == entryFree:
		return nil
	case ok && e.kind == entryAt:
		if o, ok := d.objectAt(num, e.off+d.base); ok {
			return o
		}
	case ok && e.kind == entryIn:
		if plain {
			return nil
		}
		if o, ok := d.objectIn(num, int(e.off), int(e.gen)); ok {
			return o
		}
	}
	return d.fromScan(num, ok, plain)
}

// fromScan is the last resort for an object that is not where its entry says.
func (d *Document) fromScan(num int, listed, plain bool) Object {
	if d.repaired {
		return nil // the entries are the scan
	}
	var s *scan
	if plain {
		s = d.scanPlain()
	} else {
		s = d.scan()
	}
	e, ok := s.entries[num]
	if !ok {
		if listed {
			d.malformed("object-missing", finding.Warning, num, fmt.Sprintf("Object %d is listed in the file but is not in it.", num), remedySaveAgain)
		}
		return nil
	}
	var o Object
	if e.kind == entryAt {
		o, ok = d.objectAt(num, e.off)
	} else {
		o, ok = d.memberOf(d.objStm(int(e.off), s.findPlain(d)), num, int(e.gen))
	}
	if ok {
		d.malformed("object-misplaced", finding.Note, num, "Objects are not where the file's list says; they were found by searching the file.", remedySaveAgain)
	}
	return o
}

// parseAt parses the indirect object at offset at. s is set when it is a stream.
func (d *Document) parseAt(at int64) (in indirect, s *Stream, ok bool) {
	var p *parser
	d.src.windows(at, func(b []byte, last bool) bool {
		p = &parser{lex: *NewLexer(b)}
		in, ok = p.parseIndirect()
		return last || !p.short && p.lex.pos+64 < len(b)
	})
	if p == nil {
		return in, nil, false
	}
	effort := d.spend(int64(p.lex.pos))
	if !ok {
		return in, nil, false
	}
	if !effort || p.over {
		d.sink.Add(finding.Finding{ID: "object-too-large", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What:   "An object is nested deeper or has more entries than can be read; it is taken as missing.",
			Remedy: remedySaveAgain, Place: finding.Place{Object: in.num}})
		in.obj = nil
		return in, nil, true
	}
	d.reportParser(p, in.num)
	dict, isDict := in.obj.(Dict)
	isStream := isDict && in.stream >= 0
	if d.security != nil && !(isStream && dict["Type"] == Name("XRef")) {
		var sound bool
		if in.obj, sound = d.security.openStrings(in.obj, in.num, in.gen); !sound {
			d.malformed("text-not-decrypted", finding.Note, in.num, "Encrypted text in an object is damaged; it was read as well as can be.", remedySaveAgain)
		}
	}
	if isStream {
		ref := Ref{in.num, in.gen}
		s = &Stream{Dict: dict, Ref: ref, raw: &rawData{doc: d, off: at + int64(in.stream), ref: ref, dict: dict}}
		in.obj = s
	}
	return in, s, true
}

// spend takes n bytes of parsing from what the document may cost. Damage can make each object run to
// the end of the file, and a file can hold millions of such.
func (d *Document) spend(n int64) bool { return d.effort.Add(-n) >= 0 }

func (d *Document) reportParser(p *parser, num int) {
	if p.damaged {
		d.malformed("object-damaged", finding.Note, num, "An object is not written as the PDF standard asks; it was read as well as can be.", remedySaveAgain)
	}
	if p.clamped {
		d.malformed("number-too-large", finding.Note, num, "A number is too large to be read; the largest possible one is taken.", remedySaveAgain)
	}
}

// objectAt reads object num at offset at; ok is false when another object or none is there.
func (d *Document) objectAt(num int, at int64) (Object, bool) {
	in, _, ok := d.parseAt(at)
	if !ok || in.num != num {
		return nil, false
	}
	return in.obj, true
}

// objStm is a decoded object stream (7.5.7).
type objStm struct {
	once sync.Once
	nums []int
	offs []int
	data []byte // from /First on
	next Object // /Extends

	whereOnce sync.Once // index of each number, made when an entry's index is wrong
	where     map[int]int
}

// objectIn reads object num out of object stream stm, where it should have the given index.
func (d *Document) objectIn(num, stm, index int) (Object, bool) {
	for range limits.MaxRefHops {
		s := d.objStm(stm, func(num int) Object { return d.find(num, true) })
		if o, ok := d.memberOf(s, num, index); ok {
			return o, true
		}
		next, ok := s.next.(Ref)
		if !ok {
			return nil, false
		}
		stm = next.Num
	}
	return nil, false
}

// objStm gives object stream num, decoded; an empty one when there is none. find must not look into object streams.
func (d *Document) objStm(num int, find func(int) Object) *objStm {
	e := d.objStms.load(num)
	if e == nil {
		e = d.objStms.keep(num, &cached{value: &objStm{}})
	}
	s := e.value.(*objStm)
	s.once.Do(func() {
		st, ok := find(num).(*Stream)
		if !ok {
			return
		}
		d.readObjStm(s, st, func(o Object) Object {
			if r, ok := o.(Ref); ok {
				return direct(find(r.Num))
			}
			return o
		})
		d.objStms.weigh(e, int64(cap(s.data)+16*len(s.nums)))
	})
	return s
}

// readObjStm decodes st into s. resolve must not look into object streams.
func (d *Document) readObjStm(s *objStm, st *Stream, resolve func(Object) Object) {
	data, err := d.decodeAll(st, resolve)
	if !d.spend(int64(len(data) / 16)) { // inflating is that much faster than parsing
		return
	}
	if err != nil {
		d.malformed("stream-damaged", finding.Warning, st.Ref.Num, "A part of the file that holds other objects is damaged; objects may be missing.", remedySaveAgain)
	}
	first, ok1 := intFrom(resolve(st.Dict["First"]))
	n, ok2 := intFrom(resolve(st.Dict["N"]))
	if !ok1 || !ok2 || first < 0 || first > len(data) || n < 0 {
		return
	}
	l := NewLexer(data[:first])
	for range min(n, first/2+1) {
		a, b := l.Next(), l.Next()
		if a.Kind != TokenInteger || b.Kind != TokenInteger || a.Int < 0 || a.Int > maxObjectNumber || b.Int < 0 || b.Int > int64(len(data)-first) {
			break
		}
		s.nums = append(s.nums, int(a.Int))
		s.offs = append(s.offs, int(b.Int))
	}
	s.data = data[first:]
	s.next = st.Dict["Extends"]
}

// memberOf parses object num of s.
func (d *Document) memberOf(s *objStm, num, index int) (Object, bool) {
	if index < 0 || index >= len(s.nums) || s.nums[index] != num {
		s.whereOnce.Do(func() {
			s.where = make(map[int]int, len(s.nums))
			for i, n := range s.nums {
				s.where[n] = i
			}
		})
		var ok bool
		if index, ok = s.where[num]; !ok {
			return nil, false
		}
	}
	p := &parser{lex: *NewLexer(s.data)}
	p.lex.SetPos(s.offs[index])
	o, ok := p.parseObject(0)
	if !d.spend(int64(p.lex.pos-s.offs[index])) || p.over {
		return nil, false
	}
	d.reportParser(p, num)
	return o, ok
}

package pdf

import "laydown/internal/limits"

// parser builds objects from tokens. It goes on after damage and remembers that there was some.
type parser struct {
	lex     Lexer
	damaged bool // something was not as the standard asks; the best reading was taken
	short   bool // the buffer ended inside an object
	over    bool // a limit was passed
	clamped bool // a number beyond 64 bits
	values  int  // objects made
	names   map[string]Name
}

// parseObject reads one object; a keyword that is no object gives nil and ok false, unread.
func (p *parser) parseObject(depth int) (o Object, ok bool) {
	t := p.lex.Next()
	return p.objectFrom(t, depth)
}

func (p *parser) objectFrom(t Token, depth int) (Object, bool) {
	p.values++
	if p.values > limits.MaxValues {
		p.over = true
		return nil, false
	}
	if t.Odd {
		p.damaged = true
	}
	if t.Clamped {
		p.clamped = true
	}
	switch t.Kind {
	case TokenInteger:
		if t.Int >= 0 && t.Bytes == nil {
			if gen, end, ok := refTail(p.lex.buf, p.lex.pos); ok && !t.Odd && t.Int <= maxObjectNumber {
				p.lex.pos = end
				return Ref{int(t.Int), gen}, true
			}
		}
		return Integer(t.Int), true
	case TokenReal:
		return Real(t.Num), true
	case TokenName:
		return p.name(t.Bytes), true
	case TokenString:
		if t.Odd && p.lex.pos >= len(p.lex.buf) {
			p.short = true
		}
		return String(t.Bytes), true
	case TokenArrayOpen:
		return p.array(depth + 1)
	case TokenDictOpen:
		return p.dict(depth + 1)
	case TokenKeyword:
		switch string(t.Bytes) {
		case "true":
			return Boolean(true), true
		case "false":
			return Boolean(false), true
		case "null":
			return nil, true
		}
	case TokenEOF:
		p.short = true
	}
	p.lex.pos = t.Pos
	return nil, false
}

// maxObjectNumber bounds what is taken for an object number; larger ones are numbers by mistake.
const maxObjectNumber = 1<<31 - 1

// refTail looks for " G R" at pos, the rest of an indirect reference after its object number.
func refTail(b []byte, pos int) (gen, end int, ok bool) {
	p := pos
	for p < len(b) && charClass[b[p]] == chSpace {
		p++
	}
	if p == pos {
		return
	}
	d := p
	for p < len(b) && b[p]-'0' <= 9 && p-d < 7 {
		gen = gen*10 + int(b[p]-'0')
		p++
	}
	if p == d {
		return
	}
	s := p
	for p < len(b) && charClass[b[p]] == chSpace {
		p++
	}
	if p == s || p >= len(b) || b[p] != 'R' {
		return
	}
	if p+1 < len(b) && charClass[b[p+1]] == chRegular {
		return
	}
	return gen, p + 1, true
}

// name interns names: a file uses few of them many times.
func (p *parser) name(b []byte) Name {
	if n, ok := wellKnown[string(b)]; ok {
		return n
	}
	if n, ok := p.names[string(b)]; ok {
		return n
	}
	n := Name(b)
	if p.names == nil {
		p.names = map[string]Name{}
	}
	p.names[string(n)] = n
	return n
}

var wellKnown = func() map[string]Name {
	m := map[string]Name{}
	for _, n := range []Name{"Type", "Subtype", "Length", "Filter", "FlateDecode", "DecodeParms", "Parent", "Resources", "Font",
		"XObject", "ExtGState", "ColorSpace", "Pattern", "Shading", "Properties", "ProcSet", "Contents", "MediaBox", "CropBox", "TrimBox",
		"BleedBox", "ArtBox", "Rotate", "Kids", "Count", "Page", "Pages", "Catalog", "First", "N", "Width", "Height", "BitsPerComponent",
		"Image", "Form", "BBox", "Matrix", "Group", "SMask", "Name", "BaseFont", "Encoding", "FontDescriptor", "Widths", "FirstChar",
		"LastChar", "DeviceCMYK", "DeviceRGB", "DeviceGray", "Separation", "DeviceN", "ICCBased", "Domain", "Range", "FunctionType", "C0", "C1"} {
		m[string(n)] = n
	}
	return m
}()

// endsObject reports a keyword that can only stand after an object: a container was not closed.
func endsObject(k []byte) bool {
	switch string(k) {
	case "endobj", "obj", "endstream", "stream", "xref", "trailer", "startxref":
		return true
	}
	return false
}

// arrayStart is the room of a new array; most hold up to four numbers.
const arrayStart = 4

func (p *parser) array(depth int) (Object, bool) {
	if depth > limits.MaxNesting {
		p.over = true
		return nil, false
	}
	a := make(Array, 0, arrayStart)
	for {
		t := p.lex.Next()
		switch t.Kind {
		case TokenArrayClose:
			return a, true
		case TokenEOF:
			p.short, p.damaged = true, true
			return a, true
		case TokenDictClose: // the array was not closed before the dictionary round it
			p.damaged = true
			p.lex.pos = t.Pos
			return a, true
		}
		o, ok := p.objectFrom(t, depth)
		if p.over {
			return a, false
		}
		if !ok {
			p.damaged = true
			if endsObject(t.Bytes) {
				return a, true
			}
			p.lex.pos = t.Pos + max(len(t.Bytes), 1)
			continue
		}
		a = append(a, o)
	}
}

func (p *parser) dict(depth int) (Object, bool) {
	if depth > limits.MaxNesting {
		p.over = true
		return nil, false
	}
	d := Dict{}
	for {
		t := p.lex.Next()
		switch t.Kind {
		case TokenDictClose:
			return d, true
		case TokenEOF:
			p.short, p.damaged = true, true
			return d, true
		case TokenName:
		case TokenKeyword:
			p.damaged = true
			if endsObject(t.Bytes) {
				p.lex.pos = t.Pos
				return d, true
			}
			continue
		default:
			p.damaged = true
			continue
		}
		p.damaged = p.damaged || t.Odd
		key := p.name(t.Bytes)
		v := p.lex.Next()
		if v.Kind == TokenDictClose { // a key without a value
			p.damaged = true
			d[key] = nil
			return d, true
		}
		o, ok := p.objectFrom(v, depth)
		if p.over {
			return d, false
		}
		if !ok {
			p.damaged = true
			if v.Kind == TokenEOF {
				return d, true
			}
			if v.Kind == TokenKeyword && endsObject(v.Bytes) {
				return d, true
			}
			p.lex.pos = v.Pos + max(len(v.Bytes), 1)
			continue
		}
		d[key] = o
	}
}

// indirect is what stands at an offset of the file as "N G obj ...".
type indirect struct {
	num, gen int
	obj      Object
	stream   int // offset in the buffer of the stream's first byte, -1 without a stream
	end      int // offset in the buffer after the object, before endobj
}

// parseIndirect reads "N G obj" and the object that follows it.
func (p *parser) parseIndirect() (in indirect, ok bool) {
	in.stream = -1
	n, g, k := p.lex.Next(), Token{}, Token{}
	if n.Kind == TokenInteger {
		g = p.lex.Next()
	}
	if g.Kind == TokenInteger {
		k = p.lex.Next()
	}
	if n.Kind == TokenEOF || g.Kind == TokenEOF && n.Kind == TokenInteger || k.Kind == TokenEOF && g.Kind == TokenInteger {
		p.short = true
	}
	if k.Kind != TokenKeyword || n.Int < 0 || n.Int > maxObjectNumber || g.Int < 0 || g.Int > maxObjectNumber {
		return in, false
	}
	if string(k.Bytes) != "obj" {
		// "objfoo": the keyword runs into a keyword object
		if len(k.Bytes) < 3 || string(k.Bytes[:3]) != "obj" {
			return in, false
		}
		p.lex.pos = k.Pos + 3
	}
	in.num, in.gen = int(n.Int), int(g.Int)
	o, got := p.parseObject(0)
	if !got {
		p.damaged = p.damaged || p.short || !p.at("endobj") // "N G obj endobj" is null
		in.end = p.lex.pos
		return in, true
	}
	in.obj, in.end = o, p.lex.pos
	if d, isDict := o.(Dict); isDict && d != nil {
		in.stream = p.streamStart()
	}
	return in, true
}

// at reports whether keyword k comes next, without reading it.
func (p *parser) at(k string) bool {
	p.lex.SkipSpace()
	b := p.lex.buf[p.lex.pos:]
	return len(b) >= len(k) && string(b[:len(k)]) == k
}

// streamStart reads the keyword stream and its end of line (7.3.8.1); -1 when there is none.
func (p *parser) streamStart() int {
	if !p.at("stream") {
		if len(p.lex.buf)-p.lex.pos < 8 {
			p.short = true
		}
		return -1
	}
	b, q := p.lex.buf, p.lex.pos+len("stream")
	if len(b)-q < 64 {
		p.short = true
	}
	// Spaces before the end of line are against the rule but seen.
	s := q
	for s < len(b) && (b[s] == ' ' || b[s] == '\t') && s-q < 32 {
		s++
	}
	if s < len(b) && (b[s] == '\r' || b[s] == '\n') {
		p.damaged = p.damaged || s > q
		q = s
	}
	switch {
	case q+1 < len(b) && b[q] == '\r' && b[q+1] == '\n':
		q += 2
	case q < len(b) && b[q] == '\n':
		q++
	case q < len(b) && b[q] == '\r':
		q++
		p.damaged = true
	}
	p.lex.pos = q
	return q
}

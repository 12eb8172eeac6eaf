package content

import (
	"bytes"

	"laydown/internal/artwork/pdf"
)

// An inline image has no length before PDF 2.0, and its data may hold the bytes "EI". The end is
// found, in this order: from /L or /Length (PDF 2.0); from the image's size when the data is not
// filtered and the size of its pixels is known; by the end mark of the outermost filter where it has
// one; else at the first EI between white space that is followed by what looks like operators.

// inline reads from after BI to after EI. It returns nil when there is no image to speak of.
func (s *Scanner) inline(at int) *Inline {
	dict := pdf.Dict{}
	for {
		t := s.lex.Next()
		if t.Kind == pdf.TokenKeyword && string(t.Bytes) == "ID" {
			break
		}
		if t.Kind == pdf.TokenKeyword && string(t.Bytes) == "EI" {
			s.problem(t.Pos, "an inline image without data")
			return nil
		}
		if t.Kind == pdf.TokenEOF {
			s.problem(at, "an inline image without data")
			return nil
		}
		if t.Kind != pdf.TokenName {
			if _, op := operators[string(t.Bytes)]; op && t.Kind == pdf.TokenKeyword {
				s.problem(t.Pos, "an inline image without data")
				s.lex.SetPos(t.Pos)
				return nil
			}
			s.problem(t.Pos, "an inline image has a key that is no name")
			continue
		}
		key := pdf.Name(t.Bytes)
		v := s.lex.Next()
		s.values = 0
		o, ok := s.object(v, 0)
		if !ok {
			s.problem(v.Pos, "an inline image has a key without a value")
			s.lex.SetPos(v.Pos)
			if v.Kind != pdf.TokenKeyword {
				s.lex.Next()
			}
			continue
		}
		dict[key] = o
	}
	b := s.buf
	from := s.lex.Pos()
	// One white-space character stands after ID; CR LF counts as one line end.
	if from < len(b) && pdf.IsSpace(b[from]) {
		if b[from] == '\r' && from+1 < len(b) && b[from+1] == '\n' {
			from++
		}
		from++
	}
	end, next := s.inlineEnd(dict, from)
	if next < 0 {
		s.problem(at, "an inline image without an end")
		end, next = len(b), len(b)
	}
	s.lex.SetPos(next)
	return &Inline{Dict: dict, Data: b[from:end:end]}
}

func either(d pdf.Dict, short, long pdf.Name) pdf.Object {
	if v, ok := d[long]; ok {
		return v
	}
	return d[short]
}

func whole(o pdf.Object) (int, bool) {
	n, ok := o.(pdf.Integer)
	return int(n), ok
}

// inlineEnd gives where the data ends and where reading goes on after EI; next is -1 without an EI.
func (s *Scanner) inlineEnd(dict pdf.Dict, from int) (end, next int) {
	b := s.buf
	n, ok := whole(either(dict, "L", "Length"))
	if !ok || n <= 0 {
		n, ok = unfilteredSize(dict)
	}
	if ok && n >= 0 && n <= len(b)-from {
		if after, ok := endMark(b, from+n); ok {
			return from + n, after
		}
	}
	start := from
	if p := s.filterEnd(dict, from); p > 0 {
		if after, ok := endMark(b, p); ok {
			return p, after
		}
		start = p
	}
	for _, p := range []int{start, from} {
		for p < len(b) {
			i := bytes.Index(b[p:], []byte("EI"))
			if i < 0 {
				break
			}
			p += i
			if (p == from || pdf.IsSpace(b[p-1])) && (p+2 == len(b) || !pdf.IsRegular(b[p+2])) && s.plausible(b[p+2:]) {
				end := p
				if end > from {
					end--
					if end > from && b[end] == '\n' && b[end-1] == '\r' {
						end--
					}
				}
				return end, p + 2
			}
			p += 2
		}
		if start == from {
			break
		}
	}
	return 0, -1
}

// endMark looks for EI at p after white space.
func endMark(b []byte, p int) (after int, ok bool) {
	q := p
	for q < len(b) && q-p < 16 && pdf.IsSpace(b[q]) {
		q++
	}
	if q+2 <= len(b) && b[q] == 'E' && b[q+1] == 'I' && (q+2 == len(b) || !pdf.IsRegular(b[q+2])) {
		return q + 2, true
	}
	return 0, false
}

// unfilteredSize is the number of data bytes of an image without filters.
func unfilteredSize(dict pdf.Dict) (int, bool) {
	switch f := either(dict, "F", "Filter").(type) {
	case nil:
	case pdf.Array:
		if len(f) > 0 {
			return 0, false
		}
	default:
		return 0, false
	}
	w, ok1 := whole(either(dict, "W", "Width"))
	h, ok2 := whole(either(dict, "H", "Height"))
	const side = 1 << 20
	if !ok1 || !ok2 || w <= 0 || h <= 0 || w > side || h > side {
		return 0, false
	}
	bpc, comps := 8, 1
	if mask, _ := either(dict, "IM", "ImageMask").(pdf.Boolean); mask {
		bpc = 1
	} else {
		n, ok := whole(either(dict, "BPC", "BitsPerComponent"))
		if !ok || n < 1 || n > 16 {
			return 0, false
		}
		bpc = n
		cs := either(dict, "CS", "ColorSpace")
		if a, ok := cs.(pdf.Array); ok && len(a) > 0 {
			cs = a[0]
		}
		switch cs {
		case pdf.Name("G"), pdf.Name("DeviceGray"), pdf.Name("I"), pdf.Name("Indexed"):
		case pdf.Name("RGB"), pdf.Name("DeviceRGB"):
			comps = 3
		case pdf.Name("CMYK"), pdf.Name("DeviceCMYK"):
			comps = 4
		default: // a space of the page's resources: its components are not known here
			return 0, false
		}
	}
	return (w*bpc*comps + 7) / 8 * h, true
}

// mark remembers where a filter's end mark stands: damaged content may ask again and again.
type mark struct {
	from, at int // the first mark at or after from is at at; at is the end of the data when there is none
	known    bool
}

// find gives the first place of pattern at or after from.
func (s *Scanner) find(m *mark, pattern string, from int) (at int, ok bool) {
	if !m.known || from < m.from || from > m.at {
		*m = mark{from: from, at: len(s.buf), known: true}
		if i := bytes.Index(s.buf[from:], []byte(pattern)); i >= 0 {
			m.at = from + i
		}
	}
	return m.at, m.at < len(s.buf)
}

// filterEnd gives where the data ends by the end mark of the outermost filter, 0 when it has none
// or it is not found.
func (s *Scanner) filterEnd(dict pdf.Dict, from int) int {
	f := either(dict, "F", "Filter")
	if a, ok := f.(pdf.Array); ok && len(a) > 0 {
		f = a[0]
	}
	switch f {
	case pdf.Name("AHx"), pdf.Name("ASCIIHexDecode"):
		if i, ok := s.find(&s.marks[0], ">", from); ok {
			return i + 1
		}
	case pdf.Name("A85"), pdf.Name("ASCII85Decode"):
		if i, ok := s.find(&s.marks[1], "~>", from); ok {
			return i + 2
		}
	case pdf.Name("RL"), pdf.Name("RunLengthDecode"):
		for i := from; i < len(s.buf) && s.walked < 4*len(s.buf)+1024; {
			step := 2
			switch n := int(s.buf[i]); {
			case n == 128:
				return i + 1
			case n < 128:
				step = n + 2
			}
			i += step
			s.walked += step
		}
	case pdf.Name("DCT"), pdf.Name("DCTDecode"):
		if i, ok := s.find(&s.marks[2], "\xff\xd9", from); ok { // EOI cannot occur in entropy-coded data
			return i + 2
		}
	}
	return 0
}

// maxLooks is how many places one stream's inline images may end at are looked at closely.
const maxLooks = 1 << 17

// plausible reports whether b starts like content: the next few tokens are known operators and
// their operands, or the stream ends.
func (s *Scanner) plausible(b []byte) bool {
	if s.looks++; s.looks > maxLooks {
		return true
	}
	const look = 200
	cut := len(b) > look
	if cut {
		b = b[:look]
	}
	l := pdf.NewLexer(b)
	operands := 0
	for n := 0; n < 12; n++ {
		t := l.Next()
		switch t.Kind {
		case pdf.TokenEOF:
			return true
		case pdf.TokenKeyword:
			if cut && l.Pos() == len(b) {
				return true
			}
			if _, ok := operators[string(t.Bytes)]; ok {
				return true // only sound operands stood before it
			}
			if _, ok := constant(t.Bytes); !ok {
				return false
			}
		case pdf.TokenDictClose, pdf.TokenArrayClose:
		case pdf.TokenString, pdf.TokenName:
			for _, c := range t.Bytes[:min(len(t.Bytes), 32)] {
				if t.Kind == pdf.TokenName && (c < 32 || c == 127) {
					return false
				}
			}
		default:
			if t.Odd {
				return false
			}
		}
		if operands++; operands > 40 {
			return false
		}
	}
	return true
}

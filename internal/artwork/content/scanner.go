// Package content splits content streams into operators with their operands and byte offsets. It
// gives no meaning to any of them.
package content

import (
	"fmt"
	"math"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// Op is one operator with its operands.
type Op struct {
	Name     string       // as written, e.g. "re", "f*"; "BI" stands for a whole inline image
	Operands []pdf.Object // direct objects; valid until the next call of Next
	Offset   int64        // of the operator keyword in the decoded stream
	Start    int64        // of the first operand; Offset when there is none
	End      int64        // after the keyword, or after EI
	Inline   *Inline      // for BI
}

// Inline is an inline image (8.9.7): its dictionary as written and its raw bytes.
type Inline struct {
	Dict pdf.Dict
	Data []byte
}

// Scanner reads operators one by one from decoded content. Damage is skipped and reported
// through Problem; it never panics and always ends.
type Scanner struct {
	// Problem, when not nil, is told of each damage with its offset.
	Problem func(offset int64, what string)

	buf      []byte
	lex      *pdf.Lexer
	operands []pdf.Object
	first    int // where the first operand stands; -1 = none yet
	dropped  int // operands beyond the limit since the last operator
	numbers  []boxed
	names    map[string]pdf.Name
	values   int // entries of arrays and dictionaries of the current operand
	marks    [3]mark
	walked   int // bytes walked for the ends of run lengths
	looks    int // ends of inline images looked at
}

// boxed remembers the interface value of a number: coordinates repeat, and boxing each anew is what
// a scanner would spend most of its time on.
type boxed struct {
	bits uint64
	real bool
	o    pdf.Object
}

const boxedSize = 1 << 10

// NewScanner reads data. Bytes of several content streams of a page must be joined with a
// white-space byte between them by the caller (7.8.2).
func NewScanner(data []byte) *Scanner {
	return &Scanner{buf: data, lex: pdf.NewLexer(data), operands: make([]pdf.Object, 0, 16)}
}

func (s *Scanner) problem(at int, format string, args ...any) {
	if s.Problem != nil {
		s.Problem(int64(at), fmt.Sprintf(format, args...))
	}
}

// Next returns the next operator; ok is false at the end.
func (s *Scanner) Next() (op Op, ok bool) {
	clear(s.operands)
	s.operands = s.operands[:0]
	s.dropped, s.first = 0, -1
	for {
		t := s.lex.Next()
		switch t.Kind {
		case pdf.TokenEOF:
			if len(s.operands) > 0 {
				s.problem(t.Pos, "operands without an operator at the end")
			}
			return Op{}, false
		case pdf.TokenKeyword:
			if o, is := constant(t.Bytes); is {
				s.push(o, t.Pos)
				continue
			}
			if len(t.Bytes) == 1 && !pdf.IsRegular(t.Bytes[0]) {
				s.problem(t.Pos, "a stray %q", t.Bytes)
				continue
			}
			if op, ok := s.operator(t); ok {
				return op, true
			}
			s.operands, s.first = s.operands[:0], -1 // an inline image that is none
		case pdf.TokenArrayClose, pdf.TokenDictClose:
			s.problem(t.Pos, "a bracket is closed that was not opened")
		default:
			s.values = 0
			if o, ok := s.object(t, 0); ok {
				s.push(o, t.Pos)
			}
		}
	}
}

func (s *Scanner) push(o pdf.Object, at int) {
	if s.first < 0 {
		s.first = at
	}
	if len(s.operands) >= limits.MaxOperands {
		if s.dropped == 0 {
			s.problem(at, "more than %d operands; the rest is left out", limits.MaxOperands)
		}
		s.dropped++
		return
	}
	s.operands = append(s.operands, o)
}

// operator makes an operator of keyword t; ok is false for an inline image without data.
func (s *Scanner) operator(t pdf.Token) (op Op, ok bool) {
	op = Op{Operands: s.operands, Offset: int64(t.Pos), Start: int64(t.Pos)}
	if s.first >= 0 {
		op.Start = int64(s.first)
	}
	name, known := operators[string(t.Bytes)]
	if !known {
		name, known = s.split(t)
	}
	if !known {
		b := t.Bytes
		if len(b) > 64 {
			b = b[:64]
		}
		name = string(b)
	}
	op.Name = name
	if name == "BI" {
		s.problemIf(len(s.operands) > 0, t.Pos, "operands before BI")
		op.Operands = s.operands[:0]
		op.Inline = s.inline(t.Pos)
		op.Start, op.End = int64(t.Pos), int64(s.lex.Pos())
		return op, op.Inline != nil
	}
	op.End = int64(s.lex.Pos())
	return op, true
}

func (s *Scanner) problemIf(is bool, at int, what string) {
	if is {
		s.problem(at, "%s", what)
	}
}

// split reads two operators that were run together, as in "Qq" or "ET0 g": the longest known
// operator at the start counts and the rest is read next. It asks that the rest makes sense too.
func (s *Scanner) split(t pdf.Token) (string, bool) {
	b := t.Bytes
	for n := min(3, len(b)-1); n > 0; n-- {
		name, ok := operators[string(b[:n])]
		if !ok {
			continue
		}
		rest := b[n:]
		_, next := operators[string(rest)]
		if next || number(rest) {
			s.problem(t.Pos, "no space after operator %s", name)
			s.lex.SetPos(t.Pos + n)
			return name, true
		}
	}
	return "", false
}

func number(b []byte) bool {
	digits := 0
	for _, c := range b {
		if c-'0' <= 9 {
			digits++
		} else if c != '.' && c != '-' {
			return false
		}
	}
	return digits > 0
}

func constant(b []byte) (pdf.Object, bool) {
	switch string(b) {
	case "true":
		return pdf.Boolean(true), true
	case "false":
		return pdf.Boolean(false), true
	case "null":
		return nil, true
	}
	return nil, false
}

// operators of Annex A, and those of Type 3 glyphs and compatibility sections.
var operators = func() map[string]string {
	m := map[string]string{}
	for _, n := range []string{"b", "B", "b*", "B*", "BDC", "BI", "BMC", "BT", "BX", "c", "cm", "CS", "cs", "d", "d0", "d1", "Do",
		"DP", "EI", "EMC", "ET", "EX", "f", "F", "f*", "G", "g", "gs", "h", "i", "ID", "j", "J", "K", "k", "l", "m", "M", "MP", "n",
		"q", "Q", "re", "RG", "rg", "ri", "s", "S", "SC", "sc", "SCN", "scn", "sh", "T*", "Tc", "Td", "TD", "Tf", "Tj", "TJ", "TL",
		"Tm", "Tr", "Ts", "Tw", "Tz", "v", "w", "W", "W*", "y", "'", "\""} {
		m[n] = n
	}
	return m
}()

// object makes an operand of token t.
func (s *Scanner) object(t pdf.Token, depth int) (pdf.Object, bool) {
	if t.Odd {
		s.problem(t.Pos, "a value is not written as it should be")
	}
	switch t.Kind {
	case pdf.TokenInteger:
		return s.box(uint64(t.Int), false), true
	case pdf.TokenReal:
		return s.box(math.Float64bits(t.Num), true), true
	case pdf.TokenName:
		return s.name(t.Bytes), true
	case pdf.TokenString:
		return pdf.String(t.Bytes), true
	case pdf.TokenArrayOpen:
		return s.array(depth + 1)
	case pdf.TokenDictOpen:
		return s.dict(depth + 1)
	case pdf.TokenKeyword:
		return constant(t.Bytes)
	}
	return nil, false
}

func (s *Scanner) box(bits uint64, real bool) pdf.Object {
	if s.numbers == nil {
		s.numbers = make([]boxed, boxedSize)
	}
	e := &s.numbers[(bits*0x9e3779b97f4a7c15)>>54]
	if e.o == nil || e.bits != bits || e.real != real {
		e.bits, e.real = bits, real
		if real {
			e.o = pdf.Real(math.Float64frombits(bits))
		} else {
			e.o = pdf.Integer(bits)
		}
	}
	return e.o
}

func (s *Scanner) name(b []byte) pdf.Object {
	if n, ok := s.names[string(b)]; ok {
		return n
	}
	n := pdf.Name(b)
	if s.names == nil {
		s.names = map[string]pdf.Name{}
	}
	if len(s.names) < 4096 {
		s.names[string(n)] = n
	}
	return n
}

// fits counts a value and reports whether it may still be kept.
func (s *Scanner) fits(at, depth int) bool {
	s.values++
	if s.values == limits.MaxOperandValues {
		s.problem(at, "an operand has more than %d entries; the rest is left out", limits.MaxOperandValues)
	}
	return s.values < limits.MaxOperandValues && depth <= limits.MaxNesting
}

func (s *Scanner) array(depth int) (pdf.Object, bool) {
	a := pdf.Array{}
	for depth <= limits.MaxNesting {
		t := s.lex.Next()
		switch t.Kind {
		case pdf.TokenArrayClose:
			return a, true
		case pdf.TokenEOF, pdf.TokenDictClose:
			s.problem(t.Pos, "an array is not closed")
			s.lex.SetPos(t.Pos)
			return a, true
		}
		o, ok := s.object(t, depth)
		if !ok {
			if _, op := operators[string(t.Bytes)]; op && t.Kind == pdf.TokenKeyword {
				s.problem(t.Pos, "an array is not closed before operator %s", t.Bytes)
				s.lex.SetPos(t.Pos)
				return a, true
			}
			s.problem(t.Pos, "an array holds something that is no value")
			continue
		}
		if s.fits(t.Pos, depth) {
			a = append(a, o)
		}
	}
	s.problem(s.lex.Pos(), "arrays are nested too deep")
	return a, false
}

func (s *Scanner) dict(depth int) (pdf.Object, bool) {
	d := pdf.Dict{}
	for depth <= limits.MaxNesting {
		t := s.lex.Next()
		switch t.Kind {
		case pdf.TokenDictClose:
			return d, true
		case pdf.TokenEOF:
			s.problem(t.Pos, "a dictionary is not closed")
			return d, true
		case pdf.TokenName:
		case pdf.TokenKeyword:
			if _, op := operators[string(t.Bytes)]; op {
				s.problem(t.Pos, "a dictionary is not closed before operator %s", t.Bytes)
				s.lex.SetPos(t.Pos)
				return d, true
			}
			fallthrough
		default:
			s.problem(t.Pos, "a dictionary has a key that is no name")
			continue
		}
		key := pdf.Name(t.Bytes)
		v := s.lex.Next()
		if v.Kind == pdf.TokenDictClose {
			s.problem(v.Pos, "a dictionary key has no value")
			return d, true
		}
		o, ok := s.object(v, depth)
		if !ok {
			s.problem(v.Pos, "a dictionary key has no value")
			s.lex.SetPos(v.Pos)
			if v.Kind == pdf.TokenKeyword {
				if _, op := operators[string(v.Bytes)]; !op {
					s.lex.SetPos(v.Pos + len(v.Bytes))
				}
			} else if v.Kind == pdf.TokenArrayClose {
				s.lex.SetPos(v.Pos + 1)
			}
			continue
		}
		if s.fits(v.Pos, depth) {
			d[key] = o
		}
	}
	s.problem(s.lex.Pos(), "dictionaries are nested too deep")
	return d, false
}

package pdf

import (
	"bytes"
	"math"
	"strconv"

	"laydown/internal/limits"
)

// TokenKind says what a Token is.
type TokenKind uint8

// The kinds of tokens (7.2, 7.3). Braces occur in calculator functions and are keywords of one byte.
const (
	TokenEOF TokenKind = iota
	TokenInteger
	TokenReal
	TokenName
	TokenString
	TokenKeyword
	TokenArrayOpen
	TokenArrayClose
	TokenDictOpen
	TokenDictClose
)

// Token is one lexical token.
type Token struct {
	Kind  TokenKind
	Int   int64   // of TokenInteger
	Num   float64 // of TokenInteger and TokenReal
	Bytes []byte  // decoded name or string, or the keyword; valid until the next call of Next
	Pos   int     // of the first byte of the token
	// Odd means that the token was not written as the standard asks and was read as well as can be.
	Odd bool
	// Clamped means that a whole number lies beyond 64 bits.
	Clamped bool
}

// Lexer splits PDF syntax (7.2) into tokens. It serves files, content streams, character maps and
// calculator functions alike. It never panics and every call of Next moves forward or gives TokenEOF.
type Lexer struct {
	buf     []byte
	pos     int
	scratch []byte
}

// NewLexer reads buf from its start.
func NewLexer(buf []byte) *Lexer { return &Lexer{buf: buf} }

// Pos is the offset of the next unread byte.
func (l *Lexer) Pos() int { return l.pos }

// SetPos moves to offset p, which is clamped to the buffer.
func (l *Lexer) SetPos(p int) { l.pos = min(max(p, 0), len(l.buf)) }

const (
	chRegular = iota
	chSpace
	chDelimiter
)

// charClass of each byte (Tables 1 and 2).
var charClass = func() (t [256]uint8) {
	for _, c := range []byte{0, 9, 10, 12, 13, 32} {
		t[c] = chSpace
	}
	for _, c := range []byte("()<>[]{}/%") {
		t[c] = chDelimiter
	}
	return t
}()

// IsSpace reports whether c is a white-space character (Table 1).
func IsSpace(c byte) bool { return charClass[c] == chSpace }

// IsDelimiter reports whether c is a delimiter character (Table 2).
func IsDelimiter(c byte) bool { return charClass[c] == chDelimiter }

// IsRegular reports whether c is neither white space nor a delimiter.
func IsRegular(c byte) bool { return charClass[c] == chRegular }

// SkipSpace moves over white space and comments.
func (l *Lexer) SkipSpace() {
	b, p := l.buf, l.pos
	for p < len(b) {
		c := b[p]
		if charClass[c] == chSpace {
			p++
			continue
		}
		if c != '%' {
			break
		}
		for p < len(b) && b[p] != '\n' && b[p] != '\r' {
			p++
		}
	}
	l.pos = p
}

// Next reads one token.
func (l *Lexer) Next() Token {
	l.SkipSpace()
	b, p := l.buf, l.pos
	if p >= len(b) {
		return Token{Kind: TokenEOF, Pos: p}
	}
	switch c := b[p]; c {
	case '+', '-', '.', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9':
		return l.number()
	case '/':
		return l.name()
	case '(':
		return l.literal()
	case '<':
		if p+1 < len(b) && b[p+1] == '<' {
			l.pos = p + 2
			return Token{Kind: TokenDictOpen, Pos: p}
		}
		return l.hex()
	case '>':
		if p+1 < len(b) && b[p+1] == '>' {
			l.pos = p + 2
			return Token{Kind: TokenDictClose, Pos: p}
		}
		l.pos = p + 1
		return Token{Kind: TokenKeyword, Bytes: b[p : p+1], Pos: p, Odd: true}
	case '[':
		l.pos = p + 1
		return Token{Kind: TokenArrayOpen, Pos: p}
	case ']':
		l.pos = p + 1
		return Token{Kind: TokenArrayClose, Pos: p}
	case '{', '}':
		l.pos = p + 1
		return Token{Kind: TokenKeyword, Bytes: b[p : p+1], Pos: p}
	case ')':
		l.pos = p + 1
		return Token{Kind: TokenKeyword, Bytes: b[p : p+1], Pos: p, Odd: true}
	}
	q := p + 1
	for q < len(b) && charClass[b[q]] == chRegular {
		q++
	}
	l.pos = q
	return Token{Kind: TokenKeyword, Bytes: b[p:q], Pos: p}
}

var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18}

// number reads a number (7.3.3). What follows the number without a gap, as in "0cm", is the next
// token; a second sign or point ends the number and the rest of its digits are dropped.
func (l *Lexer) number() Token {
	b, p := l.buf, l.pos
	t := Token{Kind: TokenInteger, Pos: p}
	neg := false
	for signs := 0; p < len(b) && (b[p] == '-' || b[p] == '+'); p++ {
		neg = neg || b[p] == '-'
		signs++
		t.Odd = signs > 1
	}
	first := p
	var mant uint64
	digits, frac := 0, 0
	for p < len(b) {
		c := b[p] - '0'
		if c > 9 {
			break
		}
		if digits < 18 {
			mant = mant*10 + uint64(c)
		}
		if mant != 0 {
			digits++
		}
		p++
	}
	whole := p
	if p < len(b) && b[p] == '.' {
		t.Kind = TokenReal
		p++
		for p < len(b) {
			c := b[p] - '0'
			if c > 9 {
				break
			}
			if digits < 18 {
				mant = mant*10 + uint64(c)
				frac++
			}
			if mant != 0 {
				digits++
			}
			p++
		}
	}
	end := p
	if end-first == 0 || (end-first == 1 && t.Kind == TokenReal) { // a lone sign or point counts as zero
		t.Odd = true
	}
	if p < len(b) && charClass[b[p]] == chRegular {
		t.Odd = true
		switch c := b[p]; {
		case (c == 'e' || c == 'E') && p+1 < len(b) && exponentAt(b[p+1:]) > 0:
			p += 1 + exponentAt(b[p+1:])
			end, digits = p, 99
			t.Kind = TokenReal
		case c == '-' || c == '+' || c == '.':
			for p < len(b) && (b[p] == '-' || b[p] == '+' || b[p] == '.' || b[p]-'0' <= 9) {
				p++
			}
		}
	}
	l.pos = p
	switch {
	case digits <= 15 && frac <= 18:
		t.Num = float64(mant) / pow10[frac] // both exact, so the quotient is correctly rounded
		t.Int = int64(mant)
	case t.Kind == TokenInteger:
		v, err := strconv.ParseUint(string(b[first:whole]), 10, 63)
		if err != nil {
			t.Clamped = true
			v = math.MaxInt64
		}
		t.Int, t.Num = int64(v), float64(v)
	default:
		// Longer than any writer needs; 400 digits are enough to tell the value and its size.
		s := b[first:end]
		if len(s) > 400 {
			s = s[:400]
		}
		v, _ := strconv.ParseFloat(string(s), 64)
		if math.IsInf(v, 0) {
			t.Clamped = true
			v = math.MaxFloat64
		}
		t.Num = v
	}
	if neg {
		t.Int, t.Num = -t.Int, -t.Num
		if t.Num == 0 {
			t.Num = 0
		}
	}
	return t
}

// exponentAt gives the length of an exponent "[+-]digits" at the start of b, 0 when there is none.
func exponentAt(b []byte) int {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	d := i
	for i < len(b) && i-d < 4 && b[i]-'0' <= 9 {
		i++
	}
	if i == d {
		return 0
	}
	return i
}

// name reads a name with #xx sequences decoded (7.3.5); a # without two digits is kept.
func (l *Lexer) name() Token {
	b, p := l.buf, l.pos
	t := Token{Kind: TokenName, Pos: p}
	p++
	q, escaped := p, false
	for q < len(b) && charClass[b[q]] == chRegular {
		if b[q] == '#' {
			escaped = true
		}
		q++
	}
	l.pos = q
	if !escaped {
		t.Bytes = b[p:q]
		return t
	}
	out := l.scratch[:0]
	for i := p; i < q; i++ {
		if b[i] == '#' {
			if i+2 < q && unhex[b[i+1]] < 16 && unhex[b[i+2]] < 16 {
				out = append(out, unhex[b[i+1]]<<4|unhex[b[i+2]])
				i += 2
				continue
			}
			t.Odd = true
		}
		out = append(out, b[i])
	}
	l.scratch = out
	t.Bytes = out
	return t
}

// unhex gives the value of a hexadecimal digit, 255 for any other byte.
var unhex = func() (t [256]uint8) {
	for i := range t {
		t[i] = 255
	}
	for i := range 10 {
		t['0'+i] = uint8(i)
	}
	for i := range 6 {
		t['a'+i] = uint8(10 + i)
		t['A'+i] = uint8(10 + i)
	}
	return t
}()

// literal reads a string in parentheses (7.3.4.2).
func (l *Lexer) literal() Token {
	b, p := l.buf, l.pos
	t := Token{Kind: TokenString, Pos: p}
	p++
	// The plain case needs no copy.
	if i := bytes.IndexAny(b[p:min(len(b), p+256)], "()\\\r"); i >= 0 && b[p+i] == ')' {
		t.Bytes = b[p : p+i]
		l.pos = p + i + 1
		return t
	}
	out := l.scratch[:0]
	depth := 1
	for ; p < len(b); p++ {
		c := b[p]
		switch c {
		case '(':
			depth++
		case ')':
			depth--
			if depth == 0 {
				l.pos = p + 1
				l.scratch, t.Bytes = out, out
				return t
			}
		case '\r': // an end of line is read as LF however it is written
			if p+1 < len(b) && b[p+1] == '\n' {
				p++
			}
			c = '\n'
		case '\\':
			p++
			if p >= len(b) {
				continue
			}
			switch c = b[p]; c {
			case 'n':
				c = '\n'
			case 'r':
				c = '\r'
			case 't':
				c = '\t'
			case 'b':
				c = '\b'
			case 'f':
				c = '\f'
			case '\n':
				continue
			case '\r':
				if p+1 < len(b) && b[p+1] == '\n' {
					p++
				}
				continue
			case '0', '1', '2', '3', '4', '5', '6', '7':
				v := int(c - '0')
				for i := 0; i < 2 && p+1 < len(b) && b[p+1] >= '0' && b[p+1] <= '7'; i++ {
					p++
					v = v*8 + int(b[p]-'0')
				}
				c = byte(v)
			}
		}
		if len(out) < limits.MaxStringBytes {
			out = append(out, c)
		} else {
			t.Odd = true
		}
	}
	t.Odd = true
	l.pos = len(b)
	l.scratch, t.Bytes = out, out
	return t
}

// hex reads a hexadecimal string (7.3.4.3); bytes that are no digits are skipped.
func (l *Lexer) hex() Token {
	b, p := l.buf, l.pos
	t := Token{Kind: TokenString, Pos: p}
	out := l.scratch[:0]
	var v byte
	half, closed := false, false
	for p++; p < len(b); p++ {
		c := b[p]
		if c == '>' {
			closed = true
			p++
			break
		}
		d := unhex[c]
		if d > 15 {
			if charClass[c] != chSpace {
				t.Odd = true
			}
			continue
		}
		if half {
			if len(out) < limits.MaxStringBytes {
				out = append(out, v<<4|d)
			} else {
				t.Odd = true
			}
		}
		v, half = d, !half
	}
	if half {
		out = append(out, v<<4)
	}
	t.Odd = t.Odd || !closed
	l.pos = p
	l.scratch, t.Bytes = out, out
	return t
}

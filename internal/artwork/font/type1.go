package font

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// type1Font is a Type 1 program (Adobe Type 1 Font Format, version 1.1). The program is PostScript,
// but of a fixed shape: it is scanned for the few entries a reader needs, not executed.
type type1Font struct {
	matrix  geom.Matrix
	codes   encoding
	names   []string // by glyph index, in file order
	glyphs  [][]byte // decrypted charstrings
	index   map[string]int
	subrs   [][]byte
	weights []float64 // WeightVector of a multiple master instance
}

// Keys of the two layers of encryption (sections 7.1 and 7.3).
const (
	eexecKey      = 55665
	charstringKey = 4330
)

func decryptType1(b []byte, key uint16, skip int) []byte {
	out := make([]byte, len(b))
	for i, c := range b {
		out[i] = c ^ byte(key>>8)
		key = (uint16(c)+key)*52845 + 22719
	}
	return out[min(max(skip, 0), len(out)):]
}

// stripPFB removes the segment headers of the binary PC wrapping (Technical Note 5040).
func stripPFB(b []byte) []byte {
	if len(b) == 0 || b[0] != 0x80 {
		return b
	}
	var out []byte
	for len(b) >= 6 && b[0] == 0x80 && (b[1] == 1 || b[1] == 2) {
		n := int(b[2]) | int(b[3])<<8 | int(b[4])<<16 | int(b[5])<<24
		b = b[6:]
		n = min(max(n, 0), len(b))
		out = append(out, b[:n]...)
		b = b[n:]
	}
	return out
}

// splitEexec separates the clear text from the decrypted private part (nil when there is none).
func splitEexec(b []byte) (clear, private []byte) {
	at := 0
	for {
		i := bytes.Index(b[at:], []byte("eexec"))
		if i < 0 {
			return b, nil
		}
		i += at
		at = i + 5
		if i > 0 && !isSpace(b[i-1]) || at >= len(b) {
			continue
		}
		break
	}
	clear = b[:at-5]
	rest := b[at:]
	for len(rest) > 0 && isSpace(rest[0]) {
		rest = rest[1:]
	}
	if len(rest) < 4 {
		return clear, nil
	}
	hex := true
	for _, c := range rest[:4] {
		hex = hex && unhex(c) >= 0
	}
	if hex {
		rest = decodeHex(rest)
	}
	return clear, decryptType1(rest, eexecKey, 4)
}

func isSpace(c byte) bool {
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == '\f' || c == 0
}

func unhex(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'a' && c <= 'f':
		return int(c-'a') + 10
	case c >= 'A' && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}

func decodeHex(b []byte) []byte {
	out := make([]byte, 0, len(b)/2)
	hi := -1
	for _, c := range b {
		v := unhex(c)
		switch {
		case v < 0 && isSpace(c):
		case v < 0:
			return out
		case hi < 0:
			hi = v
		default:
			out = append(out, byte(hi<<4|v))
			hi = -1
		}
	}
	return out
}

func parseType1(b []byte) (*type1Font, error) {
	clear, private := splitEexec(stripPFB(b))
	f := &type1Font{matrix: thousandth, index: map[string]int{}}
	f.readClear(clear)
	if private == nil || !bytes.Contains(private, []byte("/CharStrings")) {
		// Without encryption, or with the private part in the clear.
		if bytes.Contains(b, []byte("/CharStrings")) {
			private = b
		}
	}
	f.readClear(private)
	f.readPrivate(private)
	if len(f.glyphs) == 0 {
		return nil, fmt.Errorf("%w: no glyphs", errProgram)
	}
	return f, nil
}

// psScanner cuts PostScript into tokens.
type psScanner struct {
	b  []byte
	at int
}

func isDelimiter(c byte) bool {
	switch c {
	case '(', ')', '<', '>', '[', ']', '{', '}', '/', '%':
		return true
	}
	return false
}

// next returns the next token: a name with its slash, a number or word, or one delimiter; strings
// come as "(" with their contents skipped. nil at the end.
func (s *psScanner) next() []byte {
	for s.at < len(s.b) {
		c := s.b[s.at]
		switch {
		case isSpace(c):
			s.at++
		case c == '%':
			for s.at < len(s.b) && s.b[s.at] != '\n' && s.b[s.at] != '\r' {
				s.at++
			}
		case c == '(':
			start := s.at
			depth := 0
			for s.at < len(s.b) {
				switch s.b[s.at] {
				case '\\':
					s.at++
				case '(':
					depth++
				case ')':
					depth--
				}
				s.at++
				if depth == 0 {
					break
				}
			}
			return s.b[start : start+1]
		default:
			start := s.at
			s.at++
			if isDelimiter(c) && c != '/' {
				return s.b[start:s.at]
			}
			for s.at < len(s.b) && !isSpace(s.b[s.at]) && !isDelimiter(s.b[s.at]) {
				s.at++
			}
			return s.b[start:s.at]
		}
	}
	return nil
}

// psInt reads a whole number, also in the radix form 8#101.
func psInt(tok []byte) (int, bool) {
	s := string(tok)
	if base, digits, ok := bytes.Cut(tok, []byte("#")); ok {
		r, err := strconv.Atoi(string(base))
		if err != nil || r < 2 || r > 36 {
			return 0, false
		}
		v, err := strconv.ParseInt(string(digits), r, 32)
		return int(v), err == nil
	}
	v, err := strconv.Atoi(s)
	return v, err == nil
}

// numbers reads a bracketed list of numbers.
func (s *psScanner) numbers() []float64 {
	var v []float64
	if t := s.next(); len(t) != 1 || t[0] != '[' && t[0] != '{' {
		return nil
	}
	for len(v) < 64 {
		t := s.next()
		x, err := strconv.ParseFloat(string(t), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			break
		}
		v = append(v, x)
	}
	return v
}

// readClear takes FontMatrix, Encoding and WeightVector.
func (f *type1Font) readClear(b []byte) {
	if i := bytes.Index(b, []byte("/FontMatrix")); i >= 0 {
		s := psScanner{b: b, at: i + len("/FontMatrix")}
		if v := s.numbers(); len(v) == 6 {
			m := geom.Matrix{A: v[0], B: v[1], C: v[2], D: v[3], E: v[4], F: v[5]}
			if det := m.Det(); det != 0 && !math.IsNaN(det) {
				f.matrix = m
			}
		}
	}
	if i := bytes.Index(b, []byte("/WeightVector")); i >= 0 {
		s := psScanner{b: b, at: i + len("/WeightVector")}
		if v := s.numbers(); len(v) > 1 && len(v) <= 16 {
			f.weights = v
		}
	}
	for at, tries := 0, 0; tries < 16; tries++ {
		i := bytes.Index(b[at:], []byte("/Encoding"))
		if i < 0 {
			return
		}
		at += i + len("/Encoding")
		if f.readEncoding(&psScanner{b: b, at: at}) {
			return
		}
	}
}

func (f *type1Font) readEncoding(s *psScanner) bool {
	t := s.next()
	switch {
	case string(t) == "StandardEncoding":
		f.codes = *standardEncoding()
		return true
	case string(t) == "[":
		for c := 0; c < 256; c++ {
			t := s.next()
			if len(t) == 0 || t[0] != '/' {
				break
			}
			f.setName(c, t)
		}
		return true
	}
	if _, ok := psInt(t); !ok {
		return false
	}
	found := false
	for n := 0; n < 20_000; n++ {
		t := s.next()
		switch {
		case t == nil || string(t) == "def" && found || string(t) == "/CharStrings" || string(t) == "eexec":
			return found
		case string(t) == "def" || string(t) == "readonly":
			found = true // an encoding of nothing but .notdef
			return true
		case string(t) == "dup":
			code, ok := psInt(s.next())
			if !ok || code < 0 || code > 255 {
				continue
			}
			if name := s.next(); len(name) > 0 && name[0] == '/' {
				f.setName(code, name)
				found = true
			}
		}
	}
	return found
}

func (f *type1Font) setName(code int, tok []byte) {
	if name := string(tok[1:]); name != ".notdef" {
		f.codes[code] = name
	}
}

// readPrivate takes lenIV, Subrs and CharStrings. Binary data follows one space after the operator
// that reads it, whatever the program calls that operator (RD, -|).
func (f *type1Font) readPrivate(b []byte) {
	lenIV := 4
	s := psScanner{b: b}
	const nowhere, inSubrs, inCharStrings = 0, 1, 2
	where := nowhere
	decrypt := func(data []byte) []byte {
		if lenIV < 0 {
			return data
		}
		return decryptType1(data, charstringKey, lenIV)
	}
	binary := func(n int) ([]byte, bool) {
		if len(s.next()) == 0 || n < 0 || s.at+1+n > len(b) {
			return nil, false
		}
		data := b[s.at+1 : s.at+1+n]
		s.at += 1 + n
		return data, true
	}
	for t := s.next(); t != nil; t = s.next() {
		switch {
		case string(t) == "/lenIV":
			if v, ok := psInt(s.next()); ok && v >= -1 && v <= 64 {
				lenIV = v
			}
		case string(t) == "/Subrs":
			if n, ok := psInt(s.next()); ok && n >= 0 && n <= limits.MaxFontBytes/8 && f.subrs == nil {
				f.subrs = make([][]byte, 0, min(n, 4096))
				where = inSubrs
			} else {
				where = nowhere
			}
		case string(t) == "/CharStrings":
			if len(f.glyphs) == 0 {
				where = inCharStrings
				s.next() // the size of the dictionary, advisory
			} else {
				return
			}
		case where == inSubrs && string(t) == "dup":
			mark := s.at
			i, ok1 := psInt(s.next())
			n, ok2 := psInt(s.next())
			if !ok1 || !ok2 || i < 0 || i > 65535 {
				s.at = mark
				continue
			}
			data, ok := binary(n)
			if !ok {
				s.at = mark
				continue
			}
			for len(f.subrs) <= i {
				f.subrs = append(f.subrs, nil)
			}
			f.subrs[i] = decrypt(data)
		case where == inCharStrings && t[0] == '/':
			mark := s.at
			n, ok := psInt(s.next())
			if !ok {
				s.at = mark
				continue
			}
			data, ok := binary(n)
			if !ok {
				s.at = mark
				continue
			}
			name := string(t[1:])
			if _, seen := f.index[name]; !seen && len(f.glyphs) < 65535 {
				f.index[name] = len(f.glyphs)
				f.names = append(f.names, name)
				f.glyphs = append(f.glyphs, decrypt(data))
			}
		case where == inCharStrings && string(t) == "end" && len(f.glyphs) > 0:
			return
		}
	}
}

func (f *type1Font) numGlyphs() int { return len(f.glyphs) }

func (f *type1Font) glyphByName(name string) (int, bool) {
	g, ok := f.index[name]
	return g, ok
}

func (f *type1Font) builtin(code byte) int {
	if g, ok := f.index[f.codes[code]]; ok && f.codes[code] != "" {
		return g
	}
	return -1
}

func (f *type1Font) draw(gid int) (p *geom.Path, work int, err error) {
	p, _, work, err = f.run(gid)
	return p, work, err
}

func (f *type1Font) advance(gid int) (float64, bool) {
	_, w, _, err := f.run(gid)
	return w, err == nil
}

func (f *type1Font) run(gid int) (*geom.Path, float64, int, error) {
	if gid < 0 || gid >= len(f.glyphs) {
		return nil, 0, 0, errGlyph
	}
	r := type1{font: f, maxOps: opsFor(len(f.glyphs[gid]))}
	r.pen.m = f.matrix
	err := r.run(f.glyphs[gid], 0)
	path, perr := r.pen.finish()
	if err == nil {
		err = perr
	}
	return path, float64(r.width * f.matrix.A), r.ops, err
}

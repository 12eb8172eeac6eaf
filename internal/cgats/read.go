package cgats

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"laydown/internal/limits"
)

// Read reads a file of at most limits.MaxTableBytes. Errors name the line.
func Read(r io.Reader) (*File, error) {
	data, err := io.ReadAll(io.LimitReader(r, limits.MaxTableBytes+1))
	if err != nil {
		return nil, err
	}
	return Parse(data)
}

// Parse reads the tables in data: UTF-8, UTF-16 with a byte order mark, or else Windows-1252, which measuring
// programs write. A file without a table, unfinished tables, rows with too few or too many values, a
// count that does not hold and sizes over the limits are errors of type *Error.
func Parse(data []byte) (*File, error) {
	if len(data) > limits.MaxTableBytes {
		return nil, faulty(0, "the file has more than %d MB", limits.MaxTableBytes>>20)
	}
	text, err := decode(data)
	if err != nil {
		return nil, err
	}
	p := &parser{rest: text}
	f := &File{}
	for {
		t, err := p.table()
		if err != nil {
			return nil, err
		}
		if t == nil {
			break
		}
		if len(f.Tables) == limits.MaxTables {
			return nil, faulty(p.line, "the file has more than %d tables", limits.MaxTables)
		}
		f.Tables = append(f.Tables, *t)
	}
	if len(f.Tables) == 0 {
		return nil, faulty(0, "the file has no table: there is no BEGIN_DATA in it")
	}
	return f, nil
}

// windows1252 are the characters of the bytes 0x80 to 0x9F.
var windows1252 = [32]rune{
	0x20AC, 0x81, 0x201A, 0x192, 0x201E, 0x2026, 0x2020, 0x2021, 0x2C6, 0x2030, 0x160, 0x2039, 0x152, 0x8D, 0x17D, 0x8F,
	0x90, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x2DC, 0x2122, 0x161, 0x203A, 0x153, 0x9D, 0x17E, 0x178,
}

func decode(data []byte) (string, error) {
	for _, mark := range []struct {
		bytes string
		order binary.ByteOrder
	}{{"\xff\xfe", binary.LittleEndian}, {"\xfe\xff", binary.BigEndian}} {
		if rest, ok := bytes.CutPrefix(data, []byte(mark.bytes)); ok {
			units := make([]uint16, len(rest)/2)
			for i := range units {
				units[i] = mark.order.Uint16(rest[2*i:])
			}
			data = []byte(string(utf16.Decode(units)))
		}
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return "", faulty(1+bytes.Count(data[:i], []byte("\n")), "this is no text")
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	var b strings.Builder
	for _, c := range data {
		if c >= 0x80 && c < 0xA0 {
			b.WriteRune(windows1252[c-0x80])
		} else {
			b.WriteRune(rune(c))
		}
	}
	return b.String(), nil
}

// token is a word; one in quotation marks is never a keyword of the format.
type token struct {
	text   string
	quoted bool
}

func (t token) is(word string) bool { return !t.quoted && strings.EqualFold(t.text, word) }

type parser struct {
	rest string
	line int // of the last line taken
}

// next gives the words of the next line that has any; nil at the end.
func (p *parser) next() ([]token, error) {
	for p.rest != "" {
		line := p.rest
		if i := strings.IndexAny(line, "\r\n"); i >= 0 {
			line, p.rest = line[:i], line[i:]
			p.rest = strings.TrimPrefix(p.rest, "\r")
			if p.rest != "" && p.rest[0] == '\n' {
				p.rest = p.rest[1:]
			}
		} else {
			p.rest = ""
		}
		p.line++
		words, err := p.words(line)
		if err != nil || len(words) > 0 {
			return words, err
		}
	}
	return nil, nil
}

func space(c byte) bool { return c == ' ' || c == '\t' || c == '\f' || c == '\v' || c == 0x1A }

func (p *parser) words(line string) (words []token, err error) {
	for i := 0; i < len(line); {
		switch c := line[i]; {
		case space(c):
			i++
		case c == '#':
			return words, nil
		case c == '"':
			var b strings.Builder
			for i++; ; i++ {
				if i >= len(line) {
					return nil, faulty(p.line, "a quotation mark is not closed")
				}
				if line[i] == '"' {
					i++
					if i >= len(line) || line[i] != '"' {
						break
					}
				}
				b.WriteByte(line[i])
			}
			words = append(words, token{b.String(), true})
		default:
			from := i
			for i < len(line) && !space(line[i]) && line[i] != '"' {
				i++
			}
			words = append(words, token{text: line[from:i]})
		}
		if len(words) > limits.MaxTableFields {
			return nil, faulty(p.line, "the line has more than %d values", limits.MaxTableFields)
		}
	}
	return words, nil
}

// table reads one table; nil at the end of the file. Keywords after the last table are dropped.
func (p *parser) table() (*Table, error) {
	t := &Table{}
	fields, sets := -1, -1 // as counted in the file
	format := 0            // line of the data format
	for first := true; ; first = false {
		words, err := p.next()
		if err != nil {
			return nil, err
		}
		if words == nil {
			if format > 0 {
				return nil, faulty(format, "the table that has its fields here has no BEGIN_DATA")
			}
			return nil, nil
		}
		w := words[0]
		switch {
		case w.is("BEGIN_DATA_FORMAT"):
			if format > 0 {
				return nil, faulty(p.line, "the table has its fields in line %d already", format)
			}
			format = p.line
			if err := p.fields(t, words[1:]); err != nil {
				return nil, err
			}
			if fields >= 0 && fields != len(t.Fields) {
				return nil, faulty(format, "there are %d fields, NUMBER_OF_FIELDS says %d", len(t.Fields), fields)
			}
		case w.is("BEGIN_DATA"):
			if format == 0 {
				return nil, faulty(p.line, "the data have no fields: BEGIN_DATA_FORMAT is missing before them")
			}
			begin := p.line
			if err := p.rows(t, words[1:]); err != nil {
				return nil, err
			}
			if sets >= 0 && sets != len(t.Rows) {
				return nil, faulty(begin, "there are %d rows, NUMBER_OF_SETS says %d", len(t.Rows), sets)
			}
			return t, nil
		case w.is("END_DATA"), w.is("END_DATA_FORMAT"):
			return nil, faulty(p.line, "%s ends what was not begun", w.text)
		case w.is("NUMBER_OF_FIELDS"), w.is("NUMBER_OF_SETS"):
			if len(words) != 2 {
				return nil, faulty(p.line, "%s wants one number", w.text)
			}
			n, err := strconv.Atoi(words[1].text)
			if err != nil || n < 0 {
				return nil, faulty(p.line, "%s is %s, which is no count", w.text, quoted(words[1].text))
			}
			if w.is("NUMBER_OF_SETS") {
				sets = n
			} else if fields = n; format > 0 && fields != len(t.Fields) {
				return nil, faulty(p.line, "NUMBER_OF_FIELDS says %d, there are %d fields", fields, len(t.Fields))
			}
		case w.quoted:
			return nil, faulty(p.line, "%s stands where a keyword should", quoted(w.text))
		case first && len(words) == 1:
			t.Identifier = w.text
		default:
			var value []string
			for _, v := range words[1:] {
				value = append(value, v.text)
			}
			if len(t.Keywords) == limits.MaxTableKeywords {
				return nil, faulty(p.line, "the table has more than %d keywords", limits.MaxTableKeywords)
			}
			t.Keywords = append(t.Keywords, Keyword{w.text, strings.Join(value, " "), p.line})
		}
	}
}

// fields reads the names up to END_DATA_FORMAT.
func (p *parser) fields(t *Table, words []token) error {
	begin := p.line
	for {
		for i, w := range words {
			if w.is("END_DATA_FORMAT") {
				if i+1 < len(words) {
					return faulty(p.line, "%s follows END_DATA_FORMAT on the same line", quoted(words[i+1].text))
				}
				if len(t.Fields) == 0 {
					return faulty(begin, "the table has no fields")
				}
				return nil
			}
			if w.is("BEGIN_DATA") {
				return faulty(p.line, "END_DATA_FORMAT is missing before BEGIN_DATA")
			}
			if len(t.Fields) == limits.MaxTableFields {
				return faulty(p.line, "the table has more than %d fields", limits.MaxTableFields)
			}
			t.Fields = append(t.Fields, w.text)
		}
		var err error
		if words, err = p.next(); err != nil {
			return err
		}
		if words == nil {
			return faulty(begin, "BEGIN_DATA_FORMAT has no END_DATA_FORMAT")
		}
	}
}

// rows reads the data up to END_DATA. A row may run over several lines, but begins on a new one.
func (p *parser) rows(t *Table, words []token) error {
	begin := p.line
	var row Row
	for {
		for i, w := range words {
			if w.is("END_DATA") {
				if i+1 < len(words) {
					return faulty(p.line, "%s follows END_DATA on the same line", quoted(words[i+1].text))
				}
				if len(row.Values) > 0 {
					return p.count(t, &row)
				}
				return nil
			}
			if len(row.Values) == len(t.Fields) {
				return faulty(p.line, "the row has more than the %d values of the table's fields", len(t.Fields))
			}
			if len(row.Values) == 0 {
				row = Row{make([]string, 0, len(t.Fields)), p.line}
			}
			row.Values = append(row.Values, w.text)
		}
		if len(row.Values) == len(t.Fields) {
			if (len(t.Rows)+1)*len(t.Fields) > limits.MaxTableValues {
				return faulty(p.line, "the table has more than %d values", limits.MaxTableValues)
			}
			t.Rows = append(t.Rows, row)
			row = Row{}
		}
		var err error
		if words, err = p.next(); err != nil {
			return err
		}
		if words == nil {
			return faulty(begin, "BEGIN_DATA has no END_DATA")
		}
	}
}

func (p *parser) count(t *Table, row *Row) error {
	if len(row.Values) == len(t.Fields) {
		t.Rows = append(t.Rows, *row)
		return nil
	}
	return faulty(row.Line, "the row has %s, the table has %d fields", values(len(row.Values)), len(t.Fields))
}

func values(n int) string {
	if n == 1 {
		return "1 value"
	}
	return fmt.Sprintf("%d values", n)
}

// Package cgats reads and writes measured data as text tables (ANSI CGATS.17, ISO 28178, and the dialects of
// measuring programs that follow them): patches with their tints and their colours.
//
// A file holds tables one after the other. A table has keywords with values, the names of its fields
// between BEGIN_DATA_FORMAT and END_DATA_FORMAT, and rows of values between BEGIN_DATA and END_DATA. Tokens
// are set apart by white space; in quotation marks they may hold spaces, and "" is one mark; # begins a
// comment. What the standard leaves to its users is not touched here: File and Table keep the text as it
// is. Set gives it meaning: which fields are tints, which are colours, and on which scale.
package cgats

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// File is the tables of one file, in order.
type File struct {
	Tables []Table
}

// Table is one table as written.
type Table struct {
	// Identifier is the word that begins the table, such as CGATS.17 or CTI3; "" when there is none.
	Identifier string
	Keywords   []Keyword
	Fields     []string
	Rows       []Row
}

// Keyword is a name with its value; "" stands for none. KEYWORD entries, which declare names, are kept among the rest.
type Keyword struct {
	Name, Value string
	Line        int // from 1; 0 = not read from a file
}

// Row has a value for each field.
type Row struct {
	Values []string
	Line   int // where it begins, from 1; 0 = not read from a file
}

// Error tells where a file is faulty.
type Error struct {
	Line int // from 1; 0 = the file as a whole
	Text string
}

func (e *Error) Error() string {
	if e.Line == 0 {
		return e.Text
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Text)
}

func faulty(line int, format string, args ...any) error {
	return &Error{line, fmt.Sprintf(format, args...)}
}

// Keyword finds the value of a keyword, whatever its case; the first one counts.
func (t *Table) Keyword(name string) (value string, ok bool) {
	for _, k := range t.Keywords {
		if strings.EqualFold(k.Name, name) {
			return k.Value, true
		}
	}
	return "", false
}

// Field finds the column of a field, whatever its case; the first one counts.
func (t *Table) Field(name string) (column int, ok bool) {
	for i, f := range t.Fields {
		if strings.EqualFold(f, name) {
			return i, true
		}
	}
	return 0, false
}

// Number reads the value of a row in a column as a finite number. A comma may stand for the decimal point.
func (t *Table) Number(row, column int) (float64, error) {
	r := &t.Rows[row]
	v, ok := number(r.Values[column])
	if !ok {
		return 0, faulty(r.Line, "%s is %s, which is no number", t.Fields[column], quoted(r.Values[column]))
	}
	return v, nil
}

func number(s string) (float64, bool) {
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	for _, c := range s { // hexadecimal, underscores, infinities are no numbers of a table
		if !strings.ContainsRune("0123456789+-.eE", c) {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// quoted shows a value from a file, shortened.
func quoted(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}

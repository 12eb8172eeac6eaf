package cgats

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// Write writes the tables as UTF-8 text that Parse reads back the same. Counts are written anew. Text that
// runs over lines, a keyword that is no single word and rows of the wrong length are errors.
func (f *File) Write(w io.Writer) error {
	b := bufio.NewWriter(w)
	for i := range f.Tables {
		if i > 0 {
			b.WriteString("\n")
		}
		if err := f.Tables[i].write(b); err != nil {
			return err
		}
	}
	return b.Flush()
}

func (t *Table) write(b *bufio.Writer) error {
	if t.Identifier != "" {
		if !plain(t.Identifier) {
			return fmt.Errorf("a table cannot begin with %s", quoted(t.Identifier))
		}
		fmt.Fprintln(b, t.Identifier)
	}
	for _, k := range t.Keywords {
		if !plain(k.Name) {
			return fmt.Errorf("%s cannot be a keyword", quoted(k.Name))
		}
		if oneLine(k.Value) != nil {
			return oneLine(k.Value)
		}
		fmt.Fprintf(b, "%s %s\n", k.Name, mark(k.Value))
	}
	if len(t.Fields) == 0 {
		return fmt.Errorf("a table has no fields")
	}
	fmt.Fprintf(b, "NUMBER_OF_FIELDS %d\nBEGIN_DATA_FORMAT\n", len(t.Fields))
	if err := line(b, t.Fields); err != nil {
		return err
	}
	fmt.Fprintf(b, "END_DATA_FORMAT\nNUMBER_OF_SETS %d\nBEGIN_DATA\n", len(t.Rows))
	for i, r := range t.Rows {
		if len(r.Values) != len(t.Fields) {
			return fmt.Errorf("row %d has %s, the table has %d fields", i+1, values(len(r.Values)), len(t.Fields))
		}
		if err := line(b, r.Values); err != nil {
			return err
		}
	}
	_, err := b.WriteString("END_DATA\n")
	return err
}

func line(b *bufio.Writer, words []string) error {
	for i, w := range words {
		if err := oneLine(w); err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte('\t')
		}
		if reserved(w) || !bare(w) {
			w = mark(w)
		}
		b.WriteString(w)
	}
	_, err := b.WriteString("\n")
	return err
}

func oneLine(s string) error {
	if strings.ContainsAny(s, "\r\n\x00") {
		return fmt.Errorf("%s runs over lines, which a table cannot hold", quoted(s))
	}
	return nil
}

func mark(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// bare tells words that need no quotation marks.
func bare(s string) bool {
	return s != "" && s[0] != '#' && !strings.ContainsAny(s, " \t\f\v\x1A\r\n\x00\"")
}

// plain tells words that can be an identifier or a keyword.
func plain(s string) bool { return bare(s) && !reserved(s) && !strings.HasPrefix(s, "\ufeff") }

// reserved are the words of the format.
func reserved(s string) bool {
	for _, w := range []string{"BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA", "NUMBER_OF_FIELDS", "NUMBER_OF_SETS"} {
		if strings.EqualFold(s, w) {
			return true
		}
	}
	return false
}

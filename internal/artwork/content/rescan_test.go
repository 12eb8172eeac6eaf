package content

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// Reading anew from where an operator stands gives the same operator, and from where the one before ended the
// same operands too. The data of an inline image lies between its operator and where reading goes on, before an EI.
func FuzzRescan(f *testing.F) {
	for _, s := range []string{
		"q 1 0 0 1 72 720 cm /F1 12 Tf (a\\)b) Tj [<41>-1(b)]TJ Q", "Qq ET0 g 1 1 1 rg", "BI /W 2/H 1/BPC 8/CS/G ID ab EI Q BI /F/RL ID \x01ab\x80 EI S",
		"BI /F/AHx ID 41> EI BI/F/DCT ID \xff\xd8EI \xff\xd9 EI n", "/P<</A[1(x)]>>BDC [ 1 2 Q << /K Q", "BI /L 4 ID EI EIEI Q", "% c\r1 w foo* \x80 {} BI EI q",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s := NewScanner(data)
		end := 0 // of the operator before
		for range 200 {
			op, ok := s.Next()
			if !ok || s.walked > len(data) || s.looks > maxLooks/2 {
				return // past a budget the end of an image may depend on what was read before
			}
			next := s.lex.Pos()
			if op.Offset < int64(end) || next <= int(op.Offset) || next > len(data) {
				t.Fatalf("operator %q at %d to %d after one that ends at %d, in %d bytes", op.Name, op.Offset, next, end, len(data))
			}
			if op.Inline != nil {
				within := data[op.Offset+2 : next]
				if len(op.Inline.Data) > len(within) || !bytes.Contains(within, op.Inline.Data) {
					t.Fatalf("the data %q of an image are not in %q", op.Inline.Data, within)
				}
				if next < len(data) && !bytes.HasSuffix(within, []byte("EI")) {
					t.Fatalf("an image ends with %q", within)
				}
			}
			for _, from := range []int{int(op.Offset), end} {
				a := NewScanner(data)
				a.lex.SetPos(from)
				again, ok := a.Next()
				if !ok || again.Name != op.Name || again.Offset != op.Offset || a.lex.Pos() != next || !same(again.Inline, op.Inline) {
					t.Fatalf("read from %d: %+v, %v, ends at %d; was %+v, ends at %d", from, again, ok, a.lex.Pos(), op, next)
				}
				if from == end && !same(again.Operands, op.Operands) {
					t.Fatalf("operands read from %d: %v, were %v", from, again.Operands, op.Operands)
				}
			}
			end = next
		}
	})
}

// same is deep equality in which a number that is none equals itself.
func same(a, b any) bool {
	return reflect.DeepEqual(a, b) || fmt.Sprintf("%#v", a) == fmt.Sprintf("%#v", b)
}

// However a string or a name is written, its bytes come back (7.3.4, 7.3.5).
func FuzzStringsRoundTrip(f *testing.F) {
	for _, s := range []string{"", "plain", "a(b)c\\", "((", "))\\(", "\r\n\t\b\f", "\x00\xff\\012", "\\\r\n", "#20 /x"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var octal, escaped, spaced strings.Builder
		for i, c := range data {
			fmt.Fprintf(&octal, "\\%03o", c)
			switch c {
			case '(', ')', '\\':
				escaped.WriteByte('\\')
				escaped.WriteByte(c)
			case '\r':
				escaped.WriteString("\\r") // a bare line end is read as a line feed
			default:
				escaped.WriteByte(c)
			}
			if i%7 == 3 {
				escaped.WriteString("\\\r\n") // a line continued
			}
			fmt.Fprintf(&spaced, "%X\t%X \n", c>>4, c&15) // white space is no digit
		}
		forms := []string{"(" + octal.String() + ")", "(" + escaped.String() + ")", fmt.Sprintf("<%x>", data), "<" + spaced.String() + ">"}
		for _, form := range forms {
			s := NewScanner([]byte(form + "Tj"))
			s.Problem = func(at int64, what string) { t.Errorf("%q: %d: %s", form, at, what) }
			op, ok := s.Next()
			if !ok || op.Name != "Tj" || len(op.Operands) != 1 || op.Operands[0] != pdf.String(data) {
				t.Fatalf("%q is read as %+v, want the string %q", form, op, data)
			}
		}
		if len(data) == 0 || bytes.IndexByte(data, 0) >= 0 {
			return // no name is empty here, and none holds a null byte
		}
		name := "/"
		for _, c := range data {
			name += fmt.Sprintf("#%02x", c)
		}
		op, ok := NewScanner([]byte(name + " gs")).Next()
		if !ok || op.Name != "gs" || len(op.Operands) != 1 || op.Operands[0] != pdf.Name(data) {
			t.Fatalf("%q is read as %+v, want the name %q", name, op, data)
		}
	})
}

// A number comes back as written, whatever its size, up to what a double holds.
func FuzzNumbersRoundTrip(f *testing.F) {
	for _, v := range []float64{0, 1, -1, .5, -.002, 123456.789, 1e9} {
		f.Add(v)
	}
	f.Fuzz(func(t *testing.T, v float64) {
		if math.IsNaN(v) || math.Abs(v) > 1e9 {
			return
		}
		text := fmt.Sprintf("%.6f", v)
		s := NewScanner([]byte(text + " w"))
		s.Problem = func(at int64, what string) { t.Errorf("%q: %d: %s", text, at, what) }
		op, ok := s.Next()
		if !ok || len(op.Operands) != 1 {
			t.Fatalf("%q is read as %+v", text, op)
		}
		got, ok := op.Operands[0].(pdf.Real)
		if !ok || math.Abs(float64(got)-v) > 1e-6+math.Abs(v)*1e-15 {
			t.Errorf("%q is read as %v, want %v", text, op.Operands[0], v)
		}
	})
}

package content

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// Whatever the bytes, offsets ascend and lie on their keyword inside the data, scanning ends, and
// operators written out again are read as the same.
func FuzzScanner(f *testing.F) {
	for _, s := range []string{
		"q 1 0 0 1 72 720 cm /F1 12 Tf (a\\)b) Tj [<41>-1(b)]TJ Q",
		"/P<</MCID 1/A[1 true null]>>BDC EMC", "BI /W 2/H 1/BPC 8/CS/G ID ab EI Q", "BI /F/AHx ID 41> EI", "Qq ET0 g",
		"[1 2 Q", "<</A", "BI EI BI /W 1 Q", "1 .5 -3. +4 --5 1e5 x", "BI/F[/A85/Fl]ID !!~>EI", "% c\r1 w", "foo* \x80 {}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s := NewScanner(data)
		last := int64(-1)
		var lines []string
		var out bytes.Buffer
		for {
			op, ok := s.Next()
			if !ok {
				break
			}
			if op.Offset <= last || op.Offset >= int64(len(data)) || !bytes.HasPrefix(data[op.Offset:], []byte(op.Name)) {
				t.Fatalf("operator %q at %d after %d of %d bytes", op.Name, op.Offset, last, len(data))
			}
			last = op.Offset
			if len(lines) > len(data) {
				t.Fatal("more operators than bytes")
			}
			if op.Inline != nil {
				continue // its data ends by other rules when rewritten
			}
			if !writable(op) {
				continue
			}
			l := line(op)
			lines = append(lines, l)
			out.WriteString(l + "\n")
		}
		var again []string
		s = NewScanner(out.Bytes())
		s.Problem = func(at int64, what string) { t.Errorf("rewritten content: %d: %s", at, what) }
		for {
			op, ok := s.Next()
			if !ok {
				break
			}
			again = append(again, line(op))
		}
		if !slices.Equal(again, lines) {
			t.Fatalf("read again:\n%q\nwas\n%q", again, lines)
		}
	})
}

// writable is whether text writes all of an operator: numbers of ordinary size, a known name.
func writable(op Op) bool {
	if _, known := operators[op.Name]; !known || op.Name == "BI" {
		return false
	}
	for _, o := range op.Operands {
		if !plain(o) {
			return false
		}
	}
	return true
}

func plain(o pdf.Object) bool {
	switch v := o.(type) {
	case pdf.Integer:
		return v > -1e9 && v < 1e9
	case pdf.Real:
		return v > -1e6 && v < 1e6 && (v == 0 || v > 1e-5 || v < -1e-5)
	case pdf.Name:
		return len(v) < 100 && !strings.Contains(string(v), "\x00")
	case pdf.Array:
		return !slices.ContainsFunc(v, func(o pdf.Object) bool { return !plain(o) })
	case pdf.Dict:
		for k, e := range v {
			if !plain(k) || !plain(e) {
				return false
			}
		}
	}
	return true
}

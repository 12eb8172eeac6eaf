package pdf_test

import (
	"math"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// How is each way to write a number read, and where does it end?
func TestLexerNumbers(t *testing.T) {
	for _, c := range []struct {
		in   string
		kind pdf.TokenKind
		want float64
		pos  int
		odd  bool
	}{
		{"0", pdf.TokenInteger, 0, 1, false},
		{"-17 ", pdf.TokenInteger, -17, 3, false},
		{"+3", pdf.TokenInteger, 3, 2, false},
		{"007", pdf.TokenInteger, 7, 3, false},
		{"4.", pdf.TokenReal, 4, 2, false},
		{"-.002", pdf.TokenReal, -0.002, 5, false},
		{".1", pdf.TokenReal, 0.1, 2, false},
		{"0.1", pdf.TokenReal, 0.1, 3, false},
		{"123456.789012", pdf.TokenReal, 123456.789012, 13, false},
		{"0.00000000000000000000000001", pdf.TokenReal, 1e-26, 28, false},
		{"3.141592653589793238", pdf.TokenReal, math.Pi, 20, false},
		{"12345678901234567", pdf.TokenInteger, 12345678901234567, 17, false},
		{"99999999999999999999", pdf.TokenInteger, math.MaxInt64, 20, false},
		{"--5", pdf.TokenInteger, -5, 3, true},
		{"5-3", pdf.TokenInteger, 5, 3, true},
		{"1.2.3", pdf.TokenReal, 1.2, 5, true},
		{"-", pdf.TokenInteger, 0, 1, true},
		{".", pdf.TokenReal, 0, 1, true},
		{"6.5e2", pdf.TokenReal, 650, 5, true},
		{"0cm", pdf.TokenInteger, 0, 1, true},
		{"1/N", pdf.TokenInteger, 1, 1, false},
	} {
		l := pdf.NewLexer([]byte(c.in))
		got := l.Next()
		if got.Kind != c.kind || got.Num != c.want || l.Pos() != c.pos || got.Odd != c.odd {
			t.Errorf("%q: kind %d, %v, ends at %d, odd %v; want %d, %v, %d, %v", c.in, got.Kind, got.Num, l.Pos(), got.Odd, c.kind, c.want, c.pos, c.odd)
		}
	}
	if got := pdf.NewLexer([]byte("99999999999999999999")).Next(); !got.Clamped {
		t.Error("a number beyond 64 bits is not marked as clamped")
	}
}

// Which bytes do names and strings hold?
func TestLexerNamesAndStrings(t *testing.T) {
	for _, c := range []struct {
		in, want string
		kind     pdf.TokenKind
		odd      bool
	}{
		{"/Name", "Name", pdf.TokenName, false},
		{"/Lime#20Green", "Lime Green", pdf.TokenName, false},
		{"/A#2", "A#2", pdf.TokenName, true},
		{"/A#zz", "A#zz", pdf.TokenName, true},
		{"/", "", pdf.TokenName, false},
		{"/a(b)", "a", pdf.TokenName, false},
		{"(plain)", "plain", pdf.TokenString, false},
		{"(a(b)c)", "a(b)c", pdf.TokenString, false},
		{`(\(\)\\\n\r\t\b\f\q)`, "()\\\n\r\t\b\fq", pdf.TokenString, false},
		{`(\0534\53\5)`, "+4+\x05", pdf.TokenString, false},
		{"(a\\\nb\\\r\nc)", "abc", pdf.TokenString, false},
		{"(a\r\nb\rc)", "a\nb\nc", pdf.TokenString, false},
		{"(open", "open", pdf.TokenString, true},
		{"<48 65 6C>", "Hel", pdf.TokenString, false},
		{"<487>", "Hp", pdf.TokenString, false},
		{"<4x8>", "H", pdf.TokenString, true},
		{"(" + strings.Repeat("x", 300) + ")", strings.Repeat("x", 300), pdf.TokenString, false},
	} {
		got := pdf.NewLexer([]byte(c.in)).Next()
		if got.Kind != c.kind || string(got.Bytes) != c.want || got.Odd != c.odd {
			t.Errorf("%q: %q odd %v; want %q odd %v", c.in, got.Bytes, got.Odd, c.want, c.odd)
		}
	}
}

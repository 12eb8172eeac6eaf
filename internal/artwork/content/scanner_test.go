package content

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// text is an object as content would write it, numbers in one form.
func text(o pdf.Object) string {
	switch v := o.(type) {
	case nil:
		return "null"
	case pdf.Boolean:
		return fmt.Sprint(bool(v))
	case pdf.Integer:
		return fmt.Sprint(int64(v))
	case pdf.Real:
		s := strings.TrimRight(fmt.Sprintf("%.12f", float64(v)), "0")
		if strings.HasSuffix(s, ".") {
			s += "0"
		}
		return s
	case pdf.Name:
		var b strings.Builder
		b.WriteByte('/')
		for _, c := range []byte(v) {
			if c == '#' || c <= 32 || c > 126 || !pdf.IsRegular(c) {
				fmt.Fprintf(&b, "#%02X", c)
			} else {
				b.WriteByte(c)
			}
		}
		return b.String()
	case pdf.String:
		return fmt.Sprintf("<%X>", string(v))
	case pdf.Array:
		parts := make([]string, len(v))
		for i, e := range v {
			parts[i] = text(e)
		}
		return "[" + strings.Join(parts, " ") + "]"
	case pdf.Dict:
		return "<<" + entries(v) + ">>"
	}
	return fmt.Sprintf("?%T", o)
}

// entries are a dictionary's, sorted by key.
func entries(d pdf.Dict) string {
	keys := make([]string, 0, len(d))
	for k, v := range d {
		keys = append(keys, text(k)+" "+text(v))
	}
	slices.Sort(keys)
	return strings.Join(keys, " ")
}

// line is one operator: operands, then its name; an inline image as its dictionary and its data.
func line(op Op) string {
	var b strings.Builder
	for _, o := range op.Operands {
		b.WriteString(text(o) + " ")
	}
	b.WriteString(op.Name)
	if op.Inline != nil {
		fmt.Fprintf(&b, " %s %q", entries(op.Inline.Dict), op.Inline.Data)
	}
	return b.String()
}

type scanned struct {
	ops      []string
	offsets  []int64
	problems []string
}

func scan(data string) (r scanned) {
	s := NewScanner([]byte(data))
	s.Problem = func(at int64, what string) { r.problems = append(r.problems, fmt.Sprintf("%d: %s", at, what)) }
	for {
		op, ok := s.Next()
		if !ok {
			return r
		}
		r.ops, r.offsets = append(r.ops, line(op)), append(r.offsets, op.Offset)
	}
}

// How is content split into operators and operands?
func TestOperators(t *testing.T) {
	cases := []struct{ name, in, want string }{
		{"empty", "", ""},
		{"white space of all kinds", "\x00\t\n\f\r q\rQ", "q|Q"},
		{"operands", "1 0 0 1 72.5 -3 cm", "1 0 0 1 72.5 -3 cm"},
		{"starred and quoted", "f* B* (a)' 1 2(b)\"", "f*|B*|<61> '|1 2 <62> \""},
		{"numbers in odd forms", "+1 -0 .5 -.5 4. 007 i", "1 0 0.5 -0.5 4.0 7 i"},
		{"strings", `(a\(b\)\n\101(c)) <4a4B4> Tj`, "<612862290A41286329> <4A4B40> Tj"},
		{"names", "/A#20B /.notdef / gs", "/A#20B /.notdef / gs"},
		{"arrays and dictionaries", "[(a)-120(b)[1]]TJ/P<</MCID 3/A[1 2]/B<<>>>>BDC", "[<61> -120 <62> [1]] TJ|/P <</A [1 2] /B <<>> /MCID 3>> BDC"},
		{"constants", "true false null x", "true false null x"},
		{"comments", "1 % 2 Q\n3 w%\rq%", "1 3 w|q"},
		{"no spaces needed", "/F1 12Tf[]0d", "/F1 12 Tf|[] 0 d"},
		{"operators run together", "QqBT", "QqBT"},
		{"two operators run together", "Qq", "Q|q"},
		{"a number stuck to an operator", "ET0 g", "ET|0 g"},
		{"unknown operator", "1 2 foo q", "1 2 foo|q"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := strings.Join(scan(c.in).ops, "|"); got != c.want {
				t.Errorf("%q gives\n%s want\n%s", c.in, got, c.want)
			}
		})
	}
}

// Does each operator know where its keyword stands?
func TestOffsets(t *testing.T) {
	r := scan("q 1 0 0 rg\n% re\n0 0 5 5 re f Q BI /W 1/H 1/BPC 8/CS/G ID x EI\nQ")
	if got, want := fmt.Sprint(r.offsets), "[0 8 24 27 29 31 62]"; got != want {
		t.Errorf("offsets %s of %v, want %s", got, r.ops, want)
	}
}

// Is damage reported with its place, skipped, and the rest read?
func TestDamage(t *testing.T) {
	cases := []struct{ in, ops, problem string }{
		{"1 2", "", "3: operands without an operator at the end"},
		{"] q", "q", "0: a bracket is closed that was not opened"},
		{">> q", "q", "0: a bracket is closed that was not opened"},
		{"} q", "q", "0: a stray \"}\""},
		{"[1 2 Q", "[1 2] Q", "5: an array is not closed before operator Q"},
		{"[1 foo 2]TJ", "[1 2] TJ", "3: an array holds something that is no value"},
		{"[1", "", "2: an array is not closed"},
		{"/A<</B 1 Q", "/A <</B 1>> Q", "9: a dictionary is not closed before operator Q"},
		{"/A<</B>>BDC", "/A <<>> BDC", "6: a dictionary key has no value"},
		{"/A<<1/B 2>>BDC", "/A <</B 2>> BDC", "4: a dictionary has a key that is no name"},
		{"Qq", "Q|q", "0: no space after operator Q"},
		{"BI EI Q", "Q", "3: an inline image without data"},
		{"BI /W 1 Q", "Q", "8: an inline image without data"},
		{"5 BI /W 1/H 1/BPC 8/CS/G ID x EI", `BI /BPC 8 /CS /G /H 1 /W 1 "x"`, "2: operands before BI"},
		{"BI /W 1 ID abc", `BI /W 1 "abc"`, "0: an inline image without an end"},
	}
	for _, c := range cases {
		r := scan(c.in)
		if got := strings.Join(r.ops, "|"); got != c.ops {
			t.Errorf("%q gives %s, want %s", c.in, got, c.ops)
		}
		if len(r.problems) == 0 || r.problems[0] != c.problem {
			t.Errorf("%q: problems %q, want %q", c.in, r.problems, c.problem)
		}
	}
}

// Is sound content free of reports?
func TestSoundContentHasNoProblems(t *testing.T) {
	r := scan("q 1 0 0 1 0 0 cm /F1 12 Tf [(a) -1 (b)] TJ /P <</A true>> BDC EMC BI /W 1/H 1/IM true ID x EI Q % end")
	if r.problems != nil {
		t.Errorf("problems %q", r.problems)
	}
}

// Do operands, entries and nesting end at their limits, with one report each?
func TestLimits(t *testing.T) {
	last := func(in string) (op Op, problems int) {
		s := NewScanner([]byte(in))
		s.Problem = func(int64, string) { problems++ }
		op, _ = s.Next()
		return op, problems
	}
	if op, n := last(strings.Repeat("1 ", limits.MaxOperands) + "x"); len(op.Operands) != limits.MaxOperands || n != 0 {
		t.Errorf("as many operands as may be: %d, %d reports", len(op.Operands), n)
	}
	if op, n := last(strings.Repeat("1 ", limits.MaxOperands+5) + "x"); len(op.Operands) != limits.MaxOperands || n != 1 || op.Name != "x" {
		t.Errorf("more operands than may be: %d, %d reports", len(op.Operands), n)
	}
	if op, n := last("[" + strings.Repeat("1 ", limits.MaxOperandValues+5) + "]x"); len(op.Operands[0].(pdf.Array)) >= limits.MaxOperandValues || n != 1 {
		t.Errorf("a long array: %d entries, %d reports", len(op.Operands[0].(pdf.Array)), n)
	}
	if _, n := last(strings.Repeat("[", 100_000) + "1 x"); n == 0 {
		t.Error("deep nesting is not reported")
	}
}

// Does input made to be read again and again end in good time?
func TestHostileContentEndsSoon(t *testing.T) {
	const n = 300_000
	for name, in := range map[string]string{
		"images without data": strings.Repeat("BI EI ", n),
		"a mark far off":      strings.Repeat("BI /F/AHx ID EI ", n) + ">",
		"no mark":             strings.Repeat("BI /F/DCT ID EI ", n),
		"no run-length end":   strings.Repeat("BI /F/RL ID \x00 EI ", n),
		"ends that are none":  "BI ID " + strings.Repeat(" EI (", n),
		"brackets":            strings.Repeat("[", n),
		"dictionaries":        strings.Repeat("<</A ", n),
	} {
		start := time.Now()
		scan(in)
		if d := time.Since(start); d > 60*time.Second {
			t.Errorf("%s: %v", name, d)
		}
	}
}

// Are numbers too large or odd kept finite?
func TestNumbersAreFinite(t *testing.T) {
	s := NewScanner([]byte("1" + strings.Repeat("0", 400) + " ." + strings.Repeat("9", 400) + " --5 1e5 99999999999999999999 x"))
	op, _ := s.Next()
	for _, o := range op.Operands {
		if r, ok := o.(pdf.Real); ok && (math.IsInf(float64(r), 0) || math.IsNaN(float64(r))) {
			t.Errorf("%v among %v", r, op.Operands)
		}
	}
}

func BenchmarkScanner(b *testing.B) {
	var sb strings.Builder
	for i := range 100_000 {
		switch i % 4 {
		case 0:
			fmt.Fprintf(&sb, "%d.%d %d m\n", i%600, i%97, i%800)
		case 1:
			fmt.Fprintf(&sb, "%d %d.5 %d 3 %d 4 c\n", i%600, i%800, i%77, i%99)
		case 2:
			sb.WriteString("[(word) -12.5 (other)] TJ\n")
		default:
			sb.WriteString("/GS1 gs f*\n")
		}
	}
	data := []byte(sb.String())
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		s := NewScanner(data)
		for {
			if _, ok := s.Next(); !ok {
				break
			}
		}
	}
}

func TestOperatorsKnowTheBytesTheyTake(t *testing.T) {
	data := "  1 0 0 rg\n/F 1 Tf%x\n0 0 5 5 re f BI /W 1 /H 1 /BPC 8 /CS /G ID x EI Q"
	var got []string
	s := NewScanner([]byte(data))
	for op, ok := s.Next(); ok; op, ok = s.Next() {
		got = append(got, data[op.Start:op.End])
	}
	want := []string{"1 0 0 rg", "/F 1 Tf", "0 0 5 5 re", "f", "BI /W 1 /H 1 /BPC 8 /CS /G ID x EI", "Q"}
	if !slices.Equal(got, want) {
		t.Fatalf("got %q, want %q", got, want)
	}
}

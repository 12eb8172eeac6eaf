package pdf_test

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/artwork/pdf"
	_ "laydown/internal/sameseed"
)

// object draws any direct object or reference.
func object(t *rapid.T, depth int) pdf.Object {
	top := 8
	if depth > 3 {
		top = 6
	}
	switch rapid.IntRange(0, top).Draw(t, "kind") {
	case 0:
		return nil
	case 1:
		return pdf.Boolean(rapid.Bool().Draw(t, "bool"))
	case 2:
		return pdf.Integer(rapid.Int64Range(-math.MaxInt64, math.MaxInt64).Draw(t, "int"))
	case 3:
		return pdf.Real(rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64).Draw(t, "real"))
	case 4:
		return pdf.Name(rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "name"))
	case 5:
		return pdf.String(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "string"))
	case 6:
		return pdf.Ref{Num: rapid.IntRange(1, 1<<30).Draw(t, "num"), Gen: rapid.IntRange(0, 65535).Draw(t, "gen")}
	case 7:
		a := pdf.Array{}
		for range rapid.IntRange(0, 5).Draw(t, "len") {
			a = append(a, object(t, depth+1))
		}
		return a
	}
	d := pdf.Dict{}
	for range rapid.IntRange(0, 5).Draw(t, "len") {
		d[pdf.Name(rapid.StringN(0, 8, -1).Draw(t, "key"))] = object(t, depth+1)
	}
	return d
}

// Is what is written read back as the same value?
func TestWrittenObjectsReadBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := object(t, 0)
		b := pdf.AppendObject(nil, o)
		got, ok := pdf.ParseOne(b)
		if !ok || !reflect.DeepEqual(got, o) {
			t.Fatalf("%#v was written as %q and read as %#v (sound %v)", o, b, got, ok)
		}
	})
}

// Are exact bytes as the standard asks: no exponents, sorted keys, escapes?
func TestAppendObjectBytes(t *testing.T) {
	for _, c := range []struct {
		o    pdf.Object
		want string
	}{
		{pdf.Real(1e-7), "0.0000001"},
		{pdf.Real(1e21), "1000000000000000000000.0"},
		{pdf.Real(math.Inf(1)), "0.0"},
		{pdf.Real(-2), "-2.0"},
		{pdf.Integer(-2), "-2"},
		{pdf.Name("Lime Green#"), "/Lime#20Green#23"},
		{pdf.String("a(b)\\\n"), `(a\(b\)\\\012)`},
		{pdf.String("\x00\xff"), "<00FF>"},
		{pdf.String(""), "()"},
		{pdf.Dict{"B": nil, "A": pdf.Array{pdf.Ref{Num: 3}, pdf.Boolean(true)}, "Type": pdf.Name("X")}, "<< /Type /X /A [3 0 R true] /B null >>"},
	} {
		if got := string(pdf.AppendObject(nil, c.o)); got != c.want {
			t.Errorf("%#v: %s, want %s", c.o, got, c.want)
		}
	}
}

// simple makes a one-page file with the writer under test.
func simple(t testing.TB) []byte {
	t.Helper()
	b := pdf.NewBuilder()
	root, tree, page := b.Reserve(), b.Reserve(), b.Reserve()
	b.Set(root, pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": tree})
	b.Set(tree, pdf.Dict{"Type": pdf.Name("Pages"), "Kids": pdf.Array{page}, "Count": pdf.Integer(1)})
	contents := b.AddStream(nil, []byte(strings.Repeat("0 0 10 10 re f\n", 50)), true)
	b.Set(page, pdf.Dict{"Type": pdf.Name("Page"), "Parent": tree, "Contents": contents,
		"MediaBox": pdf.Array{pdf.Integer(0), pdf.Integer(0), pdf.Real(100.5), pdf.Integer(50)}, "Resources": pdf.Dict{}})
	b.Trailer["Root"] = root
	var out bytes.Buffer
	if _, err := b.WriteTo(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Is a new file sound, the same each time, and read back as it was meant?
func TestBuilderMakesSoundFiles(t *testing.T) {
	data := simple(t)
	if !bytes.Equal(data, simple(t)) {
		t.Error("the same calls made different bytes")
	}
	d, sink := open(t, data)
	if n := len(sink.Sorted()); n > 0 || d.NumPages() != 1 || d.Repaired() {
		t.Errorf("%d findings %v, %d pages", n, sink.Sorted(), d.NumPages())
	}
	p, _ := d.Page(1)
	if p.MediaBox != [4]float64{0, 0, 100.5, 50} {
		t.Errorf("MediaBox %v", p.MediaBox)
	}
	s, _ := d.Stream(p.Dict["Contents"])
	if got, err := d.Data(s); err != nil || len(got) != 750 {
		t.Errorf("%d bytes of content, %v", len(got), err)
	}
	if code, report := qpdfCheck(t, data); code != 0 {
		t.Errorf("qpdf: %s", report)
	}
}

// Does a builder refuse what would be a broken file?
func TestBuilderRefusesUnfinished(t *testing.T) {
	b := pdf.NewBuilder()
	if _, err := b.WriteTo(&bytes.Buffer{}); err == nil {
		t.Error("a file without a catalogue was written")
	}
	b.Trailer["Root"] = b.Reserve()
	if _, err := b.WriteTo(&bytes.Buffer{}); err == nil {
		t.Error("a file with an object never set was written")
	}
}

// Does a page copied into another file bring all it needs and nothing else?
func TestImportCopiesWhatIsReachable(t *testing.T) {
	src, _ := open(t, simple(t))
	p, _ := src.Page(1)
	b := pdf.NewBuilder()
	tree := b.Reserve()
	first := b.Import(src, p.Ref).(pdf.Ref)
	again := b.Import(src, p.Ref).(pdf.Ref)
	if first != again {
		t.Errorf("the page was copied twice: %v and %v", first, again)
	}
	b.Set(tree, pdf.Dict{"Type": pdf.Name("Pages"), "Kids": pdf.Array{first}, "Count": pdf.Integer(1)})
	b.Trailer["Root"] = b.Add(pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": tree})
	var out bytes.Buffer
	if _, err := b.WriteTo(&out); err != nil {
		t.Fatal(err)
	}
	d, _ := open(t, out.Bytes())
	if n := len(d.Numbers()); n != 4 { // tree, page, contents, catalogue
		t.Errorf("%d objects, want 4", n)
	}
	q, _ := d.Page(1)
	s1, _ := src.Stream(p.Dict["Contents"])
	s2, _ := d.Stream(q.Dict["Contents"])
	if !same(src, d, s1, s2) {
		t.Error("the copied content stream differs")
	}
	if code, report := qpdfCheck(t, out.Bytes()); code > 3 || code == 2 {
		t.Errorf("qpdf: %s", report)
	}
}

package pdf_test

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// raw builds files byte by byte, to break them on purpose.
type raw struct {
	bytes.Buffer
	offs map[int]int
}

func newRaw(header string) *raw {
	r := &raw{offs: map[int]int{}}
	r.WriteString(header)
	return r
}

func (r *raw) obj(n int, body string) *raw {
	r.offs[n] = r.Len()
	fmt.Fprintf(r, "%d 0 obj\n%s\nendobj\n", n, body)
	return r
}

func (r *raw) stream(n int, dict, data string) *raw {
	return r.obj(n, fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data))
}

// table writes a classic section of the objects given, shifted by shift bytes.
func (r *raw) table(trailer string, shift int, nums ...int) int {
	at := r.Len()
	r.WriteString("xref\n0 1\n0000000000 65535 f \n")
	for _, n := range nums {
		fmt.Fprintf(r, "%d 1\n%010d 00000 n \n", n, r.offs[n]+shift)
	}
	fmt.Fprintf(r, "trailer\n<< %s >>\nstartxref\n%d\n%%%%EOF\n", trailer, at+shift)
	return at
}

// xrefStream writes a cross-reference stream as object n with rows of type, offset, index.
func (r *raw) xrefStream(n int, extra string, index string, rows [][3]int) int {
	at := r.Len()
	var b strings.Builder
	for _, row := range rows {
		b.Write([]byte{byte(row[0]), byte(row[1] >> 8), byte(row[1]), byte(row[2])})
	}
	r.stream(n, fmt.Sprintf("/Type /XRef /W [1 2 1] /Index [%s] %s", index, extra), b.String())
	return at
}

const (
	catalogBody = "<< /Type /Catalog /Pages 2 0 R >>"
	treeBody    = "<< /Type /Pages /Kids [3 0 R] /Count 1 >>"
	pageBody    = "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 100 50] /Contents 4 0 R >>"
	contentText = "1 0 0 1 0 0 cm"
)

func body(r *raw) *raw {
	return r.obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).stream(4, "", contentText)
}

// contents gives the decoded content of page 1.
func contents(t *testing.T, d *pdf.Document) string {
	t.Helper()
	p, err := d.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	s, ok := d.Stream(p.Dict["Contents"])
	if !ok {
		t.Fatal("page 1 has no content stream")
	}
	b, err := d.Data(s)
	if err != nil {
		t.Errorf("content: %v", err)
	}
	return string(b)
}

// Is a file read in spite of each kind of damage to its structure, and is the damage told?
func TestStructureDamage(t *testing.T) {
	const root = "/Root 1 0 R /Size 5"
	for _, c := range []struct {
		name string
		data func() []byte
		want finding.ID // "" = sound
	}{
		{"sound", func() []byte { r := body(newRaw("%PDF-1.7\n")); r.table(root, 0, 1, 2, 3, 4); return r.Bytes() }, ""},
		{"junk before the header, offsets from the header", func() []byte {
			r := body(newRaw("junk junk\n%PDF-1.7\n"))
			r.table(root, -10, 1, 2, 3, 4)
			return r.Bytes()
		}, ""},
		{"junk before the header, offsets from the file", func() []byte {
			r := body(newRaw("junk junk\n%PDF-1.7\n"))
			r.table(root, 0, 1, 2, 3, 4)
			return r.Bytes()
		}, ""},
		{"all offsets wrong but that of the table", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			for n := range r.offs {
				r.offs[n] += 7
			}
			r.table(root, 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "object-misplaced"},
		{"one object missing from its place", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.offs[4] = 3
			r.table(root, 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "object-misplaced"},
		{"startxref off by some bytes", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			at := r.table(root, 0, 1, 2, 3, 4)
			return bytes.Replace(r.Bytes(), fmt.Appendf(nil, "startxref\n%d", at), fmt.Appendf(nil, "startxref\n%d", at-9), 1)
		}, ""},
		{"startxref wrong", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.table(root, 0, 1, 2, 3, 4)
			return append(r.Bytes(), "startxref\n5\n%%EOF"...)
		}, "file-repaired"},
		{"no startxref, no table, no trailer", func() []byte { return body(newRaw("%PDF-1.7\n")).Bytes() }, "file-repaired"},
		{"no header, no table", func() []byte { return body(newRaw("")).Bytes() }, "file-repaired"},
		{"catalogue not reachable", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.table("/Root 9 0 R /Size 5", 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "file-repaired"},
		{"first subsection starts at 1 instead of 0", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			at := r.Len()
			r.WriteString("xref\n1 5\n0000000000 65535 f \n")
			for n := 1; n <= 4; n++ {
				fmt.Fprintf(r, "%010d 00000 n \n", r.offs[n])
			}
			fmt.Fprintf(r, "trailer << %s >>\nstartxref\n%d\n%%%%EOF", root, at)
			return r.Bytes()
		}, ""},
		{"entries of 19 bytes and odd spacing", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			at := r.Len()
			r.WriteString("xref 0 5\n0000000000 65535 f\n")
			for n := 1; n <= 4; n++ {
				fmt.Fprintf(r, "  %d 00000  n\n", r.offs[n])
			}
			fmt.Fprintf(r, "trailer<<%s>>startxref %d", root, at)
			return r.Bytes()
		}, ""},
		{"a Prev that leads round", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.table(fmt.Sprintf("%s /Prev %d", root, r.Len()), 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "xref-chain-broken"},
		{"a Prev into nowhere hides an object", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.table(root+" /Prev 4", 0, 1, 2, 3)
			return r.Bytes()
		}, "xref-chain-broken"},
		{"page tree lost", func() []byte {
			r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, "<< /Type /Pages /Kids [9 0 R] >>").obj(3, pageBody).stream(4, "", contentText)
			r.table(root, 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "page-tree-damaged"},
		{"no catalogue at all", func() []byte {
			return newRaw("%PDF-1.7\n").obj(3, pageBody).stream(4, "", contentText).Bytes()
		}, "page-tree-damaged"},
		{"stream length wrong", func() []byte {
			r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).
				obj(4, "<< /Length 3 >>\nstream\n"+contentText+"\nendstream")
			r.table(root, 0, 1, 2, 3, 4)
			return r.Bytes()
		}, "stream-length-wrong"},
		{"stream length beyond the file, no endstream", func() []byte {
			r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).
				obj(4, "<< /Length 999999 >>\nstream\r\n"+contentText)
			r.obj(5, "(other)")
			r.table(root, 0, 1, 2, 3, 4, 5)
			return r.Bytes()
		}, "stream-length-wrong"},
		{"a later version wins when scanning", func() []byte {
			r := newRaw("%PDF-1.7\n").stream(4, "", "old").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).stream(4, "", contentText)
			return r.Bytes()
		}, "file-repaired"},
		{"objects inside stream data are not taken when scanning", func() []byte {
			r := body(newRaw("%PDF-1.7\n"))
			r.stream(7, "", "1 0 obj\n<< /Type /Catalog /Pages 8 0 R >>\nendobj\n4 0 obj\n(wrong)\nendobj\n")
			return r.Bytes()
		}, "file-repaired"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := c.data()
			d, sink := open(t, data)
			if got := contents(t, d); got != contentText {
				t.Errorf("content %q", got)
			}
			if p, _ := d.Page(1); p.MediaBox != [4]float64{0, 0, 100, 50} {
				t.Errorf("MediaBox %v", p.MediaBox)
			}
			if c.want == "" && len(sink.Sorted()) > 0 {
				t.Errorf("unexpected findings: %v", sink.Sorted())
			}
			if c.want != "" && !ids(sink)[c.want] {
				t.Errorf("no %s in %v", c.want, sink.Sorted())
			}
			w, err := pdf.OpenWindowed(bytes.NewReader(data), int64(len(data)), pdf.Options{})
			if err != nil || contents(t, w) != contentText {
				t.Errorf("read in windows: %v", err)
			}
		})
	}
}

// modern writes a file of object streams; the page tree lies in one that extends another.
func modern() *raw {
	r := newRaw("%PDF-1.7\n").stream(4, "", contentText)
	r.stream(5, "/Type /ObjStm /N 2 /First 10", "1 0 2 40   "[:10]+fmt.Sprintf("%-40s", catalogBody)+treeBody)
	r.stream(6, "/Type /ObjStm /N 1 /First 4 /Extends 5 0 R", "3 0 "+pageBody)
	return r
}

// modernFile has a sound cross-reference stream, or one that knows object 2 by /Extends only.
func modernFile(sound bool) []byte {
	r := modern()
	rows := [][3]int{{0, 0, 255}, {2, 5, 0}, {2, 5, 1}, {2, 6, 0}, {1, 9, 0}}
	if !sound {
		rows[2] = [3]int{2, 6, 7}
	}
	rows = append(rows, [3]int{1, r.offs[5], 0}, [3]int{1, r.offs[6], 0}, [3]int{1, r.Len(), 0})
	at := r.xrefStream(7, "/Root 1 0 R /Size 8", "0 8", rows)
	fmt.Fprintf(r, "startxref\n%d\n%%%%EOF\n", at)
	return r.Bytes()
}

// Are cross-reference streams and object streams read, with /Extends and a wrong index, and found by scanning?
func TestObjectStreams(t *testing.T) {
	d, sink := open(t, modernFile(false))
	if got := contents(t, d); got != contentText || len(sink.Sorted()) > 0 || d.Repaired() {
		t.Errorf("content %q, findings %v", got, sink.Sorted())
	}
	e, sink := open(t, modern().Bytes())
	if got := contents(t, e); got != contentText || !ids(sink)["file-repaired"] {
		t.Errorf("scanned: content %q, findings %v", got, sink.Sorted())
	}
}

func hybridFile() []byte {
	r := newRaw("%PDF-1.5\n").obj(1, catalogBody).obj(2, treeBody).stream(4, "", contentText)
	r.stream(5, "/Type /ObjStm /N 1 /First 4", "3 0 "+pageBody)
	stm := r.xrefStream(6, "/Size 7", "3 1", [][3]int{{2, 5, 0}})
	at := r.Len()
	fmt.Fprintf(r, "xref\n0 7\n0000000003 65535 f \n%010d 00000 n \n%010d 00000 n \n0000000000 00000 f \n%010d 00000 n \n%010d 00000 n \n%010d 00000 n \n",
		r.offs[1], r.offs[2], r.offs[4], r.offs[5], r.offs[6])
	fmt.Fprintf(r, "trailer\n<< /Root 1 0 R /Size 7 /XRefStm %d >>\nstartxref\n%d\n%%%%EOF\n", stm, at)
	return r.Bytes()
}

// Are objects found that a hybrid file hides from old readers, before and after an update?
func TestHybridFiles(t *testing.T) {
	data := hybridFile()
	d, sink := open(t, data)
	if got := contents(t, d); got != contentText || len(sink.Sorted()) > 0 {
		t.Errorf("content %q, findings %v", got, sink.Sorted())
	}
	out, added := update(t, d, false)
	e, sink := open(t, out)
	if _, ok := e.Stream(added); !ok || contents(t, e) != contentText || len(sink.Sorted()) > 0 {
		t.Errorf("after an update: findings %v", sink.Sorted())
	}
	if !bytes.Contains(out[len(data):], []byte("\nxref\n")) || bytes.Contains(out[len(data):], []byte("XRefStm")) {
		t.Error("a hybrid file is to be updated by a table of its own")
	}
	if code, report := qpdfCheck(t, out); code != 0 {
		t.Errorf("qpdf: %s", report)
	}
}

// Does an update of a file with a cross-reference stream add one of these?
func TestUpdateKeepsKindOfSection(t *testing.T) {
	data := modernFile(true)
	d, _ := open(t, data)
	out, added := update(t, d, false)
	if tail := out[len(data):]; bytes.Contains(tail, []byte("trailer")) || !bytes.Contains(tail, []byte("/XRef")) {
		t.Errorf("the added section is %q", tail)
	}
	e, sink := open(t, out)
	if _, ok := e.Stream(added); !ok || contents(t, e) != contentText || len(sink.Sorted()) > 0 {
		t.Errorf("after an update: findings %v", sink.Sorted())
	}
	if code, report := qpdfCheck(t, out); code != 0 {
		t.Errorf("qpdf: %s", report)
	}
}

// Are files that cannot be used refused with an error that can be told apart?
func TestOpenRefuses(t *testing.T) {
	encrypted := body(newRaw("%PDF-1.7\n"))
	encrypted.obj(8, "<< /Filter /Standard /V 2 /R 3 /Length 128 /P -4 /O <"+strings.Repeat("6F", 32)+"> /U <"+strings.Repeat("75", 32)+"> >>")
	encrypted.table("/Root 1 0 R /Size 9 /Encrypt 8 0 R", 0, 1, 2, 3, 4, 8)
	broken := bytes.Replace(encrypted.Bytes(), []byte("startxref"), []byte("startxxxx"), 1)
	empty := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, "<< /Type /Pages /Kids [] /Count 0 >>")
	for _, c := range []struct {
		name string
		data []byte
		want error
	}{
		{"nothing", nil, pdf.ErrNotPDF},
		{"a picture", []byte("\x89PNG\r\n\x1a\n............"), pdf.ErrNotPDF},
		{"text about objects", []byte("in 1 0 obj we trust"), pdf.ErrNotPDF},
		{"only a header", []byte("%PDF-1.7\n"), pdf.ErrNoPages},
		{"encrypted", encrypted.Bytes(), pdf.ErrPassword},
		{"encrypted and broken", broken, pdf.ErrPassword},
		{"no pages", empty.Bytes(), pdf.ErrNoPages},
	} {
		_, err := pdf.Open(bytes.NewReader(c.data), int64(len(c.data)), pdf.Options{})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

// Is a reference chain followed to its end and a circle of references taken as missing?
func TestResolveCycles(t *testing.T) {
	r := body(newRaw("%PDF-1.7\n")).obj(5, "6 0 R").obj(6, "5 0 R").obj(7, "8 0 R").obj(8, "42")
	r.table("/Root 1 0 R /Size 9", 0, 1, 2, 3, 4, 5, 6, 7, 8)
	d, sink := open(t, r.Bytes())
	if o := d.Resolve(pdf.Ref{Num: 5}); o != nil || !ids(sink)["reference-cycle"] {
		t.Errorf("the circle gave %v", o)
	}
	if n, ok := d.Int(pdf.Ref{Num: 7}); !ok || n != 42 {
		t.Errorf("the chain gave %d %v", n, ok)
	}
	if o := d.Resolve(pdf.Ref{Num: 1000}); o != nil {
		t.Errorf("a missing object gave %v", o)
	}
}

// Is damage inside objects passed over with the best reading?
func TestParserDamage(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"[1 2 endobj", "[1 2]"},
		{"<< /A [1 2 >>", "<< /A [1 2] >>"},
		{"<< /A 1 /B >>", "<< /A 1 /B null >>"},
		{"<< /A 1 2 3 /B 4 >>", "<< /A 1 /B 4 >>"},
		{"<< /A foo /B 4 >>", "<< /B 4 >>"},
		{"<< /A (open", "<< /A (open) >>"},
		{"[ 1 0 R 2 0 RG 3 ]", "[1 0 R 2 0 3]"},
		{"[ /A /B ) > 5 ]", "[/A /B 5]"},
		{"[-1 0 R]", "[-1 0]"},
	} {
		o, sound := pdf.ParseOne([]byte(c.in))
		if got := string(pdf.AppendObject(nil, o)); got != c.want || sound {
			t.Errorf("%s: %s, sound %v; want %s", c.in, got, sound, c.want)
		}
	}
	deep := strings.Repeat("[", 5000) + strings.Repeat("]", 5000)
	if _, sound := pdf.ParseOne([]byte(deep)); sound {
		t.Error("nesting beyond the limit was read")
	}
}

// Does a chain of sections that claims more objects than a file of its size can have end in a reading?
func TestXrefClaimsBeyondTheFile(t *testing.T) {
	r := body(newRaw("%PDF-1.7\n"))
	first := r.table("/Root 1 0 R /Size 5", 0, 1, 2, 3, 4)
	prev := first
	for n := 10; n < 13; n++ {
		at := r.Len()
		// 700,000 rows of which the file holds a few kilobytes, deflated.
		r.stream(n, fmt.Sprintf("/Type /XRef /W [1 2 1] /Index [100 700000] /Size 700100 /Root 1 0 R /Prev %d /Filter /FlateDecode", prev), string(bomb(t, "\x00", 4*700_000)))
		fmt.Fprintf(r, "startxref\n%d\n%%%%EOF\n", at)
		prev = at
	}
	d, _ := open(t, r.Bytes())
	if contents(t, d) != contentText {
		t.Error("the page does not read")
	}
}

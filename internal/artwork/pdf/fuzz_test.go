package pdf_test

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

func seeds(f *testing.F) {
	f.Add(simple(f))
	f.Add(modernFile(true))
	f.Add(modernFile(false))
	f.Add(hybridFile())
	f.Add(modern().Bytes())
	f.Add(body(newRaw("%PDF-1.7\n")).Bytes())
	for _, l := range locks()[4:10] {
		f.Add(l.file())
	}
	f.Add([]byte("%PDF-1.7\n1 0 obj [[[[ (((( <<<< 2 0 obj stream endstream trailer << /Root 1 0 R /Encrypt null >>"))
}

// FuzzOpen: any bytes open or give an error, quickly; pages can be read; the same reading comes out
// when the file is read in windows; the budgets of decoding are kept; an update without changes is the file
// itself; and what is written from it opens with the same pages.
func FuzzOpen(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		start := time.Now()
		var sink finding.Collector
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink, Password: "user"})
		w, werr := pdf.OpenWindowed(bytes.NewReader(data), int64(len(data)), pdf.Options{Password: "user"})
		if (err == nil) != (werr == nil) {
			t.Fatalf("held whole: %v, in windows: %v", err, werr)
		}
		if err != nil {
			return
		}
		if d.NumPages() < 1 || d.NumPages() != w.NumPages() {
			t.Fatalf("%d pages, in windows %d", d.NumPages(), w.NumPages())
		}
		readEverything(d)
		for _, n := range d.Numbers()[:min(len(d.Numbers()), 200)] {
			o := d.Resolve(pdf.Ref{Num: n})
			if s, ok := o.(*pdf.Stream); ok {
				d.ImageData(s)
			}
		}
		if all, part := d.BudgetsLeft(); all < 0 || part < 0 {
			t.Fatalf("decoded beyond the budget: %d, %d", all, part)
		}
		if !d.Repaired() {
			var same bytes.Buffer
			if _, err := pdf.NewUpdate(d).WriteTo(&same); err != nil || !bytes.Equal(same.Bytes(), data) {
				t.Fatalf("an update without changes: %v", err)
			}
		}
		for n := 1; n <= min(d.NumPages(), 20); n++ {
			p, err := d.Page(n)
			if err != nil || p.Resources == nil || p.MediaBox[2] <= p.MediaBox[0] || p.CropBox[3] <= p.CropBox[1] || p.UserUnit <= 0 || p.Rotate%90 != 0 {
				t.Fatalf("page %d: %+v, %v", n, p, err)
			}
		}
		for _, full := range []bool{false, true} {
			out, _ := update(t, d, full)
			e, err := pdf.Open(bytes.NewReader(out), int64(len(out)), pdf.Options{Password: "user"})
			if err != nil {
				t.Fatalf("full %v: what was written does not open: %v", full, err)
			}
			if e.NumPages() != d.NumPages() {
				t.Fatalf("full %v: %d pages became %d", full, d.NumPages(), e.NumPages())
			}
		}
		if took := time.Since(start); took > 30*time.Second {
			t.Fatalf("took %v for %d bytes", took, len(data))
		}
	})
}

// FuzzRoundTrip: what is read from any bytes is written so that it reads back equal.
func FuzzRoundTrip(f *testing.F) {
	for _, s := range []string{"<< /A [1 2.5 (x) <ff> /N#20 true null 3 0 R] >>", "[--5 .5. (\\(\\012) 1e5]", "<< /A << /B [ >>", "99999999999999999999999"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		o, _ := pdf.ParseOne(data)
		b := pdf.AppendObject(nil, o)
		again, sound := pdf.ParseOne(b)
		if !sound || !reflect.DeepEqual(o, again) {
			t.Fatalf("%q read as %#v, written as %q, read as %#v (sound %v)", data, o, b, again, sound)
		}
	})
}

// FuzzLexer: tokens lie inside the input, one behind the other, and each call moves on; a token read from where it
// begins is the same token.
func FuzzLexer(f *testing.F) {
	for _, s := range []string{"<< /A#20B [1 -2.5 (x\\(\\)) <0g> true] >>", "5 0 obj\nstream", "((((", "<<<>>>", "%c\r\n}{", "1.2.3--4+5", "\x00\xff/\x00"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		l := pdf.NewLexer(data)
		end := 0
		for {
			tok := l.Next()
			if tok.Pos < end || l.Pos() < tok.Pos || l.Pos() > len(data) {
				t.Fatalf("a token from %d to %d behind %d in %d bytes", tok.Pos, l.Pos(), end, len(data))
			}
			if tok.Kind == pdf.TokenEOF {
				if l.Pos() != len(data) {
					t.Fatalf("the end at %d of %d", l.Pos(), len(data))
				}
				return
			}
			if l.Pos() == tok.Pos {
				t.Fatalf("no progress at %d", tok.Pos)
			}
			end = l.Pos()
			m := pdf.NewLexer(data)
			m.SetPos(tok.Pos)
			if again := m.Next(); again.Kind != tok.Kind || again.Pos != tok.Pos || m.Pos() != end || again.Num != tok.Num || !bytes.Equal(again.Bytes, tok.Bytes) {
				t.Fatalf("from %d: %+v, then %+v", tok.Pos, tok, again)
			}
		}
	})
}

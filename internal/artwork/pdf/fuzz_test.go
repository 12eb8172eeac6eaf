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
	f.Add([]byte("%PDF-1.7\n1 0 obj [[[[ (((( <<<< 2 0 obj stream endstream trailer << /Root 1 0 R /Encrypt null >>"))
}

// FuzzOpen: any bytes open or give an error, quickly; pages can be read; the same reading comes out
// when the file is read in windows; and what is written from it opens with the same pages.
func FuzzOpen(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		start := time.Now()
		var sink finding.Collector
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink})
		w, werr := pdf.OpenWindowed(bytes.NewReader(data), int64(len(data)), pdf.Options{})
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
		for n := 1; n <= min(d.NumPages(), 20); n++ {
			p, err := d.Page(n)
			if err != nil || p.Resources == nil || p.MediaBox[2] <= p.MediaBox[0] || p.CropBox[3] <= p.CropBox[1] || p.UserUnit <= 0 || p.Rotate%90 != 0 {
				t.Fatalf("page %d: %+v, %v", n, p, err)
			}
		}
		for _, full := range []bool{false, true} {
			out, _ := update(t, d, full)
			e, err := pdf.Open(bytes.NewReader(out), int64(len(out)), pdf.Options{})
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

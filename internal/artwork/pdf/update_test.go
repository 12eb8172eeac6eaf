package pdf_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// update adds an entry to the first page, a new stream, and gives the file written.
func update(t testing.TB, d *pdf.Document, full bool) ([]byte, pdf.Ref) {
	t.Helper()
	u := pdf.NewUpdate(d)
	p, err := d.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	added := u.AddStream(pdf.Dict{"Probe": pdf.Boolean(true)}, []byte(strings.Repeat("probe ", 100)), true)
	if p.Ref.Num > 0 {
		page := pdf.Dict{}
		for k, v := range p.Dict {
			page[k] = v
		}
		page["LaydownProbe"] = added
		u.Set(p.Ref, page)
	}
	var out bytes.Buffer
	write := u.WriteTo
	if full {
		write = u.WriteFull
	}
	n, err := write(&out)
	if err != nil {
		t.Fatalf("writing: %v", err)
	}
	if n != int64(out.Len()) {
		t.Errorf("%d bytes reported, %d written", n, out.Len())
	}
	return out.Bytes(), added
}

// Does an update keep the original bytes and every untouched object, for every file that can be read?
func TestUpdateKeepsUntouchedObjects(t *testing.T) {
	for _, name := range corpusFiles(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
		if err != nil {
			continue
		}
		t.Run(filepath.Base(name), func(t *testing.T) {
			for _, full := range []bool{false, true} {
				out, added := update(t, d, full)
				if !full && !d.Repaired() && !bytes.HasPrefix(out, data) {
					t.Error("the original bytes are not kept")
				}
				e, _ := open(t, out)
				if e.NumPages() != d.NumPages() {
					t.Fatalf("full %v: %d pages, were %d", full, e.NumPages(), d.NumPages())
				}
				if e.Repaired() && !d.Repaired() {
					t.Errorf("full %v: the written file needs repair", full)
				}
				p, _ := d.Page(1)
				if s, ok := e.Stream(added); p.Ref.Num > 0 && (!ok || s.Dict["Probe"] != pdf.Boolean(true)) {
					t.Errorf("full %v: the new stream is not there", full)
				}
				for n := 1; n <= d.NumPages(); n++ {
					a, _ := d.Page(n)
					b, _ := e.Page(n)
					if a.MediaBox != b.MediaBox || a.CropBox != b.CropBox || a.Rotate != b.Rotate || a.UserUnit != b.UserUnit {
						t.Errorf("full %v: page %d changed its size", full, n)
					}
				}
				if full {
					sameReachable(t, d, e, p.Ref)
					continue
				}
				for _, n := range d.Numbers() {
					r := pdf.Ref{Num: n}
					if n == p.Ref.Num || d.Repaired() {
						continue
					}
					if !same(d, e, d.Resolve(r), e.Resolve(r)) {
						t.Errorf("object %d changed", n)
					}
				}
			}
		})
	}
}

// sameReachable walks both files from their catalogues side by side.
func sameReachable(t *testing.T, d, e *pdf.Document, page pdf.Ref) {
	t.Helper()
	seen := map[int]bool{page.Num: true}
	var walk func(path string, x, y pdf.Object)
	walk = func(path string, x, y pdf.Object) {
		if t.Failed() {
			return
		}
		if r, ok := x.(pdf.Ref); ok {
			if seen[r.Num] {
				return
			}
			seen[r.Num] = true
			x = d.Resolve(x)
			y = e.Resolve(y)
		}
		switch v := x.(type) {
		case pdf.Array:
			w, _ := y.(pdf.Array)
			if len(w) != len(v) {
				t.Errorf("%s: %d entries became %d", path, len(v), len(w))
				return
			}
			for i := range v {
				walk(path, v[i], w[i])
			}
		case pdf.Dict:
			w, ok := y.(pdf.Dict)
			if !ok {
				t.Errorf("%s: a dictionary became %T", path, y)
			}
			for k := range v {
				if d.Repaired() && k == "Pages" { // a lost page tree is made anew
					continue
				}
				walk(path+"."+string(k), v[k], w[k])
			}
		case *pdf.Stream:
			w, ok := y.(*pdf.Stream)
			if !ok {
				t.Errorf("%s: a stream became %T", path, y)
				return
			}
			a, _ := d.RawData(v)
			b, _ := e.RawData(w)
			if !bytes.Equal(a, b) {
				t.Errorf("%s: stream data changed", path)
			}
			for k := range v.Dict {
				if k != "Length" {
					walk(path+"."+string(k), v.Dict[k], w.Dict[k])
				}
			}
		default:
			if x != y {
				t.Errorf("%s: %v became %v", path, x, y)
			}
		}
	}
	walk("catalog", d.Catalog(), e.Catalog())
}

// Does an independent reader find the written files no worse than the originals?
func TestUpdateIsSoundForOthers(t *testing.T) {
	for i, name := range corpusFiles(t) {
		if testing.Short() && i%8 != 0 {
			continue
		}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
		if err != nil {
			continue
		}
		rank := map[int]int{0: 0, 3: 1, 2: 2}
		was, _ := qpdfCheck(t, data)
		for _, full := range []bool{false, true} {
			out, _ := update(t, d, full)
			if is, report := qpdfCheck(t, out); rank[is] > rank[was] {
				t.Errorf("%s, full %v: qpdf gave %d for the original and %d now:\n%s", filepath.Base(name), full, was, is, report)
			}
		}
	}
}

// Does an update without changes give the very bytes of the original?
func TestUpdateWithoutChanges(t *testing.T) {
	data := simple(t)
	d, _ := open(t, data)
	var out bytes.Buffer
	if _, err := pdf.NewUpdate(d).WriteTo(&out); err != nil || !bytes.Equal(out.Bytes(), data) {
		t.Errorf("bytes changed, error %v", err)
	}
}

// Is a deleted object gone, and are the second half of the ID and /Prev as 7.5.6 and 14.4 ask?
func TestUpdateDeletesAndIdentifies(t *testing.T) {
	data := simple(t)
	d, _ := open(t, data)
	u := pdf.NewUpdate(d)
	u.Delete(pdf.Ref{Num: 4})
	if u.Resolve(pdf.Ref{Num: 4}) != nil {
		t.Error("the update still resolves the deleted object")
	}
	var out bytes.Buffer
	if _, err := u.WriteTo(&out); err != nil {
		t.Fatal(err)
	}
	e, _ := open(t, out.Bytes())
	if e.Resolve(pdf.Ref{Num: 4}) != nil {
		t.Error("the deleted object is still there")
	}
	was, _ := d.Array(d.Trailer()["ID"])
	is, _ := e.Array(e.Trailer()["ID"])
	if len(is) != 2 || is[0] != was[0] || is[1] == was[1] {
		t.Errorf("ID was %q and is %q", was, is)
	}
	if e.Trailer()["Prev"] == nil {
		t.Error("no Prev")
	}
	if code, report := qpdfCheck(t, out.Bytes()); code != 0 {
		t.Errorf("qpdf: %s", report)
	}
}

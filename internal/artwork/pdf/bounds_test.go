package pdf_test

import (
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"reflect"
	"runtime"
	"strings"
	"sync"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// bomb is zlib data of a few kilobytes a megabyte that expands to size bytes of the pattern repeated. The blocks
// behind the first are alike, so that making it costs next to nothing.
func bomb(t testing.TB, pattern string, size int) []byte {
	t.Helper()
	var b bytes.Buffer
	b.Write([]byte{0x78, 0x9C})
	w, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	block := []byte(strings.Repeat(pattern, 1<<20/len(pattern)))
	var at [3]int
	for i := range at {
		w.Write(block)
		w.Flush()
		at[i] = b.Len()
	}
	for n := 3 * len(block); n < size; n += len(block) {
		b.Write(b.Bytes()[at[1]:at[2]])
	}
	b.Write([]byte{0x03, 0x00}) // an empty last block
	return b.Bytes()
}

// allocated gives how many bytes f allocates in all.
func allocated(f func()) int64 {
	var a, b runtime.MemStats
	runtime.ReadMemStats(&a)
	f()
	runtime.ReadMemStats(&b)
	return int64(b.TotalAlloc - a.TotalAlloc)
}

// Does data that expands to gigabytes end in an error within bounds, whatever filters lie over each other?
func TestBombsEnd(t *testing.T) {
	const size = 3 << 30
	once := bomb(t, "0 0 10 10 re f\n", size)
	twice := bomb(t, " ", size)
	nested := pdf.NewStream(pdf.Dict{}, twice, true)
	inner, _ := (&pdf.Document{}).RawData(nested)
	for _, c := range []struct {
		name, dict string
		data       []byte
		image      bool
	}{
		{"once", "/Filter /FlateDecode", once, false},
		{"twice", "/Filter [ /FlateDecode /FlateDecode ]", inner, false},
		{"with rows of a wrong kind", "/Filter /FlateDecode /DecodeParms << /Predictor 12 /Columns 5 >>", once, false},
		{"an image of unknown size", "/Filter /FlateDecode", once, true},
		{"an image in a space by name", "/Width 10 /Height 10 /BitsPerComponent 8 /ColorSpace /CS0 /Filter [ /FlateDecode /FlateDecode ]", inner, true},
	} {
		r := body(newRaw("%PDF-1.7\n"))
		r.stream(5, c.dict, string(c.data))
		r.table("/Root 1 0 R /Size 6", 0, 1, 2, 3, 4, 5)
		d, _ := open(t, r.Bytes())
		s, _ := d.Stream(pdf.Ref{Num: 5})
		var out []byte
		var err error
		got := allocated(func() {
			if c.image {
				out, _, err = d.ImageData(s)
			} else {
				out, err = d.Data(s)
			}
		})
		most := int64(limits.MaxDataBytes)
		if c.image {
			most = limits.MaxStreamBytes
		}
		if !errors.Is(err, pdf.ErrBudget) || int64(len(out)) > most {
			t.Errorf("%s: %d bytes, %v", c.name, len(out), err)
		}
		if got > 3*most {
			t.Errorf("%s: %d MB allocated", c.name, got>>20)
		}
	}
}

// Is what an image holds beyond its samples left out and told, and an image of the right length kept whole?
func TestImageSurplus(t *testing.T) {
	for _, c := range []struct {
		name, dict string
		size, want int
		told       bool
	}{
		{"right", "/Width 1024 /Height 1024 /BitsPerComponent 8 /ColorSpace /DeviceRGB", 3 << 20, 3 << 20, false},
		{"one and a half", "/Width 1024 /Height 1024 /BitsPerComponent 8 /ColorSpace /DeviceGray", 3 << 19, 2 << 20, false},
		{"much more", "/Width 16 /Height 16 /BitsPerComponent 8 /ColorSpace [ /Separation /Silver /DeviceCMYK 9 0 R ]", 8 << 20, 1<<20 + 2*16*17, true},
		{"a mask", "/Width 16 /Height 16 /ImageMask true", 8 << 20, 1<<20 + 2*16*3, true},
		{"space not told", "/Width 16 /Height 16 /BitsPerComponent 8 /ColorSpace /CS0", 8 << 20, 8 << 20, false},
	} {
		r := body(newRaw("%PDF-1.7\n"))
		r.stream(5, c.dict+" /Filter /FlateDecode", string(bomb(t, "0123456789abcdef", c.size)))
		r.table("/Root 1 0 R /Size 6", 0, 1, 2, 3, 4, 5)
		d, sink := open(t, r.Bytes())
		s, _ := d.Stream(pdf.Ref{Num: 5})
		out, _, err := d.ImageData(s)
		if err != nil || ids(sink)["image-data-surplus"] != c.told {
			t.Errorf("%s: %v, findings %v", c.name, err, sink.Sorted())
		}
		if c.told && len(out) != c.want || !c.told && len(out) < c.size {
			t.Errorf("%s: %d bytes, want %d", c.name, len(out), c.want)
		}
	}
}

// Are object streams that expand to more than is kept read again when asked for, and charged once?
func TestObjectStreamsAreForgotten(t *testing.T) {
	const streams, size = 24, 12 << 20 // 288 MB in all
	r := body(newRaw("%PDF-1.7\n"))
	rows := [][3]int{{0, 0, 255}}
	for n := 1; n <= 4; n++ {
		rows = append(rows, [3]int{1, r.offs[n], 0})
	}
	r.WriteString("%" + strings.Repeat(" ", 2<<20) + "\n") // a file of this size may expand so far
	padding := bomb(t, " ", size)
	for k := range streams {
		var b bytes.Buffer
		w, _ := flate.NewWriter(&b, flate.BestSpeed)
		fmt.Fprintf(w, "%d 0 %d 12 (stream %02d) (x)         ", 100+2*k, 101+2*k, k)
		w.Flush()
		data := append([]byte{0x78, 0x9C}, b.Bytes()...)
		first := len(fmt.Sprintf("%d 0 %d 12 ", 100+2*k, 101+2*k))
		r.stream(10+k, fmt.Sprintf("/Type /ObjStm /N 2 /First %d /Filter /FlateDecode", first), string(append(data, padding[2:]...)))
	}
	for n := 5; n < 100+2*streams; n++ {
		switch {
		case n >= 10 && n < 10+streams:
			rows = append(rows, [3]int{1, r.offs[n], 0})
		case n >= 100:
			rows = append(rows, [3]int{2, 10 + (n-100)/2, (n - 100) % 2})
		default:
			rows = append(rows, [3]int{0, 0, 255})
		}
	}
	at := r.Len()
	var b strings.Builder
	for _, row := range rows {
		b.Write([]byte{byte(row[0]), byte(row[1] >> 16), byte(row[1] >> 8), byte(row[1]), byte(row[2])})
	}
	r.stream(200, fmt.Sprintf("/Type /XRef /W [1 3 1] /Index [0 %d] /Size 201 /Root 1 0 R", len(rows)), b.String())
	fmt.Fprintf(r, "startxref\n%d\n%%%%EOF\n", at)
	d, sink := open(t, r.Bytes())
	for round := range 2 {
		for k := range streams / (1 + 3*round) {
			for i, want := range []pdf.String{pdf.String(fmt.Sprintf("stream %02d", k)), "x"} {
				if got := d.Resolve(pdf.Ref{Num: 100 + 2*k + i}); got != want {
					t.Fatalf("round %d, object %d: %v, want %q; findings %v", round, 100+2*k+i, got, want, sink.Sorted())
				}
			}
		}
		d.Forget()
	}
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	if m.HeapAlloc > 3*limits.ObjectStreamCacheBytes {
		t.Errorf("%d MB are held", m.HeapAlloc>>20)
	}
	runtime.KeepAlive(d)
}

// sharedFile has objects of every place: plain, in object streams, streams with data, references between them.
func sharedFile() []byte {
	r := newRaw("%PDF-1.7\n")
	r.obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).stream(4, "", contentText)
	const plain, packed = 300, 300
	for i := range plain {
		n := 10 + i
		if i%3 == 0 {
			r.stream(n, fmt.Sprintf("/Next %d 0 R", 10+(i+7)%plain), strings.Repeat(fmt.Sprintf("data of %d ", n), 1+i*3))
		} else {
			r.obj(n, fmt.Sprintf("<< /Next %d 0 R /Text (%d) /List [ %s ] >>", 10+(i+7)%plain, n, strings.Repeat("1 2.5 /N ", i)))
		}
	}
	rows := make([][3]int, 1000)
	for n, off := range r.offs {
		rows[n] = [3]int{1, off, 0}
	}
	for k := range packed / 10 {
		var head, data strings.Builder
		for i := range 10 {
			n := 400 + 10*k + i
			fmt.Fprintf(&head, "%d %d ", n, data.Len())
			fmt.Fprintf(&data, "<< /Packed %d /Other %d 0 R >> ", n, 10+n%plain)
			rows[n] = [3]int{2, 900 + k, i}
		}
		r.stream(900+k, fmt.Sprintf("/Type /ObjStm /N 10 /First %d", head.Len()), head.String()+data.String())
		rows[900+k] = [3]int{1, r.offs[900+k], 0}
	}
	at := r.Len()
	var b strings.Builder
	for _, row := range rows {
		b.Write([]byte{byte(row[0]), byte(row[1] >> 16), byte(row[1] >> 8), byte(row[1]), byte(row[2])})
	}
	r.stream(1000, "/Type /XRef /W [1 3 1] /Index [0 1000] /Size 1001 /Root 1 0 R", b.String())
	fmt.Fprintf(r, "startxref\n%d\n%%%%EOF\n", at)
	return r.Bytes()
}

// snapshot reads object n with its data.
func snapshot(d *pdf.Document, n int) any {
	o := d.Resolve(pdf.Ref{Num: n})
	if s, ok := o.(*pdf.Stream); ok {
		b, err := d.Data(s)
		return []any{s.Dict, string(b), err}
	}
	return o
}

// Do many goroutines that read all objects at once see what one reader sees one by one, in memory and in a file
// that is read in windows, also while what was read is forgotten?
func TestConcurrentReading(t *testing.T) {
	data := sharedFile()
	one, _ := open(t, data)
	want := map[int]any{}
	for _, n := range one.Numbers() {
		want[n] = snapshot(one, n)
	}
	if len(want) < 600 {
		t.Fatalf("%d objects", len(want))
	}
	l := locks()[9]
	for _, c := range []struct {
		name     string
		data     []byte
		windowed bool
		password string
	}{{"in memory", data, false, ""}, {"in windows", data, true, ""}, {"encrypted in windows", lockedFile(l), true, "user"}} {
		t.Run(c.name, func(t *testing.T) {
			openIt := pdf.Open
			if c.windowed {
				openIt = pdf.OpenWindowed
			}
			if c.password != "" {
				d, _, err := unlock(c.data, c.password)
				if err != nil {
					t.Fatal(err)
				}
				want = map[int]any{}
				for _, n := range d.Numbers() {
					want[n] = snapshot(d, n)
				}
			}
			d, err := openIt(bytes.NewReader(c.data), int64(len(c.data)), pdf.Options{Password: c.password})
			if err != nil {
				t.Fatal(err)
			}
			nums := d.Numbers()
			var wg sync.WaitGroup
			for g := range 16 {
				wg.Go(func() {
					for i := range nums {
						n := nums[(i*(2*g+1)+g*37)%len(nums)]
						if got := snapshot(d, n); !reflect.DeepEqual(got, want[n]) {
							t.Errorf("object %d: %v, want %v", n, got, want[n])
							return
						}
						if g == 0 && i%50 == 0 {
							d.Forget()
						}
					}
				})
			}
			wg.Wait()
		})
	}
}

// Does a large stream of a file read in windows come out the same as from memory, plain and encrypted, by Data and by RawReader?
func TestLargeStreamsInWindows(t *testing.T) {
	text := strings.Repeat("a large stream is inflated while it is read. ", 1<<16)
	stored := pdf.NewStream(pdf.Dict{}, []byte(text), true)
	packed, _ := (&pdf.Document{}).RawData(stored)
	noise := make([]byte, 2<<20)
	for i, x := 0, uint32(1); i < len(noise); i++ {
		x = x*1664525 + 1013904223
		noise[i] = byte(x >> 24)
	}
	var z bytes.Buffer
	w, _ := flate.NewWriter(&z, flate.BestSpeed)
	w.Write(noise)
	w.Close()
	for _, lk := range append(locks(), nil) {
		l, name := lk, "plain"
		seal := func(n int, s string) string { return s }
		extra := ""
		if l != nil {
			name = l.name
			seal = func(n int, s string) string { return string(l.seal(n, 0, s)) }
			extra = " /Encrypt 8 0 R /ID [ (" + lockID + ") (x) ]"
		}
		r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).stream(4, "", seal(4, contentText))
		r.stream(5, "/Filter /FlateDecode", seal(5, "\x78\x9C"+z.String()))
		r.stream(6, "/Filter /FlateDecode", seal(6, string(packed)))
		r.stream(7, "", seal(7, text))
		if l != nil {
			r.obj(8, l.dict)
		} else {
			r.obj(8, "null")
		}
		r.table("/Root 1 0 R /Size 9"+extra, 0, 1, 2, 3, 4, 5, 6, 7, 8)
		d, err := pdf.OpenWindowed(bytes.NewReader(r.Bytes()), int64(r.Len()), pdf.Options{Password: "user"})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for n, want := range map[int]string{5: string(noise), 6: text, 7: text} {
			s, _ := d.Stream(pdf.Ref{Num: n})
			b, err := d.Data(s)
			if err != nil || string(b) != want {
				t.Errorf("%s, object %d: %d bytes, %v, want %d", name, n, len(b), err, len(want))
			}
			raw, err := d.RawData(s)
			in, size := d.RawReader(s)
			var got bytes.Buffer
			if _, rerr := got.ReadFrom(in); rerr != nil || err != nil || !bytes.Equal(got.Bytes(), raw) || size >= 0 && size != int64(len(raw)) {
				t.Errorf("%s, object %d: read bit by bit %d bytes of %d, %v", name, n, got.Len(), len(raw), rerr)
			}
		}
	}
}

// Is an update refused that changes what is no object of its own?
func TestUpdateOfDirectPage(t *testing.T) {
	r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, "<< /Type /Pages /Count 1 /Kids [ << /Type /Page /MediaBox [0 0 9 9] >> ] >>")
	r.table("/Root 1 0 R /Size 3", 0, 1, 2)
	d, _ := open(t, r.Bytes())
	p, err := d.Page(1)
	if err != nil || p.Ref != (pdf.Ref{}) {
		t.Fatalf("%v, %v", p, err)
	}
	u := pdf.NewUpdate(d)
	u.Set(p.Ref, p.Dict)
	if _, err := u.WriteTo(&bytes.Buffer{}); err == nil {
		t.Error("written all the same")
	}
	if _, err := u.WriteFull(&bytes.Buffer{}); err == nil {
		t.Error("written in full all the same")
	}
}

// Is a large stream of a file read in windows written part by part with the same bytes?
func TestLargeStreamsAreCopied(t *testing.T) {
	noise := strings.Repeat("noise of 16 byte", 3<<16)
	r := newRaw("%PDF-1.7\n").obj(1, strings.Replace(catalogBody, "/Pages", "/Large 5 0 R /Pages", 1)).obj(2, treeBody).obj(3, pageBody)
	r.stream(4, "", contentText).stream(5, "/Name (large)", noise)
	r.table("/Root 1 0 R /Size 6", 0, 1, 2, 3, 4, 5)
	d, err := pdf.OpenWindowed(bytes.NewReader(r.Bytes()), int64(r.Len()), pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, full := range []bool{false, true} {
		out, _ := update(t, d, full)
		e, sink := open(t, out)
		if got := dataOf(t, e, "catalog.Large"); got != noise || len(sink.Sorted()) > 0 {
			t.Errorf("full %v: %d bytes of %d, findings %v", full, len(got), len(noise), sink.Sorted())
		}
	}
	if got := d.Describe(d.Resolve(pdf.Ref{Num: 5}), 1000); !strings.Contains(got, fmt.Sprintf("%d bytes stored", len(noise))) {
		t.Errorf("described as %s", got)
	}
}

// Does a file of 200,000 objects open without taking much memory, and are its objects found?
func TestManyObjects(t *testing.T) {
	const n = 200_000
	r := body(newRaw("%PDF-1.7\n"))
	for i := 5; i <= n; i++ {
		r.obj(i, fmt.Sprintf("<< /Number %d >>", i))
	}
	at := r.Len()
	fmt.Fprintf(r, "xref\n0 %d\n0000000000 65535 f \n", n+1)
	for i := 1; i <= n; i++ {
		fmt.Fprintf(r, "%010d 00000 n \n", r.offs[i])
	}
	fmt.Fprintf(r, "trailer\n<< /Root 1 0 R /Size %d >>\nstartxref\n%d\n%%%%EOF\n", n+1, at)
	var d *pdf.Document
	if got := allocated(func() { d, _ = open(t, r.Bytes()) }); got > 4*int64(r.Len()) {
		t.Errorf("%d MB allocated for a file of %d MB", got>>20, r.Len()>>20)
	}
	for i := 5; i <= n; i += 997 {
		if o, ok := d.Dict(pdf.Ref{Num: i}); !ok || o["Number"] != pdf.Integer(i) {
			t.Fatalf("object %d: %v", i, o)
		}
	}
}

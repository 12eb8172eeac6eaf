package plate

import (
	"bytes"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/colourant"
)

// randomStack has plates that are untouched, blank in part, noisy and flat.
func randomStack(w, h int, seed uint64) *Stack {
	s := NewStack(testHeader(w, h, "White", "spot white", "white"))
	r := rand.New(rand.NewPCG(seed, 7))
	for i := range s.Set.Len() {
		if i == 2 {
			continue
		}
		plane := make([]byte, w*h)
		for y := range h {
			if i != 0 && r.IntN(4) == 0 { // a row without toner
				continue
			}
			flat := byte(r.Uint32())
			for x := range w {
				plane[y*w+x] = flat
				if i%2 == 1 {
					plane[y*w+x] = byte(r.Uint32())
				}
			}
		}
		if i == 4 {
			clear(plane[:len(plane)/2])
		}
		if i == 5 {
			clear(plane[len(plane)/2:])
		}
		s.SetPlane(i, plane)
	}
	return s
}

// The standard library reads back what was written, whatever the bands.
func TestPNGsHoldThePlates(t *testing.T) {
	s := randomStack(37, 29, 1)
	s.DPI = 600
	for _, rows := range []int{1, 5, 29} {
		dir := t.TempDir()
		w := &PNGWriter{Dir: dir, Prefix: "p1-"}
		if err := s.Replay(w, rows); err != nil {
			t.Fatal(err)
		}
		for i := range s.Set.Len() {
			if s.Plane(i) == nil {
				if w.Files[i] != "" {
					t.Errorf("an untouched plate got the file %s", w.Files[i])
				}
				continue
			}
			data, err := os.ReadFile(w.Files[i])
			if err != nil {
				t.Fatal(err)
			}
			im, err := png.Decode(bytes.NewReader(data))
			if err != nil {
				t.Fatalf("%s: %v", w.Files[i], err)
			}
			if g, ok := im.(*image.Gray); !ok || !bytes.Equal(g.Pix, s.Plane(i)) {
				t.Errorf("bands of %d rows: %s differs from the plate", rows, filepath.Base(w.Files[i]))
			}
			if name := "Title\x00" + s.Set.At(i).Name; !bytes.Contains(data, []byte(name)) {
				t.Errorf("%s does not carry the name %q", w.Files[i], name)
			}
		}
	}
}

func TestPNGBytesDoNotDependOnTheBands(t *testing.T) {
	s := randomStack(1<<17, 19, 8) // blocks of 8 rows
	var want [][]byte
	for _, rows := range []int{19, 1, 3} {
		w := &PNGWriter{Dir: t.TempDir()}
		if err := s.Replay(w, rows); err != nil {
			t.Fatal(err)
		}
		var got [][]byte
		for _, name := range w.Files {
			data, err := os.ReadFile(name)
			if err != nil && name != "" {
				t.Fatal(err)
			}
			got = append(got, data)
		}
		if want == nil {
			want = got
		}
		for i := range got {
			if !bytes.Equal(got[i], want[i]) {
				t.Errorf("bands of %d rows give another file of plate %d", rows, i)
			}
		}
	}
}

func TestLongBlankPlatesCostLittleAndReadBack(t *testing.T) {
	s := NewStack(testHeader(1000, 700))
	plane := make([]byte, 1000*700)
	plane[len(plane)-1] = 9
	s.SetPlane(1, plane)
	w := &PNGWriter{Dir: t.TempDir(), Empty: true}
	if err := s.Replay(w, 64); err != nil {
		t.Fatal(err)
	}
	for i, name := range w.Files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > 8000 {
			t.Errorf("%s has %d bytes", name, len(data))
		}
		im, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if got := im.(*image.Gray).Pix[700*1000-1]; (got == 9) != (i == 1) {
			t.Errorf("%s ends with %d", name, got)
		}
	}
}

func TestNothingIsLeftBehindWhenPaintingFails(t *testing.T) {
	for name, make := range map[string]func(dir string) Sink{
		"png":  func(dir string) Sink { return &PNGWriter{Dir: dir} },
		"tiff": func(dir string) Sink { return &TIFFWriter{Path: filepath.Join(dir, "a.tif")} },
	} {
		s := randomStack(8, 8, 1)
		dir := t.TempDir()
		sink := make(dir)
		if err := sink.Begin(s.Header); err != nil {
			t.Fatal(err)
		}
		b := &Band{Rows: 4, Planes: [][]byte{s.Plane(0)[:32], nil, nil, nil, nil, nil, nil}}
		if err := sink.Band(b); err != nil {
			t.Fatal(err)
		}
		Abort(sink)
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Errorf("%s: %s is left after Abort", name, left[0].Name())
		}

		dir = t.TempDir()
		sink = make(dir)
		if err := sink.Begin(s.Header); err != nil {
			t.Fatal(err)
		}
		if err := sink.Band(b); err != nil {
			t.Fatal(err)
		}
		if err := sink.End(); err == nil {
			t.Errorf("%s: ended in the middle without error", name)
		}
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Errorf("%s: %s is left after an early end", name, left[0].Name())
		}
	}
}

func TestAbortAfterEndKeepsTheFiles(t *testing.T) {
	s := randomStack(8, 8, 1)
	dir := t.TempDir()
	p, f := &PNGWriter{Dir: dir}, &TIFFWriter{Path: filepath.Join(dir, "a.tif")}
	sink := Tee(p, f)
	if err := s.Replay(sink, 3); err != nil {
		t.Fatal(err)
	}
	Abort(sink)
	for _, name := range append(p.Files, f.Path) {
		if name != "" {
			if _, err := os.Stat(name); err != nil {
				t.Error(err)
			}
		}
	}
}

func TestFileNamesArePortableAndDifferent(t *testing.T) {
	long := strings.Repeat("x", 300)
	set := colourant.NewSet(colourant.Colourant{Name: "White"}, colourant.Colourant{Name: "white"}, colourant.Colourant{Name: "WHITE"}, colourant.Colourant{Name: "a/b"},
		colourant.Colourant{Name: "a_2fb"}, colourant.Colourant{Name: "..\xff"}, colourant.Colourant{Name: long}, colourant.Colourant{Name: long + "y"}, colourant.Colourant{Name: ""})
	names := FileNames(set)
	seen := map[string]bool{}
	for i, n := range names {
		low := strings.ToLower(n)
		if seen[low] {
			t.Errorf("%q is used twice", n)
		}
		seen[low] = true
		if len(n) > 120 || strings.ContainsAny(n, "/\\:.\xff\x00 ") {
			t.Errorf("%q of %q is not portable", n, set.At(i).Name)
		}
	}
	for i, want := range []string{"Cyan", "Magenta", "Yellow", "Black", "White", "white~2", "WHITE~3", "a_2fb", "a_5f2fb"} {
		if names[i] != want {
			t.Errorf("plate %d is called %q, want %q", i, names[i], want)
		}
	}
}

package plate

import (
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
)

func TestReadPNGsGivesThePlatesBack(t *testing.T) {
	s := randomStack(50, 40, 5)
	s.DPI = 600
	dir := t.TempDir()
	if err := s.Replay(&PNGWriter{Dir: dir, Prefix: "p1-"}, 16); err != nil {
		t.Fatal(err)
	}
	files, err := PNGFiles(dir, "p1-")
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadPNGs(files)
	if err != nil {
		t.Fatal(err)
	}
	if d := Diff(s, got); !d.Equal() {
		t.Error(d)
	}
	for i := range s.Set.Len() {
		if got.Set.At(i).Name != s.Set.At(i).Name {
			t.Errorf("plate %d is %q, was %q", i, got.Set.At(i).Name, s.Set.At(i).Name)
		}
	}
	if math.Abs(got.DPI-600) > 0.02 {
		t.Errorf("resolution %g, want 600", got.DPI)
	}
}

func TestReadPNGsRefusesWhatIsNoSetOfPlates(t *testing.T) {
	dir := t.TempDir()
	write := func(prefix string, s *Stack) []string {
		w := &PNGWriter{Dir: dir, Prefix: prefix}
		if err := s.Replay(w, 8); err != nil {
			t.Fatal(err)
		}
		return []string{w.Files[0]}
	}
	small := write("a", testStack(testHeader(2, 1), map[string]string{"Cyan": "99"}))
	again := write("b", testStack(testHeader(2, 1), map[string]string{"Cyan": "11"}))
	other := write("c", testStack(testHeader(3, 1), map[string]string{"Cyan": "111"}))
	plain := filepath.Join(dir, "plain.png")
	f, err := os.Create(plain)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, image.NewGray(image.Rect(0, 0, 2, 1))); err != nil {
		t.Fatal(err)
	}
	f.Close()
	for question, files := range map[string][]string{
		"no files": nil, "two plates of one colourant": append(small, again...), "two sizes": append(small, other...),
		"a picture": {plain}, "a missing file": {filepath.Join(dir, "none.png")},
	} {
		if _, err := ReadPNGs(files); err == nil {
			t.Errorf("%s: no error", question)
		}
	}
}

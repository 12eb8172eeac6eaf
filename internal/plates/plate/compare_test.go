package plate

import (
	"errors"
	"fmt"
	"image"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	_ "laydown/internal/sameseed"
)

// compare walks two stacks together, cut into bands of the given heights.
func compare(t testing.TB, a, b *Stack, rowsA, rowsB, limit int) *Comparison {
	t.Helper()
	c := &Comparison{Limit: limit}
	if err := Walk(replayer(a, rowsA), replayer(b, rowsB), c); err != nil {
		t.Fatal(err)
	}
	return c
}

func replayer(s *Stack, rows int) func(Sink) error {
	return func(sink Sink) error { return s.Replay(sink, rows) }
}

func TestComparisonMeasuresPlates(t *testing.T) {
	a := testStack(testHeader(4, 2, "White", "Old"), map[string]string{"White": "0099 0099", "Old": "0000 0009"})
	b := testStack(testHeader(4, 2, "New", "White"), map[string]string{"White": "0999 0098", "New": "0000 0009"})
	c := compare(t, a, b, 1, 2, 0)
	if c.Same() {
		t.Error("different pages are called the same")
	}
	byName := map[string]ComparedPlate{}
	for _, p := range c.Plates {
		byName[p.Name] = p
	}
	w := byName["White"]
	if w.Pixels != 2 || w.Worst != 255 || w.WorstAt != image.Pt(1, 0) || !near(w.Mean, (255+28)/8.) || w.IndexA != 4 || w.IndexB != 5 {
		t.Errorf("White: %+v", w)
	}
	if old, new := byName["Old"], byName["New"]; old.IndexB != -1 || new.IndexA != -1 || !old.TonerA || old.TonerB ||
		c.Plates[old.Twin].Name != "New" || c.Plates[new.Twin].Name != "Old" {
		t.Errorf("renamed: %+v and %+v", old, new)
	}
	if c := compare(t, a, b, 2, 1, 28); c.Plates[4].Pixels != 1 || c.Plates[4].Worst != 255 {
		t.Errorf("with a limit White has %d pixels, worst %d", c.Plates[4].Pixels, c.Plates[4].Worst)
	}
}

func TestTwinsHaveTheSameTintsInTheSamePlace(t *testing.T) {
	for _, c := range []struct {
		a, b string
		twin bool
	}{
		{"0900 0000", "0900 0000", true},
		{"0900 0000", "0000 0900", false},
		{"0900 0000", "0800 0000", false},
		{"0000 0000", "0000 0000", false}, // nothing was renamed where nothing is
	} {
		a := testStack(testHeader(4, 2, "A"), map[string]string{"A": c.a})
		b := testStack(testHeader(4, 2, "B"), map[string]string{"B": c.b})
		if got := compare(t, a, b, 2, 1, 0).Plates[4].Twin >= 0; got != c.twin {
			t.Errorf("%q and %q: twins %v", c.a, c.b, got)
		}
	}
}

// Walking two pages band by band measures what comparing them whole does, however bands are cut.
func TestComparisonAgreesWithDiff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stack := func(label string) *Stack {
			s := NewStack(testHeader(rapid.IntRange(1, 9).Draw(t, label+" width"), rapid.IntRange(1, 9).Draw(t, label+" height"), "Shared", label))
			for i := range s.Set.Len() {
				if rapid.Bool().Draw(t, "touched") {
					s.SetPlane(i, rapid.SliceOfN(rapid.SampledFrom([]byte{0, 0, 7, 200}), s.Width*s.Height, s.Width*s.Height).Draw(t, "plane"))
				}
			}
			return s
		}
		a, b := stack("A"), stack("B")
		c := &Comparison{}
		if err := Walk(replayer(a, rapid.IntRange(1, 9).Draw(t, "rows of A")), replayer(b, rapid.IntRange(1, 9).Draw(t, "rows of B")), c); err != nil {
			t.Fatal(err)
		}
		d := Diff(a, b)
		if c.Same() != d.Equal() {
			t.Fatalf("same %v, equal %v", c.Same(), d.Equal())
		}
		for i, p := range d.Plates {
			q := c.Plates[i]
			var box image.Rectangle
			for _, r := range q.Boxes {
				box = box.Union(r)
			}
			if q.Name != p.Name || int(q.Pixels) != p.Pixels || q.Worst != p.Worst || q.WorstAt != p.WorstAt || !near(q.Mean, p.MAD) || box != p.Box {
				t.Fatalf("%s: walked %+v, whole %+v", p.Name, q, p)
			}
		}
	})
}

func TestBoxesHoldWhatDiffers(t *testing.T) {
	for _, c := range []struct {
		name  string
		marks []image.Rectangle
		side  int
		want  []image.Rectangle
	}{
		{"near", []image.Rectangle{image.Rect(10, 10, 12, 12), image.Rect(14, 10, 16, 12)}, 5, []image.Rectangle{image.Rect(10, 10, 16, 12)}},
		{"far", []image.Rectangle{image.Rect(10, 10, 12, 12), image.Rect(80, 10, 82, 12)}, 5,
			[]image.Rectangle{image.Rect(10, 10, 12, 12), image.Rect(80, 10, 82, 12)}},
		{"corner to corner", []image.Rectangle{image.Rect(8, 8, 10, 10), image.Rect(10, 10, 12, 12)}, 5, []image.Rectangle{image.Rect(8, 8, 12, 12)}},
		{"a ring round a dot", []image.Rectangle{image.Rect(0, 0, 60, 1), image.Rect(0, 59, 60, 60), image.Rect(0, 0, 1, 60), image.Rect(59, 0, 60, 60),
			image.Rect(30, 30, 31, 31)}, 5, []image.Rectangle{image.Rect(0, 0, 60, 60)}},
	} {
		g := newCells(image.Pt(100, 100), c.side)
		for _, r := range c.marks {
			for y := r.Min.Y; y < r.Max.Y; y++ {
				for x := r.Min.X; x < r.Max.X; x++ {
					g.mark(x, x, y)
				}
			}
		}
		if got := g.boxes(maxBoxes); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestBoxesAreFew(t *testing.T) {
	g := newCells(image.Pt(100_000, 100_000), 1)
	if g.w > maxCells || g.h > maxCells {
		t.Errorf("%d x %d cells", g.w, g.h)
	}
	for y := 0; y < 100_000; y += 2 * g.side {
		for x := 0; x < 100_000; x += 2 * g.side {
			g.mark(x, x, y)
		}
	}
	if got := g.boxes(maxBoxes); len(got) == 0 || len(got) > maxBoxes {
		t.Errorf("%d boxes", len(got))
	}
	few := newCells(image.Pt(1000, 1000), 10)
	for i := range 20 { // two clusters of ten
		x := i%10*30 + i/10*600
		few.mark(x, x, x)
	}
	if got := few.boxes(2); len(got) != 2 || got[0].Max.X > 300 || got[1].Min.X < 600 {
		t.Errorf("two clusters become %v", got)
	}
}

func TestWalkEndsWithEitherPainter(t *testing.T) {
	s := NewStack(testHeader(4, 40))
	broken := errors.New("broken")
	for _, c := range []struct {
		name string
		a, b func(Sink) error
		want string
	}{
		{"before the header", func(Sink) error { return broken }, replayer(s, 3), "broken"},
		{"without the header", replayer(s, 3), func(Sink) error { return nil }, "ended before"},
		{"half way", replayer(s, 3), func(k Sink) error {
			if err := k.Begin(s.Header); err != nil {
				return err
			}
			if err := k.Band(&Band{Rows: 7, Planes: make([][]byte, 4)}); err != nil {
				return err
			}
			return broken
		}, "broken"},
		{"at the end", func(k Sink) error {
			if err := s.Replay(k, 3); err != nil {
				return err
			}
			return broken
		}, replayer(s, 40), "broken"},
		{"gaps", func(k Sink) error {
			if err := k.Begin(s.Header); err != nil {
				return err
			}
			return k.Band(&Band{Y0: 3, Rows: 7, Planes: make([][]byte, 4)})
		}, replayer(s, 3), "row 0 of 40 is next"},
	} {
		if err := Walk(c.a, c.b, &Comparison{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// A page that is longer than the other is stopped, not painted for nothing.
func TestWalkStopsTheLongerPage(t *testing.T) {
	short, long := NewStack(testHeader(4, 5)), NewStack(testHeader(4, 500))
	var after error
	c := &Comparison{}
	if err := Walk(replayer(short, 2), func(k Sink) error { after = long.Replay(k, 2); return after }, c); err != nil {
		t.Fatal(err)
	}
	if !errors.Is(after, errStopped) {
		t.Errorf("the longer page ended with %v", after)
	}
	if c.Same() {
		t.Error("pages of different sizes are called the same")
	}
}

func TestPicturesMarkEveryDifference(t *testing.T) {
	h := testHeader(40, 30, "Gold")
	a, b := NewStack(h), NewStack(h)
	pa, pb := make([]byte, 40*30), make([]byte, 40*30)
	for i := range pa {
		pa[i], pb[i] = 255, 255
	}
	pb[7*40+33] = 200 // a single pixel with less toner
	pa[20*40+2] = 200 // and one with more
	a.SetPlane(4, pa)
	b.SetPlane(4, pb)
	pics := &Pictures{Longest: 8, Plates: []PlatePicture{{IndexA: 4, IndexB: 4, Box: image.Rect(30, -5, 100, 9)}}}
	if err := Walk(replayer(a, 4), replayer(b, 7), pics); err != nil {
		t.Fatal(err)
	}
	if got, want := pics.Page.Bounds().Size(), image.Pt(8, 6); got != want {
		t.Fatalf("the page's picture is %v, want %v", got, want)
	}
	for y := range 6 {
		for x := range 8 {
			want := byte((grays - 1) / paleFactor)
			switch fmt.Sprint(x, y) {
			case fmt.Sprint(33/5, 7/5):
				want = indexLess
			case fmt.Sprint(2/5, 20/5):
				want = indexMore
			}
			if got := pics.Page.ColorIndexAt(x, y); got != want {
				t.Errorf("page at %d,%d: %d, want %d", x, y, got, want)
			}
		}
	}
	im := pics.Plates[0].Image // 10 x 9 pixels, halved: 5 x 5
	if got, want := im.Bounds().Size(), image.Pt(3*5+2*gapPixels, 5); got != want {
		t.Fatalf("the plate's picture is %v, want %v", got, want)
	}
	if im.ColorIndexAt(1, 3) != grays-1 || im.ColorIndexAt(5+gapPixels+1, 3) != indexLess || im.ColorIndexAt(2*(5+gapPixels)+1, 3) >= grays-1 ||
		im.ColorIndexAt(5, 3) != indexGap {
		t.Errorf("the plate's picture: %v", im.Pix)
	}
}

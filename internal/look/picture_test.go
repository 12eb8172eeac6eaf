package look

import (
	"bytes"
	"image/color"
	"math/rand/v2"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// plates fills n planes of w x h with runs, noise and gaps; plane n-1 is absent.
func somePlates(n, w, h int) (plate.Header, [][]byte) {
	r := rand.New(rand.NewPCG(1, 2))
	planes := make([][]byte, n)
	for i := range n - 1 {
		planes[i] = make([]byte, w*h)
		v := byte(0)
		for x := range planes[i] {
			switch r.IntN(12) {
			case 0:
				v = byte(r.IntN(256))
			case 1:
				v = 255
			case 2:
				v = 0
			}
			planes[i][x] = v
		}
	}
	var specials []colourant.Colourant
	for _, name := range []string{"White", "Gold", "Clear"} {
		specials = append(specials, colourant.Colourant{Name: name})
	}
	return plate.Header{Width: w, Height: h, Set: colourant.NewSet(specials...)}, planes
}

func testModel(t *testing.T) *Model {
	return model(t, stockOf(t, "midnight-blue-board"), toners(t, "Cyan", "Magenta", "Yellow", "Black", "White", "Gold", "Clear")...)
}

func TestPictureEqualsColourOfEachPixel(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 67, 31)
	img, err := m.Picture(h, planes, 3)
	if err != nil {
		t.Fatal(err)
	}
	for y := range h.Height {
		for x := range h.Width {
			var tints []uint8
			for _, p := range planes {
				v := uint8(0)
				if p != nil {
					v = p[y*h.Width+x]
				}
				tints = append(tints, v)
			}
			want := m.SRGB(tints)
			if got := img.RGBAAt(x, y); got != (color.RGBA{want[0], want[1], want[2], 255}) {
				t.Fatalf("pixel %d,%d with %v is %v, want %v", x, y, tints, got, want)
			}
		}
	}
}

func TestPictureIsTheSameForAnyWorkersAndBands(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 131, 45)
	for _, reduce := range []int{1, 3, 4} {
		var want []byte
		for _, workers := range []int{1, 2, 7} {
			for _, rows := range []int{45, 1, 8} {
				s := NewPictureSink(m, workers)
				s.Reduce = reduce
				replay(t, s, h, planes, rows)
				if want == nil {
					want = s.Image().Pix
				}
				if !bytes.Equal(want, s.Image().Pix) {
					t.Errorf("reduce %d: %d workers with bands of %d rows differ", reduce, workers, rows)
				}
			}
		}
	}
}

func TestReducedPictureAveragesLight(t *testing.T) {
	m := model(t, stockOf(t, "white-gloss"), toners(t, "Black")...)
	// A checkerboard of solid and bare; at the right and the bottom a picture pixel covers less.
	const w, h = 5, 3
	p := make([]byte, w*h)
	for i := range p {
		p[i] = byte(255 * (i & 1))
	}
	s := NewPictureSink(m, 1)
	s.Reduce = 2
	if err := s.Begin(plate.Header{Width: w, Height: h}); err != nil {
		t.Fatal(err)
	}
	if err := s.Band(&plate.Band{Rows: h, Planes: [][]byte{p}}); err != nil {
		t.Fatal(err)
	}
	if b := s.Image().Bounds(); b.Dx() != 3 || b.Dy() != 2 {
		t.Fatalf("picture is %v", b)
	}
	e := newEvaluator(m)
	bare, solid := e.shownAt(key{}).linear, e.shownAt(key{255}).linear
	mean := encoded[(int(bare[1])+int(solid[1])+1)/2]
	for _, c := range []struct {
		x, y int
		want uint8
	}{{0, 0, mean}, {1, 0, mean}, {2, 0, mean}, {0, 1, mean}, {2, 1, encoded[bare[1]]}} {
		if got := s.Image().RGBAAt(c.x, c.y).G; got != c.want {
			t.Errorf("pixel %d,%d is %d, want %d", c.x, c.y, got, c.want)
		}
	}
}

func TestPictureSinkRefusesWhatDoesNotFit(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 16, 4)
	s := NewPictureSink(m, 1)
	if err := s.Band(&plate.Band{Rows: 1}); err == nil {
		t.Error("a band before Begin")
	}
	if err := s.Begin(plate.Header{Width: 1 << 20, Height: 1 << 20}); err == nil {
		t.Error("a picture of a terapixel")
	}
	if err := s.Begin(plate.Header{Width: 16, Height: 4, Set: colourant.NewSet()}); err == nil {
		t.Error("a page with fewer plates than the model")
	}
	if err := s.Begin(h); err != nil {
		t.Fatal(err)
	}
	if err := s.Band(&plate.Band{Y0: 2, Rows: 1, Planes: planes}); err == nil {
		t.Error("a band out of order")
	}
	if err := s.Band(&plate.Band{Rows: 4, Planes: [][]byte{make([]byte, 3)}}); err == nil {
		t.Error("a plane too short")
	}
	if err := s.End(); err == nil {
		t.Error("a page that ended early")
	}
}

func BenchmarkPicture(b *testing.B) {
	for _, c := range []struct {
		name    string
		partial int
	}{{"solids", 0}, {"one-in-eight-varies", 4}, {"noise-of-six", 6}} {
		b.Run(c.name, func(b *testing.B) {
			m := testModelB(b)
			const w, h = 1000, 500
			r := rand.New(rand.NewPCG(3, 4))
			planes := make([][]byte, 7)
			for i := range planes {
				planes[i] = make([]byte, w*h)
				for x := range planes[i] {
					switch {
					case i < c.partial && (c.partial == 6 || x%8 == 0):
						planes[i][x] = byte(r.IntN(256))
					case x > 0 && c.partial != 6:
						planes[i][x] = planes[i][x-1]
					}
				}
			}
			b.SetBytes(w * h)
			for b.Loop() {
				if _, err := m.Picture(plate.Header{Width: w, Height: h}, planes, 1); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func testModelB(b *testing.B) *Model {
	b.Helper()
	p, err := press.FindPress("two-set")
	if err != nil {
		b.Fatal(err)
	}
	s, err := press.FindStock("black-board")
	if err != nil {
		b.Fatal(err)
	}
	var layers []Layer
	for i, name := range []string{"White", "Silver", "Gold", "Yellow", "Magenta", "Cyan", "Black"} {
		toner, _ := p.Toner(name)
		layers = append(layers, Layer{toner, i})
	}
	m, err := NewModel(s, press.Front, layers)
	if err != nil {
		b.Fatal(err)
	}
	return m
}

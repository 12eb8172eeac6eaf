package look

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/png"
	"testing"

	"laydown/internal/golden"
	"laydown/internal/plates/plate"
)

// litPicture shows whole plates, in bands of so many rows.
func litPicture(t *testing.T, s *LitSink, h plate.Header, planes [][]byte, reduce, rows int) {
	t.Helper()
	s.Reduce = reduce
	replay(t, s, h, planes, rows)
}

// replay hands whole plates to a sink, in bands of so many rows.
func replay(t testing.TB, s plate.Sink, h plate.Header, planes [][]byte, rows int) {
	t.Helper()
	if err := s.Begin(h); err != nil {
		t.Fatal(err)
	}
	for y := 0; y < h.Height; y += rows {
		n := min(rows, h.Height-y)
		b := &plate.Band{Y0: y, Rows: n, Planes: make([][]byte, len(planes))}
		for i, p := range planes {
			if p != nil {
				b.Planes[i] = p[y*h.Width : (y+n)*h.Width]
			}
		}
		if err := s.Band(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.End(); err != nil {
		t.Fatal(err)
	}
}

func someLights() map[string]Light {
	far := LampLight(0)
	return map[string]Light{"measured": MeasuredLight(), "lamp": LampLight(60), "far lamp": far.Tilted(12)}
}

func TestLitPictureIsTheSameForAnyWorkersAndBands(t *testing.T) {
	src := testModel(t)
	h, planes := somePlates(7, 131, 45)
	h.DPI = 300
	for name, light := range someLights() {
		for _, reduce := range []int{1, 3} {
			var want []byte
			for _, c := range [][2]int{{1, 45}, {2, 1}, {7, 8}} {
				var buf bytes.Buffer
				s, err := newLitSink(src, light, &pngCanvas{w: &buf, bits: 16, jobs: c[0]}, c[0])
				if err != nil {
					t.Fatal(err)
				}
				litPicture(t, s, h, planes, reduce, c[1])
				if want == nil {
					want = buf.Bytes()
				}
				if !bytes.Equal(want, buf.Bytes()) {
					t.Errorf("%s reduced by %d: %d workers with bands of %d rows differ", name, reduce, c[0], c[1])
				}
			}
		}
	}
}

func TestMeasuredPictureEqualsThePlainOne(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 67, 31)
	plain, err := m.Picture(h, planes, 1)
	if err != nil {
		t.Fatal(err)
	}
	s, err := newLitSink(m, MeasuredLight(), &imageCanvas{}, 2)
	if err != nil {
		t.Fatal(err)
	}
	litPicture(t, s, h, planes, 1, 8)
	for i, v := range s.Image().Pix {
		// The last bits of R45 may decide how an 8-bit value is rounded.
		if d := int(v) - int(plain.Pix[i]); d < -1 || d > 1 {
			t.Fatalf("byte %d is %d, plain %d", i, v, plain.Pix[i])
		}
	}
}

func TestLitPictureAveragesLight(t *testing.T) {
	m := model(t, stockOf(t, "white-gloss"), toners(t, "Black")...)
	const w, h = 4, 2
	p := []byte{0, 255, 0, 255, 255, 0, 255, 0}
	one, two := &imageCanvas{}, &imageCanvas{}
	for reduce, c := range map[int]*imageCanvas{1: one, 2: two} {
		s, err := newLitSink(m, MeasuredLight(), c, 1)
		if err != nil {
			t.Fatal(err)
		}
		litPicture(t, s, plate.Header{Width: w, Height: h}, [][]byte{p}, reduce, 1)
	}
	e := newEvaluator(m)
	bare, solid := e.linearAt(key{}), e.linearAt(key{255})
	want := encoded8(float32((bare[1] + solid[1]) / 2))
	if b := two.img.Bounds(); b.Dx() != 2 || b.Dy() != 1 {
		t.Fatalf("reduced to %v", b)
	}
	if got := two.img.RGBAAt(1, 0).G; got != want {
		t.Errorf("average is %d, want %d", got, want)
	}
}

func TestFlakesLieOnThePageNotOnThePicture(t *testing.T) {
	src := testModel(t)
	h, planes := somePlates(7, 64, 40)
	h.DPI = 300
	for i := range planes[5] {
		planes[5][i] = 255
	}
	st := plate.NewStack(h)
	for i, p := range planes {
		st.SetPlane(i, p)
	}
	light := LampLight(0)
	show := func(st *plate.Stack) *image.RGBA {
		s, err := newLitSink(src, light, &imageCanvas{}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if err := st.Replay(s, 16); err != nil {
			t.Fatal(err)
		}
		return s.Image()
	}
	whole, part := show(st), show(st.Crop(10, 7, 50, 30))
	for y := range 23 {
		for x := range 40 {
			if a, b := whole.RGBAAt(x+10, y+7), part.RGBAAt(x, y); a != b {
				t.Fatalf("pixel %d,%d is %v in the page and %v in a part of it", x, y, a, b)
			}
		}
	}
}

func TestPNGOfPicture(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 700, 150) // several blocks of 16-bit rows
	h.DPI = 300
	img := &imageCanvas{}
	s, err := newLitSink(m, MeasuredLight(), img, 2)
	if err != nil {
		t.Fatal(err)
	}
	litPicture(t, s, h, planes, 1, 32)
	for _, bits := range []int{8, 16} {
		var buf bytes.Buffer
		s, err := NewLitPNG(m, MeasuredLight(), &buf, bits, []Note{{"Stock", "Böard"}, {"Light", "45/0"}}, 2)
		if err != nil {
			t.Fatal(err)
		}
		litPicture(t, s, h, planes, 1, 13)
		for _, want := range []string{"sRGB\x00", "pHYs\x00\x00\x2e\x23\x00\x00\x2e\x23\x01", "iTXtStock\x00\x00\x00\x00\x00Böard", "tEXtLight\x0045/0", "tEXtGamut\x00"} {
			if !bytes.Contains(buf.Bytes(), []byte(want)) {
				t.Errorf("%d bits: %q is missing", bits, want)
			}
		}
		got, err := png.Decode(&buf)
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != img.img.Bounds() {
			t.Fatalf("%d bits: %v", bits, got.Bounds())
		}
		for y := range h.Height {
			for x := range h.Width {
				r, g, b, _ := got.At(x, y).RGBA()
				w := img.img.RGBAAt(x, y)
				for c, v := range [3]uint32{r, g, b} {
					if have := [3]uint8{w.R, w.G, w.B}[c]; (int(v)+128)/257-int(have) > 1 || int(have)-(int(v)+128)/257 > 1 {
						t.Fatalf("%d bits: pixel %d,%d is %v, want %v", bits, x, y, got.At(x, y), w)
					}
				}
			}
		}
		if bits == 16 {
			if _, ok := got.(*image.RGBA64); !ok {
				t.Errorf("a picture of 16 bits is read as %T", got)
			}
		} else if got.(*image.RGBA).RGBAAt(5, 5) != img.img.RGBAAt(5, 5) {
			t.Error("8 bits differ from the image")
		}
	}
}

func TestSixteenBitsAreTheTransferFunction(t *testing.T) {
	table := encodeTable()
	for i := range 100001 {
		v := float32(i) / 100000
		near(t, "value", float64(encoded16(table, v)), encode(float64(v))*65535, .52) // half a step and the table's error
	}
}

func TestLitSinkRefusesWhatDoesNotFit(t *testing.T) {
	m := testModel(t)
	s, err := NewLitSink(m, MeasuredLight(), 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Band(&plate.Band{Rows: 1}); err == nil {
		t.Error("a band before Begin")
	}
	if err := s.Begin(plate.Header{Width: 1 << 20, Height: 1 << 20}); err == nil {
		t.Error("a picture of a terapixel")
	}
	h, planes := somePlates(7, 16, 4)
	if err := s.Begin(h); err != nil {
		t.Fatal(err)
	}
	if err := s.Band(&plate.Band{Y0: 2, Rows: 1, Planes: planes}); err == nil {
		t.Error("a band out of order")
	}
	if err := s.End(); err == nil {
		t.Error("a page that ended early")
	}
	if _, err := NewLitPNG(m, MeasuredLight(), nil, 12, nil, 1); err == nil {
		t.Error("12 bits")
	}
}

// The picture must be the same bytes on every machine and for every instruction set level.
func TestLitPictureBytesNeverChangeUnnoticed(t *testing.T) {
	h, planes := somePlates(7, 200, 100)
	h.DPI = 300
	s, err := newLitSink(plainSource{}, LampLight(40), &imageCanvas{}, 2)
	if err != nil {
		t.Fatal(err)
	}
	litPicture(t, s, h, planes, 1, 100)
	golden.Text(t, "lit-picture-of-noise.sha256", fmt.Sprintf("%x\n", sha256.Sum256(s.Image().Pix)))
}

func TestGamutSentence(t *testing.T) {
	if s := (GamutCount{Pixels: 10}).Sentence(); s != "" {
		t.Error(s)
	}
	s := GamutCount{Pixels: 1000, Outside: 125, Worst: 4.31}.Sentence()
	if want := "12.5 % of the picture is more vivid or brighter than a screen (sRGB); it is shown as near as a screen can, at most 4.4 CIEDE2000 away"; s != want {
		t.Error(s)
	}
}

func TestEncodedPNGIsTheImage(t *testing.T) {
	h, planes := somePlates(7, 500, 700) // several blocks
	img, err := testModel(t).Picture(h, planes, 2)
	if err != nil {
		t.Fatal(err)
	}
	var want []byte
	for _, workers := range []int{1, 3} {
		var buf bytes.Buffer
		if err := EncodePNG(&buf, img, 150, nil, workers); err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = append(want, buf.Bytes()...)
		}
		if !bytes.Equal(want, buf.Bytes()) {
			t.Errorf("%d workers write other bytes", workers)
		}
	}
	got, err := png.Decode(bytes.NewReader(want))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.(*image.RGBA).Pix, img.Pix) {
		t.Error("the picture has changed")
	}
	if err := EncodePNG(&bytes.Buffer{}, image.NewRGBA(image.Rect(0, 0, 0, 5)), 0, nil, 1); err == nil {
		t.Error("a picture without pixels")
	}
}

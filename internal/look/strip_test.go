package look

import (
	"image"
	"image/color"
	"testing"

	"laydown/internal/plates/plate"
)

func someStack(t *testing.T, w, h int) *plate.Stack {
	t.Helper()
	head, planes := somePlates(7, w, h)
	head.DPI = 300
	st := plate.NewStack(head)
	for i, p := range planes {
		st.SetPlane(i, p)
	}
	return st
}

func TestStripLiesAcrossTallPartsAndBelowWideOnes(t *testing.T) {
	src := testModel(t)
	for _, c := range []struct{ w, h int }{{60, 90}, {90, 60}} {
		st := someStack(t, c.w, c.h)
		s, err := tiltStrip(src, st, StripLight(), StripTilts, 1, 2)
		if err != nil {
			t.Fatal(err)
		}
		b := s.Image.Bounds()
		if across := c.w < c.h; across && (b.Dx() < 5*c.w || b.Dy() > 2*c.h) || !across && (b.Dy() < 5*c.h || b.Dx() != c.w) {
			t.Errorf("%d x %d gives %v", c.w, c.h, b)
		}
		if s.Gamut.Pixels != int64(5*c.w*c.h) {
			t.Errorf("%d pixels are counted", s.Gamut.Pixels)
		}
	}
}

func TestMiddleOfStripIsThePictureUnderItsLight(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 60, 90)
	s, err := tiltStrip(src, st, MeasuredLight(), []float64{0, 20}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	want, _, err := litImage(src, st, MeasuredLight(), 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for y := range 90 {
		for x := range 60 {
			if s.Image.RGBAAt(x, y) != want.RGBAAt(x, y) {
				t.Fatalf("pixel %d,%d differs", x, y)
			}
		}
	}
}

func TestStripRefusesNoAngles(t *testing.T) {
	src := testModel(t)
	if _, err := tiltStrip(src, someStack(t, 20, 20), StripLight(), nil, 1, 1); err == nil {
		t.Error("no angles")
	}
	if _, err := tiltStrip(src, someStack(t, 20, 20), StripLight(), []float64{200}, 1, 1); err == nil {
		t.Error("200 degrees")
	}
}

func TestDividedShowsOneAtEachSide(t *testing.T) {
	red, blue := color.RGBA{200, 0, 0, 255}, color.RGBA{0, 0, 200, 255}
	a, b := filled(300, 200, red), filled(300, 200, blue)
	img, err := Divided(a, b, .5, "before", "after")
	if err != nil {
		t.Fatal(err)
	}
	if img.RGBAAt(10, 10) != red || img.RGBAAt(290, 10) != blue || img.RGBAAt(150, 10) != labelPaper {
		t.Errorf("%v | %v | %v", img.RGBAAt(10, 10), img.RGBAAt(150, 10), img.RGBAAt(290, 10))
	}
	for _, at := range []float64{0, 1} {
		if _, err := Divided(a, b, at, "before", "after"); err != nil {
			t.Error(err)
		}
	}
	if _, err := Divided(a, b, 2, "", ""); err == nil {
		t.Error("a line beside the picture")
	}
	if _, err := Divided(a, filled(300, 201, blue), .5, "", ""); err == nil {
		t.Error("pictures of different sizes")
	}
}

func TestSideBySideKeepsBothPictures(t *testing.T) {
	red, blue := color.RGBA{200, 0, 0, 255}, color.RGBA{0, 0, 200, 255}
	for _, size := range []image.Point{{100, 200}, {400, 100}} {
		img, err := SideBySide(filled(size.X, size.Y, red), filled(size.X, size.Y, blue), "before", "after")
		if err != nil {
			t.Fatal(err)
		}
		n := map[color.RGBA]int{}
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				n[img.RGBAAt(x, y)]++
			}
		}
		if n[red] != size.X*size.Y || n[blue] != size.X*size.Y {
			t.Errorf("%v: %d and %d pixels", size, n[red], n[blue])
		}
	}
}

func TestWordsAreCutToTheirRoom(t *testing.T) {
	l, err := newLabeller(14)
	if err != nil {
		t.Fatal(err)
	}
	const text = "the whole pile of toner"
	if l.shorten(text, 1000) != text {
		t.Error("cut without need")
	}
	if s := l.shorten(text, 60); l.width(s) > 60 || len(s) < 4 {
		t.Errorf("%q", s)
	}
	if s := l.shorten(text, 1); s != "" {
		t.Errorf("%q", s)
	}
}

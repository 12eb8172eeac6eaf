package app

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// TestBleedHasNoSeam: bleed mirrored from an even page, two toners one over the other, is as even at any resolution from 170 dpi, those
// at which no pixel begins where the bleed does included.
func TestBleedHasNoSeam(t *testing.T) {
	dir := t.TempDir()
	s := twoSet(t)
	f := pdfbuild.New()
	space := f.Add(pdfbuild.Spot("White", .1, 0, 0, 0))
	f.Page(100, 100, "/ColorSpace << /W "+pdfbuild.Ref(space)+" >>", "/W cs 1 scn 10 10 80 80 re f 0 .6 0 0 k 10 10 80 80 re f", "/TrimBox [10 10 90 90]")
	mended(t, dir, s, f.Bytes(), "add-bleed:bleed=2mm")
	art, err := s.Open(filepath.Join(dir, "out.pdf"))
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, dpi := range []float64{172, 200, 254, 300, 333, 457, 1000} {
		st := &plate.Stack{}
		if err := paint.Render(context.Background(), sh.paintJob(sh.List.Page.Media, dpi, nil), st); err != nil {
			t.Fatal(err)
		}
		magenta, _ := st.Lookup("Magenta")
		white, _ := st.Lookup("White")
		// 2 mm are 5.7 points: from 5 to 95 all is bled.
		at := func(points float64) int { return int(points / 72 * dpi) }
		for y := at(5) + 1; y < at(95)-1; y++ {
			for x := at(5) + 1; x < at(95)-1; x++ {
				// 8 bits round. In each corner one pixel may be passed by the end of a strip, the edge of the page and that of the corner: there
				// 6 levels of white were measured.
				i, slack := y*st.Width+x, byte(1)
				if near(x, dpi) && near(y, dpi) {
					slack = 8
				}
				if magenta[i] < 153-slack || magenta[i] > 154 || white[i] > slack {
					t.Fatalf("%v dpi: pixel %d, %d holds magenta %d of 153 and white %d", dpi, x, y, magenta[i], white[i])
				}
			}
		}
	}
}

// near reports whether a pixel lies within a point of an edge of the trim, 10 to 90.
func near(v int, dpi float64) bool {
	p := (float64(v) + .5) / dpi * 72
	return math.Abs(p-10) < 1 || math.Abs(p-90) < 1
}

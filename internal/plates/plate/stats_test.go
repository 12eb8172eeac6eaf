package plate

import (
	"image"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func TestStatsMeasureEachPlate(t *testing.T) {
	s := testStack(testHeader(4, 3, "White"), map[string]string{"White": "0000 0990 0900", "Black": "0000 0000 0003"})
	for _, rows := range []int{1, 2, 3} {
		var m Stats
		if err := s.Replay(&m, rows); err != nil {
			t.Fatal(err)
		}
		w, k, c := m.Plates[4], m.Plates[3], m.Plates[0]
		if !near(w.Mean, 25) || !near(w.Covered, 25) || w.Max != 255 || w.Box != image.Rect(1, 1, 3, 3) || w.Histogram[255] != 3 || w.Histogram[0] != 9 {
			t.Errorf("bands of %d rows, White: %+v", rows, w)
		}
		if !near(k.Mean, 100./12*85/255) || k.Max != 85 || k.Box != image.Rect(3, 2, 4, 3) {
			t.Errorf("bands of %d rows, Black: %+v", rows, k)
		}
		if !c.Untouched() || c.Histogram[0] != 12 || !c.Box.Empty() {
			t.Errorf("bands of %d rows, Cyan: %+v", rows, c)
		}
		if !near(m.Total.Mean, w.Mean+k.Mean) || m.Total.Max != 100 || m.Total.MaxAt != image.Pt(1, 1) || !near(m.Total.Covered, 400./12) {
			t.Errorf("bands of %d rows, all: %+v", rows, m.Total)
		}
	}
}

// The running sums give what summing every square gives.
func TestPileAveragesOverTheArea(t *testing.T) {
	s := randomStack(31, 23, 6)
	s.DPI = 25.4 // a pixel a millimetre
	for _, plates := range [][]int{nil, {1, 3}, {2}} {
		for _, side := range []int{1, 2, 7, 23, 31, 100} {
			for _, rows := range []int{1, 6, 23} {
				p := &Pile{Plates: plates, AreaMM2: float64(side * side)}
				if err := s.Replay(p, rows); err != nil {
					t.Fatal(err)
				}
				w, h := min(p.Side, s.Width), min(p.Side, s.Height)
				best, box := slowPile(s, plates, w, h)
				if !near(p.AreaMax, best) || p.AreaBox != box {
					t.Errorf("plates %v, side %d: %g in %v, want %g in %v", plates, side, p.AreaMax, p.AreaBox, best, box)
				}
			}
		}
	}
}

func slowPile(s *Stack, plates []int, w, h int) (best float64, box image.Rectangle) {
	if plates == nil {
		for i := range s.Set.Len() {
			plates = append(plates, i)
		}
	}
	most := 0
	for y := 0; y+h <= s.Height; y++ {
		for x := 0; x+w <= s.Width; x++ {
			sum := 0
			for _, i := range plates {
				for dy := range h {
					for dx := range w {
						sum += int(s.At(i, x+dx, y+dy))
					}
				}
			}
			if sum > most {
				most, box = sum, image.Rect(x, y, x+w, y+h)
			}
		}
	}
	return float64(most) / 255 * 100 / float64(w*h), box
}

func TestCoverageTableIsForPeople(t *testing.T) {
	s := testStack(testHeader(4, 3, "White"), map[string]string{"White": "0000 0990 0900", "Black": "0000 0000 0003"})
	m := Stats{AreaMM2: 1}
	s.DPI = 50.8
	if err := s.Replay(&m, 2); err != nil {
		t.Fatal(err)
	}
	want := `    plate     mean  covered  highest
     Cyan        -        -        -
  Magenta        -        -        -
   Yellow        -        -        -
    Black   2.78 %   8.33 %     33 %
    White  25.00 %  25.00 %    100 %
      all  27.78 %  33.33 %    100 %
highest pile averaged over 2 x 2 pixels: 75 %
`
	if d := cmp.Diff(want, m.CoverageTable()); d != "" {
		t.Errorf("table (-want +got):\n%s", d)
	}
}

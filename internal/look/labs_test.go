package look

import (
	"testing"

	"laydown/internal/press"
)

func TestLabsAreThoseOfSinglePixels(t *testing.T) {
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	s, err := press.FindStock("midnight-blue-board")
	if err != nil {
		t.Fatal(err)
	}
	white, _ := p.Toner("White")
	cyan, _ := p.Toner("Cyan")
	m, err := NewModel(s, press.Front, []Layer{{white, 5}, {cyan, 0}})
	if err != nil {
		t.Fatal(err)
	}
	planes := make([][]byte, 6)
	planes[0], planes[5] = []byte{0, 255, 40, 0}, []byte{0, 255, 200, 0}
	for i, got := range m.Labs(planes, 4) {
		if want := m.Lab([]uint8{planes[0][i], 0, 0, 0, 0, planes[5][i]}); got != want {
			t.Errorf("pixel %d is %v, by itself %v", i, got, want)
		}
	}
	planes[5] = nil
	if got, want := m.Labs(planes, 4)[1], m.Lab([]uint8{255}); got != want {
		t.Errorf("without white %v, want %v", got, want)
	}
}

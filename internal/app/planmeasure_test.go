package app

import (
	"math"
	"slices"
	"strings"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// halves makes two plates of 40 x 40 pixels of 1 mm: Cyan left of a column, Black from another on.
func halves(t *testing.T, cyanTo, blackFrom int) *plate.Stack {
	t.Helper()
	st := plate.NewStack(plate.Header{Set: colourant.NewSet(), Width: 40, Height: 40, DPI: 25.4})
	cyan, black := make([]byte, 1600), make([]byte, 1600)
	for i := range cyan {
		if i%40 < cyanTo {
			cyan[i] = 255
		}
		if i%40 >= blackFrom {
			black[i] = 255
		}
	}
	st.SetPlane(0, cyan)
	st.SetPlane(3, black)
	return st
}

func TestMeetingsTellAreaAndEdge(t *testing.T) {
	for _, c := range []struct {
		name              string
		cyanTo, blackFrom int
		meet              bool
		area, edge        float64
	}{
		{"apart", 10, 30, false, 0, 0},
		{"side by side", 20, 20, true, 0, 40},
		{"with a pixel of neither between", 20, 21, true, 0, 40},
		{"with a rim of one pixel in common", 20, 19, true, 0, 40},
		{"on each other", 25, 20, true, 200, 0},
	} {
		m, meet := meeting(halves(t, c.cyanTo, c.blackFrom), "Cyan", "Black", 0, 0)
		// Lengths follow a line in any direction: steps along pixels count π/4.
		edge := c.edge * math.Pi / 4
		if meet != c.meet || math.Abs(m.AreaMM2-c.area) > 1e-9 || math.Abs(m.EdgeMM-edge) > 1e-9 {
			t.Errorf("%s: meet %v, area %v, edge %v; want %v, %v, %v", c.name, meet, m.AreaMM2, m.EdgeMM, c.meet, c.area, edge)
		}
	}
}

func TestCautionsFollowFromStockZonesAndUse(t *testing.T) {
	film, err := press.FindStock("clear-film")
	if err != nil {
		t.Fatal(err)
	}
	metal, err := press.FindStock("silver-metallised-board")
	if err != nil {
		t.Fatal(err)
	}
	job := &press.Job{Zones: []press.Zone{{Kind: press.ZoneFold}, {Kind: press.ZoneFold}, {Kind: press.ZoneGlue}}, Use: []string{press.UseFood, press.UseToy, press.UseWindow, press.UseGummed}}
	for _, c := range []struct {
		name string
		s    *Setup
		want []string
	}{
		{"film", &Setup{Stock: film}, []string{"heat of the fuser", "static", "data sheet"}},
		{"metallised", &Setup{Stock: metal}, []string{"may conduct", "press maker"}},
		{"use and zones", &Setup{Job: job}, []string{"contact with food", "Toys", "window of an envelope", "glue of envelopes", "cracks where it is folded", "Glue holds badly"}},
		{"an envelope", &Setup{Job: &press.Job{Sheets: &press.SheetWish{Envelope: &press.EnvelopeWish{}}}}, []string{"cracks where it is folded", "Glue holds badly"}},
		{"a booklet", &Setup{Job: &press.Job{Sheets: &press.SheetWish{Booklet: &press.BookletWish{}}}}, []string{"cracks where it is folded"}},
	} {
		got := cautions(c.s, nil)
		all := strings.Join(got, "\n")
		for _, w := range c.want {
			if strings.Count(all, w) == 0 {
				t.Errorf("%s: nothing is said of %q in\n%s", c.name, w, all)
			}
		}
		if got[len(got)-1] != lastWord {
			t.Errorf("%s: the last word is %q", c.name, got[len(got)-1])
		}
		if slices.Compare(got, slices.Compact(slices.Clone(got))) != 0 {
			t.Errorf("%s: something is said twice: %q", c.name, got)
		}
	}
	if got := cautions(&Setup{}, nil); got != nil {
		t.Errorf("with nothing to warn of: %q", got)
	}
}

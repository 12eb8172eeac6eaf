package app

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

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

// Looking for a meeting only where both plates may be finds what looking everywhere does.
func TestMeetingsAreFoundInTheBoxesOfToner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		st := plate.NewStack(plate.Header{Set: colourant.NewSet(), Width: 23, Height: 17, DPI: 25.4})
		for k, name := range []string{"first", "second"} {
			plane := make([]byte, 23*17)
			for range rapid.IntRange(0, 3).Draw(t, name) {
				x, y, tint := rapid.IntRange(0, 22).Draw(t, "x"), rapid.IntRange(0, 16).Draw(t, "y"), rapid.SampledFrom([]byte{1, 25, 26, 255}).Draw(t, "tint")
				for dy := range rapid.IntRange(1, 6).Draw(t, "h") {
					for dx := range rapid.IntRange(1, 6).Draw(t, "w") {
						if x+dx < 23 && y+dy < 17 {
							plane[(y+dy)*23+x+dx] = tint
						}
					}
				}
			}
			st.SetPlane(k, plane)
		}
		want, meet := meeting(st, "Cyan", "Magenta", 1, 2)
		got, found := meetingIn(st, "Cyan", "Magenta", tonerBox(st, "Cyan").Intersect(tonerBox(st, "Magenta")), 1, 2)
		if meet != found || got != want {
			t.Fatalf("%v %+v, everywhere %v %+v", found, got, meet, want)
		}
	})
}

// Records are planned as one: what any of them uses is used, tints are averaged, and pairs that meet on any meet.
func TestRecordsArePlannedAsOne(t *testing.T) {
	req := cards(t, "sheets: {records: {pages: 1}}\n",
		"/White cs 1 scn 0 0 999 999 re f", "/On gs 0 .5 0 0 k 20 20 50 50 re f /White cs 1 scn 20 20 50 50 re f", "/Silver cs 1 scn 0 0 999 999 re f")
	o, err := Plan(context.Background(), PlanRequest{File: req.File, Setup: req.Setup})
	if err != nil {
		t.Fatal(err)
	}
	p := o.Plans[0]
	if !slices.Equal(o.Pages, []int{1, 2, 3}) || !slices.Equal(p.Pages(), []int{1}) || len(p.Passes) != 2 {
		t.Fatalf("pages %v, planned as %v: %+v", o.Pages, p.Pages(), p.Passes)
	}
	k := p.Reckoning
	if k.Quantity != 3 {
		t.Errorf("%d pieces of 3 records", k.Quantity)
	}
	// A third of a full plate of silver: 96 x 56 mm bleed, 1 of 3 records.
	for _, f := range k.Toner {
		if f.Toner == "Silver" {
			if got, want := *f.Piece.Value, 96*56/1e6/3*float64(f.Mass); math.Abs(got/want-1) > 0.002 { // the page is cut to whole pixels
				t.Errorf("%g g of silver, want %g", got, want)
			}
		}
	}
	s, err := Sheets(context.Background(), req)
	if err != nil {
		t.Fatal(err)
	}
	if into := int(*k.Sheets[1].Value); s.Needed != into || len(s.Passes) != 2 {
		t.Errorf("%d sheets, the plan has %d: %+v", s.Needed, into, s.Passes)
	}
}

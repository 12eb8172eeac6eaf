package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// card is a sound job of cards on a sheet; the cases below spoil it.
func card() Job {
	piece := Size{90, 50}
	return Job{Request: Request{Piece: piece, Bleed: 3, Gutter: 6, Margins: Margins{5, 4, 4}, Sheets: []Stock{{Size: Size{320, 450}}}}, Marks: AllMarks,
		Pieces: []Piece{{Front: OnePage(1, piece), Back: OnePage(2, piece), Quantity: 100}}}
}

// Numbers no sheet can be made of are told with what to write instead; none hangs or crashes.
func TestNew_refuses_what_cannot_be(t *testing.T) {
	if _, err := New(card()); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(j *Job){
		"a page without a width":     func(j *Job) { j.Piece.W = 0 },
		"a piece of no number":       func(j *Job) { j.Piece.H = math.NaN() },
		"a piece without end":        func(j *Job) { j.Piece.W = math.Inf(1) },
		"a speck":                    func(j *Job) { j.Piece = Size{.01, .01} },
		"pieces without number":      func(j *Job) { j.Piece, j.Gutter, j.Sheets[0].Size = Size{2, 2}, 0, Size{10_000, 10_000} },
		"a negative gutter":          func(j *Job) { j.Gutter = -6 },
		"a gutter of no number":      func(j *Job) { j.Gutter = math.NaN() },
		"a negative bleed":           func(j *Job) { j.Bleed = -1 },
		"a negative margin":          func(j *Job) { j.Margins.Side = -4 },
		"a margin of no number":      func(j *Job) { j.Margins.Lead = math.NaN() },
		"a sheet of no height":       func(j *Job) { j.Sheets[0].H = 0 },
		"a negative quantity":        func(j *Job) { j.Pieces[0].Quantity = -1 },
		"a quantity beyond counting": func(j *Job) { j.Pieces[0].Quantity = math.MaxInt },
		"fewer than no piece":        func(j *Job) { j.Most = -1 },
		"one piece of work-and-turn": func(j *Job) { j.Most, j.Scheme = 1, WorkAndTurn },
		"backs that are left out":    func(j *Job) { j.Scheme = OneSided },
	} {
		j := card()
		spoil(&j)
		var f *Fault
		if _, err := New(j); !errors.As(err, &f) || f.Remedy == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	j := card()
	j.Piece = Size{400, 500}
	if _, err := New(j); !errors.Is(err, ErrNoFit) {
		t.Errorf("a page larger than the sheet: %v", err)
	}
	j = card()
	j.Margins.Side = 160
	if _, err := New(j); !errors.Is(err, ErrNoFit) {
		t.Errorf("margins that leave nothing: %v", err)
	}
}

// A sheet never has more pieces than are allowed, whatever the scheme; those that are kept lie in the middle.
func TestMost_is_kept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := card()
		j.Most = rapid.OneOf(rapid.IntRange(2, 30), rapid.Just(math.MaxInt)).Draw(t, "most")
		j.Scheme = rapid.SampledFrom([]Scheme{SheetWise, WorkAndTurn, WorkAndTumble}).Draw(t, "scheme")
		p, err := New(j)
		if err != nil {
			t.Fatalf("%v", err)
		}
		for _, a := range p.Alternatives {
			if n := a.Yield.PerSheet; n > j.Most || n != len(a.Layout.Places) {
				t.Fatalf("%s: %d pieces, at most %d", a.Kind, n, j.Most)
			}
			soundLayout(t, a.Layout, p.Job.Request)
		}
	})
	j := card()
	j.Pieces[0].Back, j.Most = nil, 1
	p, err := New(j)
	if err != nil {
		t.Fatal(err)
	}
	// One card alone: in the middle of what marks and bar leave, by hand: the edge takes 3 + 5 mm and the strip 8.
	r := p.Layout.Places[0].Rect
	if x, y := r.X+r.W/2, r.Y+r.H/2; math.Abs(x-160) > .002 || math.Abs(y-(5+8+(450-5-4-8-16)/2.0)) > .002 {
		t.Errorf("the middle of the card is at %g, %g", x, y)
	}
}

// Many versions, and many places to cut, take seconds at the most.
func TestNew_is_done_while_one_waits(t *testing.T) {
	begin := time.Now()
	j := card()
	j.Pieces = nil
	for n := range 5000 {
		j.Pieces = append(j.Pieces, Piece{Name: fmt.Sprint(n), Front: OnePage(n+1, j.Piece), Quantity: 1 + n*7919%1000})
	}
	p, err := New(j)
	if err != nil {
		t.Fatal(err)
	}
	made := make([]int, len(j.Pieces))
	for _, f := range p.Forms {
		for v, n := range f.Places {
			made[v] += n * f.Sheets
		}
	}
	for v, n := range made {
		if n < j.Pieces[v].Quantity {
			t.Fatalf("version %d: %d of %d", v, n, j.Pieces[v].Quantity)
		}
	}
	j = card()
	j.Piece, j.Bleed, j.Gutter = Size{23.1, 17.3}, 0, 0
	j.Pieces = []Piece{{Front: OnePage(1, j.Piece), Quantity: 1_000_000_000}}
	if _, err := New(j); err != nil {
		t.Fatal(err)
	}
	if d := time.Since(begin); d > 20*time.Second {
		t.Errorf("took %v", d)
	}
}

// Folded by hand: three leaves of 12 pages, four of 16.
func TestBooklet_pairs_pages_of_longer_ones(t *testing.T) {
	for pages, want := range map[int]string{
		12: "12|1 2|11, 10|3 4|9, 8|5 6|7",
		16: "16|1 2|15, 14|3 4|13, 12|5 6|11, 10|7 8|9",
		10: "0|1 2|0, 10|3 4|9, 8|5 6|7",
	} {
		got := ""
		for i, l := range Booklet(pages, 0) {
			if i > 0 {
				got += ", "
			}
			got += fmt.Sprintf("%d|%d %d|%d", l.Front[0], l.Front[1], l.Back[0], l.Back[1])
		}
		if got != want {
			t.Errorf("%d pages: %s, want %s", pages, got, want)
		}
	}
}

// A booklet of sheets that are folded and nested reads in order: leaf by leaf, the right page of a side lies on the left page of
// its back, and the backs of the outer leaf hold the inner one.
func TestBooklet_reads_in_order_once_it_is_folded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := 4 * rapid.IntRange(1, 12).Draw(t, "leaves")
		piece := Size{100, 140}
		pieces := BookletPieces(Booklet(n, 0), piece, 1, .1)
		var front, back []int // the half of the booklet that is read first, from the cover; the rest from the end
		for _, p := range pieces {
			j := Job{Request: Request{Piece: Size{200, 140}, Sheets: []Stock{{Size: Size{200, 140}}}}, Pieces: []Piece{p}}
			plan, err := New(j)
			if err != nil {
				t.Fatalf("%v", err)
			}
			s := plan.Sheet(0)
			at := func(side *Side, right bool) int {
				for _, pl := range side.Placements {
					if (pl.Trim.X+pl.Trim.W/2 > 100) == right {
						return pl.Page
					}
				}
				return 0
			}
			// Behind the right half of the front lies the left half of the back, as seen from behind.
			front = append(front, at(&s.Front, true), at(s.Back, false))
			back = append(back, at(&s.Front, false), at(s.Back, true))
		}
		slices.Reverse(back)
		for i, page := range append(front, back...) {
			if page != i+1 {
				t.Fatalf("%d pages read %v %v", n, front, back)
			}
		}
	})
}

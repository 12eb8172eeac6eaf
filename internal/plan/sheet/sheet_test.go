package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	_ "laydown/internal/sameseed"
)

// brute takes an area of whole millimetres apart by every straight cut and counts the pieces: slow and plain.
func brute(memo map[[2]int]int, w, h, pw, ph int) int {
	if n, ok := memo[[2]int{w, h}]; ok {
		return n
	}
	best := 0
	if w >= pw && h >= ph || w >= ph && h >= pw {
		best = 1
	}
	for x := 1; x <= w/2; x++ {
		best = max(best, brute(memo, x, h, pw, ph)+brute(memo, w-x, h, pw, ph))
	}
	for y := 1; y <= h/2; y++ {
		best = max(best, brute(memo, w, y, pw, ph)+brute(memo, w, h-y, pw, ph))
	}
	memo[[2]int{w, h}] = best
	return best
}

func TestYield_equals_brute_force(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 60).Draw(t, "w"), rapid.IntRange(1, 60).Draw(t, "h")
		pw, ph := rapid.IntRange(3, 20).Draw(t, "pw"), rapid.IntRange(3, 20).Draw(t, "ph")
		want := brute(map[[2]int]int{}, w, h, pw, ph)
		list, err := Arrange(Request{Piece: Size{float64(pw), float64(ph)}, Sheets: []Stock{{Size: Size{float64(w), float64(h)}}}})
		got := 0
		if err == nil {
			got = list[0].Yield.PerSheet
		}
		most := 0
		for _, a := range list {
			most = max(most, a.Yield.PerSheet)
		}
		if got != want || most != want {
			t.Fatalf("%d x %d on %d x %d: %d, brute force %d", pw, ph, w, h, got, want)
		}
	})
}

// With a gutter, margins, room at the edge and a strip the pieces that fit are those brute force finds in what is left.
func TestYield_counts_gutters_and_margins(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pw, ph := rapid.IntRange(4, 15).Draw(t, "pw"), rapid.IntRange(4, 15).Draw(t, "ph")
		gutter := rapid.IntRange(0, 4).Draw(t, "gutter")
		r := Request{Piece: Size{float64(pw), float64(ph)}, Gutter: float64(gutter), Edge: float64(rapid.IntRange(0, 3).Draw(t, "edge")),
			Strip: float64(rapid.IntRange(0, 3).Draw(t, "strip")), Margins: Margins{Lead: 3, Trail: 2, Side: 1}, Bleed: 1,
			Sheets: []Stock{{Size: Size{float64(rapid.IntRange(20, 60).Draw(t, "w")), float64(rapid.IntRange(20, 60).Draw(t, "h"))}}}}
		s := r.Sheets[0]
		w, h := int(s.W-2*(1+r.Edge)), int(s.H-3-2-r.Strip-2*r.Edge)
		want := 0
		if w > 0 && h > 0 {
			want = brute(map[[2]int]int{}, w+gutter, h+gutter, pw+gutter, ph+gutter)
		}
		list, err := Arrange(r)
		if want == 0 {
			if !errors.Is(err, ErrNoFit) {
				t.Fatalf("nothing fits: %v", err)
			}
			return
		}
		if err != nil || list[0].Yield.PerSheet != want {
			t.Fatalf("%v, want %d (%v)", list, want, err)
		}
		for _, a := range list {
			soundLayout(t, a.Layout, r)
		}
	})
}

type fataler interface{ Fatalf(string, ...any) }

// soundLayout: pieces keep to the printable area and their gutters, and bleeds do not meet.
func soundLayout(t fataler, l *Layout, r Request) {
	const eps = 1e-9
	for i, p := range l.Places {
		if b := printed(p); b.X < r.Margins.Side+r.Edge-r.Bleed-eps || b.X+b.W > l.Sheet.W-r.Margins.Side-r.Edge+r.Bleed+eps ||
			p.Y < r.Margins.Lead+r.Edge-eps || p.Y+p.H > l.Sheet.H-r.Margins.Trail-r.Strip-r.Edge+eps {
			t.Fatalf("%s: piece %d at %v lies beyond what can be printed", l.Kind, i, p)
		}
		for k, q := range l.Places {
			if i == k {
				continue
			}
			gx, gy := max(q.X-p.X-p.W, p.X-q.X-q.W), max(q.Y-p.Y-p.H, p.Y-q.Y-q.H)
			if max(gx, gy) < r.Gutter-1e-6 {
				t.Fatalf("%s: pieces %d and %d are %g, %g mm apart", l.Kind, i, k, gx, gy)
			}
			a, b := printed(p), printed(q)
			if a.X < b.X+b.W-1e-6 && b.X < a.X+a.W-1e-6 && a.Y < b.Y+b.H-1e-6 && b.Y < a.Y+a.H-1e-6 {
				t.Fatalf("%s: the bleeds of pieces %d and %d meet", l.Kind, i, k)
			}
		}
	}
}

// Business cards of 85 x 55 mm on 330 x 483 with 6 mm gutters: by hand, 3 x 7 upright (306 + 6 by 91, 450 + 6 by 61), 5 x 5 turned.
func TestArrange_lists_alternatives(t *testing.T) {
	list, err := Arrange(Request{Piece: Size{85, 55}, Bleed: 3, Gutter: 6, Edge: 8, Strip: 8, Margins: Margins{5, 4, 4}, Quantity: 500,
		Sheets: []Stock{{Size: Size{330, 483}}}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, a := range list {
		got = append(got, fmt.Sprintf("%s %d %d", a.Kind, a.Yield.PerSheet, a.Yield.Sheets))
	}
	slices.Sort(got)
	if want := []string{"grid 21 24", "grid, turned 25 20"}; !slices.Equal(got[:2], want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestArrange_keeps_the_grain(t *testing.T) {
	r := Request{Piece: Size{100, 60}, Sheets: []Stock{{Size: Size{320, 450}, Grain: AlongHeight}}, Grain: AlongHeight}
	for _, want := range []int{0, 90} {
		list, err := Arrange(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range list {
			for _, p := range a.Layout.Places {
				if p.Rotate != want {
					t.Fatalf("grain along %s: turned by %d", r.Grain, p.Rotate)
				}
			}
		}
		r.Grain = r.Grain.turned()
	}
	r = Request{Piece: Size{400, 60}, Sheets: []Stock{{Size: Size{320, 450}, Grain: AlongHeight}}, Grain: AlongHeight}
	if _, err := Arrange(r); !errors.Is(err, ErrGrain) {
		t.Errorf("%v", err)
	}
}

// bruteForms shares versions out among forms in every way, and gives each any number of places.
func bruteForms(places int, q []int) int {
	best := math.MaxInt
	var groups [][]int
	var rec func(v int)
	rec = func(v int) {
		if v == len(q) {
			sum := 0
			for _, g := range groups {
				least := math.MaxInt
				var fill func(k, left, sheets int)
				fill = func(k, left, sheets int) {
					if k == len(g) {
						least = min(least, sheets)
						return
					}
					for n := 1; n <= left-(len(g)-k-1); n++ {
						fill(k+1, left-n, max(sheets, (g[k]+n-1)/n))
					}
				}
				fill(0, places, 1)
				if least == math.MaxInt {
					return
				}
				sum += least
			}
			best = min(best, sum)
			return
		}
		for i := range groups {
			groups[i] = append(groups[i], q[v])
			rec(v + 1)
			groups[i] = groups[i][:len(groups[i])-1]
		}
		groups = append(groups, []int{q[v]})
		rec(v + 1)
		groups = groups[:len(groups)-1]
	}
	rec(0)
	return best
}

func TestGang_needs_the_fewest_sheets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.IntRange(1, 8).Draw(t, "places")
		q := rapid.SliceOfN(rapid.IntRange(1, 60), 1, 4).Draw(t, "quantities")
		forms := Gang(places, q)
		sum := 0
		made := make([]int, len(q))
		for _, f := range forms {
			sum += f.Sheets
			used := 0
			for v, n := range f.Places {
				used += n
				made[v] += n * f.Sheets
			}
			if used != places {
				t.Fatalf("%d of %d places filled", used, places)
			}
		}
		for v := range q {
			if made[v] < q[v] {
				t.Fatalf("version %d: %d of %d", v, made[v], q[v])
			}
		}
		if want := bruteForms(places, q); sum != want {
			t.Fatalf("%d sheets, brute force %d", sum, want)
		}
	})
}

// More versions than are searched exactly still get their quantities, on no more sheets than one form each.
func TestGang_bounds_its_search(t *testing.T) {
	q := make([]int, 40)
	one := 0
	for i := range q {
		q[i] = 10 + 37*i%200
		one += (q[i] + 11) / 12
	}
	sum, made := 0, make([]int, len(q))
	for _, f := range Gang(12, q) {
		sum += f.Sheets
		for v, n := range f.Places {
			made[v] += n * f.Sheets
		}
	}
	for v := range q {
		if made[v] < q[v] {
			t.Errorf("version %d: %d of %d", v, made[v], q[v])
		}
	}
	if sum > one+len(q) {
		t.Errorf("%d sheets, %d for one form each", sum, one)
	}
}

// The pages of an 8-page booklet as any hand-folded dummy shows them.
func TestBooklet_pairs_pages(t *testing.T) {
	got := fmt.Sprint(Booklet(8, 0))
	if want := "[{0 0 [8 1] [2 7]} {0 1 [6 3] [4 5]}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := fmt.Sprint(Booklet(6, 4)), "[{0 0 [4 1] [2 3]} {1 0 [0 5] [6 0]}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// Every page is there once, and facing pages sum to one more than their signature has.
func TestBooklet_loses_no_page(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, per := rapid.IntRange(1, 90).Draw(t, "pages"), rapid.IntRange(0, 6).Draw(t, "per")*4
		seen := map[int]int{}
		for _, l := range Booklet(n, per) {
			for _, p := range []int{l.Front[0], l.Front[1], l.Back[0], l.Back[1]} {
				seen[p]++
			}
		}
		empty := seen[0]
		delete(seen, 0)
		if len(seen) != n || (n+empty)%4 != 0 || empty > 3 {
			t.Fatalf("%d pages of %d, %d empty", len(seen), n, empty)
		}
		for p, k := range seen {
			if k != 1 {
				t.Fatalf("page %d is there %d times", p, k)
			}
		}
	})
}

// A saddle-stitched booklet of 16 pages on 0.2 mm board: the innermost leaf's pages lie 0.6 mm nearer the spine, and
// what is printed ends at the spine.
func TestBooklet_creeps_towards_the_spine(t *testing.T) {
	pieces := BookletPieces(Booklet(16, 0), Size{105, 148}, 100, 0.2)
	inner := pieces[3]
	if math.Abs(inner.Front[0].Shift-0.6) > 1e-9 || math.Abs(inner.Front[1].Shift+0.6) > 1e-9 || pieces[0].Front[0].Shift != 0 {
		t.Errorf("%+v", inner)
	}
	place := Place{Rect: Rect{10, 10, 210, 148}, Bleed: [4]float64{3, 3, 3, 3}}
	ps := placements(inner.Front, Size{210, 148}, place, 0, 0)
	left, right := ps[0], ps[1]
	if math.Abs(left.Trim.X-10.6) > 1e-9 || math.Abs(left.Clip.X+left.Clip.W-115) > 1e-9 || math.Abs(left.Clip.X-7) > 1e-9 {
		t.Errorf("left %+v", left)
	}
	if math.Abs(right.Trim.X-114.4) > 1e-9 || math.Abs(right.Clip.X-115) > 1e-9 || math.Abs(right.Clip.X+right.Clip.W-223) > 1e-9 {
		t.Errorf("right %+v", right)
	}
}

func TestPanels_fill_the_length(t *testing.T) {
	for f, n := range map[Fold]int{FoldSingle: 2, FoldZigzag: 3, FoldLetter: 3, FoldParallel: 4} {
		p := Panels(f, 297, 1)
		if len(p) != n {
			t.Fatalf("%s has %d panels", f, len(p))
		}
		last := p[n-1]
		if math.Abs(last.From+last.Width-297) > 1e-9 {
			t.Errorf("%s ends at %g", f, last.From+last.Width)
		}
	}
	// 297 mm in three with one panel 1 mm shorter: 99.33, 99.33, 98.33.
	if p := Panels(FoldLetter, 297, 1); math.Abs(p[2].Width-98.0-1.0/3) > 1e-9 || math.Abs(p[0].Width-p[2].Width-1) > 1e-9 {
		t.Errorf("%v", p)
	}
}

// A long envelope of 220 x 110: blank and toner-free zones by hand.
func TestEnvelope_opens_flat(t *testing.T) {
	e := Envelope{Size: Size{220, 110}, Flap: 40, Back: 100, Seam: 15, Gum: 12}
	if b := e.Blank(); b != (Size{250, 250}) {
		t.Errorf("%v", b)
	}
	seams, gum := e.Glue()
	if seams[1] != (Rect{235, 40, 15, 110}) || gum != (Rect{15, 0, 220, 12}) || len(e.Folds()) != 4 {
		t.Errorf("%v %v", seams, gum)
	}
}

// Turning the sheet carries the corner of a front onto the same corner of its back: a point of the piece at u on the front,
// seen from behind, is at W-u of the back, for either way of turning and every rotation.
func TestBacks_lie_behind_their_fronts(t *testing.T) {
	piece := Size{60, 40}
	for _, scheme := range []Scheme{SheetWise, WorkAndTurn, WorkAndTumble} {
		for _, rotate := range []int{0, 90, 180, 270} {
			l := &Layout{Sheet: Stock{Size: Size{320, 450}}, Scheme: scheme}
			p := Place{Rect: Rect{20, 30, piece.W, piece.H}, Rotate: rotate}
			if rotate%180 == 90 {
				p.W, p.H = piece.H, piece.W
			}
			b := l.behind(p, true)
			for _, u := range []Point{{0, 0}, {60, 0}, {60, 40}, {12, 7}} {
				front := p.OnSheet(u)
				// The same spot of the sheet as seen from behind.
				spot := Point{320 - front.X, front.Y}
				if scheme == WorkAndTumble {
					spot = Point{front.X, 450 - front.Y}
				}
				back := b.OnSheet(Point{piece.W - u.X, u.Y})
				if math.Abs(back.X-spot.X) > 1e-9 || math.Abs(back.Y-spot.Y) > 1e-9 {
					t.Errorf("%s, turned by %d: %v lies at %v, its back at %v", scheme, rotate, u, spot, back)
				}
			}
		}
	}
}

// With work-and-turn every front has its own back behind it on the same side of the sheet.
func TestHalves_hold_each_other(t *testing.T) {
	for _, scheme := range []Scheme{WorkAndTurn, WorkAndTumble} {
		p, err := New(Job{Request: Request{Piece: Size{90, 60}, Bleed: 3, Gutter: 6, Scheme: scheme, Margins: Margins{5, 4, 4},
			Sheets: []Stock{{Size: Size{320, 450}}}}, Marks: AllMarks,
			Pieces: []Piece{{Front: OnePage(1, Size{90, 60}), Back: OnePage(2, Size{90, 60}), Quantity: 100}, {Front: OnePage(3, Size{90, 60}), Back: OnePage(4, Size{90, 60}), Quantity: 20}}})
		if err != nil {
			t.Fatal(err)
		}
		soundLayout(t, p.Layout, p.Job.Request)
		made := 0
		for i := range p.Count {
			s := p.Sheet(i)
			if s.Back != nil {
				t.Fatal("a back of its own")
			}
			for _, a := range s.Front.Placements {
				if a.Page%2 == 0 {
					continue
				}
				made += 2 * s.Run
				mirror := Rect{320 - a.Trim.X - a.Trim.W, a.Trim.Y, a.Trim.W, a.Trim.H}
				if scheme == WorkAndTumble {
					mirror = Rect{a.Trim.X, 450 - a.Trim.Y - a.Trim.H, a.Trim.W, a.Trim.H}
				}
				if !slices.ContainsFunc(s.Front.Placements, func(b Placement) bool {
					return b.Page == a.Page+1 && math.Abs(b.Trim.X-mirror.X) < 1e-9 && math.Abs(b.Trim.Y-mirror.Y) < 1e-9
				}) {
					t.Errorf("%s: page %d has no back behind it", scheme, a.Page)
				}
			}
		}
		if made < 120 {
			t.Errorf("%s: %d pieces", scheme, made)
		}
	}
}

// Records run through the places, or through the piles.
func TestRecords_follow_their_order(t *testing.T) {
	for _, order := range []Order{OrderSheet, OrderStack} {
		p, err := New(Job{Request: Request{Piece: Size{100, 100}, Sheets: []Stock{{Size: Size{200, 200}}}}, Records: 10, Each: 2, Order: order,
			Pieces: []Piece{{Front: OnePage(1, Size{100, 100}), Back: OnePage(2, Size{100, 100})}}})
		if err != nil {
			t.Fatal(err)
		}
		seen := map[int]int{}
		var first []int
		for i := range p.Count {
			s := p.Sheet(i)
			for k, a := range s.Front.Placements {
				seen[a.Page]++
				if b := s.Back.Placements[k]; b.Page != a.Page+1 || b.Version != a.Version {
					t.Errorf("behind page %d lies %d", a.Page, b.Page)
				}
				if k == 0 {
					first = append(first, a.Version)
				}
			}
		}
		want := []int{0, 4, 8}
		if order == OrderStack {
			want = []int{0, 1, 2}
		}
		if len(seen) != 10 || p.Count != 3 || !slices.Equal(first, want) {
			t.Errorf("%s: %d records on %d sheets, the first place has %v", order, len(seen), p.Count, first)
		}
	}
}

// No mark lies in what is printed of a piece or outside what can be printed, and each outer corner has its two marks.
func TestMarks_keep_off_the_pieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		piece := Size{float64(rapid.IntRange(30, 200).Draw(t, "w")), float64(rapid.IntRange(30, 200).Draw(t, "h"))}
		bleed := float64(rapid.IntRange(0, 5).Draw(t, "bleed"))
		j := Job{Request: Request{Piece: piece, Bleed: bleed, Gutter: float64(rapid.IntRange(0, 14).Draw(t, "gutter")), Margins: Margins{5, 4, 4},
			Sheets: []Stock{{Size: Size{330, 483}}}}, Marks: AllMarks, Pieces: []Piece{{Front: OnePage(1, piece), Quantity: 9}},
			Folds: FoldLines(Panels(FoldSingle, piece.W, 0), piece, AlongHeight)}
		p, err := New(j)
		if err != nil {
			t.Skip("does not fit")
		}
		u := p.Layout.Usable
		kinds := map[MarkKind]int{}
		for _, m := range p.front {
			kinds[m.Kind]++
			r := m.Box
			if m.Kind == MarkCrop || m.Kind == MarkFold {
				r = Rect{min(m.A.X, m.B.X), min(m.A.Y, m.B.Y), math.Abs(m.A.X - m.B.X), math.Abs(m.A.Y - m.B.Y)}
			}
			const eps = 2e-3 // marks are rounded to thousandths
			if r.X < u.X-eps || r.Y < u.Y-eps || r.X+r.W > u.X+u.W+eps || r.Y+r.H > u.Y+u.H+eps {
				t.Fatalf("%s at %v lies outside %v", m.Kind, r, u)
			}
			for _, q := range p.Layout.Places {
				b := printed(q)
				if r.X < b.X+b.W-eps && b.X < r.X+r.W-eps && r.Y < b.Y+b.H-eps && b.Y < r.Y+r.H-eps {
					t.Fatalf("%s at %v lies in the piece at %v", m.Kind, r, b)
				}
			}
		}
		if kinds[MarkCrop] < 8 || kinds[MarkBar] != 1 || kinds[MarkLabel] != 1 || kinds[MarkRegister] < 2 || kinds[MarkFold] < 2 {
			t.Fatalf("%v", kinds)
		}
	})
}

func TestDiagram_shows_the_sheet(t *testing.T) {
	list, err := Arrange(Request{Piece: Size{100, 60}, Sheets: []Stock{{Size: Size{170, 130}}}})
	if err != nil {
		t.Fatal(err)
	}
	got := list[0].Layout.Diagram(36, nil)
	if !strings.HasPrefix(got, "#====") || strings.Count(got, "^")+strings.Count(got, ">") != list[0].Yield.PerSheet {
		t.Errorf("%d pieces\n%s", list[0].Yield.PerSheet, got)
	}
}

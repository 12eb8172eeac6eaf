package sheet

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Whatever the scheme, marks of both sides lie in what can be printed there, off the pieces and their bleeds and off each other's
// boxes, and where one side of a sheet has a piece the other has its back: the two trims are one when the sheet is folded over.
func TestSchemes_hold_together(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		piece := Size{float64(rapid.IntRange(45, 150).Draw(t, "w")), float64(rapid.IntRange(45, 150).Draw(t, "h"))}
		j := Job{Request: Request{Piece: piece, Bleed: float64(rapid.IntRange(0, 4).Draw(t, "bleed")), Gutter: float64(rapid.IntRange(0, 20).Draw(t, "gutter")),
			Margins: Margins{5, 4, 3}, Sheets: []Stock{{Size: Size{320, 450}}}, Scheme: rapid.SampledFrom([]Scheme{SheetWise, WorkAndTurn, WorkAndTumble}).Draw(t, "scheme"),
			Rotate: rapid.SampledFrom([]Rotation{RotateBest, RotateNone, RotateQuarter}).Draw(t, "rotate")}, Marks: AllMarks,
			FootBack: rapid.Bool().Draw(t, "foot"), Folds: FoldLines(Panels(FoldZigzag, piece.H, 0), piece, AlongWidth)}
		for n := range rapid.IntRange(1, 4).Draw(t, "versions") {
			j.Pieces = append(j.Pieces, Piece{Front: OnePage(2*n+1, piece), Back: OnePage(2*n+2, piece), Quantity: rapid.IntRange(1, 300).Draw(t, "quantity")})
		}
		p, err := New(j)
		if err != nil {
			t.Skip("does not fit")
		}
		soundLayout(t, p.Layout, p.Job.Request)
		soundMarks(t, p.Layout, p.Layout.Places, p.front)
		if j.Scheme == SheetWise {
			soundMarks(t, p.Layout, p.backs, p.back)
		}
		for i := range p.Count {
			s := p.Sheet(i)
			fronts, backs := s.Front.Placements, s.Front.Placements
			if s.Back != nil {
				backs = s.Back.Placements
			}
			for _, a := range fronts {
				if a.Page%2 == 0 {
					continue
				}
				turned := Rect{320 - a.Trim.X - a.Trim.W, a.Trim.Y, a.Trim.W, a.Trim.H}
				if j.Scheme == WorkAndTumble {
					turned = Rect{a.Trim.X, 450 - a.Trim.Y - a.Trim.H, a.Trim.W, a.Trim.H}
				}
				found := false
				for _, b := range backs {
					if b.Page == a.Page+1 && math.Hypot(b.Trim.X-turned.X, b.Trim.Y-turned.Y) < 1e-6 && math.Abs(b.Trim.W-turned.W) < 1e-6 {
						found = true
						// The heads: up on both sides of the piece, or, turned over by its top edge, against each other.
						head := func(rotate int) Point {
							return [4]Point{{0, -1}, {1, 0}, {0, 1}, {-1, 0}}[rotate/90]
						}
						f, k := head(a.Rotate), head(b.Rotate)
						if j.Scheme == WorkAndTumble {
							f.Y = -f.Y
						} else {
							f.X = -f.X
						}
						if same := f == k; same == j.FootBack {
							t.Fatalf("page %d turned by %d, its back by %d", a.Page, a.Rotate, b.Rotate)
						}
					}
				}
				if !found {
					t.Fatalf("%s: behind page %d at %v its back is not", j.Scheme, a.Page, a.Trim)
				}
			}
		}
	})
}

func soundMarks(t *rapid.T, l *Layout, places []Place, marks []Mark) {
	const eps = 2e-3 // marks are rounded to thousandths
	u := l.Usable
	box := func(m Mark) Rect {
		if m.Kind == MarkCrop || m.Kind == MarkFold {
			return Rect{min(m.A.X, m.B.X), min(m.A.Y, m.B.Y), math.Abs(m.A.X - m.B.X), math.Abs(m.A.Y - m.B.Y)}
		}
		return m.Box
	}
	meet := func(a, b Rect) bool {
		return a.X < b.X+b.W-eps && b.X < a.X+a.W-eps && a.Y < b.Y+b.H-eps && b.Y < a.Y+a.H-eps
	}
	boxes := map[MarkKind]bool{MarkRegister: true, MarkBar: true, MarkLabel: true}
	for i, m := range marks {
		r := box(m)
		if r.X < u.X-eps || r.Y < u.Y-eps || r.X+r.W > u.X+u.W+eps || r.Y+r.H > u.Y+u.H+eps {
			t.Fatalf("%s at %v lies outside %v", m.Kind, r, u)
		}
		for _, q := range places {
			if meet(r, printed(q)) {
				t.Fatalf("%s at %v lies in the piece at %v", m.Kind, r, printed(q))
			}
		}
		for k, n := range marks[:i] {
			o := box(n)
			if boxes[m.Kind] || boxes[n.Kind] {
				wide := func(r Rect) Rect { return Rect{r.X - .01, r.Y - .01, r.W + .02, r.H + .02} }
				if meet(wide(r), wide(o)) && !(boxes[m.Kind] && boxes[n.Kind] && !meet(r, o)) {
					t.Fatalf("marks %d and %d, %s at %v and %s at %v, meet", k, i, n.Kind, o, m.Kind, r)
				}
			}
		}
	}
}

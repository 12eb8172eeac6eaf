package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Request says what is to be laid on sheets.
type Request struct {
	Piece  Size      // trimmed
	Grain  Direction // how the fibres are wanted to run in the piece
	Bleed  float64   // printed beyond the trim
	Gutter float64   // between the trims of neighbours
	// Edge is kept outside the trims of the outermost pieces, within what can be printed: room for bleed and marks.
	Edge float64
	// Strip is kept free along the trail edge, within what can be printed: room for a colour bar and type.
	Strip   float64
	Sheets  []Stock
	Margins Margins
	Scheme  Scheme // empty = one-sided
	Rotate  Rotation
	// Most is how many pieces a sheet may have; 0 = as many as fit.
	Most     int
	Quantity int // pieces wanted; 0 = not known
}

// Alternative is a layout that was looked at and what it yields.
type Alternative struct {
	Layout *Layout `json:"-"`
	Sheet  Stock   `json:"sheet"`
	Kind   string  `json:"kind"`
	Yield  Yield   `json:"yield"`
	Chosen bool    `json:"chosen,omitempty"`
	Note   string  `json:"note,omitempty"`
}

// ErrNoFit: the piece fits on none of the sheets.
var ErrNoFit = errors.New("the piece fits on none of the sheets")

// ErrGrain: it would fit, but not with the fibres running as asked.
var ErrGrain = errors.New("the piece fits only with the fibres running the other way than asked for")

// Fault is a request that makes no sense: what is wrong and what to write instead.
type Fault struct{ What, Remedy string }

func (f *Fault) Error() string { return f.What + "; " + f.Remedy }

// Bounds of a request.
const (
	leastPiece = 1.0    // mm: nothing smaller is cut
	mostLength = 20_000 // mm: twice the largest sheet
	mostPlaces = 10_000 // on one sheet
	mostPieces = 1_000_000_000
)

// check tells of numbers no layout can be made of. NaN fails every comparison and so every check.
func (r *Request) check() error {
	length := func(v float64) bool { return v >= 0 && v <= mostLength }
	switch p := r.Piece; {
	case !(p.W >= leastPiece && p.H >= leastPiece && length(p.W) && length(p.H)):
		return &Fault{fmt.Sprintf("a piece of %g × %g mm is not possible", p.W, p.H), "give its size with the key finished, or the page a TrimBox"}
	case !length(r.Bleed) || !length(r.Gutter):
		return &Fault{fmt.Sprintf("a bleed of %g mm with a gutter of %g mm is not possible", r.Bleed, r.Gutter), "a bleed of 3 mm and a gutter of twice that are usual"}
	case !length(r.Edge) || !length(r.Strip) || !length(r.Margins.Lead) || !length(r.Margins.Trail) || !length(r.Margins.Side):
		return &Fault{fmt.Sprintf("margins of %g, %g and %g mm are not possible", r.Margins.Lead, r.Margins.Trail, r.Margins.Side), "4 mm to 6 mm are usual"}
	case r.Most < 0:
		return &Fault{fmt.Sprintf("%d pieces on a sheet are not possible", r.Most), "leave the number out, or write 1 or more"}
	case r.Most == 1 && (r.Scheme == WorkAndTurn || r.Scheme == WorkAndTumble):
		return &Fault{fmt.Sprintf("%s puts every piece twice on a sheet, and one is asked for", r.Scheme), "allow 2 on a sheet, or use sheet-wise"}
	case r.Quantity < 0 || r.Quantity > mostPieces:
		return &Fault{fmt.Sprintf("a quantity of %d is not possible", r.Quantity), fmt.Sprintf("write 1 to %d pieces", mostPieces)}
	}
	for _, s := range r.Sheets {
		if !(s.W > 0 && s.H > 0 && length(s.W) && length(s.H)) {
			return &Fault{fmt.Sprintf("a sheet of %g × %g mm is not possible", s.W, s.H), "write the size of the sheet, as 330 × 483 mm"}
		}
	}
	return nil
}

// Arrange finds the layouts of a request, best first: least paper, then fewest sheets, then the simplest. The layouts of
// one sheet are the two grids, the best two blocks, and, where it gives more, the best arrangement by straight cuts,
// which is exact.
func Arrange(r Request) ([]Alternative, error) {
	if r.Scheme == "" {
		r.Scheme = OneSided
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	var out []Alternative
	grain := false
	for _, s := range r.Sheets {
		list, other, err := r.onSheet(s)
		if err != nil {
			return nil, err
		}
		grain = grain || other && len(list) == 0
		out = append(out, list...)
	}
	if len(out) == 0 {
		if grain {
			return nil, ErrGrain
		}
		return nil, ErrNoFit
	}
	slices.SortStableFunc(out, func(a, b Alternative) int {
		pa, pb := r.paper(a), r.paper(b)
		switch {
		case pa != pb:
			return sign(pa - pb)
		case a.Yield.Sheets != b.Yield.Sheets:
			return a.Yield.Sheets - b.Yield.Sheets
		}
		// As much paper on as many sheets: what is simplest to cut.
		return simplicity(a.Kind) - simplicity(b.Kind)
	})
	out[0].Chosen = true
	return out, nil
}

// paper is the paper an alternative takes: for the quantity, or for a piece where that is not known.
func (r *Request) paper(a Alternative) float64 {
	if r.Quantity > 0 {
		return a.Yield.Area
	}
	return a.Yield.Area / float64(a.Yield.PerSheet)
}

func sign(v float64) int {
	if v < 0 {
		return -1
	}
	return 1
}

const (
	kindGrid   = "grid"
	kindTurned = "grid, turned"
)

func simplicity(kind string) int {
	switch kind {
	case kindGrid:
		return 0
	case kindTurned:
		return 1
	}
	n := 0
	fmt.Sscanf(kind, "%d", &n)
	return n
}

// onSheet lists the layouts on one sheet. other tells that only grain forbade some.
func (r *Request) onSheet(s Stock) (out []Alternative, other bool, err error) {
	area := r.area(s)
	gutter := microns(r.Gutter)
	c := cells{w: microns(r.Piece.W) + gutter, h: microns(r.Piece.H) + gutter, upright: true, turn: true}
	w, h := microns(area.W)+gutter, microns(area.H)+gutter
	switch r.Rotate {
	case RotateNone:
		c.turn = false
	case RotateQuarter:
		c.upright = false
	}
	if r.Grain != "" && s.Grain != "" {
		fits := c.grid(w, h).count() > 0
		if r.Grain == s.Grain {
			c.turn = false
		} else {
			c.upright = false
		}
		if r.Rotate == RotateNone && !c.turn && s.Grain != r.Grain || r.Rotate == RotateQuarter && s.Grain == r.Grain {
			c.upright, c.turn = false, false
		}
		other = fits
	}
	if c.w <= gutter || c.h <= gutter || w <= 0 || h <= 0 {
		return nil, other, nil
	}
	if n := max(c.gridOf(w, h, false).count(), c.gridOf(w, h, true).count()); n > mostPlaces {
		return nil, false, &Fault{fmt.Sprintf("%d pieces of %g × %g mm would lie on a sheet of %g × %g mm, more than %d", n, r.Piece.W, r.Piece.H, s.W, s.H, mostPlaces), "lay several pieces on a page of the artwork"}
	}
	found := map[int]bool{}
	add := func(kind string, list []block) {
		n := countOf(list)
		if n == 0 || kind != kindGrid && kind != kindTurned && found[n] {
			return
		}
		found[n] = true
		l := r.layout(s, area, c, list, kind)
		a := Alternative{Layout: l, Sheet: s, Kind: l.Kind, Yield: l.Yield(r.Piece, r.Quantity)}
		if s.Grain == "" && r.Grain != "" {
			a.Note = "the sheet's grain is not given"
		}
		out = append(out, a)
	}
	if c.upright {
		add(kindGrid, []block{c.gridOf(w, h, false)})
	}
	if c.turn {
		add(kindTurned, []block{c.gridOf(w, h, true)})
	}
	if !c.upright || !c.turn || r.Rotate == RotateSame {
		return out, other, nil
	}
	two := c.twoBlocks(w, h)
	add("2 blocks", two)
	if best, ok := c.cuts(w, h); ok && countOf(best) > max(countOf(two), c.grid(w, h).count()) {
		add(fmt.Sprintf("%d blocks", len(best)), best)
	}
	return out, other, nil
}

// area is where trims may lie on the sheet; for work-and-turn and work-and-tumble, on its first half.
func (r *Request) area(s Stock) Rect {
	m := r.Margins
	a := Rect{X: m.Side + r.Edge, Y: m.Lead + r.Edge, W: s.W - 2*(m.Side+r.Edge), H: s.H - m.Lead - m.Trail - r.Strip - 2*r.Edge}
	switch r.Scheme {
	case WorkAndTurn:
		a.W = s.W/2 - a.X - r.Gutter/2
	case WorkAndTumble: // either end leads once
		end := max(m.Lead, m.Trail+r.Strip)
		a.Y = end + r.Edge
		a.H = s.H/2 - a.Y - r.Gutter/2
	}
	return a
}

// layout places the cells of blocks, in the middle of the area, row by row.
func (r *Request) layout(s Stock, area Rect, c cells, list []block, kind string) *Layout {
	gutter := microns(r.Gutter)
	cw, ch := c.extent(list)
	free := Point{area.W - millimetres(cw-gutter), area.H - millimetres(ch-gutter)}
	at := Point{area.X + free.X/2, area.Y + free.Y/2}
	switch r.Scheme {
	case WorkAndTurn: // up to the middle of the sheet, so that one cut parts the halves
		at.X = area.X + free.X
	case WorkAndTumble:
		at.Y = area.Y + free.Y
	}
	m := r.Margins
	l := &Layout{Sheet: s, Scheme: r.Scheme, Kind: kind, Usable: Rect{m.Side, m.Lead, s.W - 2*m.Side, s.H - m.Lead - m.Trail}}
	for _, b := range list {
		bw, bh := c.size(b.turned)
		for row := range b.rows {
			for col := range b.cols {
				p := Place{Rect: Rect{at.X + millimetres(b.x+col*bw), at.Y + millimetres(b.y+row*bh), millimetres(bw - gutter), millimetres(bh - gutter)}}
				if b.turned {
					p.Rotate = 90
				}
				l.Places = append(l.Places, p)
			}
		}
	}
	if most := r.Most; most > 0 {
		if l.mirrored() {
			most /= 2
		}
		if len(l.Places) > most {
			l.Places = l.Places[:most]
			l.Kind = fmt.Sprintf("%s, %d kept", kind, len(l.Places))
			l.centre(area)
		}
	}
	slices.SortStableFunc(l.Places, func(a, b Place) int {
		if a.Y != b.Y {
			return sign(a.Y - b.Y)
		}
		if a.X != b.X {
			return sign(a.X - b.X)
		}
		return 0
	})
	if l.mirrored() {
		for _, p := range l.Places {
			l.Places = append(l.Places, l.behind(p, true))
		}
	}
	l.bleeds(r.Bleed)
	return l
}

// centre moves places that were kept of more into the middle of the area; of halves, across the cut between them no further.
func (l *Layout) centre(area Rect) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range l.Places {
		x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X+p.W), max(y1, p.Y+p.H)
	}
	dx, dy := area.X+area.W/2-(x0+x1)/2, area.Y+area.H/2-(y0+y1)/2
	switch l.Scheme {
	case WorkAndTurn:
		dx = area.X + area.W - x1
	case WorkAndTumble:
		dy = area.Y + area.H - y1
	}
	for i := range l.Places {
		l.Places[i].X = millimetres(microns(l.Places[i].X + dx))
		l.Places[i].Y = millimetres(microns(l.Places[i].Y + dy))
	}
}

func (l *Layout) mirrored() bool { return l.Scheme == WorkAndTurn || l.Scheme == WorkAndTumble }

// behind is where a place lies on the sheet's back, as looked at from behind. The page put there has its head where the
// front has its own. For sheet-wise work the sheet is turned about its feed direction, as for work-and-turn.
func (l *Layout) behind(p Place, back bool) Place {
	q := p
	q.Back = back
	q.Bleed = [4]float64{}
	if l.Scheme == WorkAndTumble {
		q.Y = l.Sheet.H - p.Y - p.H
		q.Rotate = (540 - p.Rotate) % 360
		return q
	}
	q.X = l.Sheet.W - p.X - p.W
	q.Rotate = (360 - p.Rotate) % 360
	return q
}

// bleeds works out how far each piece may bleed: no further than half way to a neighbour whose bleed it could meet. Of a
// neighbour that lies across a corner only the larger of the two distances counts.
func (l *Layout) bleeds(most float64) {
	for i := range l.Places {
		p := &l.Places[i]
		p.Bleed = [4]float64{most, most, most, most}
		for j := range l.Places {
			q := &l.Places[j]
			left, right := p.X-q.X-q.W, q.X-p.X-p.W
			above, below := p.Y-q.Y-q.H, q.Y-p.Y-p.H
			dx, dy := max(left, right), max(above, below)
			if i == j || dx >= 2*most || dy >= 2*most {
				continue
			}
			d, edge := dy, 1
			switch { // both of a pair choose the same way
			case dx > dy && left == dx:
				d, edge = dx, 0
			case dx > dy:
				d, edge = dx, 2
			case below == dy:
				edge = 3
			}
			p.Bleed[edge] = max(0, min(p.Bleed[edge], d/2))
		}
	}
}

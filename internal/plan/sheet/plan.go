package sheet

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
)

func itoa(n int) string { return strconv.Itoa(n) }

// Part is a page on one side of a piece.
type Part struct {
	Page int // from 1
	Rect     // of its trim on the upright piece, mm
	// Shift moves what is printed along the piece's width, not where it is cut off: creep.
	Shift float64
	// Cut ends the page at its left, top, right or bottom trim: no bleed there.
	Cut [4]bool
}

// Piece is one trimmed piece, or one version of it.
type Piece struct {
	Name     string
	Front    []Part
	Back     []Part // nil = nothing is printed there
	Quantity int
}

// OnePage makes the parts of a side that shows one page; 0 = none.
func OnePage(page int, piece Size) []Part {
	if page == 0 {
		return nil
	}
	return []Part{{Page: page, Rect: Rect{0, 0, piece.W, piece.H}}}
}

// Placement is a page on a side of a sheet.
type Placement struct {
	Page    int  `json:"page"`
	Version int  `json:"version"` // index of the piece, or the record, from 0
	Trim    Rect `json:"trim"`    // where its trim lies, creep included
	Clip    Rect `json:"clip"`    // what may be printed of it
	Rotate  int  `json:"rotate"`  // 0, 90, 180 or 270 clockwise
}

// Side is one side of a sheet. Marks are the same on this side of every sheet of a plan.
type Side struct {
	Placements []Placement
	Marks      []Mark
}

// Sheet is one printed sheet with both its sides; Back is nil where nothing is printed or, with work-and-turn and
// work-and-tumble, the front is printed there again.
type Sheet struct {
	Number int // from 1
	W, H   float64
	Scheme Scheme
	Run    int // how many of it are printed
	Front  Side
	Back   *Side
}

// Order says how records follow each other.
type Order string

// Orders of records: place by place on each sheet, or pile by pile, so that the stacks of cut pieces, laid on each other,
// are in order.
const (
	OrderSheet Order = "sheet"
	OrderStack Order = "stack"
)

// Job is a request with what is to be printed on the pieces.
type Job struct {
	Request
	Pieces []Piece // versions; one for variable data: its pages are those of the first record
	// Records is the number of records of variable data, each a piece with pages of its own; 0 = no variable data.
	Records int
	Each    int // pages of a record
	Order   Order
	Marks   Choice
	Folds   []Segment // of the upright piece
	// FootBack turns the backs by half a turn: the piece is turned over by its top edge.
	FootBack bool
}

// Plan is how a job is printed on sheets.
type Plan struct {
	Job          Job
	Layout       *Layout
	Yield        Yield
	Forms        []Form // by version; nil for variable data
	Alternatives []Alternative
	Count        int // different sheets

	backs       []Place // as looked at from behind
	front, back []Mark
}

// Errors of a job that makes no sense.
var (
	ErrNothing        = errors.New("there is nothing to print")
	ErrVariableScheme = errors.New("work-and-turn and work-and-tumble print every piece twice, which records cannot be")
)

// New plans a job. Errors are ErrNoFit, ErrGrain, ErrNothing, ErrVariableScheme or a *Fault.
func New(j Job) (*Plan, error) {
	if len(j.Pieces) == 0 {
		return nil, ErrNothing
	}
	if j.Scheme == "" {
		j.Scheme = OneSided
		if slices.ContainsFunc(j.Pieces, func(p Piece) bool { return len(p.Back) > 0 }) {
			j.Scheme = SheetWise
		}
	}
	if j.Records > 0 && (j.Scheme == WorkAndTurn || j.Scheme == WorkAndTumble) {
		return nil, ErrVariableScheme
	}
	if j.Scheme == OneSided && slices.ContainsFunc(j.Pieces, func(p Piece) bool { return len(p.Back) > 0 }) {
		return nil, &Fault{"one-sided sheets leave out the backs the pieces have", "use sheet-wise, or say that the piece has one side"}
	}
	edge, strip := j.Marks.Room(j.Bleed)
	j.Edge, j.Strip = max(j.Edge, edge), max(j.Strip, strip)
	j.Quantity = j.Records
	if j.Records == 0 {
		for _, p := range j.Pieces {
			if p.Quantity < 0 || p.Quantity > mostPieces {
				return nil, &Fault{fmt.Sprintf("a quantity of %d is not possible", p.Quantity), fmt.Sprintf("write 1 to %d pieces", mostPieces)}
			}
			j.Quantity += max(p.Quantity, 1)
		}
	}
	list, err := Arrange(j.Request)
	if err != nil {
		return nil, err
	}
	forms := map[*Layout][]Form{}
	if j.Records == 0 && len(j.Pieces) > 1 {
		for i := range list {
			a := &list[i]
			fs := j.gang(a.Layout)
			forms[a.Layout] = fs
			y := Yield{PerSheet: len(a.Layout.Places)}
			for _, f := range fs {
				y.Sheets += f.Sheets
			}
			a.Yield = a.Layout.yieldOf(j.Piece, j.Quantity, y)
			a.Chosen = false
		}
		slices.SortStableFunc(list, func(a, b Alternative) int {
			if a.Yield.Area != b.Yield.Area {
				return sign(a.Yield.Area - b.Yield.Area)
			}
			return len(forms[a.Layout]) - len(forms[b.Layout])
		})
		list[0].Chosen = true
	}
	p := &Plan{Job: j, Layout: list[0].Layout, Yield: list[0].Yield, Alternatives: list, Forms: forms[list[0].Layout]}
	switch {
	case j.Records > 0:
		p.Count = p.Yield.Sheets
	case p.Forms == nil:
		p.Forms = j.gang(p.Layout)
		p.Count = 1
	default:
		p.Count = len(p.Forms)
	}
	p.front = p.Layout.marks(p.Layout.Places, j)
	p.backs = p.backPlaces()
	p.back = p.Layout.marks(p.backs, j)
	return p, nil
}

// gang shares versions out on a layout. With work-and-turn each place of a half stands for two pieces.
func (j *Job) gang(l *Layout) []Form {
	n, each := len(l.Places), 1
	if l.mirrored() {
		n, each = n/2, 2
	}
	q := make([]int, len(j.Pieces))
	for i, p := range j.Pieces {
		q[i] = (p.Quantity + each - 1) / each
		if p.Quantity == 0 {
			q[i] = 1
		}
	}
	return Gang(n, q)
}

func (p *Plan) backPlaces() []Place {
	out := make([]Place, len(p.Layout.Places))
	b := Layout{Sheet: p.Layout.Sheet, Scheme: p.Layout.Scheme}
	for i, q := range p.Layout.Places {
		out[i] = p.Layout.behind(q, true)
	}
	b.Places = out
	b.bleeds(p.Job.Bleed)
	return out
}

// Sheet makes sheet i of Count, from 0.
func (p *Plan) Sheet(i int) Sheet {
	j := &p.Job
	s := Sheet{Number: i + 1, W: p.Layout.Sheet.W, H: p.Layout.Sheet.H, Scheme: p.Layout.Scheme, Run: 1}
	s.Front.Marks = p.front
	places := p.Layout.Places
	if p.Layout.Scheme == SheetWise {
		s.Back = &Side{Marks: p.back}
	}
	if j.Records == 0 {
		s.Run = p.Forms[i].Sheets
	}
	for k, place := range places {
		v, piece := p.at(i, k)
		if piece == nil {
			continue
		}
		parts, turn := piece.Front, 0
		if place.Back {
			parts, turn = piece.Back, p.footTurn()
		}
		s.Front.Placements = append(s.Front.Placements, placements(parts, j.Piece, place, v, turn)...)
		if s.Back != nil {
			s.Back.Placements = append(s.Back.Placements, placements(piece.Back, j.Piece, p.backs[k], v, p.footTurn())...)
		}
	}
	return s
}

func (p *Plan) footTurn() int {
	if p.Job.FootBack {
		return 180
	}
	return 0
}

// at tells which version or record is at place k of sheet i.
func (p *Plan) at(i, k int) (int, *Piece) {
	j := &p.Job
	if j.Records == 0 {
		if p.Layout.mirrored() {
			k %= len(p.Layout.Places) / 2
		}
		for v, n := range p.Forms[i].Places {
			if k -= n; k < 0 {
				return v, &j.Pieces[v]
			}
		}
		return 0, nil
	}
	r := i*len(p.Layout.Places) + k
	if j.Order == OrderStack {
		r = k*p.Count + i
	}
	if r >= j.Records {
		return 0, nil
	}
	first := j.Pieces[0]
	next := func(parts []Part) []Part {
		out := slices.Clone(parts)
		for n := range out {
			out[n].Page += r * j.Each
		}
		return out
	}
	return r, &Piece{Name: itoa(r + 1), Front: next(first.Front), Back: next(first.Back), Quantity: 1}
}

// placements lays the parts of a piece on its place; turn is 0 or 180.
func placements(parts []Part, piece Size, place Place, version, turn int) (out []Placement) {
	if turn != 0 {
		place.Rotate = (place.Rotate + turn) % 360
	}
	bleed := place.uprightBleed()
	for _, part := range parts {
		t := part.Rect
		t.X += part.Shift
		// A page may bleed where it ends with the piece, and ends where another begins.
		x0, y0, x1, y1 := part.X, part.Y, part.X+part.W, part.Y+part.H
		const near = 1e-6
		if x0 < near && !part.Cut[0] {
			x0 -= bleed[0]
		}
		if y0 < near && !part.Cut[1] {
			y0 -= bleed[1]
		}
		if x1 > piece.W-near && !part.Cut[2] {
			x1 += bleed[2]
		}
		if y1 > piece.H-near && !part.Cut[3] {
			y1 += bleed[3]
		}
		out = append(out, Placement{Page: part.Page, Version: version, Rotate: place.Rotate,
			Trim: place.RectOnSheet(t), Clip: place.RectOnSheet(Rect{x0, y0, x1 - x0, y1 - y0})})
	}
	return out
}

// Describe tells the yield in one line.
func (p *Plan) Describe() string {
	y := p.Yield
	return fmt.Sprintf("%d on a sheet of %g × %g mm (%s), %d sheets, %d over, %.1f %% waste",
		y.PerSheet, p.Layout.Sheet.W, p.Layout.Sheet.H, p.Layout.Kind, y.Sheets, y.Over, y.Waste)
}

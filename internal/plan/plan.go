// Package plan works out how a job goes through the press: which set of toners in which pass, so that passes and changes of
// the set are fewest and the laydown comes out as wished; what each choice gives up; how much toner it takes, how long
// it lasts and what it costs. It is arithmetic on numbers handed in, and knows no PDF.
//
// The order of what counts: every wish is kept, no toner lies where the press forbids it, and no sheet is fused more often
// than its stock stands. Of all plans that do, one has the fewest passes (a pass is one side of a sheet through the press
// once), of those the fewest changes of the set over all sides, of those the fewest process toners laid apart from
// the others, of those the fewest pairs against the usual order. Plans equal so far cost the same but for the toner on
// a few sheets of waste; the sets' order in the definition decides.
//
// All sequences are tried (press.Press.Lays for a side, joint for the sides together), so that no cheaper order exists.
package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// Request is a job to plan.
type Request struct {
	Press    *press.Press
	Stock    *press.Stock // nil: nothing is known of it
	Sides    []Side
	Wishes   []Wish
	Quantity int   // finished pieces; 0 = not given
	Breaks   []int // other quantities to reckon
	Up       int   // pieces on a sheet; 0 = 1
}

// Side is one printed side of the piece: a page of the artwork.
type Side struct {
	Page    int
	Leaf    int     // sides of one sheet have the same number
	AreaMM2 float64 // that may carry toner: the bleed box
	Toners  []Laid
	Meet    []Meeting // toners that do not meet may be laid in any order
}

// Laid is a toner on a side.
type Laid struct {
	Name string
	Mean float64 // tint averaged over the side's area, percent
}

// Meeting is a pair of toners that share a place, be it along an edge.
type Meeting struct {
	A, B    string
	AreaMM2 float64 // where both lie visibly on each other
	EdgeMM  float64 // along which one ends where the other begins
	Box     finding.BoxMM
}

// leastLying is the area from which toners count as lying on each other, in mm², as in the rules of the checks.
const leastLying = 0.5

// Wish is an order of toners the designer asks for.
type Wish struct {
	Text   string          // "White under process"
	Orders [][]press.Under // by side
}

// Kinds of what a plan may give up.
const (
	GiveWish   = "wish"      // an order of toners
	GiveToner  = "toner"     // a toner is left out of the artwork
	GiveOnEach = "knock-out" // two toners no longer lie on each other
)

// Sacrifice is something a plan does without.
type Sacrifice struct {
	Kind string `json:"kind"`
	What string `json:"what"`
}

// String says it as a person would.
func (s Sacrifice) String() string {
	switch s.Kind {
	case GiveToner:
		return "without " + s.What
	case GiveOnEach:
		return s.What + " knocked out of each other"
	}
	return fmt.Sprintf("without the wish “%s”", s.What)
}

// Plan is one way to print the job.
type Plan struct {
	Passes     []Pass      `json:"passes"` // in the order of the work
	Sets       []string    `json:"sets"`   // in the press one after the other
	SetChanges int         `json:"set_changes"`
	GivesUp    []Sacrifice `json:"gives_up,omitempty"`
	Adds       []string    `json:"adds,omitempty"` // orders kept that nobody asked for
	Why        []string    `json:"why"`
	Unusual    []Unusual   `json:"unusual,omitempty"`
	Register   []Register  `json:"register,omitempty"`
	Reckoning  *Reckoning  `json:"reckoning"`

	sides [][]press.Pass
	pages []int
}

// Pass is one side of the sheet through the press once.
type Pass struct {
	Set    string   `json:"set"`
	SetUp  int      `json:"set_up"` // which of the plan's sets is in the press, from 1
	Page   int      `json:"page"`
	OfPage int      `json:"of_page"` // which pass of this page, from 1
	Toners []string `json:"toners"`  // first laid first

	side int
}

// Unusual is a pair laid against the usual order where it meets.
type Unusual struct {
	Page  int    `json:"page"`
	Lower string `json:"lower"`
	Upper string `json:"upper"`
	Words string `json:"words"`
}

// Register is a pair of toners that meet across two passes, and so may be off each other.
type Register struct {
	Page    int     `json:"page"`
	Lower   string  `json:"lower"`
	Upper   string  `json:"upper"`
	Passes  [2]int  `json:"passes"` // of the page, from 1
	OffMM   float64 `json:"off_mm"`
	AreaMM2 float64 `json:"area_mm2"` // where they lie on each other
	EdgeMM  float64 `json:"edge_mm"`  // along which they adjoin

	Box finding.BoxMM `json:"box"` // round all of it, from the trim
}

// Side is the passes of a side by its number in the request.
func (p *Plan) Side(i int) []press.Pass { return p.sides[i] }

// Pages are the pages of the sides, in the order of the request.
func (p *Plan) Pages() []int { return p.pages }

// LeavesOut tells whether a plan does without a toner.
func (p *Plan) LeavesOut(toner string) bool {
	return slices.Contains(p.GivesUp, Sacrifice{GiveToner, toner})
}

// Name tells plans apart: what they give up or keep besides.
func (p *Plan) Name() string {
	var parts []string
	for _, s := range p.GivesUp {
		parts = append(parts, s.String())
	}
	parts = append(parts, p.Adds...)
	if len(parts) == 0 {
		return "as wished"
	}
	return strings.Join(parts, ", ")
}

// Best is the plan with the fewest passes, then set changes, that keeps every wish. The error is an *Impossible.
func Best(r *Request) (*Plan, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	s := newSearcher(r)
	found, err := s.solve(nil)
	if err != nil {
		return nil, s.impossible(err)
	}
	return s.plan(found, nil), nil
}

// mostPieces is more than any run of sheets, be it of pages planned as one, and leaves room for sums.
const mostPieces = 1_000_000_000_000

// check tells of figures nothing can be reckoned with.
func (r *Request) check() error {
	pieces := func(what string, n, least int) error {
		if n < least || n > mostPieces {
			return &Impossible{What: fmt.Sprintf("%s of %d is not possible", what, n), Remedy: fmt.Sprintf("write a whole number from %d to %d", max(least, 1), mostPieces)}
		}
		return nil
	}
	if err := cmp.Or(pieces("a quantity", r.Quantity, 0), pieces("a number of pieces on a sheet", r.Up, 0)); err != nil {
		return err
	}
	for _, n := range r.Breaks {
		if err := pieces("a quantity", n, 1); err != nil {
			return err
		}
	}
	for i := range r.Sides {
		s := &r.Sides[i]
		sound := func(v float64) bool { return v >= 0 && v <= math.MaxFloat64 }
		if !sound(s.AreaMM2) || slices.ContainsFunc(s.Toners, func(l Laid) bool { return !sound(l.Mean) }) {
			return &Impossible{What: fmt.Sprintf("page %d has no size or no tints that could be measured", s.Page), Remedy: "set the boxes of the page"}
		}
	}
	return nil
}

func (r *Request) up() int { return max(r.Up, 1) }

// meets tells whether two toners share a place on the side, and how.
func (s *Side) meets(a, b string) (Meeting, bool) {
	for _, m := range s.Meet {
		if m.A == a && m.B == b || m.A == b && m.B == a {
			return m, true
		}
	}
	return Meeting{}, false
}

// listed joins names as a list in a sentence.
func listed(names []string) string {
	switch n := len(names); n {
	case 0:
		return ""
	case 1:
		return names[0]
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

// counted writes "1 pass", "3 passes".
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

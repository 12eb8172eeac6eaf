// Package sheet is the geometry of printed sheets: how many pieces of a size fit on a sheet and how they lie, which
// pages stand where on both sides, where it is folded, cut and marked. Numbers go in, placements come out; it knows no
// PDF and no press.
//
// Everything is in millimetres in *sheet space*: the origin at the left end of the edge that enters the press first
// (the lead edge), x across the feed to the right, y along the feed from the lead edge to the trail edge. The back is
// described as it is looked at from behind, with its own lead edge at y = 0 again. Turns are clockwise, as seen.
//
// Lengths are rounded to micrometres while layouts are searched, so that a sum of tenths never misses a fit by the
// rounding of a float.
package sheet

import "math"

// Size is a width and a height in mm.
type Size struct {
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Turned is the size after a quarter turn.
func (s Size) Turned() Size { return Size{s.H, s.W} }

// Margins of the sheet nothing can be printed in, in mm.
type Margins struct{ Lead, Trail, Side float64 }

// Direction of the fibres (grain) of a sheet or wanted of a piece. Empty = not known, not asked for.
type Direction string

// Directions: along the width or along the height of what they belong to.
const (
	AlongWidth  Direction = "width"
	AlongHeight Direction = "height"
)

func (d Direction) turned() Direction {
	switch d {
	case AlongWidth:
		return AlongHeight
	case AlongHeight:
		return AlongWidth
	}
	return ""
}

// Stock is a sheet that can be taken.
type Stock struct {
	Size
	Grain Direction `json:"grain,omitempty"`
}

// Scheme says how a sheet is printed on its sides.
type Scheme string

// The schemes. Sheet-wise has fronts on one side and backs on the other. Work-and-turn and work-and-tumble have both on
// each: the sheet is turned about its feed direction (same lead edge) or about the direction across (the trail edge
// leads the second time), and each half gets the other's back.
const (
	OneSided      Scheme = "one-sided"
	SheetWise     Scheme = "sheet-wise"
	WorkAndTurn   Scheme = "work-and-turn"
	WorkAndTumble Scheme = "work-and-tumble"
)

// Rotation says how pieces may lie on the sheet.
type Rotation string

// Rotations: whatever gives most (in blocks of either way), all the same way whichever gives more, all upright, all
// turned by a quarter.
const (
	RotateBest    Rotation = "best"
	RotateSame    Rotation = "same"
	RotateNone    Rotation = "none"
	RotateQuarter Rotation = "quarter"
)

// Rect is a rectangle in mm, X and Y its corner nearest the origin.
type Rect struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Place is where one trimmed piece lies on the sheet.
type Place struct {
	Rect
	Rotate int  `json:"rotate"` // 0, 90, 180 or 270
	Back   bool `json:"back"`   // shows the back where the sheet's front shows fronts and backs
	// Bleed is how far the piece may be printed beyond its left, top, right and bottom edge, as they lie on the sheet.
	Bleed [4]float64 `json:"bleed"`
}

// Layout is how pieces lie on a sheet's front.
type Layout struct {
	Sheet  Stock   `json:"sheet"`
	Scheme Scheme  `json:"scheme"`
	Kind   string  `json:"kind"` // "grid", "grid, turned", "2 blocks", …
	Places []Place `json:"places"`
	// Usable is the part of the sheet that can be printed.
	Usable Rect `json:"usable"`
}

// Yield is what a layout makes of a quantity.
type Yield struct {
	PerSheet int     `json:"per_sheet"`
	Sheets   int     `json:"sheets"` // that have to be printed; none for spoilage
	Over     int     `json:"over"`   // pieces beyond the quantity
	Waste    float64 `json:"waste"`  // percent of the paper that is not in the pieces wanted
	Area     float64 `json:"area"`   // m² of paper
}

// Yield of a layout for a quantity of pieces of a size. Without a quantity one sheet is counted.
func (l *Layout) Yield(piece Size, quantity int) Yield {
	y := Yield{PerSheet: len(l.Places), Sheets: 1}
	if quantity > 0 && y.PerSheet > 0 {
		y.Sheets = (quantity + y.PerSheet - 1) / y.PerSheet
	}
	return l.yieldOf(piece, quantity, y)
}

func (l *Layout) yieldOf(piece Size, quantity int, y Yield) Yield {
	wanted := quantity
	if wanted == 0 {
		wanted = y.PerSheet
	}
	y.Over = y.PerSheet*y.Sheets - wanted
	sheet := float64(l.Sheet.W * l.Sheet.H)
	y.Area = sheet * float64(y.Sheets) / 1e6
	y.Waste = round(100*(1-float64(float64(piece.W*piece.H)*float64(wanted))/(sheet*float64(y.Sheets))), 2)
	return y
}

func round(v float64, digits int) float64 {
	p := math.Pow10(digits)
	return math.Round(v*p) / p
}

// microns is a length for the search.
func microns(mm float64) int { return int(math.Round(mm * 1000)) }

func millimetres(um int) float64 { return float64(um) / 1000 }

// Point is a place in mm.
type Point struct{ X, Y float64 }

// OnSheet carries a point of the upright piece (mm from its left top corner, y down) to the sheet.
func (p Place) OnSheet(u Point) Point {
	switch p.Rotate {
	case 90: // the piece's top points to the right
		return Point{p.X + p.W - u.Y, p.Y + u.X}
	case 180:
		return Point{p.X + p.W - u.X, p.Y + p.H - u.Y}
	case 270:
		return Point{p.X + u.Y, p.Y + p.H - u.X}
	}
	return Point{p.X + u.X, p.Y + u.Y}
}

// RectOnSheet carries a rectangle of the upright piece to the sheet.
func (p Place) RectOnSheet(r Rect) Rect {
	a, b := p.OnSheet(Point{r.X, r.Y}), p.OnSheet(Point{r.X + r.W, r.Y + r.H})
	return Rect{min(a.X, b.X), min(a.Y, b.Y), math.Abs(b.X - a.X), math.Abs(b.Y - a.Y)}
}

// uprightBleed is the place's bleed by the edges of the upright piece: left, top, right, bottom.
func (p Place) uprightBleed() [4]float64 {
	b := p.Bleed
	switch p.Rotate {
	case 90: // the piece's left edge lies at the top of the sheet, its top at the right
		return [4]float64{b[1], b[2], b[3], b[0]}
	case 180:
		return [4]float64{b[2], b[3], b[0], b[1]}
	case 270:
		return [4]float64{b[3], b[0], b[1], b[2]}
	}
	return b
}

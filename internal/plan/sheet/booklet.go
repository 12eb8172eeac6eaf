package sheet

import "math"

// Leaf is one folded sheet of a booklet: four pages, two on each side. Page 0 is an empty one at the end.
type Leaf struct {
	Signature int    `json:"signature"` // from 0
	Nest      int    `json:"nest"`      // sheets of its signature that lie around it; 0 = the outermost
	Front     [2]int `json:"front"`     // left and right page of the side that lies outside
	Back      [2]int `json:"back"`      // left and right page of the side that lies inside
}

// Booklet pairs pages on leaves that are folded once and nested, signature by signature. perSignature is how many pages
// one has, a multiple of four; 0 = all in one, as for saddle stitching. The pages are filled up to a multiple of
// four with empty ones at the end.
//
// The pages of leaf i of n (from the outside) of a signature with pages 1..4n are, outside, 4n-2i on the left and 2i+1
// on the right, inside, 2i+2 and 4n-2i-1: the two sums are always 4n+1.
func Booklet(pages, perSignature int) []Leaf {
	all := (pages + 3) / 4 * 4
	per := (perSignature + 3) / 4 * 4
	if per <= 0 || per > all {
		per = all
	}
	var out []Leaf
	for first, sig := 0, 0; first < all; first, sig = first+per, sig+1 {
		n := min(per, all-first)
		at := func(p int) int {
			if p += first; p <= pages {
				return p
			}
			return 0
		}
		for i := range n / 4 {
			out = append(out, Leaf{Signature: sig, Nest: i,
				Front: [2]int{at(n - 2*i), at(2*i + 1)}, Back: [2]int{at(2*i + 2), at(n - 2*i - 1)}})
		}
	}
	return out
}

// Creep is how far the pages of a leaf with so many leaves around it have to move towards the spine, in mm: every leaf
// around it takes up the thickness of the stock at the fold, and what sticks out at the fore edge is trimmed off.
func Creep(nest int, thickness float64) float64 { return float64(float64(nest) * thickness) }

// BookletPieces makes pieces of leaves, each the spread of two pages of a size; copies is how many booklets are
// wanted. Pages keep their bleed at the three outer edges; at the spine each ends.
func BookletPieces(leaves []Leaf, page Size, copies int, thickness float64) []Piece {
	var out []Piece
	for _, l := range leaves {
		creep := Creep(l.Nest, thickness)
		side := func(p [2]int) (parts []Part) {
			for k, n := range p {
				if n == 0 {
					continue
				}
				x := float64(k) * page.W
				shift := creep // the left page moves to the right, the right one to the left
				inner := 2
				if k == 1 {
					shift, inner = -creep, 0
				}
				part := Part{Page: n, Rect: Rect{x, 0, page.W, page.H}, Shift: shift}
				part.Cut[inner] = true
				parts = append(parts, part)
			}
			return parts
		}
		out = append(out, Piece{Name: leafName(l), Front: side(l.Front), Back: side(l.Back), Quantity: copies})
	}
	return out
}

func leafName(l Leaf) string {
	name := func(p int) string {
		if p == 0 {
			return "empty"
		}
		return itoa(p)
	}
	return name(l.Front[0]) + "/" + name(l.Front[1])
}

// Fold is how a piece is folded.
type Fold string

// The folds: once in the middle; twice the same way, with the panels that lie inside shorter; in three, the panel that
// is folded in shorter; in three, to and fro.
const (
	FoldSingle   Fold = "single"
	FoldParallel Fold = "parallel"
	FoldLetter   Fold = "letter"
	FoldZigzag   Fold = "zigzag"
)

// Panel is a part of a folded piece between two folds or edges: where it begins and how wide it is, in mm along
// the direction across the folds.
type Panel struct {
	From  float64 `json:"from"`
	Width float64 `json:"width"`
}

// Panels divides a length by a fold. tuck is how much shorter a panel is that lies inside another (1 mm is common
// practice, no source). The last panel of a letter fold, and the last two of a parallel fold, lie inside.
func Panels(f Fold, length, tuck float64) []Panel {
	var widths []float64
	switch f {
	case FoldSingle:
		widths = []float64{length / 2, length / 2}
	case FoldZigzag:
		widths = []float64{length / 3, length / 3, length / 3}
	case FoldLetter:
		a := (length + tuck) / 3
		widths = []float64{a, a, a - tuck}
	case FoldParallel:
		a := (length + 2*tuck) / 4
		widths = []float64{a, a, a - tuck, a - tuck}
	default:
		return nil
	}
	out := make([]Panel, len(widths))
	at := 0.0
	for i, w := range widths {
		out[i] = Panel{at, w}
		at += w
	}
	return out
}

// Segment is a line of the upright piece, in mm from its left top corner.
type Segment struct {
	A Point `json:"a"`
	B Point `json:"b"`
}

// FoldLines are the lines between panels that run along the height of the piece, or along its width.
func FoldLines(panels []Panel, piece Size, along Direction) (out []Segment) {
	for i := 1; i < len(panels); i++ {
		v := panels[i].From
		if along == AlongWidth {
			out = append(out, Segment{Point{0, v}, Point{piece.W, v}})
		} else {
			out = append(out, Segment{Point{v, 0}, Point{v, piece.H}})
		}
	}
	return out
}

// Envelope is an envelope with a flap along its top, a back that is folded up and two seams at its sides, which the
// back is glued on. All in mm; Size is the closed envelope.
type Envelope struct {
	Size
	Flap float64 // height of the flap
	Back float64 // height of the back; at most that of the envelope
	Seam float64 // width of each seam
	Gum  float64 // width of the gummed strip along the flap's edge
}

// Blank is the open flat size: flap, front and back on top of each other, seams on both sides.
func (e Envelope) Blank() Size { return Size{e.W + 2*e.Seam, e.Flap + e.H + e.Back} }

// Folds are the lines the blank is folded at.
func (e Envelope) Folds() []Segment {
	l, r, t, b := e.Seam, e.Seam+e.W, e.Flap, e.Flap+e.H
	return []Segment{{Point{l, t}, Point{r, t}}, {Point{l, b}, Point{r, b}}, {Point{l, t}, Point{l, b}}, {Point{r, t}, Point{r, b}}}
}

// Glue are the parts of the blank that must stay free of toner, on the side that is printed outside unless told
// otherwise: the two seams, and, inside, the gummed strip of the flap.
func (e Envelope) Glue() (seams []Rect, gum Rect) {
	seams = []Rect{{0, e.Flap, e.Seam, e.H}, {e.Seam + e.W, e.Flap, e.Seam, e.H}}
	return seams, Rect{e.Seam, 0, e.W, math.Min(e.Gum, e.Flap)}
}

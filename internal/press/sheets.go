package press

import (
	"fmt"
	"slices"
)

// SheetWish says how the pieces of a job are laid on sheets.
type SheetWish struct {
	Scheme   string         `yaml:"scheme,omitempty"`   // one-sided, sheet-wise, work-and-turn or work-and-tumble; left out: by the sides
	Sheet    *StockSheet    `yaml:"sheet,omitempty"`    // width across the feed, height along it; left out: the stock's sheets, else the press's largest
	Gutter   *Length        `yaml:"gutter,omitempty"`   // between the trims of neighbours; left out: twice the bleed
	Rotate   string         `yaml:"rotate,omitempty"`   // best (blocks of either way), same, none or quarter; left out: best
	Grain    string         `yaml:"grain,omitempty"`    // the fibres run along the width or the height of the piece; left out: either
	Repeat   int            `yaml:"repeat,omitempty"`   // pieces on a sheet at most; left out: as many as fit
	Marks    []string       `yaml:"marks,omitempty"`    // of crop, fold, register, bar and label, or none; left out: all
	Backs    string         `yaml:"backs,omitempty"`    // head (turned over by the side edge) or foot (by the top edge); left out: head
	Versions []SheetVersion `yaml:"versions,omitempty"` // left out: every set of pages of the artwork is one, of the job's quantity
	Records  *RecordWish    `yaml:"records,omitempty"`  // variable data: every record has pages of its own
	Booklet  *BookletWish   `yaml:"booklet,omitempty"`
	Fold     *FoldWish      `yaml:"fold,omitempty"`
	Envelope *EnvelopeWish  `yaml:"envelope,omitempty"`
}

// SheetVersion is one version of the piece, ganged with the others.
type SheetVersion struct {
	Name     string `yaml:"name"`
	Pages    []int  `yaml:"pages"`    // its page, or front and back, from 1
	Quantity int    `yaml:"quantity"` // finished pieces
}

// RecordWish tells variable data.
type RecordWish struct {
	Pages int    `yaml:"pages"`           // of each record: 1, or 2 for front and back
	Order string `yaml:"order,omitempty"` // sheet (record after record on a sheet) or stack (in order once the cut piles are laid on each other); left out: sheet
}

// BookletWish makes spreads of the pages, to be folded once and nested.
type BookletWish struct {
	Signature int     `yaml:"signature,omitempty"` // pages of one, a multiple of 4; left out: all pages in one, for saddle stitching
	Creep     *Length `yaml:"creep,omitempty"`     // for each leaf around; left out: the stock's thickness
}

// FoldWish says how the piece is folded; the folds get marks.
type FoldWish struct {
	Kind  string  `yaml:"kind"`            // single, parallel, letter or zigzag
	Along string  `yaml:"along,omitempty"` // the folds run along the height or the width of the piece; left out: height
	Tuck  *Length `yaml:"tuck,omitempty"`  // how much shorter a panel is that lies inside another; left out: 1mm
}

// EnvelopeWish says that the page is the open flat blank of an envelope: the flap on top, the front, the back below,
// a seam on each side of the front.
type EnvelopeWish struct {
	Width  Length `yaml:"width"`         // of the closed envelope
	Height Length `yaml:"height"`        // of the closed envelope
	Flap   Length `yaml:"flap"`          // height of the flap
	Back   Length `yaml:"back"`          // height of the back
	Seam   Length `yaml:"seam"`          // width of each seam, kept free of toner
	Gum    Length `yaml:"gum,omitempty"` // height of the gummed strip along the flap's edge, kept free of toner on the inside
}

// Words of sheets.
const (
	SchemeOneSided      = "one-sided"
	SchemeSheetWise     = "sheet-wise"
	SchemeWorkAndTurn   = "work-and-turn"
	SchemeWorkAndTumble = "work-and-tumble"

	RotateBest    = "best"
	RotateSame    = "same"
	RotateNone    = "none"
	RotateQuarter = "quarter"

	AlongWidth  = "width"
	AlongHeight = "height"

	BacksHead = "head"
	BacksFoot = "foot"

	OrderSheet = "sheet"
	OrderStack = "stack"

	FoldSingle   = "single"
	FoldParallel = "parallel"
	FoldLetter   = "letter"
	FoldZigzag   = "zigzag"

	MarksNone    = "none"
	MarkCrop     = "crop"
	MarkFold     = "fold"
	MarkRegister = "register"
	MarkBar      = "bar"
	MarkLabel    = "label"
)

func (s *source) sheetWish(w *SheetWish, j *Job) {
	const path = "sheets"
	s.oneOf(path+".scheme", w.Scheme, SchemeOneSided, SchemeSheetWise, SchemeWorkAndTurn, SchemeWorkAndTumble)
	s.oneOf(path+".rotate", w.Rotate, RotateBest, RotateSame, RotateNone, RotateQuarter)
	s.oneOf(path+".grain", w.Grain, AlongWidth, AlongHeight)
	s.oneOf(path+".backs", w.Backs, BacksHead, BacksFoot)
	if w.Sheet != nil {
		s.sheetSide(path+".sheet.width", w.Sheet.Width)
		s.sheetSide(path+".sheet.height", w.Sheet.Height)
		s.oneOf(path+".sheet.grain", w.Sheet.Grain, AlongWidth, AlongHeight)
	}
	if w.Gutter != nil && (*w.Gutter < 0 || *w.Gutter > 200) {
		s.errorAt(path+".gutter", "twice the bleed, or 6mm to 8mm, is usual", "a gutter of %v is not possible", *w.Gutter)
	}
	if w.Repeat < 0 {
		s.errorAt(path+".repeat", "write how many pieces a sheet may have, or leave it out", "%d pieces on a sheet are not possible", w.Repeat)
	}
	for i, m := range w.Marks {
		at := fmt.Sprintf("%s.marks[%d]", path, i)
		s.oneOf(at, m, MarkCrop, MarkFold, MarkRegister, MarkBar, MarkLabel, MarksNone)
		if m == MarksNone && len(w.Marks) > 1 {
			s.errorAt(at, "write [none], or the marks that are wanted", "none stands beside other marks")
		}
	}
	s.sheetContents(w, j, path)
	if f := w.Fold; f != nil {
		if f.Kind == "" {
			s.errorAt(path+".fold.kind", "single, parallel, letter or zigzag", "the kind of fold is not given")
		}
		s.oneOf(path+".fold.kind", f.Kind, FoldSingle, FoldParallel, FoldLetter, FoldZigzag)
		s.oneOf(path+".fold.along", f.Along, AlongWidth, AlongHeight)
		if f.Tuck != nil && (*f.Tuck < 0 || *f.Tuck > 20) {
			s.errorAt(path+".fold.tuck", "1mm is usual", "a panel cannot be %v shorter", *f.Tuck)
		}
	}
	if e := w.Envelope; e != nil {
		for _, d := range []struct {
			key string
			v   Length
		}{{"width", e.Width}, {"height", e.Height}, {"flap", e.Flap}, {"back", e.Back}, {"seam", e.Seam}} {
			s.sheetSide(path+".envelope."+d.key, d.v)
		}
		s.notNegative(path+".envelope.gum", e.Gum)
		if e.Back > e.Height {
			s.errorAt(path+".envelope.back", "the back ends at the flap's fold", "the back (%v) is higher than the envelope (%v)", e.Back, e.Height)
		}
	}
}

// sheetContents checks versions, records and booklet, of which a job has one.
func (s *source) sheetContents(w *SheetWish, j *Job, path string) {
	given := 0
	for _, g := range []bool{len(w.Versions) > 0, w.Records != nil, w.Booklet != nil} {
		if g {
			given++
		}
	}
	if given > 1 {
		s.errorAt(path, "keep one of them", "versions, records and booklet exclude each other")
	}
	for i := range w.Versions {
		v, at := &w.Versions[i], fmt.Sprintf("%s.versions[%d]", path, i)
		s.text(at+".name", v.Name)
		if len(v.Pages) < 1 || len(v.Pages) > 2 || slices.ContainsFunc(v.Pages, func(p int) bool { return p < 1 }) {
			s.errorAt(at+".pages", "write [1], or [1, 2] for front and back", "a version has one or two pages, counted from 1")
		}
		if v.Quantity < 1 || v.Quantity > mostQuantity {
			s.errorAt(at+".quantity", "write how many finished pieces are wanted", "a quantity of %d is not possible", v.Quantity)
		}
	}
	if r := w.Records; r != nil {
		if r.Pages < 1 || r.Pages > 2 {
			s.errorAt(path+".records.pages", "write 1, or 2 for front and back", "a record of %d pages is not possible", r.Pages)
		}
		s.oneOf(path+".records.order", r.Order, OrderSheet, OrderStack)
		if w.Scheme == SchemeWorkAndTurn || w.Scheme == SchemeWorkAndTumble {
			s.errorAt(path+".scheme", "use one-sided or sheet-wise", "%s prints every piece twice, which records cannot be", w.Scheme)
		}
	}
	if b := w.Booklet; b != nil {
		if b.Signature < 0 || b.Signature%4 != 0 {
			s.errorAt(path+".booklet.signature", "write a multiple of 4, as 16", "a signature of %d pages is not possible", b.Signature)
		}
		if b.Creep != nil && (*b.Creep < 0 || *b.Creep > 5) {
			s.errorAt(path+".booklet.creep", "the thickness of the stock is usual", "a creep of %v is not possible", *b.Creep)
		}
		if j.Sides == 1 {
			s.errorAt("sides", "write 2 or remove it", "a booklet has two sides")
		}
		if w.Backs == BacksFoot {
			s.errorAt(path+".backs", "write head or remove it", "the pages of a booklet that is folded at its side all have their heads up")
		}
	}
}

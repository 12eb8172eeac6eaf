package app

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover/sheets"
	"laydown/internal/instrument"
	"laydown/internal/plan/sheet"
	"laydown/internal/press"
)

// SheetsRequest asks for the pages of an artwork laid on sheets.
type SheetsRequest struct {
	File  string
	Setup *Setup // has a press
	Out   string // the PDF to write; "" = plan only
	// Passes are those of the whole job; nil = the best plan's.
	Passes []StackPass
	// Only is the pass, from 1, whose artwork the file is: its marks are drawn, and those of the other passes are left to
	// their files. 0 = the file is for all passes.
	Only     int
	Title    string // named on the sheets; "" = the file's name
	FailOn   finding.Severity
	Progress Progress
	Timer    *instrument.Timer
}

// SheetsOutcome is how the pieces are laid on sheets and what that takes.
type SheetsOutcome struct {
	File    string        `json:"file"`
	Out     string        `json:"out,omitempty"`
	Press   string        `json:"press"`
	Stock   string        `json:"stock,omitempty"`
	Piece   sheet.Size    `json:"piece_mm"`
	Bleed   float64       `json:"bleed_mm"`
	Gutter  float64       `json:"gutter_mm"`
	Wanted  int           `json:"wanted"` // finished pieces; 0 = not given
	Scheme  string        `json:"scheme"`
	Yield   SheetYield    `json:"chosen"`
	Others  []SheetYield  `json:"alternatives"`
	Pieces  []SheetPiece  `json:"pieces"`
	Forms   []sheet.Form  `json:"forms,omitempty"` // by piece
	Panels  []sheet.Panel `json:"panels,omitempty"`
	Leaves  []sheet.Leaf  `json:"leaves,omitempty"`
	Creep   float64       `json:"creep_mm,omitempty"` // for each leaf around
	Free    []sheet.Rect  `json:"toner_free_mm,omitempty"`
	Records *Records      `json:"records,omitempty"`
	Passes  []SheetPass   `json:"passes"`
	// Needed are the sheets that go in first, with what all passes spoil; 0 = quantity not given.
	Needed int `json:"sheets_needed,omitempty"`
	// Diagram shows the first sheet in characters.
	Diagram  string            `json:"diagram"`
	Written  *sheets.Result    `json:"written,omitempty"`
	Findings []finding.Finding `json:"findings"`
	Clean    bool              `json:"clean"` // no finding at or above the level asked for

	plan *sheet.Plan
	came [][]int // sheets out of each pass, by stack
}

// SheetYield is one way to lay the pieces on a sheet.
type SheetYield struct {
	Sheet sheet.Stock `json:"sheet"`
	Kind  string      `json:"layout"`
	sheet.Yield
	Note string `json:"note,omitempty"`
}

// SheetPiece is a version, or a leaf of a booklet.
type SheetPiece struct {
	Name     string `json:"name"`
	Front    []int  `json:"front"`
	Back     []int  `json:"back,omitempty"`
	Quantity int    `json:"quantity"`
}

// SheetPass is one time of the stack through the press. Front and Back are what is laid there, on whatever sheet.
type SheetPass struct {
	Set    string   `json:"set"`
	Toners []string `json:"toners"`
	Front  []string `json:"front,omitempty"`
	Back   []string `json:"back,omitempty"`
	In     int      `json:"sheets_in,omitempty"` // with what is spoilt from here on; 0 = quantity not given
	Out    int      `json:"sheets_out,omitempty"`
}

// Sheets lays the pages of an artwork on sheets and writes the imposed PDF. The error is a *CannotError, or ctx's; no
// file is left half written.
func Sheets(ctx context.Context, req SheetsRequest) (*SheetsOutcome, error) {
	if req.Setup == nil || req.Setup.Press == nil {
		return nil, cannot(nil, "name one with --press or a job with --job", "sheets are those of a press, and none was named")
	}
	if req.Out != "" {
		if err := singleOutput(req.File, req.Out); err != nil {
			return nil, err
		}
	}
	if n := len(req.Passes); req.Only < 0 || req.Only > n && req.Only > 0 {
		return nil, cannot(nil, fmt.Sprintf("name one of 1 to %d", n), "there is no pass %d", req.Only)
	}
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	m := &imposer{req: req, s: req.Setup, art: art, sink: &finding.Collector{}, out: &SheetsOutcome{File: art.Name(), Press: req.Setup.Press.Name}}
	if err := m.run(ctx); err != nil {
		return nil, err
	}
	return m.out, nil
}

// imposer carries one request out.
type imposer struct {
	req  SheetsRequest
	s    *Setup
	art  *Artwork
	sink *finding.Collector
	out  *SheetsOutcome
	wish press.SheetWish
	job  sheet.Job
}

func (m *imposer) run(ctx context.Context) error {
	if m.s.Stock != nil {
		m.out.Stock = m.s.Stock.Name
	}
	if m.s.Job != nil && m.s.Job.Sheets != nil {
		m.wish = *m.s.Job.Sheets
	}
	if err := m.plan(); err != nil {
		return err
	}
	plan, err := sheet.New(m.job)
	if err != nil {
		return m.noPlan(err)
	}
	m.describe(plan)
	seen, err := m.look(ctx, plan)
	if err != nil {
		return err
	}
	passes := m.passes(seen)
	m.feed(plan, seen.passes)
	if m.req.Out != "" {
		if err := m.write(ctx, plan, passes, seen); err != nil {
			return err
		}
	}
	m.out.Findings = append(append(m.out.Findings, m.sink.Sorted()...), m.art.Findings.Sorted()...)
	finding.Sort(m.out.Findings)
	m.out.Clean = !slices.ContainsFunc(m.out.Findings, func(f finding.Finding) bool { return f.Severity >= m.req.FailOn || f.Incomplete })
	if m.out.Findings == nil {
		m.out.Findings = []finding.Finding{}
	}
	return nil
}

func (m *imposer) write(ctx context.Context, plan *sheet.Plan, passes []sheets.Pass, seen *pagesSeen) error {
	defer m.req.Timer.Start("write sheets")()
	m.out.Out = m.req.Out
	title := m.req.Title
	if title == "" {
		title = m.art.Name()
	}
	dark := m.s.Stock != nil && m.s.Stock.Front[0] < darkStock
	return writeFile(m.req.Out, func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 1<<18)
		r, err := sheets.Write(ctx, b, sheets.Job{Doc: m.art.Doc, Plan: plan, Passes: passes, Only: m.req.Only, Dark: dark, Title: title,
			Blends: func(n int) bool { return seen.blends[n] }, Sink: m.sink,
			Progress: func(done, total int) { m.req.Progress.tell("sheet", done, total) }})
		if ctx.Err() != nil {
			return &CannotError{What: "stopped", Err: ctx.Err()}
		}
		if err != nil {
			return err
		}
		m.out.Written = r
		return b.Flush()
	})
}

// darkStock is the L* below which black lines do not show: common practice, no source.
const darkStock = 45

// noPlan tells why nothing fits.
func (m *imposer) noPlan(err error) error {
	p := m.job.Piece
	edge, strip := m.job.Marks.Room(m.job.Bleed)
	switch {
	case errors.Is(err, sheet.ErrGrain):
		return cannot(err, "leave out the key grain of sheets, or take sheets whose grain runs the other way", "the piece of %g × %g mm fits only with the fibres running the other way than asked for", p.W, p.H)
	case errors.Is(err, sheet.ErrNoFit):
		remedy := "take a larger sheet or a press that has one"
		if edge+strip > 0 {
			remedy += fmt.Sprintf(", or leave out marks (they take %g mm at each edge and %g mm along the trail edge, bleed included)", edge, strip)
		}
		return cannot(err, remedy, "the piece of %g × %g mm fits on none of the sheets", p.W, p.H)
	}
	var f *sheet.Fault
	if errors.As(err, &f) {
		return cannot(err, f.Remedy, "%s", f.What)
	}
	return cannot(err, "correct the key sheets of the job", "%v", err)
}

// trimMM is the trimmed size of a page as viewed, in mm.
func (m *imposer) trimMM(n int) (sheet.Size, error) {
	pg, err := m.art.Doc.Page(n)
	if err != nil {
		return sheet.Size{}, noPage(n, m.art.Doc.NumPages())
	}
	b := pg.CropBox
	if pg.TrimBox != nil {
		b = *pg.TrimBox
	}
	s := sheet.Size{W: millimetres((b[2] - b[0]) * pg.UserUnit), H: millimetres((b[3] - b[1]) * pg.UserUnit)}
	if pg.Rotate%180 == 90 {
		s = s.Turned()
	}
	return s, nil
}

// millimetres of points, to hundredths: boxes are seldom exact.
func millimetres(pt float64) float64 {
	return float64(int(pt/geom.PointsPerMM*100+0.5)) / 100
}

// plan turns the job's wishes into numbers.
func (m *imposer) plan() error {
	p, w, j := m.s.Press, &m.wish, &m.job
	first, err := m.trimMM(1)
	if err != nil {
		return err
	}
	j.Piece = first
	if job := m.s.Job; job != nil {
		j.Bleed = float64(job.Bleed)
		if job.Finished != nil {
			j.Piece = sheet.Size{W: float64(job.Finished.Width), H: float64(job.Finished.Height)}
		}
	}
	j.Gutter = 2 * j.Bleed
	if w.Gutter != nil {
		j.Gutter = float64(*w.Gutter)
	}
	j.Grain, j.Scheme, j.Rotate, j.Most = sheet.Direction(w.Grain), sheet.Scheme(w.Scheme), sheet.Rotation(w.Rotate), w.Repeat
	j.FootBack = w.Backs == press.BacksFoot
	mg := p.Sheet.Margins
	j.Margins = sheet.Margins{Lead: float64(mg.Lead), Trail: float64(mg.Trail), Side: float64(mg.Side)}
	if j.Sheets, err = m.sheets(); err != nil {
		return err
	}
	j.Marks = sheet.AllMarks
	if w.Marks != nil {
		has := func(k string) bool { return slices.Contains(w.Marks, k) }
		j.Marks = sheet.Choice{Crop: has(press.MarkCrop), Fold: has(press.MarkFold), Register: has(press.MarkRegister), Bar: has(press.MarkBar), Label: has(press.MarkLabel)}
	}
	if err := m.pieces(); err != nil {
		return err
	}
	m.folds()
	return nil
}

// sheets lists the sheets that can be taken: the one asked for, else the stock's that go through the press, else the
// press's largest.
func (m *imposer) sheets() ([]sheet.Stock, error) {
	largest := m.s.Press.Sheet
	fits := func(s press.StockSheet) (sheet.Stock, bool) {
		out := sheet.Stock{Size: sheet.Size{W: float64(s.Width), H: float64(s.Height)}, Grain: sheet.Direction(s.Grain)}
		const eps = 0.01
		through := func(w, h press.Length) bool { return w <= largest.Width+eps && h <= largest.Height+eps }
		if through(s.Width, s.Height) {
			return out, true
		}
		out.Size = out.Size.Turned()
		switch out.Grain {
		case sheet.AlongWidth:
			out.Grain = sheet.AlongHeight
		case sheet.AlongHeight:
			out.Grain = sheet.AlongWidth
		}
		return out, through(s.Height, s.Width)
	}
	if a := m.wish.Sheet; a != nil {
		s, ok := fits(*a)
		if !ok {
			return nil, cannot(nil, fmt.Sprintf("the largest is %g × %g mm", float64(largest.Width), float64(largest.Height)),
				"a sheet of %g × %g mm does not go through the press %s", float64(a.Width), float64(a.Height), m.s.Press.Name)
		}
		if s.Grain == "" && m.s.Stock != nil {
			for _, k := range m.s.Stock.Sheets {
				if k.Width == a.Width && k.Height == a.Height {
					s, _ = fits(k)
				}
			}
		}
		return []sheet.Stock{s}, nil
	}
	var out []sheet.Stock
	if m.s.Stock != nil {
		for _, k := range m.s.Stock.Sheets {
			if s, ok := fits(k); ok {
				out = append(out, s)
			}
		}
		if len(out) == 0 && len(m.s.Stock.Sheets) > 0 {
			return nil, cannot(nil, "give a sheet cut down from them with the key sheet of sheets", "none of the sheets of %s goes through the press %s", m.s.Stock.Name, m.s.Press.Name)
		}
	}
	if len(out) == 0 {
		out = append(out, sheet.Stock{Size: sheet.Size{W: float64(largest.Width), H: float64(largest.Height)}})
	}
	return out, nil
}

// pieces works out what stands on each piece.
func (m *imposer) pieces() error {
	j, w, pages, quantity, sides := &m.job, &m.wish, m.art.Doc.NumPages(), 0, 0
	if m.s.Job != nil {
		quantity, sides = m.s.Job.Quantity, m.s.Job.Sides
	}
	m.out.Wanted = quantity
	piece := func(name string, front, back, n int) sheet.Piece {
		return sheet.Piece{Name: name, Front: sheet.OnePage(front, j.Piece), Back: sheet.OnePage(back, j.Piece), Quantity: n}
	}
	switch {
	case w.Booklet != nil:
		m.booklet(pages, quantity)
	case w.Records != nil:
		each := w.Records.Pages
		if pages%each != 0 {
			return cannot(nil, "correct the key pages of records, or the artwork", "%d pages are no whole number of records of %d", pages, each)
		}
		j.Records, j.Each, j.Order = pages/each, each, sheet.Order(w.Records.Order)
		m.out.Wanted = j.Records
		j.Pieces = []sheet.Piece{piece("record", 1, []int{0, 0, 2}[each], 1)}
	case len(w.Versions) > 0:
		m.out.Wanted = 0
		for _, v := range w.Versions {
			back := 0
			if len(v.Pages) > 1 {
				back = v.Pages[1]
			}
			for _, n := range v.Pages {
				if n > pages {
					return cannot(nil, pagesText(pages), "the version %q has page %d, which is not there", v.Name, n)
				}
			}
			m.out.Wanted += v.Quantity
			j.Pieces = append(j.Pieces, piece(v.Name, v.Pages[0], back, v.Quantity))
		}
	default:
		if sides == 0 {
			sides = min(pages, 2)
		}
		for n := 1; n <= pages; n += sides {
			back := 0
			if sides == 2 && n < pages {
				back = n + 1
			}
			j.Pieces = append(j.Pieces, piece(fmt.Sprint(len(j.Pieces)+1), n, back, quantity))
		}
		m.out.Wanted *= len(j.Pieces)
		if len(j.Pieces) > 1 {
			m.sink.Add(finding.Finding{ID: "pages-taken-as-versions", Severity: finding.Note,
				What:   fmt.Sprintf("The artwork has %d pages; every %s is taken as a version of the piece.", pages, []string{"", "page", "two"}[sides]),
				Remedy: "Say with the keys versions, records or booklet of sheets what they are."})
		}
	}
	for _, p := range j.Pieces {
		s := SheetPiece{Name: p.Name, Quantity: p.Quantity}
		for _, part := range p.Front {
			s.Front = append(s.Front, part.Page)
		}
		for _, part := range p.Back {
			s.Back = append(s.Back, part.Page)
		}
		m.out.Pieces = append(m.out.Pieces, s)
	}
	return nil
}

// booklet makes spreads of the pages.
func (m *imposer) booklet(pages, quantity int) {
	b, j := m.wish.Booklet, &m.job
	switch {
	case b.Creep != nil:
		m.out.Creep = float64(*b.Creep)
	case m.s.Stock != nil && m.s.Stock.Thickness > 0:
		m.out.Creep = float64(m.s.Stock.Thickness)
	default:
		m.sink.Add(finding.Finding{ID: "creep-not-known", Severity: finding.Note, What: "The thickness of the stock is not given, so the pages of inner leaves are not moved towards the spine.",
			Remedy: "Give thickness in the stock, or creep in the booklet of the job."})
	}
	m.out.Leaves = sheet.Booklet(pages, b.Signature)
	page := j.Piece
	j.Pieces = sheet.BookletPieces(m.out.Leaves, page, max(quantity, 1), m.out.Creep)
	j.Piece = sheet.Size{W: 2 * page.W, H: page.H}
	j.Folds = []sheet.Segment{{A: sheet.Point{X: page.W}, B: sheet.Point{X: page.W, Y: page.H}}}
	m.out.Wanted = quantity * len(j.Pieces)
	if empty := len(m.out.Leaves)*4 - pages; empty > 0 {
		m.sink.Add(finding.Finding{ID: "booklet-filled-up", Severity: finding.Note, What: fmt.Sprintf("%d pages make no whole leaves; %d at the end stay empty.", pages, empty)})
	}
}

// folds works out where the piece is folded and what has to stay free of toner.
func (m *imposer) folds() {
	j, w := &m.job, &m.wish
	if f := w.Fold; f != nil {
		along := sheet.AlongHeight
		length := j.Piece.W
		if f.Along == press.AlongWidth {
			along, length = sheet.AlongWidth, j.Piece.H
		}
		tuck := 1.0
		if f.Tuck != nil {
			tuck = float64(*f.Tuck)
		}
		m.out.Panels = sheet.Panels(sheet.Fold(f.Kind), length, tuck)
		j.Folds = append(j.Folds, sheet.FoldLines(m.out.Panels, j.Piece, along)...)
	}
	if m.s.Job != nil {
		for _, z := range m.s.Job.Zones {
			if z.Kind == press.ZoneFold && z.Page <= 1 && (z.Width == 0) != (z.Height == 0) {
				a := sheet.Point{X: float64(z.Left), Y: float64(z.Top)}
				s := sheet.Segment{A: a, B: sheet.Point{X: a.X + float64(z.Width), Y: a.Y + float64(z.Height)}}
				if !slices.Contains(j.Folds, s) {
					j.Folds = append(j.Folds, s)
				}
			}
		}
	}
	if e := m.envelope(); e != nil {
		j.Folds = append(j.Folds, e.Folds()...)
		seams, _ := e.Glue()
		m.out.Free = seams
		if b := e.Blank(); b.W-j.Piece.W > 0.5 || j.Piece.W-b.W > 0.5 || b.H-j.Piece.H > 0.5 || j.Piece.H-b.H > 0.5 {
			m.sink.Add(finding.Finding{ID: "envelope-blank-size", Severity: finding.Error,
				What:   fmt.Sprintf("The open envelope is %g × %g mm, the page %g × %g mm.", b.W, b.H, j.Piece.W, j.Piece.H),
				Why:    "It would not fold to the size asked for.",
				Remedy: "Correct the envelope of the job, or the page size."})
		}
	}
}

func (m *imposer) envelope() *sheet.Envelope {
	e := m.wish.Envelope
	if e == nil {
		return nil
	}
	return &sheet.Envelope{Size: sheet.Size{W: float64(e.Width), H: float64(e.Height)}, Flap: float64(e.Flap), Back: float64(e.Back), Seam: float64(e.Seam), Gum: float64(e.Gum)}
}

// describe fills in what the plan says.
func (m *imposer) describe(p *sheet.Plan) {
	o := m.out
	o.plan = p
	o.Piece, o.Bleed, o.Gutter, o.Scheme = p.Job.Piece, p.Job.Bleed, p.Job.Gutter, string(p.Layout.Scheme)
	for _, a := range p.Alternatives {
		y := SheetYield{Sheet: a.Sheet, Kind: a.Kind, Yield: a.Yield, Note: a.Note}
		if a.Chosen {
			o.Yield = y
			continue
		}
		o.Others = append(o.Others, y)
	}
	if o.Others == nil {
		o.Others = []SheetYield{}
	}
	o.Forms = p.Forms
	var version func(int) int
	if len(p.Job.Pieces) > 1 || p.Job.Records > 0 {
		version = func(k int) int { return p.Version(0, k) }
	}
	o.Diagram = p.Layout.Diagram(44, version)
	if o.Yield.Note != "" {
		m.sink.Add(finding.Finding{ID: "grain-not-known", Severity: finding.Note, What: "The piece asks for a grain direction, and that of the sheet is not given.",
			Remedy: "Give grain with the sheets of the stock, or ask the print provider."})
	}
	for _, f := range p.Job.Folds {
		m.acrossGrain(p, f)
	}
}

// acrossGrain tells folds that run across the fibres.
func (m *imposer) acrossGrain(p *sheet.Plan, f sheet.Segment) {
	g := p.Layout.Sheet.Grain
	if g == "" || len(p.Layout.Places) == 0 {
		return
	}
	a, b := p.Layout.Places[0].OnSheet(f.A), p.Layout.Places[0].OnSheet(f.B)
	if along := a.X == b.X; along == (g == sheet.AlongHeight) {
		return
	}
	m.sink.Add(finding.Finding{ID: "fold-across-grain", Severity: finding.Note, What: "A fold runs across the fibres of the sheet.",
		Why: "Toner and board crack more easily there.", Remedy: "Crease before folding, or ask for the grain along the fold with the key grain of sheets."})
}

// SheetsName is how the imposed file of an artwork is called when nobody says.
func SheetsName(file string) string {
	base := filepath.Base(file)
	return strings.TrimSuffix(base, filepath.Ext(base)) + "-sheets.pdf"
}

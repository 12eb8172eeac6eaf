package app

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// DiffRequest says how two artworks are compared.
type DiffRequest struct {
	Setup     *Setup // the same for both, its password too; nil = no press and no job
	Pages     string
	DPI       float64 // 0 = DefaultDPI
	Box       Box     // "" = crop
	AsViewer  bool
	Threshold float64 // percent of full tint up to which two tints count as the same
	Out       string  // folder for pictures of what differs; "" = none
	Name      string  // what the second file is called; "" = its own name
	Sheets    bool    // also of the printed sheets beside each other
	Progress  Progress
	Timer     *instrument.Timer
}

// DiffResult is what two artworks have different. "a" is the first file, "b" the second.
type DiffResult struct {
	FileA     string  `json:"file_a"`
	FileB     string  `json:"file_b"`
	DPI       float64 `json:"dpi"`
	Threshold float64 `json:"threshold_percent"`
	PagesA    int     `json:"pages_a"`
	PagesB    int     `json:"pages_b"`
	// Identical means that the files are the same byte for byte.
	Identical bool `json:"identical"`
	// Same means as many pages, of the same sizes and trims, with the same plates.
	Same bool `json:"same"`
	// Complete is false when something of either file could not be drawn as written, so that differences may have
	// gone unseen. Between identical files nothing can.
	Complete bool       `json:"complete"`
	Pages    []DiffPage `json:"pages"`
	// Findings of reading and painting that only one of the files has.
	FindingsA []finding.Finding `json:"findings_only_a"`
	FindingsB []finding.Finding `json:"findings_only_b"`
	Index     string            `json:"index,omitempty"` // the page that shows the pictures, in Out
}

// Where a page or a colourant is.
const (
	InBoth = "both"
	InA    = "a"
	InB    = "b"
)

// DiffPage compares one page.
type DiffPage struct {
	Page       int    `json:"page"`
	In         string `json:"in"`          // InBoth, InA or InB
	Same       bool   `json:"same"`        // plates, sizes and trims
	PlatesSame bool   `json:"plates_same"` // where both pages have something
	SizeA      SizeMM `json:"size_a_mm"`   // of the box compared
	SizeB      SizeMM `json:"size_b_mm"`
	// TrimA and TrimB are the trims, in millimetres from the top left corner of the box compared.
	TrimA  finding.BoxMM `json:"trim_a"`
	TrimB  finding.BoxMM `json:"trim_b"`
	Plates []DiffPlate   `json:"plates"`
	// Boxes hold all that differs, of all colourants.
	Boxes   []finding.BoxMM `json:"boxes"`
	Picture string          `json:"picture,omitempty"` // in Out
	Sheets  string          `json:"sheets,omitempty"`  // both printed sheets beside each other, in Out
}

// SizeMM is a width and a height in millimetres.
type SizeMM struct {
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// DiffPlate compares one colourant on one page. Percentages of tint are of full tint; a colourant that one file lacks
// counts as one without toner there.
type DiffPlate struct {
	Colourant string  `json:"colourant"`
	In        string  `json:"in"`    // InBoth, InA or InB
	Toner     string  `json:"toner"` // where there is toner: InBoth, InA, InB or ""
	Same      bool    `json:"same"`
	Pixels    int64   `json:"pixels"`        // that differ by more than the threshold
	Share     float64 `json:"share_percent"` // of the page
	Worst     float64 `json:"worst_percent"` // largest difference of any pixel
	// WorstAt is the middle of the first pixel that differs that much, in millimetres from the trim's top left corner.
	WorstAt *PointMM        `json:"worst_at_mm,omitempty"`
	Mean    float64         `json:"mean_percent"` // over the page
	Boxes   []finding.BoxMM `json:"boxes"`        // mm from the trim of the first file
	// Twin is the other file's colourant whose plate is the very same, as after a change of name.
	Twin    string `json:"twin,omitempty"`
	Picture string `json:"picture,omitempty"` // in Out
}

// PointMM is a place in millimetres from the trim's top left corner, y down.
type PointMM struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Diff separates two artworks and compares their plates page by page and colourant by colourant. Both pages are
// painted together, band by band. The error is a *CannotError, or ctx's.
func Diff(ctx context.Context, a, b string, req DiffRequest) (*DiffResult, error) {
	artA, err := req.Setup.Open(a)
	if err != nil {
		return nil, err
	}
	defer artA.Close()
	artB, err := req.Setup.Open(b)
	if err != nil {
		return nil, err
	}
	defer artB.Close()
	return DiffArtwork(ctx, artA, artB, req)
}

// DiffArtwork is Diff on open files.
func DiffArtwork(ctx context.Context, a, b *Artwork, req DiffRequest) (*DiffResult, error) {
	if req.DPI == 0 {
		req.DPI = DefaultDPI
	}
	if req.Setup == nil {
		s, err := NewSetup(SetupOptions{})
		if err != nil {
			return nil, err
		}
		req.Setup = s
	}
	d := &differ{req: req, a: a, b: b, limit: int(math.Floor(req.Threshold*255/100 + 1e-9))}
	res, err := d.run(ctx)
	if err != nil {
		d.results.undo()
		return nil, err
	}
	return res, nil
}

// differ compares the pages of one request.
type differ struct {
	req     DiffRequest
	a, b    *Artwork
	limit   int // of tints, 0..255
	results results
	foundA  []finding.Finding
	foundB  []finding.Finding
	// guard, when not nil, looks at the plates of a page along with the comparison.
	guard func(page int, pair *sheetPair) plate.PairSink
}

func (d *differ) run(ctx context.Context) (*DiffResult, error) {
	req := d.req
	res := &DiffResult{FileA: d.a.Name(), FileB: d.b.Name(), DPI: req.DPI, Threshold: req.Threshold, Pages: []DiffPage{},
		PagesA: d.a.Doc.NumPages(), PagesB: d.b.Doc.NumPages()}
	if req.Name != "" {
		res.FileB = req.Name
	}
	pages, err := ParsePages(req.Pages, max(res.PagesA, res.PagesB))
	if err != nil {
		return nil, err
	}
	if req.Out != "" {
		if err := d.results.folder(req.Out); err != nil {
			return nil, err
		}
	}
	res.Same = true
	for i, n := range pages {
		req.Progress.tell("page", i, len(pages))
		p, err := d.page(ctx, n, n <= res.PagesA, n <= res.PagesB)
		if err != nil {
			return nil, err
		}
		res.Same = res.Same && p.Same
		res.Pages = append(res.Pages, *p)
	}
	req.Progress.tell("page", len(pages), len(pages))
	d.foundA = append(d.foundA, d.a.Findings.Sorted()...)
	d.foundB = append(d.foundB, d.b.Findings.Sorted()...)
	if res.Identical, err = sameBytes(d.a.file, d.b.file); err != nil {
		return nil, cannot(err, "", "the files cannot be read: %v", plainCause(err))
	}
	res.Complete = res.Identical || !slices.ContainsFunc(slices.Concat(d.foundA, d.foundB), func(f finding.Finding) bool { return f.Incomplete })
	res.FindingsA, res.FindingsB = onlyIn(d.foundA, d.foundB), onlyIn(d.foundB, d.foundA)
	if req.Out != "" && !res.Same {
		if err := d.writeIndex(res); err != nil {
			return nil, err
		}
	}
	return res, nil
}

// sameBytes reports whether two files hold the same.
func sameBytes(a, b *os.File) (bool, error) {
	stA, err := a.Stat()
	if err != nil {
		return false, err
	}
	stB, err := b.Stat()
	if err != nil {
		return false, err
	}
	if stA.Size() != stB.Size() {
		return false, nil
	}
	if os.SameFile(stA, stB) {
		return true, nil
	}
	const chunk = 1 << 16
	bufA, bufB := make([]byte, chunk), make([]byte, chunk)
	for at := int64(0); at < stA.Size(); at += chunk {
		n := min(chunk, stA.Size()-at)
		if _, err := a.ReadAt(bufA[:n], at); err != nil {
			return false, err
		}
		if _, err := b.ReadAt(bufB[:n], at); err != nil {
			return false, err
		}
		if !bytes.Equal(bufA[:n], bufB[:n]) {
			return false, nil
		}
	}
	return true, nil
}

// onlyIn are the findings that say something none of the others says. Object numbers and offsets may change
// when a file is saved anew and do not count.
func onlyIn(fs, others []finding.Finding) []finding.Finding {
	key := func(f finding.Finding) string { return fmt.Sprintf("%s|%d|%s", f.ID, f.Place.Page, f.What) }
	have := map[string]bool{}
	for _, f := range others {
		have[key(f)] = true
	}
	out := []finding.Finding{}
	for _, f := range fs {
		if !have[key(f)] {
			out = append(out, f)
		}
	}
	finding.Sort(out)
	return out
}

// page compares page n, which may be in one file only.
func (d *differ) page(ctx context.Context, n int, inA, inB bool) (*DiffPage, error) {
	p := &DiffPage{Page: n, In: InBoth, Plates: []DiffPlate{}, Boxes: []finding.BoxMM{}}
	switch {
	case !inB:
		p.In = InA
		return p, nil
	case !inA:
		p.In = InB
		return p, nil
	}
	options := ReadOptions{AsViewer: d.req.AsViewer, Timer: d.req.Timer}
	shA, err := d.a.Read(ctx, d.req.Setup, n, options)
	if err != nil {
		return nil, err
	}
	shB, err := d.b.Read(ctx, d.req.Setup, n, options)
	if err != nil {
		return nil, err
	}
	pair := &sheetPair{a: shA, b: shB, regionA: d.req.Box.Region(&shA.List.Page), regionB: d.req.Box.Region(&shB.List.Page),
		dpi: d.req.DPI, timer: d.req.Timer}
	p.SizeA, p.SizeB = sizeMM(pair.regionA), sizeMM(pair.regionB)
	p.TrimA, p.TrimB = boxIn(pair.regionA, shA.List.Page.Trim), boxIn(pair.regionB, shB.List.Page.Trim)
	for _, region := range []geom.Rect{pair.regionA, pair.regionB} {
		if err := checkSize(region, d.req.DPI); err != nil {
			return nil, err
		}
	}
	c := &plate.Comparison{Limit: d.limit}
	var sink plate.PairSink = c
	if d.guard != nil {
		sink = pairSinks{c, d.guard(n, pair)}
	}
	if err := pair.walk(ctx, sink, false); err != nil {
		return nil, err
	}
	p.tell(c, pair)
	p.PlatesSame = len(c.Boxes) == 0
	p.Same = p.PlatesSame && p.SizeA == p.SizeB && p.TrimA == p.TrimB
	d.foundA = append(d.foundA, shA.Findings.Sorted()...)
	d.foundB = append(d.foundB, shB.Findings.Sorted()...)
	if d.req.Out != "" && len(p.Boxes) > 0 {
		if err := d.pictures(ctx, p, c, pair); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// sheetPair is the same page of two artworks.
type sheetPair struct {
	a, b             *Sheet
	regionA, regionB geom.Rect
	dpi              float64
	timer            *instrument.Timer
}

// walk paints both pages together into sink. Findings are told once, in the first walk.
func (s *sheetPair) walk(ctx context.Context, sink plate.PairSink, again bool) error {
	workers := (runtime.GOMAXPROCS(0) + 1) / 2
	painter := func(sh *Sheet, region geom.Rect) func(plate.Sink) error {
		job := sh.paintJob(region, s.dpi, s.timer)
		job.Workers = workers
		if again {
			job.Sink = finding.Discard
		}
		return func(out plate.Sink) error { return paint.Render(ctx, job, out) }
	}
	err := plate.Walk(painter(s.a, s.regionA), painter(s.b, s.regionB), sink)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		return cannot(err, "compare the other pages with --pages", "page %d cannot be compared: %v", s.a.Number, err)
	}
	return nil
}

// tell fills in what a comparison measured.
func (p *DiffPage) tell(c *plate.Comparison, s *sheetPair) {
	px := 25.4 / s.dpi
	trim := s.a.List.Page.Trim
	left, top := (s.regionA.X0-trim.X0)/geom.PointsPerMM, (s.regionA.Y0-trim.Y0)/geom.PointsPerMM
	at := func(x, y float64) PointMM { return PointMM{X: round2(left + x*px), Y: round2(top + y*px)} }
	p.Boxes = boxesMM(c.Boxes, at)
	for i := range c.Plates {
		q := &c.Plates[i]
		e := DiffPlate{Colourant: q.Name, In: inWhich(q.IndexA >= 0, q.IndexB >= 0), Toner: inWhich(q.TonerA, q.TonerB), Same: q.Pixels == 0,
			Pixels: q.Pixels, Share: roundTo(float64(q.Pixels)*100/float64(q.Compared), 1e6), Worst: roundTo(float64(q.Worst)/2.55, 100),
			Mean: roundTo(q.Mean/2.55, 1e6), Boxes: boxesMM(q.Boxes, at)}
		if q.Worst > 0 {
			place := at(float64(q.WorstAt.X)+.5, float64(q.WorstAt.Y)+.5)
			e.WorstAt = &place
		}
		if q.Twin >= 0 {
			e.Twin = c.Plates[q.Twin].Name
		}
		p.Plates = append(p.Plates, e)
	}
}

func inWhich(a, b bool) string {
	switch {
	case a && b:
		return InBoth
	case a:
		return InA
	case b:
		return InB
	}
	return ""
}

func sizeMM(r geom.Rect) SizeMM {
	return SizeMM{round2(r.W() / geom.PointsPerMM), round2(r.H() / geom.PointsPerMM)}
}

func boxIn(outer, r geom.Rect) finding.BoxMM {
	return finding.BoxMM{X: round2((r.X0 - outer.X0) / geom.PointsPerMM), Y: round2((r.Y0 - outer.Y0) / geom.PointsPerMM),
		W: round2(r.W() / geom.PointsPerMM), H: round2(r.H() / geom.PointsPerMM)}
}

func round2(v float64) float64 { return roundTo(v, 100) }

// roundTo rounds to parts of 1/parts and never gives a negative zero.
func roundTo(v, parts float64) float64 { return math.Round(v*parts)/parts + 0 }

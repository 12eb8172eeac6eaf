package app

import (
	"bufio"
	"context"
	"crypto/sha256"
	"fmt"
	"image"
	"io"
	"maps"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"time"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/handover/pdfpage"
	"laydown/internal/handover/proof"
	"laydown/internal/instrument"
	"laydown/internal/look"
	"laydown/internal/press"
)

// ProofRequest asks for the document a customer looks at and signs.
type ProofRequest struct {
	File     string
	Setup    *Setup
	JobName  string // what the job is called; "" = not said
	Out      string // PDF
	Pages    string // as ParsePages; "" = all. Of more than mostShown, all are shown small and some of them in full
	DPI      float64
	FailOn   finding.Severity // from which findings make it not clean
	Made     time.Time        // when it is made; the zero value says nothing of it on paper, and dates the file as the artwork is
	Progress Progress
	Timer    *instrument.Timer
}

// ProofResult tells what the proof shows.
type ProofResult struct {
	Out string `json:"out"`
	*Outcome
	Sheets []ProofPage `json:"sheets"`
}

// ProofPage is one page of the artwork in the proof.
type ProofPage struct {
	Page   int          `json:"page"`
	DPI    float64      `json:"dpi"`    // of the pictures
	Angles []string     `json:"angles"` // at which it is shown
	Plates []ProofPlate `json:"plates"` // in laydown order
}

// ProofPlate is one plate, its coverage in percent over the trim: mean tint, area with toner, largest tint.
type ProofPlate struct {
	Colourant string  `json:"colourant"`
	Coverage  float64 `json:"coverage"`
	Area      float64 `json:"area"`
	Most      float64 `json:"most"`
}

// proofTilts hold the sheet so that the viewer is 15, 45 and 110 degrees from the mirror direction of the lamp: metals are
// at their brightest, as an instrument sees them, and at their darkest (three of the angles of look.StripTilts).
var proofTilts = []float64{15, 0, -32.5}

// Bounds on the pictures of a proof along their longer side, pixels.
const (
	proofPixels       = 3000
	proofPixelsOfMany = 1500
	proofPlatePixels  = 1000
)

// WriteProof checks the artwork and writes the proof. Pages are painted and written one after the other.
func WriteProof(ctx context.Context, req ProofRequest) (*ProofResult, error) {
	if err := singleOutput(req.File, req.Out); err != nil {
		return nil, err
	}
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	total, born := art.Doc.NumPages(), art.changed()
	art.Close()
	numbers, err := ParsePages(req.Pages, total)
	if err != nil {
		return nil, err
	}
	stock, err := req.Setup.stock()
	if err != nil {
		return nil, err
	}
	p := &proofMaker{req: req, stock: stock, few: len(numbers) <= fewPages, used: map[string]bool{}, res: &ProofResult{Out: req.Out, Sheets: []ProofPage{}}, born: born}
	err = writeFile(req.Out, func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 1<<16)
		if err := p.write(ctx, b, numbers); err != nil {
			return stopped(ctx, err)
		}
		return b.Flush()
	})
	if err != nil {
		return nil, err
	}
	return p.res, nil
}

// proofMaker writes one proof.
type proofMaker struct {
	req   ProofRequest
	stock *press.Stock
	born  time.Time // of the artwork; zero = it does not say
	few   bool      // pages, so that there is time and room
	used  map[string]bool
	w     *proof.Writer
	res   *ProofResult
}

func (p *proofMaker) write(ctx context.Context, w io.Writer, numbers []int) error {
	data, err := p.data()
	if err != nil {
		return err
	}
	info := pdfpage.Info{Made: p.req.Made}
	if info.Made.IsZero() {
		info.Made = p.born // so that the same job gives the same bytes
	}
	if info.Intent, err = p.req.Setup.intent(); err != nil {
		return err
	}
	if p.w, err = proof.New(w, *data, info); err != nil {
		return err
	}
	fine := max(DefaultDPI, p.req.DPI)
	full := func(sh *Sheet, page *check.Page) error { return p.page(ctx, sh, page) }
	each := full
	var all *survey
	if len(numbers) > mostShown {
		all = newSurvey(p.req.Setup, len(numbers))
		each = all.add
	}
	o, err := Check(ctx, CheckRequest{File: p.req.File, Setup: p.req.Setup, Pages: p.req.Pages, DPI: shareDPI(fine, len(numbers)), FailOn: p.req.FailOn,
		Each: each, Progress: p.req.Progress, Timer: p.req.Timer})
	if err != nil {
		return err
	}
	end := &proof.End{Clean: o.Clean, Findings: o.Findings}
	if all != nil {
		all.gather(numbers, o.Findings)
		o.Shown = all.choose()
		p.few = len(o.Shown) <= fewPages
		if err := p.req.Setup.eachPage(ctx, p.req.File, pagesShown(o.Shown), shareDPI(fine, len(o.Shown)), p.req.Progress, p.req.Timer, full); err != nil {
			return err
		}
		p.used = all.used
		end.Long = all.words(o.Shown)
		for _, s := range all.pages {
			end.Small = append(end.Small, proof.Small{Number: s.page, Picture: s.picture, Pixels: s.pixels, WidthMM: s.widthMM, HeightMM: s.heightMM, TrimMM: s.trim, Findings: s.findings})
		}
	}
	p.res.Outcome = o
	end.Cautions = p.cautions()
	return p.w.Close(end)
}

// cautions are those of the job, and what to tell before printing where a job does not name the use of the piece.
func (p *proofMaker) cautions() []string {
	var out []string
	if j := p.req.Setup.Job; j == nil || len(j.Use) == 0 {
		out = append(out, "No use was named. Tell the print provider before printing if the piece touches food, is a toy or goes into a child's hands, or has windows, "+
			"glue or gummed parts: toner and stock then need declarations or trials of their own.")
	}
	if j := p.req.Setup.Job; j == nil || len(zoneKinds(j)) == 0 {
		out = append(out, "No folds, perforations or glue areas were named. Toner cracks on folds and holds glue badly: name them in the job, and try a printed sheet.")
	}
	told := cautionsOn(p.stock, p.req.Setup, slices.Sorted(maps.Keys(p.used)))
	if len(told) == 0 {
		told = []string{lastWord}
	}
	return append(out, told...)
}

// data is what the cover says.
func (p *proofMaker) data() (*proof.Data, error) {
	s := p.req.Setup
	m, err := look.NewModel(p.stock, press.Front, nil)
	if err != nil {
		return nil, cannot(err, "name another stock", "the look of %s cannot be made: %v", p.stock.Title, err)
	}
	sum, err := fileSum(p.req.File)
	if err != nil {
		return nil, err
	}
	name := s.called(p.req.File)
	d := &proof.Data{Title: "Proof of " + name, StockColour: m.SRGB(nil), StockTitle: p.stock.Title, StockUM: math.Round(float64(p.stock.Thickness) * 1000)}
	fact := func(name, format string, args ...any) {
		d.Facts = append(d.Facts, proof.Fact{Name: name, Text: fmt.Sprintf(format, args...)})
	}
	if p.req.JobName != "" {
		fact("Job", "%s", p.req.JobName)
	}
	fact("Artwork", "%s", name)
	fact("SHA-256", "%s", sum)
	if !p.req.Made.IsZero() {
		fact("Date", "%s", p.req.Made.Format("2 January 2006"))
	}
	if s.Press == nil {
		fact("Press", "none was given: every colourant of the file has its own plate")
	} else {
		fact("Press", "%s", s.Press.Title)
	}
	given := ""
	if s.Stock == nil {
		given = " (none was given)"
	}
	fact("Stock", "%s, %g g/m²%s", p.stock.Title, float64(p.stock.Weight), given)
	if j := s.Job; j != nil {
		if j.Finished != nil {
			fact("Finished size", "%g × %g mm", float64(j.Finished.Width), float64(j.Finished.Height))
		}
		if j.Quantity > 0 {
			fact("Quantity", "%d", j.Quantity)
		}
		for _, from := range slices.Sorted(maps.Keys(j.Assign)) {
			fact("Assigned", "%s prints as %s", from, j.Assign[from])
		}
	}
	fact("Made with", "laydown %s", Version())
	return d, nil
}

// fileSum names the contents of a file.
func fileSum(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", cannot(err, "check the file's permissions", "%s cannot be read: %v", path, plainCause(err))
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", cannot(err, "", "%s cannot be read: %v", path, plainCause(err))
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}

// intent is the press's own output profile as a printing condition; nil where it has none.
func (s *Setup) intent() (*pdfpage.Intent, error) {
	if s == nil || s.Press == nil || s.Press.Profile == "" {
		return nil, nil
	}
	return intentOf(s.Press)
}

func intentOf(p *press.Press) (*pdfpage.Intent, error) {
	profile, err := loadProfile(p)
	if err != nil {
		return nil, err
	}
	file, err := press.FindProfile(p.Profile)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	name := profile.Description()
	if name == "" {
		name = p.Title
	}
	return &pdfpage.Intent{Condition: name, Profile: data, N: profile.Components()}, nil
}

// page writes what the proof shows of one page.
func (p *proofMaker) page(ctx context.Context, sh *Sheet, page *check.Page) error {
	defer p.req.Timer.Start("write proof")()
	st := page.Plates
	laid := &laidPage{sh, page}
	m, layers, err := p.req.Setup.model(laid, LookView{})
	if err != nil {
		return err
	}
	longest := proofPixels
	if !p.few {
		longest = proofPixelsOfMany
	}
	reduce := max(int(math.Round(st.DPI/p.req.DPI)), reduction(st, longest), 1)
	out := &proof.Page{Number: sh.Number, WidthMM: float64(st.Width) * 25.4 / st.DPI, HeightMM: float64(st.Height) * 25.4 / st.DPI, TrimMM: trimBox(page),
		LookNote: strings.Join(m.Notes(), " ")}
	entry := ProofPage{Page: sh.Number, DPI: round2(st.DPI / float64(reduce)), Plates: []ProofPlate{}}
	if out.Looks, err = p.looks(ctx, laid, m, reduce); err != nil {
		return err
	}
	for _, l := range out.Looks {
		entry.Angles = append(entry.Angles, l.Words)
	}
	small := st.Downscale(max(reduce, reduction(st, proofPlatePixels)))
	stats := trimStats(page)
	for _, i := range laydownOf(page) {
		c := st.Set.At(i)
		pl := proof.Plate{Name: c.Name, Kind: c.Kind.String(), Coverage: stats[i].mean, Area: stats[i].area, Most: stats[i].most, Colour: solidColour(m, layers, i)}
		if plane := small.Plane(i); hasToner(plane) {
			pl.Picture = image.NewGray(image.Rect(0, 0, small.Width, small.Height))
			for k, v := range plane {
				pl.Picture.Pix[k] = 255 - v
			}
			p.used[c.Name] = true
		}
		out.Plates = append(out.Plates, pl)
		entry.Plates = append(entry.Plates, ProofPlate{c.Name, round2(pl.Coverage), round2(pl.Area), round2(pl.Most)})
	}
	out.Passes, out.PassNote = p.passes(page, m, layers, stats)
	p.w.Page(out)
	p.res.Sheets = append(p.res.Sheets, entry)
	return nil
}

// looks shows the page at each angle, over what shows through where pages are few.
func (p *proofMaker) looks(ctx context.Context, laid *laidPage, m *look.Model, reduce int) (out []proof.Look, err error) {
	st := laid.page.Plates
	var behind *look.Behind
	if p.few {
		if behind, err = laid.sheet.art.behind(ctx, p.req.Setup, laid, laid.page.Region, st.DPI, nil); err != nil {
			return nil, err
		}
	}
	for _, tilt := range proofTilts {
		sink, err := look.NewLitSink(m, look.StripLight().Tilted(tilt), runtime.GOMAXPROCS(0))
		if err != nil {
			return nil, err
		}
		sink.Reduce, sink.Behind = reduce, behind
		if err := st.Replay(sink, 128); err != nil {
			return nil, err
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out = append(out, proof.Look{Words: look.TiltWords(tilt), Picture: sink.Image()})
	}
	return out, nil
}

// solidColour is the colour of a plate's solid on the stock; that of the stock when the look has no such layer.
func solidColour(m *look.Model, layers []look.Layer, plateIndex int) pdfpage.RGB {
	most := plateIndex
	for _, l := range layers {
		most = max(most, l.Plate)
	}
	tints := make([]uint8, most+1)
	tints[plateIndex] = 255
	return m.SRGB(tints)
}

func (p *proofMaker) passes(page *check.Page, m *look.Model, layers []look.Layer, stats []plateStats) (out []proof.Pass, note string) {
	switch {
	case p.req.Setup.Press == nil:
		return nil, "No press was given, so there are no passes."
	case page.PassError != nil:
		return nil, fmt.Sprintf("No passes can be laid out: %v.", page.PassError)
	case len(page.Passes) == 0:
		return nil, "The page has no toner on it."
	}
	for _, pass := range page.Passes {
		pp := proof.Pass{Set: "set " + pass.Set.Name}
		for _, name := range pass.Toners {
			l := proof.Layer{Name: name}
			if t, ok := p.req.Setup.Press.Toner(name); ok {
				l.UM = TonerThickness(t)
			}
			if i, ok := page.Plates.Set.Lookup(name); ok {
				l.Colour, l.Coverage = solidColour(m, layers, i), stats[i].mean
			}
			pp.Layers = append(pp.Layers, l)
		}
		out = append(out, pp)
	}
	return out, ""
}

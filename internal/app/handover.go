package app

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/handover"
	"laydown/internal/instrument"
)

// HandoverRequest asks for the archive a print provider gets.
type HandoverRequest struct {
	File  string
	Setup *Setup // with a press and a stock
	Out   string // the archive
	Name  string // of the job; "" = that of the artwork
	From  string // who hands it over; "" = not said
	// Date stands in letter and tickets; the zero value: none in the letter, that of the artwork in tickets, so that the same
	// artwork makes the same bytes.
	Date         time.Time
	DPI          float64 // the artwork is looked at and proven in; 0 = DefaultDPI
	FailOn       finding.Severity
	WithFindings bool // hand it over although the checks say something, and tell so in the letter
	Progress     Progress
	Timer        *instrument.Timer
}

// HandoverOutcome tells what was handed over, or why nothing was.
type HandoverOutcome struct {
	*Outcome
	Out    string           `json:"out,omitempty"` // "" when nothing was written
	SHA256 string           `json:"sha256,omitempty"`
	Size   int64            `json:"size,omitempty"`
	Passes []handover.Pass  `json:"passes"`
	Files  []handover.Entry `json:"files"`
}

// Written tells whether there is an archive.
func (o *HandoverOutcome) Written() bool { return o.Out != "" }

// Handover checks the artwork, splits it into its passes, lays them on sheets and packs them with ticket, proof, report, letter and
// definitions. Findings at or above the level asked for end it before anything is written, unless they are to go along. The error
// is a *CannotError, or ctx's.
func Handover(ctx context.Context, req HandoverRequest) (*HandoverOutcome, error) {
	s := req.Setup
	switch {
	case s.Press == nil:
		return nil, cannot(nil, "name one with --press or a job with --job", "a job is handed over for a press, and none was named")
	case s.Stock == nil:
		return nil, cannot(nil, "name one with --stock or a job with --job", "the provider has to know the stock, and none was named")
	}
	if err := singleOutput(req.File, req.Out); err != nil {
		return nil, err
	}
	if req.DPI == 0 {
		req.DPI = DefaultDPI
	}
	dir, err := os.MkdirTemp(filepath.Dir(req.Out), ".handover-*")
	if err != nil {
		return nil, unwritable(req.Out, err)
	}
	defer os.RemoveAll(dir)
	h := &handing{req: req, s: s, dir: dir, used: map[int][]string{}, out: &HandoverOutcome{Passes: []handover.Pass{}, Files: []handover.Entry{}}}
	if err := h.run(ctx); err != nil {
		return nil, err
	}
	return h.out, nil
}

// handing is one handover under way.
type handing struct {
	req     HandoverRequest
	s       *Setup
	dir     string // of what is being made
	out     *HandoverOutcome
	total   int              // pages
	used    map[int][]string // toners by page, in plate order; mixes as their parts
	born    time.Time
	planner *planner
	steps   []*step
	whole   *handover.File
	files   []handover.File
	proof   string // name in the archive
	apart   string // why there is no artwork of single passes
}

// step is one time of the stack through the press.
type step struct {
	pass    StackPass
	sides   []handover.PassSide
	content handover.File // the PDF of the pass
	sheets  *SheetsOutcome
	imposed *handover.File // sheets of the pass
	ticket  string         // name in the archive
}

func (h *handing) run(ctx context.Context) error {
	if err := h.look(ctx); err != nil {
		return err
	}
	if err := h.plan(); err != nil {
		return err
	}
	if h.stop() {
		return nil
	}
	for _, make := range []func(context.Context) error{h.split, h.impose, h.prove} {
		if err := make(ctx); err != nil {
			return err
		}
		if h.stop() {
			return nil
		}
	}
	for _, st := range h.steps {
		st.sides = h.sides(&st.pass)
	}
	if err := h.definitions(); err != nil {
		return err
	}
	if err := h.tickets(); err != nil {
		return err
	}
	if err := h.findings(); err != nil {
		return err
	}
	return h.pack()
}

// stop tells whether findings end the handover.
func (h *handing) stop() bool { return !h.out.Clean && !h.req.WithFindings }

func (h *handing) add(f handover.File) { h.files = append(h.files, f) }

// look checks all pages and makes the report.
func (h *handing) look(ctx context.Context) error {
	art, err := h.s.Open(h.req.File)
	if err != nil {
		return err
	}
	h.total, h.born = art.Doc.NumPages(), artworkDate(art)
	art.Close()
	h.planner = newPlanner(h.s, h.total)
	dir := filepath.Join(h.dir, "report")
	o, err := Prepare(ctx, PrepareRequest{File: h.req.File, Setup: h.s, Out: dir, DPI: h.req.DPI, FailOn: h.req.FailOn,
		Progress: h.req.Progress, Timer: h.req.Timer, each: h.note, plan: h.planner})
	if err != nil {
		return err
	}
	about := "what the checks say, how each page will look, plate by plate; open it in a browser"
	if len(o.Shown) > 0 {
		about += fmt.Sprintf("; %d of its pages in full, all of them small", len(o.Shown))
	}
	h.out.Outcome = o
	h.add(handover.File{Name: "report.html", Role: handover.RoleReport, About: about, Path: filepath.Join(dir, "report.html")})
	if h.total <= fewPages {
		for n := 1; n <= h.total; n++ {
			name := fmt.Sprintf("look/page-%d.png", n)
			h.add(handover.File{Name: name, Role: handover.RolePicture, About: fmt.Sprintf("page %d as it will look, calculated", n), Path: filepath.Join(dir, filepath.FromSlash(name))})
		}
	}
	h.whole = &handover.File{Name: "artwork/whole.pdf", Role: handover.RoleWhole, About: "the artwork with all toners, as it came from the designer", Path: h.req.File}
	h.add(*h.whole)
	return nil
}

// findings writes what the checks say for programs.
func (h *handing) findings() error {
	path := filepath.Join(h.dir, "findings.json")
	if err := writeJSON(path, h.out.Outcome); err != nil {
		return err
	}
	h.add(handover.File{Name: "findings.json", Role: handover.RoleReport, About: "what the checks say, for programs", Path: path})
	return nil
}

// pack writes letter and archive.
func (h *handing) pack() error {
	defer h.req.Timer.Start("pack")()
	for i, st := range h.steps {
		p := handover.Pass{Number: i + 1, Set: st.pass.Set.Name, Sides: st.sides, Artwork: st.content.Name, Ticket: st.ticket}
		if st.imposed != nil {
			p.Sheets = st.imposed.Name
		}
		h.out.Passes = append(h.out.Passes, p)
	}
	letter := h.letter()
	for name, write := range map[string]func(io.Writer) error{"letter.html": letter.WriteHTML, "letter.txt": letter.WriteText, "letter.pdf": func(w io.Writer) error { return letter.WritePDF(w, h.req.Date) }} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return err
		}
		h.add(handover.File{Name: name, Role: handover.RoleLetter, About: letterAbout[name], Data: b.Bytes()})
	}
	m := &handover.Manifest{Program: "laydown " + Version(), Job: h.name(), Press: h.s.Press.Title, Stock: h.s.Stock.Title, Quantity: h.quantity(), Clean: h.out.Clean, Passes: h.out.Passes}
	if err := writeFile(h.req.Out, func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 1<<18)
		if err := handover.Write(b, m, h.files); err != nil {
			return err
		}
		return b.Flush()
	}); err != nil {
		return err
	}
	h.out.Files = m.Files
	c, err := checkArchive(h.req.Out)
	if err != nil {
		return err
	}
	if !c.OK() {
		os.Remove(h.req.Out)
		return cannot(nil, "report the artwork to the maintainers", "the archive does not pass its own check: %s %s", c.Faults[0].File, c.Faults[0].What)
	}
	h.out.Out, h.out.SHA256, h.out.Size = h.req.Out, c.SHA256, c.Size
	return nil
}

var letterAbout = map[string]string{"letter.html": "this letter as a page", "letter.pdf": "this letter to print", "letter.txt": "this letter as text"}

func (h *handing) name() string {
	if h.req.Name != "" {
		return h.req.Name
	}
	base := h.s.called(h.req.File)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

func (h *handing) quantity() int {
	if h.s.Job == nil {
		return 0
	}
	return h.s.Job.Quantity
}

// HandoverChecked is what a check of an archive says.
type HandoverChecked struct {
	File string `json:"file"`
	OK   bool   `json:"ok"`
	*handover.Checked
}

// CheckHandover checks an archive. The error is a *CannotError: no such file.
func CheckHandover(file string) (*HandoverChecked, error) {
	c, err := checkArchive(file)
	if err != nil {
		return nil, err
	}
	return &HandoverChecked{File: filepath.Base(file), OK: c.OK(), Checked: c}, nil
}

func checkArchive(file string) (*handover.Checked, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, cannot(err, "check the name and the folder", "%s cannot be read: %v", file, plainCause(err))
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil || st.IsDir() {
		return nil, cannot(err, "name the archive itself", "%s is no file", file)
	}
	c, err := handover.Check(f, st.Size())
	if err != nil {
		return nil, cannot(err, "", "%s cannot be read: %v", file, plainCause(err))
	}
	return c, nil
}

// pdfDate reads the dates of PDF (7.9.4): D:YYYYMMDDHHmmSSOHH'mm, of which all but the year may be missing.
var pdfDate = regexp.MustCompile(`^D:(\d{4})(\d\d)?(\d\d)?(\d\d)?(\d\d)?(\d\d)?([-+Z])?(\d\d)?'?(\d\d)?`)

// artworkDate is when the artwork was last changed, as far as it says; else the first day archives know.
func artworkDate(a *Artwork) time.Time {
	if t := a.changed(); !t.IsZero() {
		return t
	}
	return time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
}

// changed is when the artwork says that it was changed, or else made; zero = it does not say.
func (a *Artwork) changed() time.Time {
	info, _ := a.Doc.Dict(a.Doc.Trailer()["Info"])
	for _, key := range []string{"ModDate", "CreationDate"} {
		text, _ := a.Doc.Resolve(info[pdf.Name(key)]).(pdf.String)
		if t, ok := parsePDFDate(string(text)); ok {
			return t
		}
	}
	return time.Time{}
}

func parsePDFDate(s string) (time.Time, bool) {
	m := pdfDate.FindStringSubmatch(s)
	if m == nil {
		return time.Time{}, false
	}
	n := func(i, otherwise int) int {
		if m[i] == "" {
			return otherwise
		}
		v := 0
		for _, r := range m[i] {
			v = 10*v + int(r-'0')
		}
		return v
	}
	off := (n(8, 0)*60 + n(9, 0)) * 60
	if m[7] == "-" {
		off = -off
	}
	t := time.Date(n(1, 0), time.Month(n(2, 1)), n(3, 1), n(4, 0), n(5, 0), n(6, 0), 0, time.FixedZone("", off)).UTC()
	return t, t.Year() >= 1980 && t.Year() < 2200
}

// Package app strings the steps together: it opens artwork, finds press, stock and job, and runs the
// verbs for the command line and, later, the page and the queue. It prints nothing.
package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/limits"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// CannotError is a request that could not be carried out: one clear line and what to do about it.
type CannotError struct {
	What   string
	Remedy string
	Err    error
}

func (e *CannotError) Error() string {
	s := e.What
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

// Unwrap gives the cause.
func (e *CannotError) Unwrap() error { return e.Err }

func cannot(err error, remedy, format string, args ...any) error {
	return &CannotError{What: fmt.Sprintf(format, args...), Remedy: remedy, Err: err}
}

// ErrPassword is the cause of the error when artwork asks for a password, or for another one.
var ErrPassword = pdf.ErrPassword

// Artwork is an open PDF file.
type Artwork struct {
	Path     string
	Label    string // what it is called; "" = by its file
	Doc      *pdf.Document
	Findings *finding.Collector // what reading the file itself met
	reader   *interp.Reader
	file     *os.File

	conversions conversions
}

// Open opens an artwork file for reading. The error is a *CannotError: no such file, not a PDF,
// a password, no pages.
func Open(path string) (*Artwork, error) { return (&Setup{}).Open(path) }

// Open is Open with the password of the setup, should the file ask for one. A nil Setup has none.
func (s *Setup) Open(path string) (*Artwork, error) {
	password, label := "", ""
	if s != nil {
		password, label = s.Password, s.Label
	}
	name := path
	if label != "" {
		name = label
	}
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, cannot(err, "check the name and the folder", "there is no file %s", name)
		}
		return nil, cannot(err, "check the file's permissions", "%s cannot be read: %v", name, plainCause(err))
	}
	a, err := open(name, f, password)
	if err != nil {
		f.Close()
		return nil, err
	}
	a.Path, a.Label = path, label
	return a, nil
}

func open(path string, f *os.File, password string) (*Artwork, error) {
	st, err := f.Stat()
	if err != nil {
		return nil, cannot(err, "", "%s cannot be read: %v", path, err)
	}
	if st.IsDir() {
		return nil, cannot(nil, "name a PDF file", "%s is a folder", path)
	}
	if st.Size() > limits.MaxFileBytes {
		return nil, cannot(nil, "split the document", "%s is larger than %d GB", path, limits.MaxFileBytes>>30)
	}
	if st.Size() == 0 {
		return nil, cannot(nil, "export the artwork again", "%s is empty", path)
	}
	a := &Artwork{Path: path, Findings: &finding.Collector{}, file: f}
	a.Doc, err = pdf.Open(f, st.Size(), pdf.Options{Sink: a.Findings, Password: password})
	switch {
	case errors.Is(err, pdf.ErrNotPDF):
		return nil, cannot(err, "export the artwork as PDF", "%s is not a PDF file", path)
	case errors.Is(err, pdf.ErrPassword) && password != "":
		return nil, cannot(err, "check capitals and spaces, or save the artwork without a password", "the password given with --password does not open %s", path)
	case errors.Is(err, pdf.ErrPassword):
		return nil, cannot(err, "give it with --password, or save the artwork without a password", "%s asks for a password", path)
	case errors.Is(err, pdf.ErrEncryption):
		return nil, cannot(err, "", "%s cannot be read: %v", path, err)
	case errors.Is(err, pdf.ErrNoPages):
		return nil, cannot(err, "export the artwork again", "%s has no pages", path)
	case err != nil:
		return nil, cannot(err, "export the artwork again", "%s cannot be read: %v", path, err)
	}
	if a.Doc.NumPages() == 0 {
		return nil, cannot(pdf.ErrNoPages, "export the artwork again", "%s has no pages", path)
	}
	a.reader = newReader(a)
	return a, nil
}

func newReader(a *Artwork) *interp.Reader { return interp.NewReader(a.Doc, a.Findings) }

// Close releases the file.
func (a *Artwork) Close() error { return a.file.Close() }

// Name is its label, or else the file's base name.
func (a *Artwork) Name() string {
	if a.Label != "" {
		return a.Label
	}
	return filepath.Base(a.Path)
}

// Setup is what the artwork is looked at with.
type Setup struct {
	Press *press.Press // nil = none: every colourant of the file has its plate
	Stock *press.Stock // nil = none
	Job   *press.Job   // nil = none
	// Password opens encrypted artwork; the empty one is always tried first.
	Password string
	// Label is what the artwork is called in what is told of it; "" = by its file.
	Label string
	// checks are what the definitions say of rules.
	checks map[string]press.CheckSetting
	conv   *colour.Converter
	// profile is the press's output profile, through which conv converts; nil = naive conversion.
	profile *colour.Profile
	// processes are how process toners look, as far as worked out.
	processes processes
}

// called is what the artwork in a file is called.
func (s *Setup) called(file string) string {
	if s != nil && s.Label != "" {
		return s.Label
	}
	return filepath.Base(file)
}

// SetupOptions name the definitions: shipped names or files. Empty = none.
type SetupOptions struct {
	Press, Stock, Job string
	Password          string // of the artwork
}

// NewSetup finds the definitions. Press and Stock given by name win over those of the job.
func NewSetup(o SetupOptions) (*Setup, error) {
	s := &Setup{Password: o.Password}
	if o.Job != "" {
		job, err := press.LoadJob(o.Job)
		if err != nil {
			return nil, definitionError("job", o.Job, err)
		}
		s.Job = job
		if o.Press == "" && o.Stock == "" {
			if s.Press, s.Stock, err = job.Find(); err != nil {
				return nil, definitionError("job", o.Job, err)
			}
		} else {
			if o.Press == "" {
				o.Press = job.Press
			}
			if o.Stock == "" {
				o.Stock = job.Stock
			}
		}
	}
	var err error
	if s.Press == nil && o.Press != "" {
		if s.Press, err = press.FindPress(o.Press); err != nil {
			return nil, definitionError("press", o.Press, err)
		}
	}
	if s.Stock == nil && o.Stock != "" {
		if s.Stock, err = press.FindStock(o.Stock); err != nil {
			return nil, definitionError("stock", o.Stock, err)
		}
	}
	if err := s.ready(); err != nil {
		return nil, err
	}
	return s, nil
}

func definitionError(kind, name string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		remedy := "check the name and the folder"
		if kind != "job" {
			remedy = fmt.Sprintf("`laydown %s list` shows the shipped ones; a file is given with its path", kind)
		}
		return cannot(err, remedy, "there is no %s file %s", kind, name)
	}
	return &CannotError{What: err.Error(), Err: err}
}

// Sheet is one page of the artwork, read and ready to be separated.
type Sheet struct {
	Number   int
	List     *displist.List
	Target   *separate.Target
	Findings *finding.Collector // of this page

	art *Artwork
}

// ReadOptions choose how pages are read.
type ReadOptions struct {
	AsViewer bool
	Timer    *instrument.Timer
}

// Read interprets page n and makes its target. A fault inside becomes a finding on an empty page;
// the error is only for a page that does not exist, or the end of ctx.
func (a *Artwork) Read(ctx context.Context, s *Setup, n int, o ReadOptions) (*Sheet, error) {
	defer o.Timer.Start("read")()
	sh := &Sheet{Number: n, Findings: &finding.Collector{}, art: a}
	opt := interp.Options{Sink: sh.Findings, AsViewer: o.AsViewer}
	if s.Job != nil && s.Job.Layers != nil {
		opt.Layers = map[string]bool{}
		for _, l := range s.Job.Layers.Print {
			opt.Layers[l] = true
		}
		for _, l := range s.Job.Layers.Skip {
			opt.Layers[l] = false
		}
	}
	var err error
	sh.List, err = a.interpret(ctx, n, opt, sh.Findings)
	if err != nil {
		return nil, err
	}
	conv := a.converter(s, n, sh.Findings)
	tellNaive(conv, sh.List, sh.Findings)
	if s.Press == nil {
		sh.Target = separate.NewTargetFromLists(conv, sh.Findings, sh.List)
		return sh, nil
	}
	var assign map[string]string
	if s.Job != nil {
		assign = s.Job.Assign
	}
	sh.Target, err = separate.NewTarget(s.Press, assign, conv)
	if err != nil {
		return nil, cannot(err, "correct the key assign of the job", "%v", err)
	}
	return sh, nil
}

// interpret runs the page; a panic while reading one page is a finding, not the end of the others.
func (a *Artwork) interpret(ctx context.Context, n int, opt interp.Options, sink finding.Sink) (list *displist.List, err error) {
	defer func() {
		if v := recover(); v != nil {
			sink.Add(finding.Finding{ID: "page-failed", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
				What:   fmt.Sprintf("Page %d could not be read: internal fault (%v).", n, v),
				Remedy: "Report the file to the maintainers; the other pages were looked at.",
				Place:  finding.Place{Page: n}, Notes: []string{string(debug.Stack())}})
			list, err = a.emptyList(n)
		}
	}()
	if last := a.Doc.NumPages(); n < 1 || n > last {
		return nil, noPage(n, last)
	}
	list, err = a.reader.Page(ctx, n, opt)
	if err != nil && ctx.Err() == nil {
		return nil, cannot(err, "export the artwork again", "page %d cannot be read: %v", n, err)
	}
	return list, err
}

// emptyList stands in for a page that could not be read: its MediaBox with nothing on it.
func (a *Artwork) emptyList(n int) (*displist.List, error) {
	pg, err := a.Doc.Page(n)
	if err != nil {
		return nil, err
	}
	b := pg.MediaBox
	media := geom.Rect{X1: (b[2] - b[0]) * pg.UserUnit, Y1: (b[3] - b[1]) * pg.UserUnit}
	return &displist.List{Incomplete: true, Page: displist.Page{Number: n, Object: pg.Ref.Num, ToList: geom.Identity,
		Media: media, Crop: media, Bleed: media, Trim: media, Art: media, UserUnit: pg.UserUnit}}, nil
}

package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/mend"
)

// MendRequest says how an artwork is mended.
type MendRequest struct {
	File    string
	Setup   *Setup
	Out     string     // the mended file; never the artwork itself
	AllSafe bool       // apply every safe remedy the findings name
	Uses    []mend.Use // remedies asked for by name
	Pages   string     // pages to mend, as ParsePages; the proof covers all
	DPI     float64    // of checks and proof; 0 = DefaultDPI
	// Pictures is a folder for pictures of what was changed, "" = none.
	Pictures string
	FailOn   finding.Severity
	Progress Progress
	Timer    *instrument.Timer
}

// MendOutcome is what was done to an artwork and what proves it.
type MendOutcome struct {
	File  string     `json:"file"`
	Out   string     `json:"out,omitempty"` // "" when no file was written
	Steps []MendStep `json:"steps"`
	// Refused tells why no file was written: what would have differed that nobody asked for.
	Refused []Breach `json:"refused,omitempty"`
	// Difference compares the artwork with the mended file.
	Difference *DiffResult `json:"difference,omitempty"`
	Before     *Outcome    `json:"before"`
	After      *Outcome    `json:"after,omitempty"`
	Answered   bool        `json:"answered"` // every finding the remedies asked for by name were to answer is gone
}

// MendStep is one remedy as it was applied.
type MendStep struct {
	Remedy  string       `json:"remedy"`
	Use     string       `json:"use"` // with its options, as --do takes it
	Title   string       `json:"title"`
	Safe    bool         `json:"safe"`
	Changed bool         `json:"changed"` // false: there was nothing for it to do
	Plates  []MendPlates `json:"plates,omitempty"`
	Notes   []string     `json:"notes,omitempty"`
	// Left are findings it was to answer and that are still there.
	Left []string `json:"left,omitempty"`
	// Failed tells why the remedy, which nobody asked for by name, could not be applied.
	Failed string `json:"failed,omitempty"`
	// Refused tells why the remedy, which nobody asked for by name, was left out.
	Refused []Breach `json:"refused,omitempty"`

	use   mend.Use
	asked bool // by name
}

// MendPlates is what a remedy changed on a page.
type MendPlates struct {
	Page   int         `json:"page"`
	Plates []DiffPlate `json:"plates"` // those that differ
}

// trailerStamp is the entry of the trailer that tells how long the file was before the mend, so that it can be undone.
const trailerStamp = pdf.Name("LaydownMend")

// Mend applies remedies one after the other. After each the plates are held against what it may change; if more would
// differ, no file is written. The error is a *CannotError, or ctx's.
func Mend(ctx context.Context, req MendRequest) (*MendOutcome, error) {
	if err := singleOutput(req.File, req.Out); err != nil {
		return nil, err
	}
	if req.DPI == 0 {
		req.DPI = DefaultDPI
	}
	dir, err := os.MkdirTemp(filepath.Dir(req.Out), ".laydown-mend-*")
	if err != nil {
		return nil, unwritable(req.Out, err)
	}
	defer os.RemoveAll(dir)
	m := &mender{req: req, dir: dir, now: req.File, out: &MendOutcome{File: req.Setup.called(req.File), Steps: []MendStep{}}}
	if err := m.run(ctx); err != nil {
		return nil, err
	}
	return m.out, nil
}

// mender applies the remedies of one request.
type mender struct {
	req  MendRequest
	dir  string
	now  string // the file as mended so far
	made int
	out  *MendOutcome
	done []string // uses applied, or to be
	// pages are those to be mended.
	pages []int
}

func (m *mender) check(ctx context.Context, file string) (*Outcome, error) {
	return Check(ctx, CheckRequest{File: file, Setup: m.req.Setup, DPI: m.req.DPI, FailOn: m.req.FailOn, Progress: m.req.Progress, Timer: m.req.Timer})
}

// rounds bounds how often the mended file is looked at for further safe remedies: one may uncover the need of another.
const rounds = 4

func (m *mender) run(ctx context.Context) error {
	before, err := m.check(ctx, m.now)
	if err != nil {
		return err
	}
	m.out.Before = before
	uses := slices.Clone(m.req.Uses)
	for _, u := range uses {
		m.done = append(m.done, u.String())
	}
	after := before
	for range rounds {
		if m.req.AllSafe {
			uses = append(uses, m.safe(after.Findings)...)
		}
		slices.SortStableFunc(uses, func(a, b mend.Use) int { return a.Remedy.Rank() - b.Remedy.Rank() })
		changed := false
		for _, u := range uses {
			asked := slices.ContainsFunc(m.req.Uses, func(a mend.Use) bool { return a.String() == u.String() })
			c, err := m.apply(ctx, u, asked)
			if err != nil || len(m.out.Refused) > 0 {
				return err
			}
			changed = changed || c
		}
		if !changed {
			break
		}
		if after, err = m.check(ctx, m.now); err != nil {
			return err
		}
		uses = nil
		if !m.req.AllSafe {
			break
		}
	}
	m.out.After = after
	m.judge()
	return m.finish(ctx)
}

// safe lists the safe remedies findings name that were not applied yet.
func (m *mender) safe(fs []finding.Finding) (out []mend.Use) {
	in := m.req.Setup.mendInput()
	for i := range fs {
		for _, u := range mend.Offers(&fs[i], in) {
			if s := u.String(); u.Remedy.Safe && !slices.Contains(m.done, s) {
				m.done = append(m.done, s)
				out = append(out, u)
			}
		}
	}
	return out
}

// apply carries one remedy out on the file at hand and proves it. What had nothing to do is told of when it was asked for.
func (m *mender) apply(ctx context.Context, u mend.Use, asked bool) (changed bool, err error) {
	m.done = append(m.done, u.String())
	step := MendStep{Remedy: u.Remedy.ID, Use: u.String(), Title: u.Remedy.Title, Safe: u.Remedy.Safe, use: u, asked: asked}
	art, err := m.req.Setup.Open(m.now)
	if err != nil {
		return false, err
	}
	defer art.Close()
	pages, err := ParsePages(m.req.Pages, art.Doc.NumPages())
	if err != nil {
		return false, err
	}
	m.pages = pages
	s := m.req.Setup
	e, up, err := applied(ctx, s, art, art.mendReader(s, m.req.Timer), u, pages)
	switch {
	case ctx.Err() != nil:
		return false, ctx.Err()
	case err != nil && !asked:
		step.Failed = errors.Unwrap(err).Error()
		m.out.Steps = append(m.out.Steps, step)
		return false, nil
	case err != nil:
		return false, err
	}
	step.Notes = e.Notes()
	if !e.Changed() {
		if asked || len(step.Notes) > 0 {
			m.out.Steps = append(m.out.Steps, step)
		}
		return false, nil
	}
	step.Changed = true
	if !art.Doc.Repaired() {
		up.SetTrailer(trailerStamp, pdf.Dict{"Before": pdf.Integer(art.Doc.Size()), "Remedy": pdf.Name(u.Remedy.ID)})
	} else {
		step.Notes = append(step.Notes, "The file's own structure is damaged, so it was written anew as a whole; keep the original.")
	}
	m.made++
	// Each has the name it will bear, which pictures show.
	next := filepath.Join(m.dir, fmt.Sprint(m.made), filepath.Base(m.req.Out))
	if err := os.Mkdir(filepath.Dir(next), 0o700); err != nil {
		return false, unwritable(m.req.Out, err)
	}
	if err := writeFile(next, func(w io.Writer) error { _, err := up.WriteTo(w); return err }); err != nil {
		return false, err
	}
	after, err := s.Open(next)
	if err != nil {
		return false, cannot(err, "report the file to the maintainers", "%s would make a file that cannot be read: %v", u.Remedy.ID, err)
	}
	defer after.Close()
	m.req.Progress.tell("proof", m.made, m.made)
	diff, breaches, err := prove(ctx, art, after, e, DiffRequest{Setup: s, DPI: m.req.DPI, Box: BoxMedia, Timer: m.req.Timer})
	if err != nil {
		return false, err
	}
	step.Plates = changedPlates(diff)
	if len(breaches) > 0 {
		step.Changed, step.Plates, step.Refused = false, nil, breaches
		if asked {
			m.out.Refused = breaches
		}
		m.out.Steps = append(m.out.Steps, step)
		return false, nil
	}
	m.out.Steps = append(m.out.Steps, step)
	m.now = next
	return true, nil
}

// mendReader reads pages for remedies, keeping the last few.
func (a *Artwork) mendReader(s *Setup, t *instrument.Timer) mend.Reader {
	const kept = 8
	known := map[int]*mend.Page{}
	return func(ctx context.Context, n int) (*mend.Page, error) {
		if p := known[n]; p != nil {
			return p, nil
		}
		sh, err := a.Read(ctx, s, n, ReadOptions{Timer: t})
		if err != nil {
			return nil, err
		}
		if len(known) >= kept {
			clear(known)
		}
		known[n] = &mend.Page{List: sh.List, Target: sh.Target}
		return known[n], nil
	}
}

func (s *Setup) mendInput() *mend.Input {
	return &mend.Input{Press: s.Press, Stock: s.Stock, Job: s.Job}
}

// offer writes into findings which remedies answer them.
func (s *Setup) offer(fs []finding.Finding) {
	in := s.mendInput()
	for i := range fs {
		fs[i].Mends = nil
		for _, u := range mend.Offers(&fs[i], in) {
			fs[i].Mends = append(fs[i].Mends, u.String())
		}
	}
}

func changedPlates(d *DiffResult) (out []MendPlates) {
	for _, p := range d.Pages {
		var plates []DiffPlate
		for _, pl := range p.Plates {
			if !pl.Same {
				plates = append(plates, pl)
			}
		}
		if len(plates) > 0 {
			out = append(out, MendPlates{p.Page, plates})
		}
	}
	return out
}

// judge tells which findings the remedies were to answer are still there.
func (m *mender) judge() {
	in := m.req.Setup.mendInput()
	m.out.Answered = true
	for i := range m.out.Steps {
		st := &m.out.Steps[i]
		for k := range m.out.After.Findings {
			f := &m.out.After.Findings[k]
			if f.Place.Page != 0 && !slices.Contains(m.pages, f.Place.Page) {
				continue
			}
			if slices.ContainsFunc(mend.Offers(f, in), st.use.Answers) {
				st.Left = append(st.Left, f.What)
			}
		}
		m.out.Answered = m.out.Answered && (!st.asked || len(st.Left) == 0)
	}
}

// finish compares the artwork with the file as mended, makes the pictures and puts the file in its place.
func (m *mender) finish(ctx context.Context) error {
	if m.now == m.req.File {
		return nil
	}
	d, err := Diff(ctx, m.req.File, m.now, DiffRequest{Setup: m.req.Setup, DPI: m.req.DPI, Box: BoxMedia, Out: m.req.Pictures, Sheets: true,
		Name: filepath.Base(m.req.Out), Timer: m.req.Timer})
	if err != nil {
		return err
	}
	m.out.Difference = d
	if m.out.After != nil {
		m.out.After.File = d.FileB
	}
	if err := os.Rename(m.now, m.req.Out); err != nil {
		return unwritable(m.req.Out, err)
	}
	m.out.Out = m.req.Out
	return nil
}

// Unmend writes the artwork as it was before its last mend.
func Unmend(s *Setup, file, out string) (remedy string, err error) {
	if err := singleOutput(file, out); err != nil {
		return "", err
	}
	art, err := s.Open(file)
	if err != nil {
		return "", err
	}
	defer art.Close()
	stamp, ok := art.Doc.Dict(art.Doc.Trailer()[trailerStamp])
	n, _ := art.Doc.Int(stamp["Before"])
	places := art.Doc.Sections()
	if !ok || n <= 0 || int64(n) >= art.Doc.Size() || len(places) == 0 || places[0] < int64(n) {
		return "", cannot(nil, "take the file it was made from", "%s holds no mend that could be undone", file)
	}
	if len(places) > 1 && places[1] >= int64(n) {
		return "", cannot(nil, "take the file it was made from", "%s was changed by another program after it was mended", file)
	}
	// A program that writes files anew may carry the stamp over; what it counts is the start of a file no longer.
	was, err := pdf.Open(io.NewSectionReader(art.file, 0, int64(n)), int64(n), pdf.Options{Sink: finding.Discard, Password: s.Password})
	if err != nil || was.Repaired() {
		return "", cannot(err, "take the file it was made from", "%s was written anew by another program after it was mended", file)
	}
	name, _ := art.Doc.Name(stamp["Remedy"])
	return string(name), writeFile(out, func(w io.Writer) error {
		_, err := io.Copy(w, io.NewSectionReader(art.file, 0, int64(n)))
		return err
	})
}

// RemedyInfo describes one remedy for the list of them.
type RemedyInfo struct {
	ID      string       `json:"id"`
	Title   string       `json:"title"`
	Safe    bool         `json:"safe"`
	Options []OptionInfo `json:"options"`
	Answers []string     `json:"answers"`
}

// OptionInfo describes an option of a remedy.
type OptionInfo struct {
	Name     string `json:"name"`
	Help     string `json:"help"`
	Required bool   `json:"required"`
}

// Remedies lists the remedies in the order they are applied.
func Remedies() []RemedyInfo {
	var out []RemedyInfo
	for _, r := range mend.All {
		i := RemedyInfo{ID: r.ID, Title: r.Title, Safe: r.Safe, Options: []OptionInfo{}, Answers: []string{}}
		for _, o := range r.Options {
			i.Options = append(i.Options, OptionInfo(o))
		}
		for _, a := range r.Answers {
			i.Answers = append(i.Answers, string(a))
		}
		out = append(out, i)
	}
	return out
}

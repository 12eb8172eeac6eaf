package web

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"laydown/internal/app"
	"laydown/internal/finding"
	"laydown/internal/mend"
)

// plan reckons how a state goes through the press: passes, their reasons, time and money.
func (s *Server) plan(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	var q struct {
		Quantity int `json:"quantity"`
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	if q.Quantity < 0 || q.Quantity > mostPieces {
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("%d pieces cannot be planned", q.Quantity), fmt.Sprintf("ask for 1 to %d, or 0 for what the job says", mostPieces))
	}
	at, err := a.find(r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	return s.queued(w, s.queue.addOf(a.id, at.rev, "plan", func(ctx context.Context, told app.Progress) (any, error) {
		return app.Plan(ctx, app.PlanRequest{File: at.file, Setup: at.settled.setup, Quantity: q.Quantity, Progress: told})
	}))
}

// mostPieces of a job that is planned.
const mostPieces = 100_000_000

// failOn is the level that makes artwork unfit.
const failOn = finding.Warning

// check checks a state, unless that was done before.
func (s *Server) check(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	at, err := a.find(r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	a.mu.Lock()
	before := a.outcome(at.rev)
	a.mu.Unlock()
	if before != nil {
		return s.queued(w, s.queue.done(a.id, "check", before))
	}
	return s.queued(w, s.queue.addOf(a.id, at.rev, "check", func(ctx context.Context, told app.Progress) (any, error) {
		o, err := app.Check(ctx, app.CheckRequest{File: at.file, Setup: at.settled.setup, DPI: s.dpi, FailOn: failOn, Progress: told})
		if err != nil {
			return nil, err
		}
		a.mu.Lock()
		a.keep(at.rev, o)
		a.mu.Unlock()
		s.tellArtwork(a)
		return o, nil
	}))
}

// findings answers what the checks said of a revision.
func (s *Server) findings(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	at, err := a.find(r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	a.mu.Lock()
	o := a.outcome(at.rev)
	a.mu.Unlock()
	if o == nil {
		return refuse(http.StatusNotFound, "this state of the artwork was not checked", "ask for a check")
	}
	return answer(w, http.StatusOK, o)
}

// uses reads remedies as `do` writes them.
func uses(do []string) ([]mend.Use, error) {
	const most = 100
	if len(do) > most {
		return nil, refuse(http.StatusUnprocessableEntity, "these are too many remedies at a time", "ask for some of them first")
	}
	var out []mend.Use
	for _, d := range do {
		u, err := mend.Parse(d)
		if err != nil {
			return nil, refuse(http.StatusUnprocessableEntity, err.Error(), "GET /api/remedies lists them with their options")
		}
		out = append(out, u)
	}
	return out, nil
}

// mendAnswer is what a mend came to; Version is the one it made, 0 = none.
type mendAnswer struct {
	*app.MendOutcome
	Version int    `json:"version"`
	Rev     string `json:"rev,omitempty"`
}

// mend mends the version looked at into a new one.
func (s *Server) mend(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	var q struct {
		Do      []string `json:"do"`
		AllSafe bool     `json:"all_safe"`
		Title   string   `json:"title"`
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	list, err := uses(q.Do)
	if err != nil {
		return err
	}
	if len(list) == 0 && !q.AllSafe {
		return refuse(http.StatusUnprocessableEntity, "no remedy was asked for", "name one in do, or ask for all_safe")
	}
	from, err := a.find("")
	if err != nil {
		return err
	}
	a.mu.Lock()
	full := len(a.versions) >= s.opt.MaxVersions
	a.mu.Unlock()
	if full {
		return refuse(http.StatusConflict, "the artwork has as many versions as can be kept", "save the one you want and open it anew")
	}
	return s.queued(w, s.queue.addOf(a.id, from.rev, "mend", func(ctx context.Context, told app.Progress) (any, error) {
		return s.mended(ctx, a, from, list, q.AllSafe, q.Title, told)
	}))
}

func (s *Server) mended(ctx context.Context, a *artwork, from seen, list []mend.Use, allSafe bool, title string, told app.Progress) (any, error) {
	file := filepath.Join(a.dir, "mended-"+newID()+".pdf")
	o, err := app.Mend(ctx, app.MendRequest{File: from.file, Setup: from.settled.setup, Out: file, AllSafe: allSafe, Uses: list, DPI: s.dpi, FailOn: failOn, Progress: told})
	if err != nil {
		return nil, err
	}
	out := &mendAnswer{MendOutcome: o}
	v := &version{From: from.n, Title: title, Steps: []string{}, Made: time.Now().UTC().Truncate(time.Second), file: file}
	for _, st := range o.Steps {
		if st.Changed {
			v.Steps = append(v.Steps, st.Use)
			if title == "" {
				if v.Title != "" {
					v.Title += "; "
				}
				v.Title += st.Title
			}
		}
	}
	v.Title, v.proof = shortened(v.Title), out
	var old *trial
	a.mu.Lock()
	a.keep(from.rev, o.Before)
	made := o.Out != ""
	if made {
		if st, err := os.Stat(file); err == nil {
			v.Bytes = st.Size()
		}
		a.add(v)
		out.Version, out.Rev = v.N, revOf(v, from.settled)
		if o.After != nil {
			o.After.File = a.called(v.N)
			a.keep(out.Rev, o.After)
		}
		if a.at == from.n {
			a.at = v.N
			old = a.try(nil)
		}
		o.Out = a.called(v.N)
		if o.Difference != nil {
			o.Difference.FileA, o.Difference.FileB = a.called(from.n), o.Out
		}
	}
	a.mu.Unlock()
	s.bury(a, old)
	s.tellArtwork(a)
	return out, nil
}

// proof answers what the mend proved that led to a revision.
func (s *Server) proof(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	at, err := a.find(r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	a.mu.Lock()
	v := a.version(at.n)
	a.mu.Unlock()
	if v == nil || v.proof == nil || v.proof.Rev != at.rev {
		return refuse(http.StatusNotFound, "no mend led to this state of the artwork", "ask for the rev that the mend answered")
	}
	return answer(w, http.StatusOK, v.proof)
}

// shortened keeps titles short.
func shortened(s string) string {
	const most = 160
	s = strings.ToValidUTF8(s, "")
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// maxMadePages of plates or pictures at a time; a report takes as many of a longer document and says so.
const maxMadePages = 24

// make makes something to take away of the version looked at.
func (s *Server) make(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	var q struct {
		Kind  string `json:"kind"`
		Pages string `json:"pages"`
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	what, ok := makers[q.Kind]
	if !ok {
		return refuse(http.StatusUnprocessableEntity, "nothing of that kind can be made", "the kinds are report, plates, pictures and package")
	}
	pages, err := app.ParsePages(q.Pages, a.pages)
	switch {
	case err != nil:
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("pages %q cannot be understood", q.Pages), fmt.Sprintf("write them as 1-3,7; there are %d", a.pages))
	case len(pages) > maxMadePages && (q.Pages != "" || q.Kind == "plates" || q.Kind == "pictures"):
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("%d pages are too many at a time", len(pages)), fmt.Sprintf("name at most %d in pages", maxMadePages))
	}
	at, err := a.find("")
	if err != nil {
		return err
	}
	return s.queued(w, s.queue.addOf(a.id, at.rev, q.Kind, func(ctx context.Context, told app.Progress) (_ any, err error) {
		id := newID()
		m := &making{ctx: ctx, dpi: s.dpi, at: at, told: told, named: q.Pages, pages: pages, dir: filepath.Join(a.dir, "make-"+id)}
		if err := os.Mkdir(m.dir, 0o700); err != nil {
			return nil, unkept(err)
		}
		defer os.RemoveAll(m.dir)
		if err := what(m); err != nil {
			return nil, unkept(err)
		}
		out := &outcome{path: filepath.Join(a.dir, "made-"+id+".zip"), Name: stem(a.called(at.n)) + "-" + q.Kind + ".zip"}
		if page := filepath.Join(m.dir, "report.html"); q.Kind == "report" {
			out.report = filepath.Join(a.dir, "made-"+id+".html")
			if err := os.Rename(page, out.report); err != nil {
				return nil, err
			}
			if err := copyFile(out.report, page); err != nil {
				out.remove()
				return nil, unkept(err)
			}
		}
		if out.Bytes, err = m.archive(out.path); err != nil {
			out.remove()
			return nil, unkept(err)
		}
		return out, nil
	}))
}

package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/app"
)

// Figures of a page: at a point, along a row, of what is painted alike.

// onPage answers what f tells of the page of an address.
func onPage[T any](s *Server, w http.ResponseWriter, r *http.Request, f func(context.Context, *app.Bench, int) (T, error)) error {
	n, err := number(r, "page")
	if err != nil {
		return err
	}
	a, at, err := s.asked(r, r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	v, err := onBench(r.Context(), s, a, at, func(b *app.Bench) (T, error) { return f(r.Context(), b, n) })
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, v)
}

// figures reads numbers of the query; all must be there.
func figures(r *http.Request, names ...string) ([]float64, error) {
	out := make([]float64, len(names))
	for i, name := range names {
		text := r.URL.Query().Get(name)
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, refuse(http.StatusBadRequest, fmt.Sprintf("%s is a number, not %q", name, text), "docs/api.md tells what is asked for")
		}
		out[i] = v
	}
	return out, nil
}

// whole reads a whole number of the query; or stands for one that is left out.
func whole(r *http.Request, name string, or int) (int, error) {
	text := r.URL.Query().Get(name)
	if text == "" {
		return or, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, refuse(http.StatusBadRequest, fmt.Sprintf("%s is a whole number, not %q", name, text), "docs/api.md tells what is asked for")
	}
	return n, nil
}

// point tells what lies at a point.
func (s *Server) point(w http.ResponseWriter, r *http.Request) error {
	at, err := figures(r, "x", "y")
	if err != nil {
		return err
	}
	level, err := whole(r, "level", -1)
	if err != nil {
		return err
	}
	return onPage(s, w, r, func(ctx context.Context, b *app.Bench, n int) (*app.BenchPoint, error) {
		p, err := b.Page(ctx, n)
		if err != nil {
			return nil, err
		}
		v, err := view(r, p)
		if err != nil {
			return nil, err
		}
		return b.At(ctx, n, app.PointMM{X: at[0], Y: at[1]}, v, level)
	})
}

// row tells how much toner lies along a row.
func (s *Server) row(w http.ResponseWriter, r *http.Request) error {
	at, err := figures(r, "y", "x0", "x1")
	if err != nil {
		return err
	}
	steps, err := whole(r, "n", 0)
	if err != nil {
		return err
	}
	return onPage(s, w, r, func(ctx context.Context, b *app.Bench, n int) (*app.BenchRow, error) {
		return b.Row(ctx, n, at[0], at[1], at[2], steps)
	})
}

// likeness tells what is painted alike.
func (s *Server) likeness(w http.ResponseWriter, r *http.Request) error {
	item, err := whole(r, "item", -1)
	if err != nil {
		return err
	}
	return onPage(s, w, r, func(ctx context.Context, b *app.Bench, n int) (*app.BenchAlike, error) { return b.Alike(ctx, n, item) })
}

// chosen tells which items choices of the remedy to-toner mean.
func (s *Server) chosen(w http.ResponseWriter, r *http.Request) error {
	options := map[string]string{}
	for k, v := range r.URL.Query() {
		if k != "rev" {
			options[k] = v[0]
		}
	}
	return onPage(s, w, r, func(ctx context.Context, b *app.Bench, n int) (any, error) {
		boxes, err := b.Chosen(ctx, n, options)
		return map[string]any{"boxes": boxes}, err
	})
}

// thumbPixels is the longer side of a small picture unless told otherwise.
const thumbPixels = 240

// thumb answers a small picture of a page.
func (s *Server) thumb(w http.ResponseWriter, r *http.Request) error {
	n, err := number(r, "page")
	if err != nil {
		return err
	}
	pixels, err := whole(r, "pixels", thumbPixels)
	if err != nil {
		return err
	}
	rev := r.URL.Query().Get("rev")
	a, at, err := s.asked(r, rev)
	if err != nil {
		return err
	}
	data, err := onBench(r.Context(), s, a, at, func(b *app.Bench) ([]byte, error) { return b.Thumbnail(r.Context(), n, pixels) })
	if err != nil {
		return err
	}
	if rev != "" {
		w.Header().Set("Cache-Control", cachedForEver)
	}
	sendBytes(w, http.StatusOK, "image/png", data)
	return nil
}

// tryAnswer is what came of a change being tried, and the state that shows it.
type tryAnswer struct {
	Rev      string          `json:"rev"`
	Of       int             `json:"of"`
	Page     int             `json:"page"`
	Changed  bool            `json:"changed"`
	Unproven bool            `json:"unproven"`
	Steps    []app.TrialStep `json:"steps"`
	Notes    []string        `json:"notes"`
}

// try tries remedies on one page of the version looked at. The next one takes its place, and cuts it short.
func (s *Server) try(w http.ResponseWriter, r *http.Request) error {
	var q struct {
		Do   []string `json:"do"`
		Page int      `json:"page"`
	}
	a, err := s.find(r)
	if err != nil {
		return err
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	list, err := uses(q.Do)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return refuse(http.StatusUnprocessableEntity, "no remedy was asked for", "name one in do")
	}
	from, err := a.find("")
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(r.Context())
	defer cancel()
	turn := a.trying(cancel)
	t := &trial{key: key(append([]string{from.rev, strconv.Itoa(q.Page)}, q.Do...)...), of: from.n, do: q.Do}
	t.file = filepath.Join(a.dir, "tried-"+t.key+"-"+newID()+".pdf")
	m, err := onBench(ctx, s, a, from, func(b *app.Bench) (*app.MendTrial, error) { return b.Try(ctx, list, q.Page, t.file) })
	if err != nil {
		if ctx.Err() != nil && r.Context().Err() == nil {
			return refuse(http.StatusConflict, "another change is being tried meanwhile", "ask for that one")
		}
		return err
	}
	t.notes = m.Notes
	if !m.Changed {
		t = nil
	}
	a.mu.Lock()
	late := a.turn != turn || a.at != from.n || a.now != from.settled || a.gone
	var old *trial
	if !late {
		old = a.try(t)
	}
	a.mu.Unlock()
	if late {
		s.bury(a, t)
		return refuse(http.StatusConflict, "another change is being tried meanwhile", "ask for that one")
	}
	s.bury(a, old)
	s.tellArtwork(a)
	out := tryAnswer{Rev: from.rev, Of: from.n, Page: m.Page, Changed: m.Changed, Unproven: m.Unproven, Steps: m.Steps, Notes: m.Notes}
	if t != nil {
		out.Rev = t.rev(from.settled)
	}
	return answer(w, http.StatusOK, out)
}

// trying takes the turn of trying something; whoever had it is cut short.
func (a *artwork) trying(cancel context.CancelFunc) int {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.cut != nil {
		a.cut()
	}
	a.turn++
	a.cut = cancel
	return a.turn
}

// untry forgets what was tried.
func (s *Server) untry(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	a.trying(func() {})
	a.mu.Lock()
	known := a.trial != nil
	old := a.untry()
	a.mu.Unlock()
	s.bury(a, old...)
	if known {
		s.tellArtwork(a)
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// bury puts away what is left of changes that are no longer tried; nil is none. No lock is held.
func (s *Server) bury(a *artwork, gone ...*trial) {
	for _, t := range gone {
		if t == nil {
			continue
		}
		a.mu.Lock()
		again := slices.ContainsFunc([]*trial{a.trial, a.past}, func(k *trial) bool { return k != nil && k.key == t.key }) // the same once more: what is painted of it stays true
		a.mu.Unlock()
		if !again {
			s.benches.drop(func(o *openBench) bool { return o.artwork == a.id && strings.HasPrefix(o.rev, "t"+t.key+"-") })
		}
		_ = os.Remove(t.file)
	}
}

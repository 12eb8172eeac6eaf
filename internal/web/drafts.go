package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/goccy/go-yaml"

	"laydown/internal/app"
	"laydown/internal/press"
)

// Drafts are presses and stocks being written. A draft counts as one by its id wherever a name is taken.

const (
	maxDrafts = 64
	kindPress = press.KindPress
	kindStock = press.KindStock
)

// draft is a definition being written. It always holds the last text that could be read.
type draft struct {
	ID   string          `json:"id"`
	Kind string          `json:"kind"`
	Name string          `json:"name"`
	YAML string          `json:"yaml"`
	Form json.RawMessage `json:"form"`

	press *press.Press
	stock *press.Stock
	given map[string]string // files the text may name, of a definition the program was started with
}

// read takes a text.
func (d draft) read(text string) (*draft, error) {
	d.YAML, d.press, d.stock = text, nil, nil
	var v any
	var err error
	if d.Kind == kindPress {
		d.press, err = app.ReadPressText(d.Kind, text, d.given)
		if err == nil {
			d.Name, v = d.press.Name, d.press
		}
	} else {
		d.stock, err = app.ReadStockText(d.Kind, text)
		if err == nil {
			d.Name, v = d.stock.Name, d.stock
		}
	}
	if err != nil {
		return nil, err
	}
	b, err := press.Marshal(v)
	if err == nil {
		d.Form, err = yaml.YAMLToJSON(b)
	}
	return &d, err
}

// addDraft keeps a new draft.
func (s *Server) addDraft(d draft, text string) (*draft, error) {
	full, err := d.read(text)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.drafts) >= maxDrafts {
		return nil, refuse(http.StatusConflict, fmt.Sprintf("there are %d drafts, which is as many as can be", maxDrafts), "delete one of them")
	}
	s.drafted++
	full.ID = "draft-" + strconv.Itoa(s.drafted)
	s.drafts = append(s.drafts, full)
	return full, nil
}

// draftList is all drafts, oldest first.
func (s *Server) draftList() []*draft {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]*draft{}, s.drafts...)
}

// draftOf finds a draft by the id in the address.
func (s *Server) draftOf(r *http.Request) (*draft, error) {
	for _, d := range s.draftList() {
		if d.ID == r.PathValue("id") {
			return d, nil
		}
	}
	return nil, refuse(http.StatusNotFound, "there is no such draft", "it may have been deleted")
}

func (s *Server) newDraft(w http.ResponseWriter, r *http.Request) error {
	var q struct{ Kind, From string }
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	d := draft{Kind: q.Kind}
	var text []byte
	known := false
	switch q.Kind {
	case kindPress:
		text, known = press.ShippedPress(q.From)
	case kindStock:
		text, known = press.ShippedStock(q.From)
	default:
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("a draft is of a press or a stock, not of %q", q.Kind), `write "press" or "stock"`)
	}
	for _, other := range s.draftList() {
		if other.ID == q.From && other.Kind == q.Kind {
			text, known, d.given = []byte(other.YAML), true, other.given
		}
	}
	if !known {
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("no %s is named %q", q.Kind, q.From), fmt.Sprintf("GET /api/%s lists them", plural(q.Kind)))
	}
	made, err := s.addDraft(d, string(text))
	if err != nil {
		return err
	}
	w.Header().Set("Location", "/api/drafts/"+made.ID)
	s.hub.tell("draft", made)
	return answer(w, http.StatusCreated, made)
}

// plural is the name of a list of definitions.
func plural(kind string) string {
	if kind == kindPress {
		return "presses"
	}
	return "stocks"
}

// setDraft takes a new text. Artworks that use the draft are looked at with it from then on; where that is not possible, they
// keep what they had and tell why.
func (s *Server) setDraft(w http.ResponseWriter, r *http.Request) error {
	old, err := s.draftOf(r)
	if err != nil {
		return err
	}
	var q struct{ YAML string }
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	d, err := old.read(q.YAML)
	if err != nil {
		return definitionFaults(err)
	}
	s.settling.Lock()
	defer s.settling.Unlock()
	s.mu.Lock()
	i := slices.IndexFunc(s.drafts, func(o *draft) bool { return o.ID == d.ID })
	if i >= 0 {
		s.drafts[i] = d
	}
	s.mu.Unlock()
	if i < 0 {
		return refuse(http.StatusNotFound, "there is no such draft", "it may have been deleted")
	}
	s.hub.tell("draft", d)
	for _, a := range s.using(d.ID) {
		a.mu.Lock()
		words := a.wanted
		a.mu.Unlock()
		now, err := s.settle(words, a.name, a.password)
		var old []*trial
		a.mu.Lock()
		switch {
		case a.wanted != words: // changed meanwhile
		case err != nil:
			a.problem = faultOf(err)
		default:
			old = a.take(now)
		}
		a.mu.Unlock()
		s.bury(a, old...)
		s.tellArtwork(a)
	}
	return answer(w, http.StatusOK, d)
}

// using lists the artworks that use a draft by name.
func (s *Server) using(id string) (out []*artwork) {
	for _, a := range s.open() {
		a.mu.Lock()
		words := a.wanted
		a.mu.Unlock()
		if words.Press == id || words.Stock == id {
			out = append(out, a)
			continue
		}
		if words.Job != "" {
			if job, err := press.ReadJob("job", []byte(words.Job)); err == nil && (job.Press == id || job.Stock == id) {
				out = append(out, a)
			}
		}
	}
	return out
}

func (s *Server) getDraft(w http.ResponseWriter, r *http.Request) error {
	d, err := s.draftOf(r)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, d)
}

func (s *Server) draftFile(w http.ResponseWriter, r *http.Request) error {
	d, err := s.draftOf(r)
	if err != nil {
		return err
	}
	name := stem(label(d.Name)) + ".yaml"
	download(w, "application/yaml", name)
	_, _ = w.Write([]byte(d.YAML))
	return nil
}

func (s *Server) deleteDraft(w http.ResponseWriter, r *http.Request) error {
	d, err := s.draftOf(r)
	if err != nil {
		return err
	}
	s.settling.Lock()
	defer s.settling.Unlock()
	if used := s.using(d.ID); len(used) > 0 {
		return refuse(http.StatusConflict, fmt.Sprintf("%s uses the %s", used[0].name, d.Kind), "choose another for it first")
	}
	s.mu.Lock()
	s.drafts = slices.DeleteFunc(s.drafts, func(o *draft) bool { return o.ID == d.ID })
	s.mu.Unlock()
	s.hub.tell("draft", map[string]any{"id": d.ID, "gone": true})
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// definitionFaults is faultOf with all faults of a definition, not its first alone.
func definitionFaults(err error) error {
	var list press.Errors
	if !errors.As(err, &list) || len(list) < 2 {
		return err
	}
	f := faultOf(list[0])
	for _, e := range list[1:] {
		f.More = append(f.More, faultOf(e))
	}
	return f
}

// shelf holds all drafts.
func (s *Server) shelf() *press.Shelf {
	out := &press.Shelf{Presses: map[string]*press.Press{}, Stocks: map[string]*press.Stock{}}
	for _, d := range s.draftList() {
		if d.press != nil {
			out.Presses[d.ID] = d.press
		} else {
			out.Stocks[d.ID] = d.stock
		}
	}
	return out
}

// text is the YAML of a press or stock: of a draft, else of a shipped one.
func (s *Server) text(kind, name string) string {
	for _, d := range s.draftList() {
		if d.ID == name && d.Kind == kind {
			return d.YAML
		}
	}
	var b []byte
	if kind == kindPress {
		b, _ = press.ShippedPress(name)
	} else {
		b, _ = press.ShippedStock(name)
	}
	return string(b)
}

// settle finds out what words mean, now. The label stands for the artwork in what is told of it.
func (s *Server) settle(words setupWords, label, password string) (*settled, error) {
	setup, err := app.TextSetup{Press: words.Press, Stock: words.Stock, Job: words.Job, Shelf: s.shelf(), Password: password, Label: label}.Find()
	if err != nil {
		return nil, definitionFaults(err)
	}
	// What the job names is known to be there.
	pressName, stockName := words.Press, words.Stock
	if setup.Job != nil {
		pressName, stockName = setup.Job.Press, setup.Job.Stock
	}
	out := &settled{words: words, setup: setup, press: s.text(kindPress, pressName), stock: s.text(kindStock, stockName)}
	out.key = key(out.press, out.stock, words.Job, words.Press, words.Stock)
	return out, nil
}

func (s *Server) presses(w http.ResponseWriter, _ *http.Request) error {
	type row struct {
		app.PressCard
		Draft string `json:"draft,omitempty"`
	}
	rows := []row{}
	list, err := app.Presses()
	if err != nil {
		return err
	}
	for _, p := range list {
		c, err := app.CardOfPress(p, nil)
		if err != nil {
			return err
		}
		rows = append(rows, row{PressCard: c})
	}
	for _, d := range s.draftList() {
		if d.press != nil {
			c, err := app.CardOfPress(d.press, nil)
			if err != nil {
				return err
			}
			rows = append(rows, row{c, d.ID})
		}
	}
	return answer(w, http.StatusOK, rows)
}

func (s *Server) stocks(w http.ResponseWriter, _ *http.Request) error {
	type row struct {
		app.StockCard
		Draft string `json:"draft,omitempty"`
	}
	rows := []row{}
	list, err := app.Stocks()
	if err != nil {
		return err
	}
	for _, k := range list {
		rows = append(rows, row{StockCard: app.CardOfStock(k)})
	}
	for _, d := range s.draftList() {
		if d.stock != nil {
			rows = append(rows, row{app.CardOfStock(d.stock), d.ID})
		}
	}
	return answer(w, http.StatusOK, rows)
}

func (s *Server) rules(w http.ResponseWriter, _ *http.Request) error {
	return answer(w, http.StatusOK, app.Rules())
}

func (s *Server) remedies(w http.ResponseWriter, _ *http.Request) error {
	return answer(w, http.StatusOK, app.Remedies())
}

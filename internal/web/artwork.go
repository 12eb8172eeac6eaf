package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"laydown/internal/app"
	"laydown/internal/finding"
)

// artwork is one document with its versions, held in a folder of its own.
type artwork struct {
	id, name, dir string
	pages         int
	password      string

	telling sync.Mutex // events about it are told in the order of what they tell

	mu       sync.Mutex
	gone     bool
	touched  time.Time
	wanted   setupWords // as asked for
	problem  *fault     // why wanted does not hold; the setup before it stays
	now      *settled
	settled  []*settled // the last few, now among them
	versions []*version
	at       int // the version looked at
	last     int // number of the newest version
	trial    *trial
	past     *trial // tried before it: a page may still be asking for its tiles
	turn     int    // of trying something
	cut      context.CancelFunc
	outcomes []*checked
}

// setupWords name what the artwork is looked at with: names of presses and stocks, or drafts' ids, and the text of a job.
type setupWords struct {
	Press string `json:"press"`
	Stock string `json:"stock"`
	Job   string `json:"job"`
}

// settled is a setup that holds; key names it.
type settled struct {
	key   string
	words setupWords
	setup *app.Setup
	// texts of the definitions, for packages; "" = none
	press, stock string
}

// version is one state of the file. The first is the file as it came.
type version struct {
	N     int       `json:"n"`
	From  int       `json:"from,omitempty"` // the version it was made of
	Title string    `json:"title"`
	Steps []string  `json:"steps"` // remedies, as `do` takes them
	Made  time.Time `json:"made"`
	Bytes int64     `json:"bytes"`
	Rev   string    `json:"rev"`
	file  string
	proof *mendAnswer // of the mend that made it; nil = the file as it came
}

// trial is a change being tried on a version, not proven.
type trial struct {
	key   string
	file  string
	of    int
	do    []string
	notes []string
}

// checked is what the checks said of a revision.
type checked struct {
	rev     string
	outcome *app.Outcome
}

// Bounds on what is remembered of one artwork.
const (
	settledKept  = 12
	outcomesKept = 12
)

// artworkAnswer is Artwork of docs/api.md.
type artworkAnswer struct {
	ID       string       `json:"id"`
	Name     string       `json:"name"`
	Bytes    int64        `json:"bytes"`
	Pages    int          `json:"pages"`
	Setup    setupAnswer  `json:"setup"`
	Versions []version    `json:"versions"`
	At       int          `json:"at"`
	Rev      string       `json:"rev"`
	Checked  *tally       `json:"checked,omitempty"`
	Trial    *trialAnswer `json:"trial,omitempty"`
}

type setupAnswer struct {
	setupWords
	// Uses are the press and the stock that hold, wherever they are named; "" = none.
	Uses struct {
		Press string `json:"press"`
		Stock string `json:"stock"`
	} `json:"uses"`
	Problem *fault `json:"problem,omitempty"`
}

type trialAnswer struct {
	Rev   string   `json:"rev"`
	Of    int      `json:"of"`
	Do    []string `json:"do"`
	Notes []string `json:"notes"`
}

// tally counts the findings of a revision.
type tally struct {
	Rev      string `json:"rev"`
	Clean    bool   `json:"clean"`
	Errors   int    `json:"errors"`
	Warnings int    `json:"warnings"`
	Notes    int    `json:"notes"`
}

// answer is what is told of the artwork now.
func (a *artwork) answer() *artworkAnswer {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := &artworkAnswer{ID: a.id, Name: a.name, Pages: a.pages, At: a.at, Versions: []version{}}
	out.Setup.setupWords, out.Setup.Problem = a.wanted, a.problem
	if p := a.now.setup.Press; p != nil {
		out.Setup.Uses.Press = p.Name
	}
	if k := a.now.setup.Stock; k != nil {
		out.Setup.Uses.Stock = k.Name
	}
	for _, v := range a.versions {
		c := *v
		c.Rev = revOf(v, a.now)
		out.Versions = append(out.Versions, c)
		if v.N == a.at {
			out.Bytes, out.Rev = v.Bytes, c.Rev
		}
	}
	if o := a.outcome(out.Rev); o != nil {
		out.Checked = &tally{Rev: out.Rev, Clean: o.Clean}
		for i := range o.Findings {
			switch o.Findings[i].Severity {
			case finding.Error:
				out.Checked.Errors++
			case finding.Warning:
				out.Checked.Warnings++
			default:
				out.Checked.Notes++
			}
		}
	}
	if t := a.trial; t != nil {
		out.Trial = &trialAnswer{Rev: t.rev(a.now), Of: t.of, Do: t.do, Notes: t.notes}
	}
	return out
}

func revOf(v *version, s *settled) string { return fmt.Sprintf("v%d-%s", v.N, s.key) }

func (t *trial) rev(s *settled) string { return fmt.Sprintf("t%s-%s", t.key, s.key) }

// key names what it is made of, alike whenever that is.
func key(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil)[:6])
}

// seen is a file with the setup it is looked at with: what a revision means.
type seen struct {
	rev     string
	file    string
	n       int // the version; of a trial the one it is made of
	settled *settled
}

// find tells what a revision means; "" means the version looked at. The fault is 410 when it is not, or no longer, known.
func (a *artwork) find(rev string) (seen, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.gone {
		return seen{}, errGone
	}
	for i := len(a.settled) - 1; i >= 0; i-- {
		s := a.settled[i]
		if rev == "" {
			s = a.now
		}
		for _, v := range a.versions {
			if r := revOf(v, s); r == rev || rev == "" && v.N == a.at {
				return seen{r, v.file, v.N, s}, nil
			}
		}
		for _, t := range []*trial{a.trial, a.past} {
			if t != nil && t.rev(s) == rev {
				return seen{rev, t.file, t.of, s}, nil
			}
		}
	}
	return seen{}, refuse(http.StatusGone, "this state of the artwork is not known, or no longer", "ask for the artwork again")
}

var errGone = refuse(http.StatusNotFound, "there is no such artwork", "it may have been closed; open the file again")

// try makes a trial the one looked at; nil is none. That which was looked at stays until the next, and the one before it is returned, to be
// buried. a.mu is held.
func (a *artwork) try(t *trial) (old *trial) {
	if t == nil && a.trial == nil {
		return nil
	}
	old, a.past, a.trial = a.past, a.trial, t
	return old
}

// untry forgets what was tried, and returns it to be buried. a.mu is held.
func (a *artwork) untry() []*trial {
	old := []*trial{a.trial, a.past}
	a.trial, a.past = nil, nil
	return old
}

// take makes a setup the one that holds. What was tried with another is returned, to be buried. a.mu is held.
func (a *artwork) take(s *settled) (old []*trial) {
	a.wanted, a.problem = s.words, nil
	if a.now != nil && a.now.key != s.key {
		old = a.untry()
	}
	for i, before := range a.settled {
		if before.key == s.key {
			a.settled = append(append(a.settled[:i:i], a.settled[i+1:]...), before)
			a.now = before
			return old
		}
	}
	a.settled = append(a.settled, s)
	if len(a.settled) > settledKept {
		a.settled = a.settled[1:]
	}
	a.now = s
	return old
}

// outcome is what the checks said of a revision; nil when they were not made. a.mu is held.
func (a *artwork) outcome(rev string) *app.Outcome {
	for _, c := range a.outcomes {
		if c.rev == rev {
			return c.outcome
		}
	}
	return nil
}

// keep remembers what the checks said of a revision. a.mu is held.
func (a *artwork) keep(rev string, o *app.Outcome) {
	if a.outcome(rev) != nil {
		return
	}
	a.outcomes = append(a.outcomes, &checked{rev, o})
	if len(a.outcomes) > outcomesKept {
		a.outcomes = a.outcomes[1:]
	}
}

// version finds a version by its number. a.mu is held.
func (a *artwork) version(n int) *version {
	for _, v := range a.versions {
		if v.N == n {
			return v
		}
	}
	return nil
}

// add adds a version. a.mu is held.
func (a *artwork) add(v *version) {
	a.last++
	v.N = a.last
	a.versions = append(a.versions, v)
}

// called is the file name of a version.
func (a *artwork) called(n int) string {
	if n <= 1 {
		return a.name
	}
	return stem(a.name) + "-" + strconv.Itoa(n) + ".pdf"
}

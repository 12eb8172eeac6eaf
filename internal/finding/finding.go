// Package finding holds what the program tells a person about an artwork: one value per fault,
// with the place, the reason it matters on paper and the remedy. Readers, painters and checks all
// report through a Sink; nobody prints.
package finding

import (
	"fmt"
	"sort"
	"sync"
)

// ID is the stable kebab-case name of a kind of finding. It is never reused for another meaning.
type ID string

// Severity orders findings. The zero value is Note.
type Severity int

// Severities: a Note informs, a Warning should be looked at, an Error will print wrong.
const (
	Note Severity = iota
	Warning
	Error
)

func (s Severity) String() string { return [...]string{"note", "warning", "error"}[s] }

// MarshalText writes the severity as a word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads note, warning or error.
func (s *Severity) UnmarshalText(b []byte) error {
	for v := Note; v <= Error; v++ {
		if v.String() == string(b) {
			*s = v
			return nil
		}
	}
	return fmt.Errorf("severity is note, warning or error, not %q", b)
}

// Class says where a finding comes from. Only Artwork findings are about the design; the other
// three mean the file could not be read or drawn as written.
type Class int

// The classes: a rule of the trade broken; a malformed, an unsupported, an over-limit construct.
const (
	Artwork Class = iota
	Malformed
	Unsupported
	OverLimit
)

func (c Class) String() string {
	return [...]string{"artwork", "malformed", "unsupported", "over-limit"}[c]
}

// MarshalText writes the class as a word.
func (c Class) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads the word MarshalText writes.
func (c *Class) UnmarshalText(b []byte) error {
	for v := Artwork; v <= OverLimit; v++ {
		if v.String() == string(b) {
			*c = v
			return nil
		}
	}
	return fmt.Errorf("unknown class %q", b)
}

// BoxMM is a rectangle in millimetres from the top left corner of the trim, y down.
type BoxMM struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Place is where a finding lies. Zero values mean "not known" or "the whole".
type Place struct {
	Page       int      `json:"page,omitempty"`       // from 1; 0 = the whole file
	Box        *BoxMM   `json:"box,omitempty"`        // mm from the trim
	Object     int      `json:"object,omitempty"`     // PDF object number
	Offset     int64    `json:"offset,omitempty"`     // byte offset in the decoded content stream, or in the file
	Items      []int    `json:"items,omitempty"`      // display list items
	Colourants []string `json:"colourants,omitempty"` // names as the artwork spells them
	Layer      string   `json:"layer,omitempty"`
}

// Finding is one result for the user.
type Finding struct {
	ID       ID       `json:"id"`
	Severity Severity `json:"severity"`
	Class    Class    `json:"class"`
	What     string   `json:"what"`             // one sentence: what was found
	Why      string   `json:"why,omitempty"`    // why it matters on paper
	Remedy   string   `json:"remedy,omitempty"` // what to do about it, in a designer's words
	// Remedies are the IDs of mends that answer the finding.
	Remedies []string `json:"remedies,omitempty"`
	Place    Place    `json:"place"`
	// Mends are the remedies the program can apply itself, each with its options, as the option --do takes them.
	Mends []string `json:"mends,omitempty"`
	// Incomplete means something on the page was painted less or differently than written, so the
	// page must never be called clean.
	Incomplete bool               `json:"incomplete,omitempty"`
	Figures    map[string]float64 `json:"figures,omitempty"` // measured values, unit in the key: area_mm2, pile_percent
	Notes      []string           `json:"notes,omitempty"`
	Count      int                `json:"count,omitempty"` // how many like it were folded into this one; 0 and 1 both mean one
}

// Sink takes findings. Implementations are safe for concurrent use.
type Sink interface{ Add(Finding) }

// Discard ignores everything it gets; for tests and probes that replay known work.
var Discard Sink = discard{}

type discard struct{}

func (discard) Add(Finding) {}

// Collector is a Sink that folds repeats (same ID, page, What and colourants) and caps the number kept.
// The zero value is ready to use.
type Collector struct {
	mu    sync.Mutex
	index map[string]int
	list  []Finding
	over  int
}

// maxKept bounds a collector: a hostile file must not turn into a report of gigabytes.
const maxKept = 5000

// Add stores f or counts it as a repeat of one already stored.
func (c *Collector) Add(f Finding) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.index == nil {
		c.index = map[string]int{}
	}
	key := fmt.Sprintf("%s|%d|%s|%q", f.ID, f.Place.Page, f.What, f.Place.Colourants)
	if i, ok := c.index[key]; ok {
		g := &c.list[i]
		g.Count = max(g.Count, 1) + max(f.Count, 1)
		g.Incomplete = g.Incomplete || f.Incomplete
		g.Severity = max(g.Severity, f.Severity)
		return
	}
	if len(c.list) >= maxKept {
		c.over++
		return
	}
	c.index[key] = len(c.list)
	c.list = append(c.list, f)
}

// Sorted returns the findings by page, then most severe first, then ID and place: the same order
// whatever the order of arrival.
func (c *Collector) Sorted() []Finding {
	c.mu.Lock()
	defer c.mu.Unlock()
	out := append([]Finding(nil), c.list...)
	if c.over > 0 {
		out = append(out, Finding{ID: "too-many-findings", Severity: Warning, Class: OverLimit, Incomplete: true,
			What: fmt.Sprintf("%d further findings were left out.", c.over)})
	}
	Sort(out)
	return out
}

// Sort orders findings in place, as Collector.Sorted does.
func Sort(fs []Finding) {
	sort.SliceStable(fs, func(i, j int) bool {
		a, b := &fs[i], &fs[j]
		switch {
		case a.Place.Page != b.Place.Page:
			return a.Place.Page < b.Place.Page
		case a.Severity != b.Severity:
			return a.Severity > b.Severity
		case a.ID != b.ID:
			return a.ID < b.ID
		case a.Place.Object != b.Place.Object:
			return a.Place.Object < b.Place.Object
		case a.Place.Offset != b.Place.Offset:
			return a.Place.Offset < b.Place.Offset
		default:
			return a.What < b.What
		}
	})
}

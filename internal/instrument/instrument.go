// Package instrument holds nil-safe measuring devices: a timer of stages. A nil pointer is "off"
// and costs one test.
package instrument

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// Timer adds up the time spent in named stages. A nil *Timer does nothing. Safe for concurrent use.
type Timer struct {
	mu     sync.Mutex
	names  []string
	spent  map[string]time.Duration
	counts map[string]int
}

// NewTimer returns a running timer.
func NewTimer() *Timer {
	return &Timer{spent: map[string]time.Duration{}, counts: map[string]int{}}
}

// Start begins a stage; call the returned function at its end.
func (t *Timer) Start(stage string) func() {
	if t == nil {
		return func() {}
	}
	t0 := time.Now()
	return func() {
		d := time.Since(t0)
		t.mu.Lock()
		defer t.mu.Unlock()
		if t.counts[stage] == 0 {
			t.names = append(t.names, stage)
		}
		t.counts[stage]++
		t.spent[stage] += d
	}
}

// Write prints one line per stage in the order the stages first ended.
func (t *Timer) Write(w io.Writer) {
	if t == nil {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, n := range t.names {
		fmt.Fprintf(w, "%-24s %10.2f ms  x%d\n", n, float64(t.spent[n].Microseconds())/1000, t.counts[n])
	}
}

package cli

import (
	"fmt"
	"strings"
	"time"

	"laydown/internal/app"
)

// progress shows a bar on long work when standard error is a terminal and the answer is for people;
// the returned function takes it away.
func (e *env) progress() (app.Progress, func()) {
	if e.json || !isTerminal(e.err) {
		return nil, func() {}
	}
	var shown time.Time
	tell := func(what string, done, total int) {
		if now := time.Now(); now.Sub(shown) >= progressPause {
			fmt.Fprintf(e.err, "\r%s\x1b[K", barText(what, done, total))
			shown = now
		}
	}
	return tell, func() {
		if !shown.IsZero() {
			fmt.Fprint(e.err, "\r\x1b[K")
		}
	}
}

// progressPause is how long a bar stands at least.
const progressPause = 50 * time.Millisecond

// barText is "page 3 of 8 " and a bar.
func barText(what string, done, total int) string {
	const width = 40
	full := 0
	if total > 0 {
		full = min(max(done*width/total, 0), width)
	}
	return fmt.Sprintf("%s %d of %d [%s%s]", what, done, total, strings.Repeat("=", full), strings.Repeat("-", width-full))
}

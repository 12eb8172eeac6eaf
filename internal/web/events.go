package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"
)

// Events go to every page that listens. A page that does not keep up is cut off; its browser connects again and begins with the
// whole state.

const (
	eventsPath = "/api/events"
	eventsKept = 256 // for one client
)

// listener is one open stream.
type listener struct {
	events chan []byte
	cut    chan struct{} // closed when it is cut off
}

// hub hands events on.
type hub struct {
	mu     sync.Mutex
	all    map[*listener]bool
	closed bool
}

// listen adds a listener; nil when the hub is closed or has too many.
func (h *hub) listen(most int) *listener {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed || len(h.all) >= most {
		return nil
	}
	if h.all == nil {
		h.all = map[*listener]bool{}
	}
	l := &listener{events: make(chan []byte, eventsKept), cut: make(chan struct{})}
	h.all[l] = true
	return l
}

func (h *hub) leave(l *listener) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.drop(l)
}

// drop cuts off a listener; h.mu is held.
func (h *hub) drop(l *listener) {
	if h.all[l] {
		delete(h.all, l)
		close(l.cut)
	}
}

// count tells how many listen.
func (h *hub) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.all)
}

// tell hands an event to all. It never waits.
func (h *hub) tell(name string, v any) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.all) == 0 {
		return
	}
	e, err := event(name, v)
	if err != nil {
		return
	}
	for l := range h.all {
		select {
		case l.events <- e:
		default:
			h.drop(l)
		}
	}
}

func (h *hub) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for l := range h.all {
		h.drop(l)
	}
}

// event writes one event as the stream has it.
func event(name string, v any) ([]byte, error) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "event: %s\ndata: ", name)
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// events is the stream.
func (s *Server) events(w http.ResponseWriter, r *http.Request) error {
	l := s.hub.listen(s.opt.MaxListeners)
	if l == nil {
		w.Header().Set("Retry-After", "5")
		return refuse(http.StatusServiceUnavailable, fmt.Sprintf("%d pages listen already", s.opt.MaxListeners), "close one of them")
	}
	defer s.hub.leave(l)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	rc := http.NewResponseController(w)
	send := func(b []byte) error {
		if err := rc.SetWriteDeadline(time.Now().Add(s.times.event)); err != nil {
			return err
		}
		if _, err := w.Write(b); err != nil {
			return err
		}
		return rc.Flush()
	}
	first, err := event("state", s.stateNow())
	if err != nil {
		return err
	}
	// What fails from here on is the client's connection.
	if send(append([]byte("retry: 1000\n\n"), first...)) != nil {
		return nil
	}
	ping := time.NewTicker(s.times.ping)
	defer ping.Stop()
	for {
		var b []byte
		select {
		case b = <-l.events:
		case <-ping.C:
			b = []byte(": still here\n\n")
		case <-l.cut:
			return nil
		case <-r.Context().Done():
			return nil
		}
		if send(b) != nil {
			return nil
		}
	}
}

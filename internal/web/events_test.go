package web

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"laydown/internal/app"
)

// stream is an open event stream.
type stream struct {
	t    *testing.T
	body *bufio.Scanner
	stop context.CancelFunc
}

func listen(t *testing.T, at string) *stream {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	t.Cleanup(stop)
	res, err := http.DefaultClient.Do(request(t, "GET", at+"/api/events", "").WithContext(ctx))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { res.Body.Close() })
	if res.StatusCode != 200 || res.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("answered %d %s", res.StatusCode, res.Header.Get("Content-Type"))
	}
	sc := bufio.NewScanner(res.Body)
	sc.Buffer(nil, 1<<20)
	return &stream{t, sc, stop}
}

// next is the next event; "" at the end of the stream.
func (s *stream) next() (name, data string) {
	for s.body.Scan() {
		line := s.body.Text()
		if n, ok := strings.CutPrefix(line, "event: "); ok {
			name = n
		} else if d, ok := strings.CutPrefix(line, "data: "); ok {
			data = d
		} else if line == "" && name != "" {
			return name, data
		}
	}
	return "", ""
}

// until gives the data of the next event of this name that holds a text.
func (s *stream) until(want, holds string) string {
	s.t.Helper()
	for {
		name, data := s.next()
		if name == "" {
			s.t.Fatalf("the stream ended without %s %s", want, holds)
		}
		if name == want && strings.Contains(data, holds) {
			return data
		}
	}
}

func TestEvents_begin_with_the_state_and_tell_what_happens(t *testing.T) {
	srv, at := live(t, Options{})
	srv.dpi = 50
	s := listen(t, at)
	if name, data := s.next(); name != "state" || field(t, data, "artworks") != "[]" {
		t.Fatalf("first came %s %s", name, data)
	}
	id := open(t, at)
	s.until("artwork", id)
	j := field(t, post(t, at+"/api/artworks/"+id+"/check", "{}", 202), "id")
	s.until("job", `"state":"running"`)
	if data := s.until("job", `"state":"done"`); !strings.Contains(data, j) || strings.Contains(data, "findings") {
		t.Errorf("the end is told as %s", data)
	}
	again := listen(t, at) // as a page that lost its connection does
	if name, data := again.next(); name != "state" || !strings.Contains(data, id) || !strings.Contains(data, j) || !strings.Contains(data, `"checked"`) {
		t.Errorf("after coming back first came %s %s", name, data)
	}
	ask(t, "DELETE", at+"/api/artworks/"+id, "", 204)
	s.until("gone", id)
	again.until("gone", id)
}

func TestEvents_are_listened_to_by_only_so_many(t *testing.T) {
	srv, at := live(t, Options{MaxListeners: 2})
	a := listen(t, at)
	listen(t, at)
	get(t, at+"/api/events", 503)
	a.stop()
	eventually(t, "a stream is free", func() bool { return srv.hub.count() == 1 })
	listen(t, at)
}

func TestEvents_end_with_the_server(t *testing.T) {
	s, err := New(Options{Token: testToken, Temp: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	at, stop, done := serveOn(t, s)
	e := listen(t, at)
	e.next()
	blocked(s.queue, "x")
	began := time.Now()
	stop()
	if name, _ := e.next(); name != "job" && name != "" {
		t.Errorf("then came %s", name)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	// An open stream or a running job must not use up the time answers have to end.
	if d := time.Since(began); d > shutdownTime {
		t.Errorf("it took %v", d)
	}
}

func TestHub_cuts_off_who_does_not_keep_up_and_waits_for_nobody(t *testing.T) {
	var h hub
	slow, quick := h.listen(2), h.listen(2)
	for i := range eventsKept + 1 {
		h.tell("job", i)
		<-quick.events
	}
	select {
	case <-slow.cut:
	default:
		t.Error("the slow one is still listening")
	}
	select {
	case <-quick.cut:
		t.Error("the quick one was cut off too")
	default:
	}
	h.leave(quick)
	h.leave(quick)
	if h.count() != 0 {
		t.Errorf("%d listen", h.count())
	}
	h.close()
	if h.listen(2) != nil {
		t.Error("somebody listens to a closed hub")
	}
}

func TestProgress_is_not_told_too_often(t *testing.T) {
	told := 0
	q := &queue{parallel: 1, length: 1, kept: 1, tell: func(job) { told++ }}
	began := time.Now()
	j := q.add("a", "check", func(_ context.Context, p app.Progress) (any, error) {
		for i := range 10000 {
			p("page", i, 10000)
		}
		return nil, nil
	})
	<-j.ended
	q.close()
	// Waiting, running, done, and one in each pause.
	if most := 4 + int(time.Since(began)/progressPause); told < 3 || told > most {
		t.Errorf("told %d times, at most %d are wanted", told, most)
	}
}

func TestEvent_data_stays_on_one_line(t *testing.T) {
	e, err := event("job", job{What: "a\n\nevent: gone\r\ndata: {}"})
	if err != nil {
		t.Fatal(err)
	}
	if lines := strings.Split(strings.TrimSpace(string(e)), "\n"); len(lines) != 2 || strings.Contains(string(e), "\r") {
		t.Errorf("%s", fmt.Sprintf("%q", e))
	}
}

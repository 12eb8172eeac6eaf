package web

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"laydown/internal/app"
)

// hurried serves with times so short that a test can wait for them.
func hurried(t *testing.T) (*Server, string) {
	t.Helper()
	s, err := New(Options{Token: testToken, Temp: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	short := 200 * time.Millisecond
	s.times = times{chunk: short, upload: 20 * short, json: short, answer: short, event: short, ping: short / 4}
	at, stop, done := serveOn(t, s)
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, at
}

// raw sends bytes on a connection of its own.
func raw(t *testing.T, at, request string) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(at, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(c, strings.ReplaceAll(request, "\n", "\r\n")); err != nil {
		t.Fatal(err)
	}
	return c
}

func TestTimes_a_body_that_does_not_come_is_not_waited_for(t *testing.T) {
	s, at := hurried(t)
	head := "Host: localhost\nAuthorization: Bearer " + testToken + "\nContent-Length: 1000\n"
	for what, req := range map[string]string{
		"JSON":             "POST /api/example HTTP/1.1\n" + head + "Content-Type: application/json\n\n{",
		"a file":           "POST /api/artworks?name=x HTTP/1.1\n" + head + "Content-Type: application/pdf\n\n%PDF",
		"without token":    "POST /api/example HTTP/1.1\nHost: localhost\nContent-Length: 1000\n\n{",
		"of a GET":         "GET /api/state HTTP/1.1\n" + head + "\n",
		"to a wrong place": "POST /api/state HTTP/1.1\n" + head + "\n",
	} {
		c := raw(t, at, req)
		res, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if _, err := io.Copy(io.Discard, res.Body); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		if res.StatusCode < 400 {
			t.Errorf("%s: answered %d", what, res.StatusCode)
		}
		if n, err := c.Read(make([]byte, 1)); n != 0 || err != io.EOF && !strings.Contains(fmt.Sprint(err), "reset") {
			t.Errorf("%s: the connection stays: %d %v", what, n, err)
		}
	}
	if list, err := os.ReadDir(s.folder.path); err != nil || len(list) != 1 {
		t.Errorf("something was left: %v %v", list, err)
	}
}

func TestTimes_a_slow_upload_may_take_its_time(t *testing.T) {
	s, at := hurried(t)
	r, w := io.Pipe()
	go func() {
		data := card()
		for pause := s.times.chunk / 2; len(data) > 0; time.Sleep(pause) { // twelve pieces, several times as long as one may take
			n := min(len(card())/12+1, len(data))
			io.WriteString(w, data[:n])
			data = data[n:]
		}
		w.Close()
	}()
	req, err := http.NewRequest("POST", at+"/api/artworks?name=slow.pdf", r)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+testToken)
	req.Header.Set("Content-Type", "application/pdf")
	if code, body := do(t, req); code != 201 {
		t.Errorf("%d %s", code, body)
	}
}

func TestTimes_work_may_take_longer_than_sending_the_request(t *testing.T) {
	s, at := hurried(t)
	id := open(t, at)
	at += "/api/artworks/" + id
	// A setup is put, then its page is asked for on the same connection, later than the request had time to come.
	put(t, at+"/setup", `{"press":"two-set","stock":"black-board","job":""}`, 200)
	time.Sleep(2 * s.times.json)
	get(t, at+"/pages/1", 200)
}

func TestTimes_who_does_not_take_a_file_is_not_waited_for(t *testing.T) {
	s, at := hurried(t)
	pdf, _, err := app.Example(false)
	if err != nil {
		t.Fatal(err)
	}
	big := string(pdf) + strings.Repeat("%"+strings.Repeat(" ", 1022)+"\n", 16<<10) // more than two ends of a connection buffer
	id := field(t, upload(t, at+"/api/artworks?name=big.pdf", big, 201), "id")
	raw(t, at, "GET /api/artworks/"+id+"/file HTTP/1.1\nHost: localhost\nAuthorization: Bearer "+testToken+"\n\n")
	eventually(t, "the file is being sent", func() bool { return len(s.flights) == 1 })
	eventually(t, "it is given up", func() bool { return len(s.flights) == 0 })
}

func TestTimes_streams_show_signs_of_life(t *testing.T) {
	s, at := hurried(t)
	c := raw(t, at, "GET /api/events HTTP/1.1\nHost: localhost\nAuthorization: Bearer "+testToken+"\n\n")
	sc := bufio.NewScanner(c)
	pings := 0
	for began := time.Now(); sc.Scan() && pings < 8; {
		if strings.HasPrefix(sc.Text(), ": ") {
			pings++
		}
		if pings == 8 && time.Since(began) < s.times.answer {
			t.Errorf("they came within %v", time.Since(began))
		}
	}
	if pings < 8 {
		t.Errorf("%d signs of life, then the stream ended: %v", pings, sc.Err())
	}
}

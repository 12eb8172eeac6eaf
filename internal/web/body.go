package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"
)

// times a client may take. What is long is given time for every piece, not for the whole.
type times struct {
	chunk  time.Duration // to send or take the next piece of a file
	upload time.Duration // for a whole upload
	json   time.Duration // to send a request
	answer time.Duration // to take an answer
	event  time.Duration // to take an event
	ping   time.Duration // between signs of life on an event stream
}

var usualTimes = times{chunk: 30 * time.Second, upload: time.Hour, json: 20 * time.Second, answer: 2 * time.Minute, event: 10 * time.Second, ping: 15 * time.Second}

// jsonBytes of a request that is no file.
const jsonBytes = 1 << 20

// readJSON reads the body of a request, strictly.
func readJSON(w http.ResponseWriter, r *http.Request, v any) error {
	kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
	if kind = strings.ToLower(strings.TrimSpace(kind)); kind != "application/json" {
		return refuse(http.StatusUnsupportedMediaType, "the request is not application/json", "send JSON with that Content-Type")
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, jsonBytes))
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if err == nil {
		if _, end := d.Token(); !errors.Is(end, io.EOF) {
			err = errors.New("more follows the value")
		}
	}
	var most *http.MaxBytesError
	switch {
	case errors.As(err, &most):
		return refuse(http.StatusRequestEntityTooLarge, fmt.Sprintf("the request is larger than %s", size(jsonBytes)), "send less")
	case err != nil:
		return refuse(http.StatusBadRequest, fmt.Sprintf("the request cannot be understood: %v", err), "docs/api.md tells what it takes")
	}
	// A deadline that passes while the answer is worked out would end the request.
	_ = http.NewResponseController(w).SetReadDeadline(time.Time{})
	return nil
}

// patient reads a long body: each piece must come in time, and the whole too.
type patient struct {
	r      io.Reader
	rc     *http.ResponseController
	chunk  time.Duration
	until  time.Time
	failed error // of the connection
}

func (p *patient) Read(b []byte) (int, error) {
	next := time.Now().Add(p.chunk)
	if next.After(p.until) {
		next = p.until
	}
	_ = p.rc.SetReadDeadline(next)
	n, err := p.r.Read(b)
	if err != nil && err != io.EOF {
		p.failed = err
	}
	return n, err
}

// rest lifts the deadline once the body has come.
func (p *patient) rest() { _ = p.rc.SetReadDeadline(time.Time{}) }

// steady gives the client time for every piece it takes.
type steady struct {
	http.ResponseWriter
	rc    *http.ResponseController
	chunk time.Duration
}

func (s *steady) Write(b []byte) (n int, err error) {
	const piece = 64 << 10
	for {
		_ = s.rc.SetWriteDeadline(time.Now().Add(s.chunk))
		k, err := s.ResponseWriter.Write(b[:min(piece, len(b))])
		n += k
		if b = b[k:]; err != nil || len(b) == 0 {
			return n, err
		}
	}
}

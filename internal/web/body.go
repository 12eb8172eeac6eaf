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

// Times and sizes of what clients send and take.
const (
	chunkTime  = 30 * time.Second // to send or take the next piece of a file
	uploadTime = time.Hour        // for a whole upload
	jsonTime   = 20 * time.Second
	jsonBytes  = 1 << 20
)

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
	until  time.Time
	failed error // of the connection
}

func (p *patient) Read(b []byte) (int, error) {
	next := time.Now().Add(chunkTime)
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
func (p *patient) rest(http.ResponseWriter) { _ = p.rc.SetReadDeadline(time.Time{}) }

// steady gives the client time for every piece it takes.
type steady struct {
	http.ResponseWriter
	rc *http.ResponseController
}

func (s *steady) Write(b []byte) (n int, err error) {
	const piece = 64 << 10
	for {
		_ = s.rc.SetWriteDeadline(time.Now().Add(chunkTime))
		k, err := s.ResponseWriter.Write(b[:min(piece, len(b))])
		n += k
		if b = b[k:]; err != nil || len(b) == 0 {
			return n, err
		}
	}
}

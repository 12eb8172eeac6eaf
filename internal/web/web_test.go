package web

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

const testToken = "token-of-the-tests"

// serve starts a server with a real listener.
func serve(t *testing.T, o Options) (*Server, *httptest.Server) {
	t.Helper()
	o.Token = testToken
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s.Handler())
	t.Cleanup(func() {
		h.Close()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, h
}

// send asks with the token and gives the status and the answer.
func send(t *testing.T, method, url, body string) (int, string) {
	t.Helper()
	req, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+testToken)
	return do(t, req)
}

func do(t *testing.T, req *http.Request) (int, string) {
	t.Helper()
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

func TestPage_is_bundled_from_its_sources(t *testing.T) {
	_, h := serve(t, Options{})
	for path, want := range map[string]string{"/": "<canvas", "/app.js": "/api/state", "/app.css": "html"} {
		if code, body := send(t, "GET", h.URL+path, ""); code != 200 || !strings.Contains(body, want) {
			t.Errorf("%s: %d, %q is not in it", path, code, want)
		}
	}
}
